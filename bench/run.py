"""Times `interstice import` and `interstice review --json` against a script on polars and on DuckDB.

Whole processes, one after the other in turn (A B C A B C), so that a busy machine disturbs all alike. Prints medians, the
ratio to the fastest baseline, and peak memory. `--flat` prints the time per row from one to forty years instead.

    cargo build --release
    python3 bench/run.py [--quick | --full | --flat] [--rounds 5] [--interstice target/release/interstice]
"""

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import generate

TOP = Path(__file__).resolve().parent.parent
BASELINE = [sys.executable, str(TOP / "bench/baseline.py")]
ENGINES = ["polars", "duckdb"]


@dataclass
class Size:
    """A length of recording and its name in the table."""

    name: str
    days: int
    step_min: int
    rounds: int


QUICK = [Size("90 days, 5 min", 90, 5, 3), Size("1 year, 1 min", 365, 1, 3)]
NORMAL = [Size("90 days, 5 min", 90, 5, 9), Size("1 year, 1 min", 365, 1, 9), Size("10 years, 5 min", 3_652, 5, 7)]
FULL = [*NORMAL, Size("40 years, 1 min", 14_610, 1, 3)]
FLAT = [Size(f"{years} years, 1 min", days, 1, 3) for years, days in [(1, 365), (2, 730), (5, 1_826), (10, 3_652), (20, 7_305), (40, 14_610)]]


@dataclass
class Measured:
    """What one process took."""

    seconds: float
    peak_mib: float
    cpu_seconds: float


# Starts a process from a small one: a child begins with the peak memory of whoever it was forked from.
LAUNCHER = """
import os, sys, time
start = time.perf_counter()
pid = os.posix_spawnp(sys.argv[2], sys.argv[2:], os.environ)
_, status, usage = os.wait4(pid, 0)
seconds = time.perf_counter() - start
with open(sys.argv[1], "w") as told:
    told.write(f"{seconds} {usage.ru_maxrss / 1024} {usage.ru_utime + usage.ru_stime} {os.waitstatus_to_exitcode(status)}")
"""


def measure(command: list[str], out: Path | None = None) -> Measured:
    """Runs a process to its end; its output goes to `out`. A failure ends the benchmark with its message."""
    told, said = TOP / "target/bench/told", TOP / "target/bench/stderr"
    with open(out or os.devnull, "wb") as stdout, open(said, "wb") as stderr:
        launch = [sys.executable, "-S", "-c", LAUNCHER, str(told), *command]
        subprocess.run(launch, stdin=subprocess.DEVNULL, stdout=stdout, stderr=stderr, check=True)
    seconds, peak_mib, cpu_seconds, code = told.read_text().split()
    if int(code) not in (0, 1):  # 1: done, but something needs the person
        raise SystemExit(f"{' '.join(command)} ended with {code}\n{said.read_text(errors='replace')[-800:]}")
    return Measured(float(seconds), float(peak_mib), float(cpu_seconds))


class Contender:
    """One way to import a file and give the account."""

    def __init__(self, name: str, folder: Path, interstice: Path):
        self.name, self.interstice = name, interstice
        self.store = folder / f"store.{name}"

    def clear(self) -> None:
        for path in self.store.parent.glob(self.store.name + "*"):
            path.unlink()

    def import_command(self, source: Path) -> list[str]:
        if self.name == "interstice":
            return [str(self.interstice), "--book", str(self.store), "--json", "import", str(source), "--zone", generate.ZONE]
        return [*BASELINE, self.name, "import", str(source), str(self.store)]

    def report_command(self, days: int) -> list[str]:
        if self.name == "interstice":
            return [str(self.interstice), "--book", str(self.store), "--json", "review", "--days", str(days)]
        return [*BASELINE, self.name, "report", str(self.store)]


def compare(size: Size, shape: str, rounds: int, interstice: Path, folder: Path) -> None:
    """One row of the table for each step."""
    source = folder / f"{shape}-{size.days}-{size.step_min}.csv"
    rows = generate.write(source, size.days, size.step_min, shape)
    contenders = [Contender(name, folder, interstice) for name in [*ENGINES, "interstice"]]
    imports = {c.name: [] for c in contenders}
    reports = {c.name: [] for c in contenders}
    for _ in range(rounds):
        for contender in contenders:
            contender.clear()
            imports[contender.name].append(measure(contender.import_command(source)))
        for contender in contenders:
            out = folder / f"account.{contender.name}.json"
            reports[contender.name].append(measure(contender.report_command(size.days + 1), out))
    agree(folder)
    for step, taken in [("import", imports), ("account", reports)]:
        print_row(size, rows, shape, step, taken)


