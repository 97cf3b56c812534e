"""Runs fuzz targets in turn, and prints what each came to as the table of README.md.

    cargo fuzz build --sanitizer none
    python3 fuzz/run.py                                  # all targets, ten million executions each
    python3 fuzz/run.py --seconds 3600 file push         # two of them, an hour together
    python3 fuzz/run.py --keep                           # writes what reaches most into fuzz/kept

One process at a time. Targets take turns, so that slow ones get as much time as others, until each has run often enough or
the time is up. Counts add up over calls until fuzz/corpus is thrown away; what a target came upon lies there too.
"""

import argparse
import json
import re
import resource
import shutil
import subprocess
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
TOLD = HERE / "corpus/told.json"
# Bytes beyond which nothing new is to be expected, by target.
LONGEST = {
    "number": 48, "stamp": 64, "block": 512, "rows": 256, "bluetooth": 256, "request": 160, "delimited": 256, "alike": 512,
    "push": 512, "document": 768, "own_table": 384, "container": 512, "file": 512, "damaged": 64,
}  # fmt: skip
DICTIONARIES = {"file": "table", "alike": "table", "own_table": "table", "push": "document", "document": "document"}


def fuzz(program: Path, folders: list[Path], flags: list[str]) -> tuple[int, str]:
    """Runs the program of a target over folders of inputs: its exit code and what it printed."""
    faults = HERE / "artifacts" / program.name
    faults.mkdir(parents=True, exist_ok=True)
    limits = [f"-max_len={LONGEST[program.name]}", "-rss_limit_mb=1024", "-timeout=20", f"-artifact_prefix={faults}/"]
    ran = subprocess.run([program, *folders, *limits, *flags], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL)
    return ran.returncode, ran.stderr.decode(errors="replace")


def turn(program: Path, so_far: dict, runs: int, seconds: int) -> bool:
    """A turn of one target, added to what is told of it; `False` where it came upon a fault."""
    target = program.name
    grown = HERE / "corpus" / target
    grown.mkdir(parents=True, exist_ok=True)
    kept = [folder for folder in [HERE / "kept" / target] if folder.is_dir()]
    flags = [f"-runs={runs}", f"-max_total_time={seconds}", "-print_final_stats=1"]
    if target in DICTIONARIES:
        flags += [f"-dict={HERE / 'dictionaries' / DICTIONARIES[target]}.txt"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    code, said = fuzz(program, [grown, *kept], flags)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    executed = re.findall(r"stat::number_of_executed_units:\s*(\d+)", said)
    coverage = re.findall(r"cov: (\d+)", said)
    so_far["executions"] = so_far.get("executions", 0) + (int(executed[-1]) if executed else 0)
    so_far["coverage"] = max(so_far.get("coverage", 0), int(coverage[-1]) if coverage else 0)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    so_far["seconds"] = so_far.get("seconds", 0) + spent
    if code:
        print(f"{target}: a fault, exit code {code}\n" + said[-3000:], flush=True)
    return code == 0


def table(told: dict) -> str:
    lines = ["| target | executions | coverage | processor time |", "| --- | --- | --- | --- |"]
    for target, it in told.items():
        lines.append(f"| `{target}` | {it['executions']:,} | {it['coverage']:,} | {it['seconds']:.0f} s |")
    return "\n".join(lines)


def run(programs: Path, targets: list[str], runs: int, seconds: float, length: int) -> bool:
    """Turns until all have run often enough, a fault has taken them out, or the time is up."""
    told = json.loads(TOLD.read_text()) if TOLD.exists() else {}
    ends, faults = time.monotonic() + seconds, set()
    waiting = list(targets)
    while waiting and time.monotonic() < ends:
        target = waiting.pop(0)
        so_far = told.setdefault(target, {})
        left = runs - so_far.get("executions", 0)
        if left <= 0:
            continue
        room = int(min(length, ends - time.monotonic()))
        if turn(programs / target, so_far, left, max(room, 1)):
            waiting.append(target)
        else:
            faults.add(target)
        TOLD.write_text(json.dumps(told, indent=1))
        print(f"{target}: {so_far['executions']:,} executions", flush=True)
    print(table({target: told[target] for target in targets if target in told}))
    return not faults


def keep(programs: Path, targets: list[str]) -> None:
    """Of all inputs, the fewest and shortest that reach every edge of the code reached, into fuzz/kept."""
    for target in targets:
        fewest = HERE / "corpus" / f"{target}.fewest"
        shutil.rmtree(fewest, ignore_errors=True)
        fewest.mkdir(parents=True)
        folders = [folder for folder in [HERE / "kept" / target, HERE / "corpus" / target] if folder.is_dir()]
        code, said = fuzz(programs / target, [fewest, *folders], ["-merge=1", "-set_cover_merge=1", "-use_counters=0"])
        if code:
            raise SystemExit(f"{target} could not be merged\n{said[-2000:]}")
        kept = HERE / "kept" / target
        shutil.rmtree(kept, ignore_errors=True)
        shutil.move(fewest, kept)
        sizes = [path.stat().st_size for path in kept.iterdir()]
        print(f"{target}: {len(sizes)} inputs, {sum(sizes):,} bytes", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("targets", nargs="*", help="all of them if none is named")
    parser.add_argument("--runs", type=int, default=10_000_000, help="executions of each, those of earlier calls counted")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="time for all of them together")
    parser.add_argument("--turn", type=int, default=120, help="seconds of a turn")
    parser.add_argument("--keep", action="store_true", help="do not run; write fuzz/kept")
    parser.add_argument("--programs", type=Path, default=HERE / "target/x86_64-unknown-linux-gnu/release", help="where the built ones lie")
    given = parser.parse_args()
    targets = given.targets or list(LONGEST)
    if unknown := set(targets) - set(LONGEST):
        raise SystemExit(f"no such target: {', '.join(sorted(unknown))}; there are {', '.join(LONGEST)}")
    if given.keep:
        keep(given.programs, targets)
    elif not run(given.programs, targets, given.runs, given.seconds, given.turn):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
