"""Exports of the demo's book, read by an independent engine (`duckdb`), against `review --json` of the same window.

The engine is told nothing but where the files lie. From the readings it adds up the account's plain figures: readings
that stand for some time, each weighing what it stands for, classed by the number and unit the device said; percentages,
mean and spread as checks/figures.py has them from their published definitions. Both formats are read, and must also tell
the same rows; every file must have the digest the command printed. What was written must be the window that was asked for.
"""

from __future__ import annotations

import hashlib
import json
import math
import subprocess
import tempfile
from pathlib import Path

import duckdb

# The same numbers added in another order: only rounding may remain.
EXACT = 1e-12
# Ranges by unit (Battelino et al. 2019, Diabetes Care 42:1593): very low below, low below, tight up to, high above, very high above.
LIMITS = {"mg/dL": (54, 70, 140, 180, 250), "mmol/L": (3.0, 3.9, 7.8, 10.0, 13.9)}
WINDOWS = [("--days", "14"), ("--days", "90"), ("--from", "2025-10-20", "--to", "2025-10-28")]
# Tables that must have rows in an export of the whole demo.
FILLED = ["readings", "blood_checks", "doses", "meals", "entries", "sensor_moments", "sensors", "settings", "sensor_kinds",
          "stock", "imports", "figures", "days", "episodes", "usual_day", "zones"]  # fmt: skip


def demo_book(interstice: Path, folder: Path) -> Path:
    """The demo's book. The command goes on to serve its pages; it is ended once it says that it listens."""
    book = folder / "demo.book"
    command = [str(interstice), "--book", str(book), "demo", "--no-open", "--port", "0"]
    serving = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    try:
        if not any("listening on http" in line for line in serving.stderr):
            raise RuntimeError("the demo ended before it listened")
    finally:
        serving.terminate()
        serving.wait(timeout=60)
        serving.stderr.close()
    return book


def run(interstice: Path, book: Path, *arguments: str) -> dict:
    command = [str(interstice), "--book", str(book), "--json", *arguments]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=600)
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{' '.join(arguments)} ended with {done.returncode}: {done.stderr.strip()}")
    return json.loads(done.stdout)


def readings(engine: duckdb.DuckDBPyConnection, folder: Path, form: str) -> str:
    """Names the readings of an export as a view, types as the columns' names say."""
    files = f"{folder}/readings/*/part.{form}"
    if form == "csv":
        source = f"read_csv('{files}', hive_partitioning=true, types={{'value_as_said': 'VARCHAR', 'glucose_mg_dl': 'DOUBLE', 'sensor': 'VARCHAR', 'bound': 'VARCHAR'}})"
    else:
        source = f"read_parquet('{files}', hive_partitioning=true)"
    engine.execute(f"CREATE OR REPLACE VIEW {form} AS SELECT * FROM {source}")
    return form


def figures(engine: duckdb.DuckDBPyConnection, view: str) -> dict[str, float]:
    """The account's plain figures, by SQL."""
    w, n, mean = engine.execute(f"SELECT sum(stands_for_s), count(*), fsum(glucose_mg_dl * stands_for_s) / sum(stands_for_s) FROM {view} WHERE stands_for_s > 0").fetchone()
    squares, w2 = engine.execute(
        f"SELECT fsum(stands_for_s * (glucose_mg_dl - ?) ** 2), sum(stands_for_s::DOUBLE ** 2) FROM {view} WHERE stands_for_s > 0", [mean]
    ).fetchone()
    sd = math.sqrt(squares / (w - w2 / w))
    said = "value_as_said::DECIMAL(18, 6)"

    def share(of) -> float:
        """Percent of time where the device's own number is in a range, by its own unit."""
        by_unit = " OR ".join(f"(unit_as_said = '{unit}' AND {of(said, *limits)})" for unit, limits in LIMITS.items())
        return engine.execute(f"SELECT 100.0 * sum(CASE WHEN {by_unit} THEN stands_for_s ELSE 0 END) / sum(stands_for_s) FROM {view} WHERE stands_for_s > 0").fetchone()[0]

    # A number beyond what the device can measure is kept at the edge and lies where the edge lies.
    return {
        "received": n,
        "mean_mg_dl": mean,
        "sd_mg_dl": sd,
        "cv_percent": 100 * sd / mean,
        "gmi_percent": 3.31 + 0.02392 * mean,
        "j_index": 0.001 * (mean + sd) ** 2,
        "very_low_percent": share(lambda x, vl, lo, ti, hi, vh: f"{x} < {vl}"),
        "low_percent": share(lambda x, vl, lo, ti, hi, vh: f"{x} >= {vl} AND {x} < {lo}"),
        "in_range_percent": share(lambda x, vl, lo, ti, hi, vh: f"{x} >= {lo} AND {x} <= {hi}"),
        "tight_range_percent": share(lambda x, vl, lo, ti, hi, vh: f"{x} >= {lo} AND {x} <= {ti}"),
        "high_percent": share(lambda x, vl, lo, ti, hi, vh: f"{x} > {hi} AND {x} <= {vh}"),
        "very_high_percent": share(lambda x, vl, lo, ti, hi, vh: f"{x} > {vh}"),
    }


def apart(a: float, b: float) -> float:
    return abs(a - b) / max(1.0, abs(b))


