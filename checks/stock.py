"""How long a drawer of sensors lasts: testdata/methods/stock_expected.csv, by two means that are not those of the command.

    python3 checks/stock.py            # holds the file against what is computed anew
    python3 checks/stock.py --write    # makes stock_cases.csv (invented) and stock_expected.csv

The Rust tests hold `interstice_methods::stock` to the same file. There each future draws one loss curve and walks from sensor to sensor.

* 'convolved' cases (no bedding in, nothing expires): for each of many weightings the time each sensor reads is put on a grid of hours,
  and the drawer's time is their convolution, exactly; nothing is drawn but the weights.
* 'urn' cases (bedding in, either clock, expiry, arrivals): no weights are drawn at all. Integrated over, gamma weights are a Pólya urn (Blackwell and
  MacQueen 1973, Ann Stat 1:353): each sensor is like one of those before it, the imagined ones counting one half, or like an earlier one of the same future.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

TOP = Path(__file__).resolve().parent.parent
CASES = TOP / "testdata/methods/stock_cases.csv"
EXPECTED = TOP / "testdata/methods/stock_expected.csv"
# Share of futures: 40,000 urns have a standard error of 0.0025 at most, twice over.
NEAR = 0.012
WEIGHTINGS = 3000
URNS = 40_000

HEADER = """\
# Invented by checks/stock.py --write: what is known of sensors and what lies in the drawer, hours.
# habit: wear, put on before, of that warm-up, 1 where the clock runs from being put on; on: worn, left; waiting: sensors; early, still: hours;
# whole: sensors; sensor: from, until.
"""


@dataclass
class Case:
    wear: float = 336.0
    before: float = 0.0
    warm_up: float = 0.0
    from_put_on: bool = False
    on: tuple[float, float] | None = None
    waiting: int = 0
    early: list[float] = field(default_factory=list)
    still: list[float] = field(default_factory=list)
    whole: int = 0
    drawer: list[tuple[float, float]] = field(default_factory=list)


ALWAYS = (0.0, np.inf)
INVENTED = {
    "convolved-plain": Case(early=[40, 150, 213], whole=9, drawer=[ALWAYS] * 4),
    "convolved-none-lost": Case(whole=6, drawer=[ALWAYS] * 3),
    "convolved-on": Case(early=[12, 70, 90, 301], whole=4, still=[100], on=(100, 236), drawer=[ALWAYS] * 5),
    "convolved-still-on": Case(wear=240, early=[30, 30, 88], whole=3, still=[10, 29, 60, 200], drawer=[ALWAYS] * 3),
    "urn-plain": Case(early=[40, 150, 213], whole=9, drawer=[ALWAYS] * 4),
    "urn-bedding": Case(before=25, warm_up=1, early=[8, 60, 190, 330], whole=6, drawer=[ALWAYS] * 5),
    "urn-from-put-on": Case(wear=240, before=24, warm_up=0, from_put_on=True, early=[20, 100], whole=7, drawer=[ALWAYS] * 6),
    "urn-waiting": Case(before=13, warm_up=1, early=[50, 250, 280], whole=5, waiting=1, drawer=[ALWAYS] * 2),
    "urn-expiry": Case(early=[30, 120, 200, 260], whole=5, drawer=[(0, 400), (0, 400), (0, 900), (500, np.inf), (1500, np.inf)]),
}


def rows_of(cases: dict[str, Case]) -> pd.DataFrame:
    rows: list[tuple] = []
    for name, case in cases.items():
        rows.append((name, "habit", case.wear, case.before, case.warm_up, int(case.from_put_on)))
        if case.on:
            rows.append((name, "on", *case.on, "", ""))
        rows.append((name, "waiting", case.waiting, "", "", ""))
        rows += [(name, "early", hours, "", "", "") for hours in case.early]
        rows += [(name, "still", hours, "", "", "") for hours in case.still]
        rows.append((name, "whole", case.whole, "", "", ""))
        rows += [(name, "sensor", start, "" if np.isinf(end) else end, "", "") for start, end in case.drawer]
    return pd.DataFrame(rows, columns=["case", "what", "a", "b", "c", "d"])


def cases_of(rows: pd.DataFrame) -> dict[str, Case]:
    cases: dict[str, Case] = {}
    for row in rows.itertuples():
        case = cases.setdefault(row.case, Case())
        match row.what:
            case "habit":
                case.wear, case.before, case.warm_up, case.from_put_on = row.a, row.b, row.c, bool(row.d)
            case "on":
                case.on = (row.a, row.b)
            case "waiting":
                case.waiting = int(row.a)
            case "early":
                case.early.append(row.a)
            case "still":
                case.still.append(row.a)
            case "whole":
                case.whole = int(row.a)
            case "sensor":
                case.drawer.append((row.a, np.inf if np.isnan(row.b) else row.b))
    return cases


def longest(case: Case) -> float:
    return case.wear if case.from_put_on else case.wear + case.before - case.warm_up


def survival(case: Case, rng: np.random.Generator) -> np.ndarray:
    """Share not lost by the end of each hour on, for one weighting: product over hours of 1 - lost / at risk."""
    times = np.array(case.early + case.still + [rng.uniform(0, longest(case))])
    ended = np.array([True] * len(case.early) + [False] * len(case.still) + [True])
    weights = np.append(rng.standard_gamma(1.0, len(times) - 1), rng.standard_gamma(0.5))
    never = rng.standard_gamma(case.whole + 0.5)
    hours = np.ceil(times).astype(int)
    size = int(case.wear) + 2
    lost = np.bincount(np.minimum(hours[ended], size - 1), weights[ended], size)
    away = np.bincount(np.minimum(hours, size - 1), weights, size)
    at_risk = never + weights.sum() - np.concatenate([[0], np.cumsum(away)[:-1]])
    return np.cumprod(1 - lost / at_risk)


def convolved(case: Case, at: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    assert case.before == 0 and not case.waiting and all(end == np.inf and start <= 0 for start, end in case.drawer)
    wear = int(case.wear)
    shares = np.zeros(len(at))
    for _ in range(WEIGHTINGS):
        still_on = survival(case, rng)
        reads = np.zeros(wear + 1)
        reads[:wear] = -np.diff(still_on, prepend=1.0)[:wear]
        reads[wear] = still_on[wear - 1]
        total = np.ones(1)
        if case.on:
            worn, left = (int(hours) for hours in case.on)
            rest = still_on[worn : worn + left] / still_on[worn]
            first = np.zeros(left + 1)
            first[:left] = -np.diff(rest, prepend=1.0)
            first[left] = rest[-1]
            total = first
        for _ in case.drawer:
            total = np.convolve(total, reads)
        below = np.concatenate([[0], np.cumsum(total)])
        shares += below[np.minimum(np.ceil(at).astype(int), len(below) - 1)]
    return shares / WEIGHTINGS


def urn_future(case: Case, rng: np.random.Generator) -> float:
    times = [*case.early, rng.uniform(0, longest(case)), np.inf]
    counts = np.array([1.0] * len(case.early) + [0.5, case.whole + 0.5])
    drawer = sorted(case.drawer, key=lambda sensor: (sensor[1], sensor[0]))
    waiting, reads_until, due, planned = case.waiting, 0.0, 0.0, False
    while True:
        if waiting:
            waiting -= 1
        else:
            there = [sensor for sensor in drawer if sensor[0] <= due <= sensor[1]]
            if not there:
                return due
            drawer.remove(there[0])
        like = np.searchsorted(np.cumsum(counts), rng.uniform(0, counts.sum()), side="right")
        counts[like] += 1
        lost = due + times[like]
        start = max(reads_until - case.warm_up, due) if planned else due
        over = (due if case.from_put_on else start) + case.wear
        if over <= lost:
            reads_until, planned = over, True
            due = max(over - case.before, due)
        elif lost <= reads_until:
            due = lost  # gone before it took over
        else:
            reads_until, due, planned = lost, lost, False


def urn(case: Case, at: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    assert case.on is None and not case.still
    out = np.sort([urn_future(case, rng) for _ in range(URNS)])
    return np.searchsorted(out, at, side="left") / URNS


def expected(cases: dict[str, Case], seed: int) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    out = []
    for name, case in cases.items():
        most = (case.on[1] if case.on else 0) + case.wear * (len(case.drawer) + case.waiting)
        # Off the whole hours, where many futures end at once.
        at = np.floor(most * np.array([0.2, 0.35, 0.5, 0.6, 0.7, 0.8, 0.87, 0.93, 0.97, 0.995])) + 0.5
        shares = (convolved if name.startswith("convolved") else urn)(case, at, rng)
        out += [(name, hours, round(share, 5)) for hours, share in zip(at, shares)]
    return pd.DataFrame(out, columns=["case", "hours", "out_before"])


def check() -> tuple[int, list[str]]:
    cases = cases_of(pd.read_csv(CASES, comment="#"))
    held = pd.read_csv(EXPECTED, comment="#")
    found = expected(cases, seed=2)
    wrong = []
    if len(held) != len(found):
        wrong.append(f"stock: {len(held)} shares in the file, {len(found)} here")
    for here, there in zip(held.itertuples(), found.itertuples()):
        if abs(here.out_before - there.out_before) > NEAR:
            wrong.append(f"stock: {here.case} before {here.hours} h: {here.out_before}, here {there.out_before}")
    plain = held[held["case"] == "convolved-plain"]["out_before"].to_numpy() - held[held["case"] == "urn-plain"]["out_before"].to_numpy()
    if np.abs(plain).max() > NEAR:
        wrong.append(f"stock: convolution and urn differ by {np.abs(plain).max():.4f} on the same case")
    return len(held), wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--write", action="store_true")
    if parser.parse_args().write:
        CASES.write_text(HEADER + rows_of(INVENTED).to_csv(index=False))
        made = expected(cases_of(pd.read_csv(CASES, comment="#")), seed=1)
        EXPECTED.write_text("# Made by checks/stock.py --write from stock_cases.csv: share of futures in which the drawer runs out before an hour.\n" + made.to_csv(index=False))
    _, wrong = check()
    print("\n".join(wrong) or "stock: both means agree with the file")
    raise SystemExit(1 if wrong else 0)


if __name__ == "__main__":
    main()
