"""Personal trials: testdata/methods/trials_expected.csv, by counting every order with itertools.

    python3 checks/trials.py            # holds the file against this, and single blocks against scipy
    python3 checks/trials.py --write    # makes trials_rows.csv (invented anew) and trials_expected.csv

The Rust tests hold `interstice_methods::trial` to the same file. Here the orders are written out whole, block by block, and what is
compared is computed from the arms' means; there sums are built up by a tree, from values about the mean of their block.
"""

from __future__ import annotations

import argparse
from itertools import permutations, product
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import permutation_test

from held import compare

TOP = Path(__file__).resolve().parent.parent
ROWS = TOP / "testdata/methods/trials_rows.csv"
EXPECTED = TOP / "testdata/methods/trials_expected.csv"
NEAR = 1e-9

HEADER = "# Outcomes of sensors by set, block and arm. Invented by checks/trials.py --write; ties: whole numbers; cut: an unfinished block.\n"


def invented() -> pd.DataFrame:
    rng = np.random.default_rng(5)
    rows = []
    for name, arms, block, blocks, apart in (
        ("one_block", 2, 8, 1, 3.0),
        ("pairs", 2, 2, 9, 2.0),
        ("fours", 2, 4, 4, 2.0),
        ("threes", 3, 3, 5, 3.0),
        ("ties", 2, 4, 3, 1.0),
        ("cut", 2, 4, 3, 2.0),
    ):
        for number in range(blocks):
            order = rng.permutation([place % arms for place in range(block)])
            level = rng.normal(10, 2)
            for arm in order:
                value = level + apart * arm + rng.normal(0, 3)
                rows.append((name, number, int(arm), float(round(value)) if name == "ties" else round(float(value), 3)))
    rows = pd.DataFrame(rows, columns=["set", "block", "arm", "value"])
    last = rows.index[rows["set"] == "cut"][-1]
    return rows.drop(index=last)


def apart(values: np.ndarray, arms: np.ndarray, blocks: np.ndarray) -> float:
    """Sum over arms of (sum of outcomes about their block's mean)² / sensors."""
    centred = values - np.array([values[blocks == block].mean() for block in blocks])
    return float(sum(centred[arms == arm].sum() ** 2 / (arms == arm).sum() for arm in np.unique(arms)))


def orders(arms: np.ndarray, blocks: np.ndarray):
    """Every assignment that holds the arms as often in each block."""
    each = [sorted(set(permutations(arms[blocks == block].tolist()))) for block in np.unique(blocks)]
    for chosen in product(*each):
        yield np.array([arm for part in chosen for arm in part])


def answer(rows: pd.DataFrame) -> dict[str, float]:
    rows = rows.sort_values("block", kind="stable")
    values, arms, blocks = (rows[name].to_numpy() for name in ("value", "arm", "block"))
    drawn = apart(values, arms, blocks)
    scale = float(((values - np.array([values[blocks == block].mean() for block in blocks])) ** 2).sum())
    found = [apart(values, order, blocks) >= drawn - 1e-9 * scale for order in orders(arms, blocks)]
    out = {"orders": float(len(found)), "p": sum(found) / len(found)}
    for arm in range(1, int(arms.max()) + 1):
        sums = weights = 0.0
        for block in np.unique(blocks):
            first, other = (values[(blocks == block) & (arms == which)] for which in (0, arm))
            if len(first) and len(other):
                weight = len(first) * len(other) / (len(first) + len(other))
                sums += weight * (other.mean() - first.mean())
                weights += weight
        out[f"more_{arm}"] = sums / weights
    return out


def scipy_agrees(rows: pd.DataFrame) -> None:
    first, other = (rows[rows["arm"] == arm]["value"].to_numpy() for arm in (0, 1))
    found = permutation_test((first, other), lambda a, b, axis: np.mean(b, axis=axis) - np.mean(a, axis=axis), vectorized=True, n_resamples=np.inf)
    assert abs(found.pvalue - answer(rows)["p"]) < 1e-12, (found.pvalue, answer(rows))


def expected(rows: pd.DataFrame) -> pd.DataFrame:
    out = []
    for name, of in rows.groupby("set", sort=False):
        out += [(name, what, value) for what, value in answer(of).items()]
    return pd.DataFrame(out, columns=["set", "what", "value"])


def check() -> tuple[int, list[str]]:
    rows = pd.read_csv(ROWS, comment="#")
    scipy_agrees(rows[rows["set"] == "one_block"])
    return compare("trials", EXPECTED, expected(rows), "counting", NEAR)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--write", action="store_true")
    if parser.parse_args().write:
        rows = invented()
        ROWS.write_text(HEADER + rows.to_csv(index=False))
        EXPECTED.write_text("# Made by checks/trials.py --write from trials_rows.csv, every order counted.\n" + expected(rows).to_csv(index=False))
    _, wrong = check()
    print("\n".join(wrong) or "trials: every order counted agrees, and single blocks with scipy")
    raise SystemExit(1 if wrong else 0)


if __name__ == "__main__":
    main()