def wrong_files(folder: Path, told: dict) -> list[str]:
    """Files that are not what the command and the manifest say."""
    wrong = []
    for file in told["files"]:
        bytes_ = (folder / file["path"]).read_bytes()
        if hashlib.sha256(bytes_).hexdigest() != file["sha256"] or len(bytes_) != file["bytes"]:
            wrong.append(f"{file['path']} is not what was printed")
    manifest = json.loads((folder / "manifest.json").read_text())
    listed = {file["path"] for table in manifest["tables"] for file in table["files"]} | {file["path"] for file in manifest["other_files"]}
    on_disk = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}
    if on_disk != listed | {"manifest.json", "README.txt"}:
        wrong.append(f"the manifest and the folder differ: {sorted(on_disk ^ listed)}")
    return wrong


def check_window(interstice: Path, book: Path, window: tuple[str, ...], folder: Path) -> tuple[int, float, list[str]]:
    said = run(interstice, book, "review", *window)
    said["summary"]["received"] = said["sufficiency"]["received"]
    engine = duckdb.connect()
    wrong, compared, largest = [], 0, 0.0
    for form in ("csv", "parquet"):
        to = folder / f"{form}{'_'.join(window)}"
        wrong += wrong_files(to, run(interstice, book, "export", str(to), "--as", form, *window))
        for name, value in figures(engine, readings(engine, to, form)).items():
            difference = apart(value, said["summary"][name])
            compared, largest = compared + 1, max(largest, difference)
            if not difference <= EXACT:
                wrong.append(f"{form} {' '.join(window)}: {name}: interstice {said['summary'][name]}, from the export {value}")
    columns = "time_utc, kind, coalesce(sensor, ''), value_as_said, unit_as_said, coalesce(bound, ''), glucose_mg_dl, stands_for_s, marked_artefact, month"
    for one, other in (("csv", "parquet"), ("parquet", "csv")):
        differ = engine.execute(f"SELECT count(*) FROM (SELECT {columns} FROM {one} EXCEPT ALL SELECT {columns} FROM {other})").fetchone()[0]
        if differ:
            wrong.append(f"{' '.join(window)}: {differ} readings of {one} are not in {other}")
    return compared, largest, wrong


def check_whole(interstice: Path, book: Path, folder: Path) -> list[str]:
    """The whole book: every table there, and brought into an empty book it gives the same account."""
    wrong = []
    engine = duckdb.connect()
    for form in ("csv", "parquet"):
        to = folder / f"whole_{form}"
        wrong += wrong_files(to, run(interstice, book, "export", str(to), "--as", form))
        manifest = json.loads((to / "manifest.json").read_text())
        for table in manifest["tables"]:
            rows = 0
            for file in table["files"]:
                read = f"read_parquet('{to / file['path']}')" if form == "parquet" else f"read_csv('{to / file['path']}', all_varchar=true, header=true)"
                rows += (found := engine.execute(f"SELECT count(*) FROM {read}").fetchone()[0])
                if found != file["rows"]:
                    wrong.append(f"{file['path']} has {found} rows, its manifest says {file['rows']}")
                names = [column[0] for column in engine.execute(f"DESCRIBE SELECT * FROM {read}").fetchall()]
                if [name for name in names if name != "month"] != [column["name"] for column in table["columns"]]:
                    wrong.append(f"{file['path']} has other columns than its manifest: {names}")
            if not rows and table["name"] in FILLED:
                wrong.append(f"{table['name']} has no rows as {form}")
    again = folder / "again.book"
    taken = run(interstice, again, "import", str(folder / "whole_csv"), "--zone", "Asia/Tokyo")["files"][0]
    if taken["status"] != "imported" or taken["rejected"] or taken["notes"]:
        wrong.append(f"the export was not taken back whole: {taken['status']}, {taken['problems']}, {taken['notes']}")
    for arguments in (("review", "--days", "90"), ("trust",), ("wear", "--plan", "--at", "2025-10-29T12:00:00Z")):
        before, after = run(interstice, book, *arguments), run(interstice, again, *arguments)
        if "notes" in before:  # readings that did not stand are not brought back
            before["notes"] = [note for note in before["notes"] if "came in twice" not in note]
        if apart_in := differing(before, after):
            wrong.append(f"{' '.join(arguments)} tells another thing of the book that was brought back: {apart_in[:3]}")
    return wrong


# What is the book's own and not the record's.
OWN = {"book_id"}


def differing(a: object, b: object, place: str = "") -> list[str]:
    if isinstance(a, dict) and isinstance(b, dict):
        return [line for name in a.keys() | b.keys() if name not in OWN for line in differing(a.get(name), b.get(name), f"{place}.{name}")]
    if isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        return [line for i, pair in enumerate(zip(a, b)) for line in differing(*pair, f"{place}[{i}]")]
    return [] if a == b else [f"{place}: {str(a)[:60]} became {str(b)[:60]}"]


def check(interstice: Path) -> list[str]:
    wrong, compared, largest = [], 0, 0.0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        try:
            book = demo_book(interstice, folder)
            for window in WINDOWS:
                count, apart_by, found = check_window(interstice, book, window, folder)
                compared, largest, wrong = compared + count, max(largest, apart_by), wrong + found
            wrong += check_whole(interstice, book, folder)
        except (RuntimeError, KeyError, ValueError, duckdb.Error, subprocess.TimeoutExpired) as error:
            wrong.append(f"exports: {type(error).__name__}: {error}")
    print(f"\nexports read by duckdb: {compared} figures compared, the largest relative difference (absolute below 1) {largest:.1e}")
    return wrong


if __name__ == "__main__":
    import sys

    for line in (found := check(Path(sys.argv[1]).resolve())):
        print(line)
    raise SystemExit(bool(found))
