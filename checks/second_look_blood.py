"""The second look told of blood, against people whose blood is known.

    python3 checks/second_look_blood.py --interstice target/release/interstice [--data ../shared/data] [--every 20]

Each simulated person of `sim` is imported as a wearer would have it (readings, blood checks, doses). Moments in the last half of
each record are looked at a second time, by the command, and both fans, the sensor's and blood's, are held against the true
blood glucose 30, 60 and 120 minutes later: root mean squared error of the middle, CRPS over the five levels both carry, and how
often the truth lies in the 80 % band. Prints the table; ends with 1 where blood's fan is the worse of the two over all people.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pandas as pd

from against_truth import ZONES, run

TOP = Path(__file__).resolve().parent.parent
LEVELS = [5, 10, 25, 50, 75, 90, 95]
AHEAD = [30, 60, 120]


def true_blood(data: Path, person: str) -> pd.Series:
    rows = pd.read_csv(data / f"sim/truth/{person}_cgm.csv", comment="#")
    rows["time_utc"] = pd.to_datetime(rows["time_utc"], utc=True, format="ISO8601")
    return rows.drop_duplicates("time_utc").set_index("time_utc")["true_bg_mgdl"].sort_index()


def looked(command: Path, book: Path, at: pd.Timestamp) -> dict | None:
    moment = at.strftime("%Y-%m-%dT%H:%M:%SZ")
    done = subprocess.run([command, "--book", book, "--json", "second-look", "--at", moment], capture_output=True, text=True)
    if done.returncode > 1 or not done.stdout:
        raise SystemExit(f"{moment}: {done.stderr.strip()}")
    told = json.loads(done.stdout)
    return told if told["look"] and told["blood"] else None


def scores(fan: dict, truth: float) -> tuple[float, float, bool]:
    """Squared error of the middle, mean pinball loss doubled (the CRPS over these levels), whether the 80 % band holds."""
    values = np.array([fan[f"p{level}_mg_dl"] for level in LEVELS])
    q = np.array(LEVELS) / 100
    pinball = np.where(truth >= values, q * (truth - values), (1 - q) * (values - truth))
    return (fan["p50_mg_dl"] - truth) ** 2, 2 * pinball.mean(), bool(fan["p10_mg_dl"] <= truth <= fan["p90_mg_dl"])


def of_person(command: Path, data: Path, person: str, every: int) -> pd.DataFrame:
    blood = true_blood(data, person)
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "book"
        for kind in ("cgm", "events"):
            run(command, "--book", str(book), "import", str(data / f"sim/input/{person}_{kind}.csv"), "--zone", ZONES[person])
        moments = blood.index[len(blood) // 2 :: every]
        with ThreadPoolExecutor(2) as pool:
            for at, told in zip(moments, pool.map(lambda at: looked(command, book, at), moments)):
                if told is None:
                    continue
                for minutes in AHEAD:
                    place = blood.index.get_indexer([at + pd.Timedelta(minutes=minutes)], "nearest", tolerance=pd.Timedelta(seconds=150))[0]
                    if place < 0:
                        continue
                    row = {"person": person, "minutes": minutes}
                    for name, fan in (("sensor", told["look"]["fan"]), ("blood", told["blood"]["fan"])):
                        point = next((point for point in fan if point["minutes"] == minutes), None)
                        if point is None:
                            break
                        row[f"{name}_se"], row[f"{name}_crps"], row[f"{name}_in"] = scores(point, blood.iloc[place])
                    else:
                        rows.append(row)
    return pd.DataFrame(rows)


def line(name: str, rows: pd.DataFrame) -> str:
    parts = [f"{name:8} {len(rows):6}"]
    for of in ("sensor", "blood"):
        parts.append(f"{np.sqrt(rows[f'{of}_se'].mean()):7.1f}{rows[f'{of}_crps'].mean():7.2f}{100 * rows[f'{of}_in'].mean():6.1f}")
    return " |".join(parts) + f" | CRPS ratio {rows['blood_crps'].mean() / rows['sensor_crps'].mean():.3f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--interstice", type=Path, required=True)
    parser.add_argument("--data", type=Path)
    parser.add_argument("--every", type=int, default=20, help="every so many readings a moment")
    parser.add_argument("--only")
    given = parser.parse_args()
    data = given.data or Path(os.environ.get("INTERSTICE_DATA", TOP.parent / "shared/data"))
    if not (data / "sim").exists():
        print("second look of blood: skipped, no simulated people")
        return
    everyone = []
    print("person   minutes   told | sensor: RMSE CRPS 80 % | blood: RMSE CRPS 80 % (mg/dL, percent)")
    for person in ZONES:
        if given.only in (None, person):
            rows = of_person(given.interstice.resolve(), data, person, given.every)
            for minutes in AHEAD:
                print(f"{minutes:4} min " + line(person, rows[rows["minutes"] == minutes]), flush=True)
            everyone.append(rows)
    all_rows = pd.concat(everyone)
    for minutes in AHEAD:
        print(f"{minutes:4} min " + line("all", all_rows[all_rows["minutes"] == minutes]))
    raise SystemExit(all_rows["blood_crps"].mean() > all_rows["sensor_crps"].mean())


if __name__ == "__main__":
    main()
