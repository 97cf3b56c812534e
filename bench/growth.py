"""How everything grows with the length of a life: 90 days, 1, 10 and 40 years of a reading each five minutes.

    cargo build --release
    python3 bench/growth.py [--rounds 3] [--sizes 90,365,3652,14610]

One row for each step and length: a script on general engines and `interstice`, whole processes in turn, and how the processor
time of a reading compares with that at one year. `import` and `account` are those of run.py on its clean recording, against the
faster of polars and DuckDB. `estimate` is `interstice trust`, on the invented person of blood_estimate.py (a sensor each two
weeks, four blood checks a day) against its model in numba, compiled beforehand and with no file to read. `second look` is the last
moment of that person, against `baseline.py numpy look`. `page` is a review of 90 days that was not asked for before, from a
served book, against the same account by polars from a table in memory.
"""

import argparse
import hashlib
import json
import os
import statistics
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

import baseline
import blood_estimate
import generate
import http_answers
from run import BASELINE, ENGINES, TOP, Contender, Measured, measure

NAMES = {90: "90 days", 365: "1 year", 3_652: "10 years", 14_610: "40 years"}
WINDOW = 90


@dataclass
class Row:
    """A step at a length: seconds of theirs and ours, in turn, and ours of the processor."""

    step: str
    days: int
    readings: int
    theirs: list[float]
    ours: list[float]
    cpu: float

    def a_reading(self) -> float:
        return self.cpu / self.readings * 1e9


def write_person(path: Path, days: int) -> tuple[int, tuple]:
    """The invented person as a file, and as arrays."""
    made = blood_estimate.person(days)
    sensors, check_at, check_value = made
    earlier = blood_estimate.START + days * 86_400 - generate.END
    if not path.exists():
        readings = [pl.DataFrame({"at": at - earlier, "sensor": f"sensor {i}", "glucose": value.astype(int)}) for i, (at, value) in enumerate(sensors)]
        checks = pl.DataFrame({"at": check_at - earlier, "blood": np.rint(check_value).astype(int)})
        table = pl.concat([*readings, checks], how="diagonal").sort("at")
        time_of = pl.from_epoch("at", time_unit="s").dt.to_string("%Y-%m-%dT%H:%M:%S+00:00")
        kind = pl.when(pl.col("blood").is_null()).then(pl.lit("automatic")).otherwise(pl.lit("blood check"))
        table.select(time_of.alias("time"), kind.alias("kind"), "sensor", pl.col("glucose").alias("glucose (mg/dL)"), pl.col("blood").alias("blood (mg/dL)")).write_csv(path)
    return sum(len(at) for at, _ in sensors), made


def best_of(runs: list[list[float]]) -> list[float]:
    """Of several engines, the times of the faster."""
    return min(runs, key=statistics.median)


def row(step: str, days: int, readings: int, theirs: list[float], ours: list[Measured]) -> Row:
    return Row(step, days, readings, theirs, [m.seconds for m in ours], statistics.median(m.cpu_seconds for m in ours))


def import_and_account(days: int, given: argparse.Namespace) -> tuple[list[Row], Contender]:
    source = given.folder / f"clean-{days}-5.csv"
    readings = generate.write(source, days, 5, "clean")
    contenders = [Contender(name, given.folder, given.interstice) for name in [*ENGINES, "interstice"]]
    imports, accounts = ({c.name: [] for c in contenders} for _ in range(2))
    for _ in range(given.rounds):
        for contender in contenders:
            contender.clear()
            imports[contender.name].append(measure(contender.import_command(source)))
        for contender in contenders:
            accounts[contender.name].append(measure(contender.report_command(days + 1)))
    seconds = lambda taken: best_of([[m.seconds for m in taken[name]] for name in ENGINES])
    return [row(step, days, readings, seconds(taken), taken["interstice"]) for step, taken in [("import", imports), ("account", accounts)]], contenders[-1]


