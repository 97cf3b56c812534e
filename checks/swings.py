"""Stacked corrections found by the command, against simulated people whose blood and reasons are known.

    python3 checks/swings.py --interstice target/release/interstice [--data ../shared/data]

For each simulated person of `sim` the command is told what a wearer would have logged, once as written and once without a
word of what doses and meals were for. The truth is made here from the blood and the reasons: two corrections of which the
earlier had at least 20 % left (mean of the two published formulas, written anew), and true blood below 70 mg/dL for at least
15 minutes that begins within four hours of the last. A swing is found where one of the kind overlaps it; it is right where it
overlaps a true one. Blood and sensor are not the same, and a sensor shows lows late or not at all, so neither share can
be 1 for sure. Prints the table; fails where fewer than three quarters are found or are right.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from against_truth import TOP, ZONES, run

LOW, HOLD_MIN, WITHIN_MIN, LEFT = 70.0, 15, 240, 0.20


def left(minutes: float) -> float:
    """Mean of Hovorka 2004 (55 min) and Wilinska 2005 (67 % slow 0.011/min in two steps, 33 % fast 0.021/min)."""
    one = (1 + minutes / 55) * np.exp(-minutes / 55)
    two = 0.67 * (1 + 0.011 * minutes) * np.exp(-0.011 * minutes) + 0.33 * np.exp(-0.021 * minutes)
    return float(one + two) / 2


def true_lows(blood: pd.Series) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    low = (blood < LOW).to_numpy()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], low.astype(int), [0]])))
    spans = [(blood.index[a], blood.index[b - 1]) for a, b in zip(edges[::2], edges[1::2])]
    return [(a, b) for a, b in spans if (b - a).total_seconds() >= 60 * HOLD_MIN]


def truth(data: Path, person: str) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    cgm = pd.read_csv(data / f"sim/truth/{person}_cgm.csv", comment="#")
    cgm["at"] = pd.to_datetime(cgm["time_utc"], utc=True)
    blood = cgm.drop_duplicates("at").set_index("at")["true_bg_mgdl"].sort_index()
    events = pd.read_csv(data / f"sim/truth/{person}_events.csv", comment="#")
    corrections = pd.to_datetime(events.loc[events["detail"] == "correction", "time_utc"], utc=True).sort_values().tolist()
    found = []
    for start, end in true_lows(blood):
        before = [at for at in corrections if start - pd.Timedelta(minutes=WITHIN_MIN) <= at <= start]
        if not before:
            continue
        chain = [before[-1]]
        while earlier := [at for at in corrections if at < chain[0] and left((chain[0] - at).total_seconds() / 60) >= LEFT]:
            chain.insert(0, earlier[-1])
        if len(chain) > 1:
            found.append((chain[0], end))
    return found


def told(interstice: Path, data: Path, person: str, words: bool) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    with tempfile.TemporaryDirectory() as folder:
        book, events = Path(folder) / "book", Path(folder) / "events.csv"
        rows = pd.read_csv(data / f"sim/input/{person}_events.csv", comment="#")
        if not words:
            rows.loc[rows["event"].isin(["bolus", "meal"]), "detail"] = ""
        rows.to_csv(events, index=False)
        for file in (data / f"sim/input/{person}_cgm.csv", events):
            run(interstice, "--book", str(book), "import", str(file), "--zone", ZONES[person])
        said = run(interstice, "--book", str(book), "--json", "review", "--days", "60").stdout
    swings = [swing for swing in json.loads(said)["swings"] if "stacked_corrections" in swing["kinds"]]
    return [span(swing) for swing in swings]


def span(swing: dict) -> tuple[pd.Timestamp, pd.Timestamp]:
    """From its first correction to the end of its last low: where meals began it, those are no part of the truth."""
    times = [pd.Timestamp(link["at"]).tz_convert("UTC") for link in swing["links"] if "correction" in link["what"]]
    lows = [link.get("until") or link["at"] for link in swing["links"] if link["what"] == "low"]
    return min(times), max(pd.Timestamp(low).tz_convert("UTC") for low in lows)


def overlap(one: tuple, others: list[tuple]) -> bool:
    return any(one[0] <= other[1] and other[0] <= one[1] for other in others)


def check(interstice: Path, data: Path) -> list[str]:
    """Prints the table; what is wrong, as lines."""
    if not (data / "sim").is_dir():
        print(f"no simulated people under {data}: swings are not compared with the truth")
        return []
    sums = {True: np.zeros(4, int), False: np.zeros(4, int)}
    print(f"\n{'stacked':8}{'reasons':10}{'true':>6}{'found':>7}{'told':>6}{'right':>7}")
    for person in ZONES:
        real = truth(data, person)
        for words in (True, False):
            said = told(interstice, data, person, words)
            row = np.array([len(real), sum(overlap(t, said) for t in real), len(said), sum(overlap(s, real) for s in said)])
            sums[words] += row
            print(f"{person:8}{'as logged' if words else 'unsaid':10}{row[0]:6}{row[1]:7}{row[2]:6}{row[3]:7}")
    wrong = []
    for words, (real, found, said, right) in sums.items():
        recall, precision = found / max(real, 1), right / max(said, 1)
        how = "as logged" if words else "unsaid"
        print(f"{'all':8}{how:10}recall {found} of {real} = {recall:.2f}, precision {right} of {said} = {precision:.2f}")
        if min(recall, precision) < 0.75:
            wrong.append(f"swings, reasons {how}: recall {recall:.2f}, precision {precision:.2f}, each should be 0.75 or more")
    return wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--interstice", type=Path, required=True)
    parser.add_argument("--data", type=Path, default=Path(os.environ.get("INTERSTICE_DATA", TOP.parent / "shared/data")))
    given = parser.parse_args()
    wrong = check(given.interstice.resolve(), given.data)
    print("\n".join(wrong))
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
