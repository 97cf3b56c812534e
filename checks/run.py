"""Holds the `interstice` command against this second implementation, recording by recording, figure by figure.

    python3 checks/run.py --interstice target/debug/interstice [--data ../shared/data/real]

Each recording is read twice: by the reader for its layout in recordings.py, and by the command, which is told nothing but
the zone. Prints the largest relative difference of each group of figures; ends with 1 when one is beyond its tolerance.
Open recordings that are not there are left out, and it says so.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

import agreement
import before_after
import blood_checks
import blood_estimate
import calendars
import documents
import exported
import figures
import mixed
import second_look
import staying
import stock
import swings
import trials
import vectors
import visit_sheet
from recordings import Recording, read_plain, read_with_offsets

TOP = Path(__file__).resolve().parent.parent

# Both sides add the same numbers in another order: what remains is rounding.
EXACT = 1e-9

Pairs = Iterable[tuple[str, object, object]]


@dataclass
class Source:
    """A recording: where it is, the zone the command is told, and how to read it here."""

    path: str
    zone: str
    read: Callable[[Path], Recording]


def plain(path: str, zone: str, minutes: int, time: str, value: str, format: str, mmol: bool = False) -> Source:
    return Source(path, zone, lambda full: read_plain(full, zone, minutes * 60, time, value, format, mmol))


ISO = "%Y-%m-%d %H:%M:%S"
STORED = ("record_kind", "stored_15min")
SOURCES = [
    plain("testdata/checks/invented.csv", "Europe/Lisbon", 5, "time", "glucose mg/dL", ISO),
    plain("manchester/2306_glucose.csv", "Europe/London", 15, "bg_ts", "value", "%d/%m/%Y %H:%M", mmol=True),
    plain("bristol/P05.csv", "Europe/London", 15, "time_local", "glucose_mgdl", ISO),
    plain("bristol/P23.csv", "Europe/London", 5, "time_local", "glucose_mgdl", ISO),
    plain("hall2018_no_diabetes/1636-69-001.csv", "America/Los_Angeles", 5, "time_local", "glucose_mgdl", ISO),
    plain("texas_wearables/c2s03.csv", "America/Chicago", 5, "time_local", "glucose_mgdl", ISO),
    plain("arizona/Subject_24.csv", "America/Phoenix", 5, "time_local", "glucose_mgdl", ISO),
    Source(
        "adolescents/903_readings.csv",
        "Europe/Amsterdam",
        lambda full: read_with_offsets(full, "Europe/Amsterdam", 900, "time_local", "glucose_mmol_l", STORED, mmol=True),
    ),
]


def ask(interstice: Path, book: Path, *arguments: str) -> dict:
    """One JSON document from the command."""
    command = [str(interstice), "--book", str(book), "--json", *arguments]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=300)
    if done.returncode not in (0, 1):  # 1: done, but something needs the person
        raise RuntimeError(f"{' '.join(arguments)} ended with {done.returncode}: {done.stderr.strip()}")
    return json.loads(done.stdout)


def account(interstice: Path, file: Path, source: Source, first: date, last: date) -> dict:
    """What the command says of the file, over its days."""
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "a.book"
        taken = ask(interstice, book, "import", str(file), "--zone", source.zone)["files"][0]
        if taken["status"] != "imported":
            raise RuntimeError(f"the file became a {taken['status']}: {taken.get('questions')}")
        return ask(interstice, book, "review", "--from", str(first), "--to", str(last))


def pairs(recording: Recording, said: dict) -> dict[str, Pairs]:
    """What is compared, by group: name, what the command says, what is found here."""
    start, end = (int(datetime.fromisoformat(said["window"][name]).timestamp()) for name in ("from", "to"))
    activity = figures.activity(recording, start, end)
    groups: dict[str, Pairs] = {"activity": [(name, said["sufficiency"][name], value) for name, value in activity.items()]}
    for name, value in figures.summary(recording).items():
        groups[name.removesuffix("_mg_dl").removesuffix("_percent")] = [(name, said["summary"][name], value)]
    groups["usual day"] = usual_day_pairs(said["usual_day"], figures.usual_day(recording))
    groups["episodes"] = episode_pairs(said["episodes"], figures.episodes(recording))
    return groups


def usual_day_pairs(theirs: list[dict], ours: list[dict]) -> Pairs:
    rows = [("bins of the usual day", len(theirs), len(ours))]
    for their, our in zip(theirs, ours):
        rows += [(f"usual day at minute {our['minute']}: {name}", their[name], value) for name, value in our.items()]
    return rows


def episode_pairs(theirs: list[dict], ours: list[figures.Episode]) -> Pairs:
    rows = [("number of episodes", len(theirs), len(ours))]
    for their, our in zip(theirs, ours):
        second = lambda name: int(datetime.fromisoformat(their[name]).timestamp())
        compared = {
            "kind": (their["kind"], our.kind),
            "level": (their["level"], our.level),
            "extended": (their["extended"], our.extended),
            "start": (second("start"), our.start),
            "end": (second("end"), our.end),
            "end_unknown": (their["end_unknown"], our.end_unknown),
            "minutes": (their["minutes"], our.seconds / 60),
            "extreme_mg_dl": (their["extreme_mg_dl"], our.extreme),
            "area_mg_dl_min": (their["area_mg_dl_min"], our.area),
        }
        rows += [(f"episode of {their['start']}: {name}", *pair) for name, pair in compared.items()]
    return rows


@dataclass
class Beside:
    """A recording with blood checks: readings, checks (in the same file or one of their own), the zone."""

    source: Source
    checks_path: str
    read_checks: Callable[[Path], agreement.Checks]


def shanghai(name: str) -> Beside:
    path, zone = f"shanghai/{name}.csv", "Asia/Shanghai"
    return Beside(
        plain(path, zone, 15, "time_local", "sensor_mgdl", ISO),
        path,
        lambda full: agreement.read_checks(full, zone, "time_local", "capillary_mgdl", ISO),
    )


INVENTED_CHECKS = "testdata/checks/invented_checks.csv"
BESIDE_BLOOD = [
    Beside(SOURCES[0], INVENTED_CHECKS, lambda full: agreement.read_checks(full, "Europe/Lisbon", "time", "blood glucose mg/dL", ISO)),
    *map(shanghai, (
        "1001_0_20210730_t1", "1004_0_20210425_t1", "1008_0_20210713_t1", "1009_0_20210803_t1", "1011_0_20210622_t1",
        "2000_0_20201230_t2", "2002_0_20210513_t2", "2007_0_20220108_t2", "2016_0_20201224_t2", "2025_0_20210506_t2",
        "2030_0_20210531_t2", "2082_0_20210907_t2", "2092_0_20201109_t2", "2095_0_20201116_t2", "2097_0_20201116_t2",
    )),
]  # fmt: skip


def trust(interstice: Path, files: list[Path], zone: str) -> dict[str, dict]:
    """What the command says of sensors beside blood, by rule of pairing and split."""
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "a.book"
        for file in files:
            taken = ask(interstice, book, "import", str(file), "--zone", zone)["files"][0]
            if taken["status"] != "imported":
                raise RuntimeError(f"the file became a {taken['status']}: {taken.get('questions')}")
        rules = [("nearest-after", 70), ("interpolated", 70), ("interpolated", 100)]
        return {f"{rule}/{split}": ask(interstice, book, "trust", "--pairing", rule, "--split", str(split)) for rule, split in rules}


def beside_pairs(recording: Recording, checks: agreement.Checks, censored: np.ndarray, said: dict[str, dict]) -> Pairs:
    """What is compared, for both rules: figures, rates of change, counts by direction and zone."""
    rows: list[tuple[str, object, object]] = []
    corners = vectors.vector("parkes_type1_vertices")
    for name, theirs in said.items():
        rule, _, split = name.partition("/")
        found = agreement.pair(recording, checks, rule, censored)
        rows += [(f"{name} {key}", theirs[key], value) for key, value in agreement.figures(found, float(split)).items()]
        rates = [point["rate_mg_dl_min"] for point in theirs["points"]]
        rows += [(f"{name} rate of pair {i}", *both) for i, both in enumerate(zip(rates, found.rate))]
        by = {group["key"]: group["pairs"] for group in theirs["by"]["direction"]}
        rows += [(f"{name} {key}", by.get(key, 0), count) for key, count in agreement.directions(found).items()]
        values = list(zip(found.blood, found.sensor))
        zones = {"clarke": [agreement.clarke(b, s) for b, s in values], "consensus": [agreement.consensus(b, s, corners) for b, s in values]}
        for grid, letters in zones.items():
            rows += [(f"{name} {grid} {zone['zone']}", zone["pairs"], letters.count(zone["zone"])) for zone in theirs["grid"][grid]["zones"]]
    return rows


def check_beside(interstice: Path, data: Path) -> list[str]:
    """Every difference found between the command and this side over recordings with blood checks."""
    wrong, compared, largest = [], 0, 0.0
    print("\nsensors beside blood: pairs and MARD by each rule")
    for beside in BESIDE_BLOOD:
        file, checks_file = find(beside.source.path, data), find(beside.checks_path, data)
        if file is None or checks_file is None:
            print(f"skipped {beside.source.path}: not there")
            continue
        recording, checks = beside.source.read(file), beside.read_checks(checks_file)
        censored = edges(recording, file)
        try:
            said = trust(interstice, sorted({file, checks_file}), beside.source.zone)
            rows = list(beside_pairs(recording, checks, censored, said))
        except (RuntimeError, KeyError, ValueError, subprocess.TimeoutExpired) as error:
            wrong.append(f"{beside.source.path}: {type(error).__name__}: {error}")
            continue
        apart = [(difference(theirs, ours), name, theirs, ours) for name, theirs, ours in rows]
        compared, largest = compared + len(apart), max(largest, *(row[0] for row in apart))
        wrong += [f"{recording.name}: {name}: interstice {a}, here {b}" for d, name, a, b in apart if not d <= EXACT]
        print(f"{recording.name:22}" + "".join(f"{rule.split('/')[0]:>16} {s['pairs']:3} {s['mard_percent']:8.4f} %" for rule, s in said.items() if rule.endswith("70")))
    print(f"{compared} figures compared, the largest relative difference (absolute below 1) {largest:.1e}")
    return wrong


def edges(recording: Recording, file: Path) -> np.ndarray:
    """Which readings the file gives as a word in place of a number: beyond a limit. They are kept at the least and the
    greatest number, so that a reading of just that number is told apart by its text alone."""
    text = file.read_text(encoding="utf-8").lower().splitlines()
    words = {line.split(",")[0] for line in text if line.endswith((",low", ",high"))}
    wall = pd.DatetimeIndex(pd.to_datetime(recording.at, unit="s", utc=True)).tz_convert(str(recording.zone))
    return np.isin(wall.strftime(ISO).to_numpy(dtype=str), list(words)) if words else np.zeros(recording.at.size, dtype=bool)


def difference(theirs: object, ours: object) -> float:
    """Relative, and absolute below 1; infinite where only one side has a figure or texts differ."""
    if theirs is None and ours is None:
        return 0.0
    if isinstance(theirs, (int, float)) and isinstance(ours, (int, float)):
        return abs(theirs - ours) / max(1.0, abs(ours))
    return 0.0 if theirs == ours else math.inf


def compare(recording: Recording, said: dict) -> tuple[dict[str, float], list[str]]:
    """The largest difference of each group, and every pair beyond the tolerance in words."""
    largest, wrong = {}, []
    for group, rows in pairs(recording, said).items():
        largest[group] = 0.0
        for name, theirs, ours in rows:
            apart = difference(theirs, ours)
            largest[group] = max(largest[group], apart)
            if not apart <= EXACT:
                wrong.append(f"{recording.name}: {name}: interstice {theirs}, here {ours}")
    return largest, wrong


def print_table(results: dict[str, dict[str, float]]) -> None:
    groups = list(dict.fromkeys(group for largest in results.values() for group in largest))
    print("largest relative difference (absolute below 1)\n")
    print(f"{'':14}" + "".join(f"{name[:10]:>11}" for name in results))
    for group in groups:
        cells = [f"{results[name][group]:11.1e}" if group in results[name] else f"{'':11}" for name in results]
        print(f"{group:14}" + "".join(cells))


def find(path: str, data: Path) -> Path | None:
    """The file, of ours or of the open data, if it is there."""
    full = TOP / path if path.startswith("testdata/") else data / path
    return full if full.is_file() else None


def data_folder(given: Path | None) -> Path:
    """Where the open recordings are: as told, else beside the checkout."""
    if given or "INTERSTICE_DATA" in os.environ:
        return (given or Path(os.environ["INTERSTICE_DATA"])) / ("" if given else "real")
    beside = [TOP.parent / "shared/data/real", TOP.parent.parent / "shared/data/real"]
    return next((folder for folder in beside if folder.is_dir()), beside[0])


def check(interstice: Path, data: Path) -> list[str]:
    """Every difference found."""
    results, wrong = {}, []
    for source in SOURCES:
        file = find(source.path, data)
        if file is None:
            print(f"skipped {source.path}: not there")
            continue
        recording = source.read(file)
        wall = recording.wall() // 86_400
        first, last = (date(1970, 1, 1) + timedelta(days=int(day)) for day in (wall[0], wall[-1]))
        try:
            largest, differences = compare(recording, account(interstice, file, source, first, last))
        except (RuntimeError, KeyError, ValueError, subprocess.TimeoutExpired) as error:
            wrong.append(f"{source.path}: {type(error).__name__}: {error}")
            continue
        results[recording.name] = largest
        wrong += differences
    if results:
        print_table(results)
    return wrong


def check_before_after(interstice: Path, data: Path) -> list[str]:
    """Every difference found where days are held against days."""
    wrong = []
    print("\nbefore and after: halves of a recording, weekends against other days")
    for source in SOURCES:
        file = find(source.path, data)
        if file is None:
            print(f"skipped {source.path}: not there")
            continue
        with tempfile.TemporaryDirectory() as folder:
            book = Path(folder) / "a.book"
            ask(interstice, book, "import", str(file), "--zone", source.zone)
            found, compared, largest, furthest = before_after.compare(source.read(file), lambda *arguments: ask(interstice, book, *arguments))
        wrong += found
        print(f"{source.path:44} {compared:4} compared, differences to {largest:.1e}, ends within {furthest:.1f} standard deviations of ten")
    return wrong


def swings_data(given: Path | None) -> Path:
    """The folder that holds `sim`, which stands beside the recordings of real people."""
    real = data_folder(given)
    return real.parent if real.name == "real" else real


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--interstice", type=Path, required=True)
    parser.add_argument("--data", type=Path)
    given = parser.parse_args()
    count, wrong = vectors.check()
    print(f"{count - len(wrong)} of {count} values of the published worked examples agree")
    fitted, apart = mixed.check()
    print(f"{fitted - len(apart)} of {fitted} values of mixed models agree")
    wrong += apart
    told, apart = blood_estimate.check()
    print(f"{told - len(apart)} of {told} values of the blood estimate agree")
    wrong += apart
    worn, apart = staying.check()
    print(f"{worn - len(apart)} of {worn} values of how long sensors stay on agree")
    wrong += apart
    lasting, apart = stock.check()
    print(f"{lasting - len(apart)} of {lasting} shares of how long a drawer lasts agree")
    wrong += apart
    counted, apart = trials.check()
    print(f"{counted - len(apart)} of {counted} values of personal trials agree")
    wrong += apart
    looked, apart = second_look.check()
    print(f"{looked - len(apart)} of {looked} values of the second look agree")
    wrong += apart
    wrong += check(given.interstice.resolve(), data_folder(given.data))
    wrong += check_beside(given.interstice.resolve(), data_folder(given.data))
    wrong += check_before_after(given.interstice.resolve(), data_folder(given.data))
    wrong += calendars.check(given.interstice.resolve())
    wrong += exported.check(given.interstice.resolve())
    wrong += documents.check(given.interstice.resolve())
    wrong += visit_sheet.check(given.interstice.resolve())
    wrong += blood_checks.check(given.interstice.resolve(), data_folder(given.data))
    wrong += swings.check(given.interstice.resolve(), swings_data(given.data))
    shown = 40
    for line in wrong[:shown]:
        print(line)
    if len(wrong) > shown:
        print(f"and {len(wrong) - shown} more")
    print("\nfigures: all agree" if not wrong else f"\nfigures: {len(wrong)} differ")
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