def agree(folder: Path) -> None:
    """The accounts must tell of the same readings, else the times compare nothing."""
    ours = json.loads((folder / "account.interstice.json").read_text())
    theirs = json.loads((folder / "account.polars.json").read_text())
    mean, received = ours["summary"]["mean_mg_dl"], ours["sufficiency"]["received"]
    if mean is None or abs(mean - theirs["mean"]) > 0.2 or abs(received - theirs["n"]) > 0.002 * theirs["n"]:
        raise SystemExit(f"the accounts differ: {received} readings of mean {mean}, polars {theirs['n']} of {theirs['mean']}")


def print_row(size: Size, rows: int, shape: str, step: str, taken: dict[str, list[Measured]]) -> None:
    median = {name: statistics.median(m.seconds for m in runs) for name, runs in taken.items()}
    peak = {name: max(m.peak_mib for m in runs) for name, runs in taken.items()}
    fastest = min(ENGINES, key=lambda name: median[name])
    pairs = [b.seconds / a.seconds for a, b in zip(taken["interstice"], taken[fastest])]
    cells = [size.name, f"{rows:,}", shape, step]
    cells += [f"{median[name]:.3f}" for name in [*ENGINES, "interstice"]]
    cells += [f"{statistics.median(pairs):.1f}× ({min(pairs):.1f}–{max(pairs):.1f})"]
    cells += [f"{peak[fastest]:.0f}", f"{peak['interstice']:.0f}"]
    print("| " + " | ".join(cells) + " |", flush=True)


def table(sizes: list[Size], given: argparse.Namespace, folder: Path) -> None:
    print("| recording | readings | file | step | polars s | DuckDB s | interstice s | times faster than the faster of the two (least–most) | its peak MiB | interstice peak MiB |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for size in sizes:
        for shape in given.shapes.split(","):
            compare(size, shape, given.rounds or size.rounds, given.interstice, folder)


def flat(given: argparse.Namespace, folder: Path) -> None:
    """Time per row of `interstice` alone, by length: of the clock, and of the processors, which a busy machine disturbs less."""
    print("| recording | readings | import s | ns a row | CPU ns a row | account s | ns a row | CPU ns a row | peak MiB |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    ours = Contender("interstice", folder, given.interstice)
    for size in FLAT:
        source = folder / f"clean-{size.days}-1.csv"
        rows = generate.write(source, size.days, 1, "clean")
        imports, reports = [], []
        for _ in range(given.rounds or size.rounds):
            ours.clear()
            imports.append(measure(ours.import_command(source)))
            reports.append(measure(ours.report_command(size.days + 1), folder / "account.interstice.json"))
        median = [(statistics.median(m.seconds for m in runs), statistics.median(m.cpu_seconds for m in runs)) for runs in (imports, reports)]
        peak = max(m.peak_mib for m in imports + reports)
        cells = [size.name, f"{rows:,}"]
        cells += [cell for s, cpu in median for cell in (f"{s:.3f}", f"{s / rows * 1e9:.0f}", f"{cpu / rows * 1e9:.0f}")]
        print("| " + " | ".join([*cells, f"{peak:.0f}"]) + " |", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--quick", action="store_true", help="up to half a million readings, three rounds")
    how.add_argument("--full", action="store_true", help="up to twenty million readings")
    how.add_argument("--flat", action="store_true", help="time per row, one to forty years")
    parser.add_argument("--rounds", type=int, help="rounds for every size")
    parser.add_argument("--shapes", default="clean,awkward")
    parser.add_argument("--interstice", type=Path, default=TOP / "target/release/interstice")
    parser.add_argument("--folder", type=Path, default=TOP / "target/bench")
    given = parser.parse_args()
    (TOP / "target/bench").mkdir(parents=True, exist_ok=True)
    given.folder.mkdir(parents=True, exist_ok=True)
    if not shutil.which(str(given.interstice)):
        raise SystemExit(f"{given.interstice} is not there: cargo build --release")
    if given.flat:
        flat(given, given.folder)
    else:
        table(QUICK if given.quick else FULL if given.full else NORMAL, given, given.folder)


if __name__ == "__main__":
    main()
