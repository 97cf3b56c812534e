"""The blood estimate against people whose blood is known, and against checks it was not shown.

    python3 checks/against_truth.py --interstice target/release/interstice [--data ../shared/data] [--only D03]

For each simulated person of `sim` the command imports what a wearer would have (readings, blood checks, doses), writes its
estimate, and is scored here against the true blood glucose at every reading: looking back, with no blood checks at all, and
live. For each recording of `real/shanghai` every fingerstick is told without it. Prints the tables, judges nothing.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

TOP = Path(__file__).resolve().parent.parent
ZONES = {"D01": "Europe/Berlin", "D02": "America/New_York", "D03": "Europe/London", "D04": "Europe/Berlin",
         "D05": "Europe/Madrid", "D06": "America/New_York"}  # fmt: skip
FIRST_DAY_MIN, FAST = 1440, 1.0


def run(command: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    done = subprocess.run([command, *arguments], capture_output=True, text=True)
    # 1 says that something needs the person, which blood checks without a number may.
    if done.returncode > 1:
        raise SystemExit(f"{' '.join(arguments)}: {done.stderr.strip()}")
    return done


def estimate(command: Path, files: list[tuple[Path, str]], *how: str) -> pd.DataFrame:
    with tempfile.TemporaryDirectory() as folder:
        book, out = Path(folder) / "book", Path(folder) / "estimate.csv"
        for file, zone in files:
            run(command, "--book", str(book), "import", str(file), "--zone", zone)
        run(command, "--book", str(book), "trust", "--estimate", str(out), *how)
        told = pd.read_csv(out)
    told["time_utc"] = pd.to_datetime(told["time_utc"], utc=True, format="ISO8601")
    return told


def truth(data: Path, person: str) -> pd.DataFrame:
    rows = pd.read_csv(data / f"sim/truth/{person}_cgm.csv", comment="#")
    rows["time_utc"] = pd.to_datetime(rows["time_utc"], utc=True, format="ISO8601")
    blood = rows.drop_duplicates("time_utc").set_index("time_utc")["true_bg_mgdl"].sort_index()
    seconds = (blood.index - blood.index[0]).total_seconds().to_numpy()
    rate = pd.Series(np.gradient(blood.to_numpy(), seconds / 60), blood.index)
    rows["rate"] = rate.reindex(rows["time_utc"]).to_numpy()
    rows["artefact"] = rows["artefact"].fillna("")
    rows["hour"] = rows["time_utc"].dt.tz_convert(ZONES[person]).dt.hour
    return rows[["time_utc", "sensor_id", "true_bg_mgdl", "sensor_age_min", "rate", "artefact", "hour"]]


def score(told: pd.DataFrame, known: pd.DataFrame) -> pd.DataFrame:
    both = told.merge(known, on=["time_utc", "sensor_id"])
    if len(both) < 0.9 * len(told):
        raise SystemExit(f"only {len(both)} of {len(told)} readings are found in the truth")
    blood = both["true_bg_mgdl"]
    for name, column in (("raw", "sensor_mg_dl"), ("told", "estimate_mg_dl")):
        both[name] = 100 * (both[column] - blood).abs() / blood
    both["in50"] = (both["p25_mg_dl"] <= blood) & (blood <= both["p75_mg_dl"])
    both["in90"] = (both["p5_mg_dl"] <= blood) & (blood <= both["p95_mg_dl"])
    both["fast"] = both["rate"].abs() > FAST
    both["first"] = both["sensor_age_min"] < FIRST_DAY_MIN
    return both


def line(name: str, rows: pd.DataFrame) -> str:
    def ratio(part: pd.DataFrame) -> float:
        return part["told"].mean() / part["raw"].mean() if len(part) else float("nan")

    return (
        f"{name:12} {len(rows):6} {rows['raw'].mean():6.2f} {rows['told'].mean():6.2f} {ratio(rows):6.3f}"
        f" {ratio(rows[rows['fast']]):6.3f} {ratio(rows[rows['first']]):6.3f}"
        f" {100 * rows['in50'].mean():5.1f} {100 * rows['in90'].mean():5.1f}"
    )


def chance_of(rows: pd.DataFrame) -> str:
    """How far the ratio on first days could come out otherwise: sensors drawn again and again."""
    sums = rows.groupby(["person", "sensor_id"])[["told", "raw"]].sum().to_numpy()
    drawn = np.random.default_rng(1).integers(0, len(sums), (4000, len(sums)))
    ratios = sums[drawn].sum(axis=1)
    low, high = np.quantile(ratios[:, 0] / ratios[:, 1], [0.05, 0.95])
    return f"ratio on first days, {len(sums)} sensors drawn again: 90 % within {low:.2f} to {high:.2f}"


def lows(rows: pd.DataFrame) -> str:
    """Under pressure, and in true lows at night (23 to 7): errors, and how often a low is shown that is none."""
    pressed = rows[rows["artefact"] == "compression"]
    false = [100 * ((pressed[of] < 70) & (pressed["true_bg_mgdl"] >= 70)).mean() for of in ("sensor_mg_dl", "estimate_mg_dl")]
    night = (rows["hour"] >= 23) | (rows["hour"] < 7)
    true = rows[night & (rows["true_bg_mgdl"] < 70) & (rows["artefact"] == "")]
    off = [(true[of] - true["true_bg_mgdl"]).abs().mean() for of in ("sensor_mg_dl", "estimate_mg_dl")]
    return (
        f"sensor, estimate: under pressure ({len(pressed)} readings) MARD {pressed['raw'].mean():.1f}, {pressed['told'].mean():.1f} %,"
        f" a low shown that is none {false[0]:.0f}, {false[1]:.0f} %; in true lows at night ({len(true)}) off by {off[0]:.1f}, {off[1]:.1f} mg/dL"
    )


def simulated(command: Path, data: Path, only: str | None) -> None:
    ways = {"afterwards": ((), True), "no checks": ((), False), "live": (("--live",), True)}
    for way, (how, with_checks) in ways.items():
        print(f"\nSimulated people, {way}: MARD of the sensor and of the estimate, their ratio over all readings, where blood")
        print("moves faster than 1 mg/dL/min, and on first days; percent of readings within the 50 and 90 % bands")
        everyone = []
        for person, zone in ZONES.items():
            if only and person != only:
                continue
            files = [(data / f"sim/input/{person}_cgm.csv", zone)]
            if with_checks:
                files.append((data / f"sim/input/{person}_events.csv", zone))
            scored = score(estimate(command, files, *how), truth(data, person))
            print(line(person, scored), flush=True)
            everyone.append(scored.assign(person=person))
        everyone = pd.concat(everyone)
        print(line("all", everyone), flush=True)
        print(chance_of(everyone[everyone["first"]]), flush=True)
        print(lows(everyone), flush=True)


def left_out(command: Path, data: Path) -> None:
    print("\nFingersticks of real people told without them: checks, MARD of the sensor and of the estimate, percent within")
    everyone = []
    for file in sorted((data / "real/shanghai").glob("*.csv")):
        told = estimate(command, [(file, "Asia/Shanghai")], "--leave-out-checks")
        checks = told[told["check_mg_dl"].notna()].copy()
        if checks.empty:
            continue
        readings = told[told["check_mg_dl"].isna()].drop_duplicates("time_utc").set_index("time_utc")["sensor_mg_dl"]
        blood = checks["check_mg_dl"]
        checks["raw"] = 100 * (readings.reindex(checks["time_utc"]).to_numpy() - blood).abs() / blood
        checks["told"] = 100 * (checks["estimate_mg_dl"] - blood).abs() / blood
        checks["in50"] = (checks["p25_mg_dl"] <= blood) & (blood <= checks["p75_mg_dl"])
        checks["in90"] = (checks["p5_mg_dl"] <= blood) & (blood <= checks["p95_mg_dl"])
        print(of_checks(file.stem[:4], checks), flush=True)
        everyone.append(checks)
    print(of_checks("all", pd.concat(everyone)))


def of_checks(name: str, rows: pd.DataFrame) -> str:
    return (
        f"{name:6} {len(rows):5} {rows['raw'].mean():6.2f} {rows['told'].mean():6.2f}"
        f" {100 * rows['in50'].mean():5.1f} {100 * rows['in90'].mean():5.1f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--interstice", type=Path, required=True)
    parser.add_argument("--data", type=Path, default=Path(os.environ.get("INTERSTICE_DATA", TOP / "../shared/data")))
    parser.add_argument("--only")
    given = parser.parse_args()
    if not (given.data / "sim").is_dir():
        print("the simulated people are not here; nothing to score")
        return
    simulated(given.interstice.resolve(), given.data, given.only)
    if not given.only:
        left_out(given.interstice.resolve(), given.data)


if __name__ == "__main__":
    main()