def page(days: int, readings: int, contender: Contender, given: argparse.Namespace) -> Row:
    """Windows that end a day earlier each time, asked of the served book and of a table in memory."""
    store = given.folder / "store.polars"
    table = pl.read_parquet(store).with_columns(pl.col("mg_dl").cast(pl.Float64))
    theirs, ours = [], []
    with http_answers.Served(given.interstice, contender.store) as connection:
        path = http_answers.window("/review", min(WINDOW, days - 24))
        http_answers.ask(connection, path(-1))
        for i in range(20):
            ours.append(http_answers.ask(connection, path(i))[0] / 1000)
            began = time.perf_counter()
            last = generate.END - (i + 3) * 86_400
            part = table.filter(pl.col("at").is_between(last - min(WINDOW, days - 24) * 86_400, last))
            json.dumps(baseline.polars_account(part))
            theirs.append(time.perf_counter() - began)
    # A page is of its window, whatever the length of the book.
    return Row("page", days, readings, theirs, ours, statistics.median(ours))


def person(days: int, given: argparse.Namespace) -> list[Row]:
    source = given.folder / f"person-{days}.csv"
    readings, made = write_person(source, days)
    ours = Contender("interstice", given.folder, given.interstice)
    ours.clear()
    measure(ours.import_command(source))
    store = given.folder / "person.parquet"
    pl.DataFrame({"at": np.concatenate([at for at, _ in made[0]]), "mg_dl": np.concatenate([value for _, value in made[0]])}).write_parquet(store)
    program = [str(given.interstice), "--book", str(ours.store), "--json"]
    estimates, theirs, looks, their_looks = [], [], [], []
    for i in range(given.rounds):
        estimates.append(measure([*program, "trust"]))
        if days <= given.numba_up_to and (i == 0 or days <= 365):
            began = time.perf_counter()
            blood_estimate.learn_and_estimate(*made)
            theirs.append(time.perf_counter() - began)
        looks.append(measure([*program, "second-look"]))
        their_looks.append(measure([*BASELINE, "numpy", "look", str(store)]).seconds)
    return [row("estimate", days, readings, theirs, estimates), row("second look", days, readings, their_looks, looks)]


def limits(given: argparse.Namespace, days: int) -> str:
    """What this machine does at best with the longest recording, in the same run."""
    text = (given.folder / f"clean-{days}-5.csv").read_bytes()
    began = time.perf_counter()
    hashlib.sha256(text).digest()
    digest = time.perf_counter() - began
    began = time.perf_counter()
    text.count(b"\n")
    pass_over = time.perf_counter() - began
    began = time.perf_counter()
    with (given.folder / "written").open("wb") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    write = time.perf_counter() - began
    (given.folder / "written").unlink()
    return f"The longest recording is {len(text) / 1e6:.0f} MB: one digest of it takes {digest:.3f} s, one pass of memory {pass_over:.3f} s, writing it to the disk {write:.3f} s."


def print_table(rows: list[Row]) -> None:
    print("| step | recording | readings | theirs s | interstice s | times faster | CPU ns a reading | of that at 1 year |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for it in sorted(rows, key=lambda it: (["import", "account", "estimate", "second look", "page"].index(it.step), it.days)):
        at_a_year = next((other.a_reading() for other in rows if other.step == it.step and other.days == 365), None)
        ours = statistics.median(it.ours)
        theirs = statistics.median(it.theirs) if it.theirs else None
        beside = f"{theirs:.3f} | {ours:.3f} | {theirs / ours:.1f}×" if theirs else f"– | {ours:.3f} | –"
        grown = f"{it.a_reading() / at_a_year:.2f}" if at_a_year else "–"
        print(f"| {it.step} | {NAMES.get(it.days, it.days)} | {it.readings:,} | {beside} | {it.a_reading():.0f} | {grown} |")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--sizes", default="90,365,3652,14610", help="days, with commas between")
    parser.add_argument("--numba-up-to", type=int, default=3_652, help="days; the model takes minutes there for more")
    parser.add_argument("--interstice", type=Path, default=TOP / "target/release/interstice")
    parser.add_argument("--folder", type=Path, default=TOP / "target/bench")
    given = parser.parse_args()
    (TOP / "target/bench").mkdir(parents=True, exist_ok=True)
    given.folder.mkdir(parents=True, exist_ok=True)
    blood_estimate.learn_and_estimate(*blood_estimate.person(14))
    sizes, rows = [int(days) for days in given.sizes.split(",")], []
    for days in sizes:
        taken, ours = import_and_account(days, given)
        rows += [*taken, page(days, taken[0].readings, ours, given), *person(days, given)]
        print(f"{NAMES.get(days, days)} done", file=sys.stderr, flush=True)
    print_table(rows)
    print(f"\n{limits(given, max(sizes))}")


if __name__ == "__main__":
    main()
