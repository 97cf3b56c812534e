"""How well the second look does on recordings of real people, by rolling origin, against what it is meant to reach.

    python3 checks/second_look_scored.py --interstice target/release/interstice [--data ../shared/data/real] [--only bristol]

Each recording is imported by the command into a book of its own and scored by `second-look --evaluate`: each lived day from the
seventh on is told from the days before it alone; an outcome is a reading, never a line across a gap. Then the same of the
people who wrote insulin down, over the moments in which they waited. hupa_ucm is left out, since its gaps were filled by its
authors. Prints the tables; ends with 1 where a figure misses. Recordings that are not there are left out, and it says so.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
ZONES = {
    "manchester": ("*_glucose.csv", "Europe/London"),
    "bristol": ("P*.csv", "Europe/London"),
    "arizona": ("Subject_*.csv", "America/Phoenix"),
    "texas_wearables": ("c*.csv", "America/Chicago"),
    "adolescents": ("*_readings.csv", "Europe/Amsterdam"),
}
SHOWN = [30, 60, 120]
# Mean skill over glucose staying as it is, percent.
LEAST_RMSE = {30: 18.0, 60: 17.0, 120: 22.0}
LEAST_CRPS = {30: 20.0, 60: 19.0, 120: 24.0}
MEAN_BAND, EACH_BAND = (79.0, 81.0), (78.0, 82.0)
LEAST_BRIER, WORST_BRIER, FEWEST_EPISODES = 0.12, -0.02, 40
# A forecast of real glucose much better than these has seen the future.
MOST_RMSE = {30: 30.0, 60: 28.0, 120: 33.0}


def ask(command: Path, book: Path, *arguments: str) -> dict:
    done = subprocess.run([command, "--book", book, "--json", *arguments], capture_output=True, text=True, stdin=subprocess.DEVNULL)
    if done.returncode > 1:
        raise SystemExit(f"{' '.join(arguments)}: {done.stderr.strip()}")
    return json.loads(done.stdout)


def scored(command: Path, files: list[Path], zone: str) -> dict | None:
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "book"
        for file in files:
            taken = ask(command, book, "import", str(file), "--zone", zone)["files"][0]
            if taken["status"] != "imported":
                print(f"{file.name}: {taken['status']}, left out: {taken.get('questions') or taken.get('problems')}")
                return None
        done = subprocess.run([command, "--book", book, "--json", "second-look", "--evaluate"], capture_output=True, text=True)
        if not done.stdout:
            print(f"{files[0].name}: left out: {done.stderr.strip()}")
            return None
        told = json.loads(done.stdout)
        return told if told["moments"] else None


def skill(own: float, other: float) -> float:
    return 100 * (1 - own / other) if other > 0 else math.nan


def mean(values: list[float]) -> float:
    return sum(values) / len(values) if values else math.nan


def line(name: str, of: dict) -> str:
    text = f"{name:22} {of['days']:4} {of['moments']:6} {100 * of['too_few_alike'] / of['moments']:4.0f}"
    for at in of["horizons"]:
        if at["minutes"] in SHOWN:
            text += (
                f" |{skill(at['rmse_mg_dl'], at['rmse_persistence_mg_dl']):6.1f}{skill(at['crps_mg_dl'], at['crps_persistence_mg_dl']):6.1f}"
                f"{skill(at['rmse_mg_dl'], at['rmse_clock_mg_dl']):6.1f}{at['covered_percent']:6.1f}"
            )
    e = of["episodes"]
    if e["told"] >= FEWEST_EPISODES:
        return text + f" |{e['told']:5}{1 - e['brier'] / e['brier_past_rate']:7.3f}{1 - e['brier'] / max(e['brier_rate_afterwards'], 1e-9):7.3f}"
    return text + f" |{e['told']:5}  rate only"


HEAD = (
    f"{'person':22} {'days':>4} {'told':>6} {'few%':>4}"
    + "".join(f" |{minutes:4} min: rmse crps clock band"[:26].ljust(26) for minutes in SHOWN)
    + " | episodes, Brier skill: past rate, afterwards"
)


def judged(name: str, value: float, low: float, high: float, wrong: list[str]) -> str:
    ok = low <= value <= high
    if not ok:
        wrong.append(name)
    bounds = f"{low:g} to {high:g}" if math.isfinite(high) else f"at least {low:g}"
    return f"{'met   ' if ok else 'MISSED'} {name}: {value:.3f} ({bounds})"


def verdicts(people: dict[str, dict]) -> list[str]:
    wrong: list[str] = []
    lines = []
    for minutes in SHOWN:
        at = {name: next(h for h in of["horizons"] if h["minutes"] == minutes) for name, of in people.items()}
        rmse = mean([skill(h["rmse_mg_dl"], h["rmse_persistence_mg_dl"]) for h in at.values()])
        crps = mean([skill(h["crps_mg_dl"], h["crps_persistence_mg_dl"]) for h in at.values()])
        lines.append(judged(f"{minutes} min RMSE skill, mean", rmse, LEAST_RMSE[minutes], MOST_RMSE[minutes], wrong))
        lines.append(judged(f"{minutes} min CRPS skill, mean", crps, LEAST_CRPS[minutes], math.inf, wrong))
        covered = {name: h["covered_percent"] for name, h in at.items()}
        lines.append(judged(f"{minutes} min 80 % band, mean", mean(list(covered.values())), *MEAN_BAND, wrong))
        for pick, word in ((min, "least"), (max, "most")):
            who = pick(covered, key=covered.get)
            lines.append(judged(f"{minutes} min 80 % band, {word} ({who})", covered[who], *EACH_BAND, wrong))
        for zone in ("below_90", "above_180"):
            within, of = (sum(h[f"covered_{zone}"][k] for h in at.values()) for k in (0, 1))
            lines.append(judged(f"{minutes} min 80 % band, {zone.replace('_', ' ')}, all", 100 * within / of, *EACH_BAND, wrong))
    enough = {n: p["episodes"] for n, p in people.items() if p["episodes"]["told"] >= FEWEST_EPISODES}
    brier = {n: 1 - e["brier"] / e["brier_past_rate"] for n, e in enough.items()}
    after = {n: 1 - e["brier"] / e["brier_rate_afterwards"] for n, e in enough.items()}
    worst = min(brier, key=brier.get)
    lines.append(judged("back in range in 3 h, Brier skill over the rate until then, mean", mean(list(brier.values())), LEAST_BRIER, math.inf, wrong))
    lines.append(judged(f"back in range in 3 h, worst ({worst})", brier[worst], WORST_BRIER, math.inf, wrong))
    lines.append(f"       the same over the rate known only afterwards: mean {mean(list(after.values())):.3f}, worst {min(after.values()):.3f}")
    for event in ("back", "low"):
        skills = [1 - p[event]["brier"] / p[event]["brier_past_rate"] for p in people.values() if p[event]["told"] >= FEWEST_EPISODES]
        lines.append(f"       at every moment, {event}: mean Brier skill over the rate until then {mean(skills):.3f}, worst {min(skills):.3f}")
    return lines + [f"second look: {len(wrong)} of its figures missed" if wrong else "second look: all of its figures met"]


def waiting(command: Path, folder: Path) -> None:
    """The people who wrote insulin down, over moments in which they waited."""
    found = []
    for glucose in sorted(folder.glob("*_glucose.csv")):
        name = glucose.name.split("_")[0]
        extra = [folder / f"{name}_{kind}.csv" for kind in ("bolus", "meals")]
        if extra[0].exists():
            of = scored(command, [glucose, *(f for f in extra if f.exists())], "Europe/London")
            if of:
                found.append((name, of))
    if found:
        print(f"\nOnly moments in which no further insulin was taken in four hours\n{HEAD}")
        for name, of in found:
            print(line(f"manchester/{name}", of))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--interstice", type=Path, required=True)
    parser.add_argument("--data", type=Path)
    parser.add_argument("--only")
    given = parser.parse_args()
    data = given.data or Path(os.environ.get("INTERSTICE_DATA", TOP.parent / "shared/data/real"))
    command = given.interstice.resolve()
    people: dict[str, dict] = {}
    print(HEAD)
    for folder, (pattern, zone) in ZONES.items():
        if given.only not in (None, folder):
            continue
        files = sorted((data / folder).glob(pattern))
        if not files:
            print(f"{folder}: not there, left out")
        with ThreadPoolExecutor(2) as pool:
            for file, of in zip(files, pool.map(lambda file: scored(command, [file], zone), files)):
                if of is None:
                    print(f"{folder}/{file.stem}: nothing to tell from the seventh day on, left out")
                    continue
                name = f"{folder}/{file.stem.split('_glucose')[0].split('_readings')[0]}"
                people[name] = of
                print(line(name, of), flush=True)
    if not people:
        print("second look: skipped, no recordings")
        return
    told = verdicts(people)
    waiting(command, data / "manchester")
    print("\n" + "\n".join(told))
    raise SystemExit("missed" in told[-1])


if __name__ == "__main__":
    main()
