"""Holds this implementation against the published worked examples in testdata/methods, each with its source inside.

    python3 checks/vectors.py
"""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

import agreement
import figures
from recordings import Recording

VECTORS = Path(__file__).resolve().parent.parent / "testdata/methods"
UTC = ZoneInfo("UTC")

# The vectors print four decimals.
PRINTED = 0.5e-4 + 1e-9


def vector(name: str) -> pd.DataFrame:
    return pd.read_csv(VECTORS / f"{name}.csv", comment="#")


def recording(at_s: np.ndarray, mg_dl: np.ndarray, interval_s: int) -> Recording:
    values = mg_dl.astype(float)
    return Recording("vector", UTC, interval_s, np.asarray(at_s, dtype=np.int64), values, values * 1000, mmol=False)


def variability() -> list[tuple[str, float, float]]:
    trace = vector("variability_trace")
    expected = vector("variability_expected").set_index("measure")["value"]
    two_days = recording((trace["day"] - 1) * 86_400 + trace["hour"] * 3_600, trace["mg_dl"].to_numpy(), 3_600)
    found = figures.summary(two_days)
    names = {
        "mean_mgdl": "mean_mg_dl", "sd_n1": "sd_mg_dl", "cv_total_pct": "cv_percent", "J_index_mgdl": "j_index",
        "MODD_mgdl": "modd_mg_dl", "CONGA1_sd_n1": "conga1_mg_dl", "LBGI": "lbgi", "HBGI": "hbgi",
        "MAGE_mean_of_days": "mage_mg_dl", "GMI_pct": "gmi_percent", "pct_very_low": "very_low_percent",
        "pct_low": "low_percent", "pct_in_range": "in_range_percent", "pct_high": "high_percent",
        "pct_very_high": "very_high_percent",
    }  # fmt: skip
    rows = [(theirs, float(expected[theirs]), found[ours]) for theirs, ours in names.items()]
    return [*rows, ("CONGA4_sd_n1", float(expected["CONGA4_sd_n1"]), figures.conga(two_days, 4))]


def risk() -> list[tuple[str, float, float]]:
    rows = []
    for row in vector("lbgi_hbgi").itertuples():
        found = figures.summary(recording(np.array([0, 300]), np.array([row.mg_dl, row.mg_dl]), 300))
        rows += [(f"LBGI of {row.mg_dl}", row.rl, found["lbgi"]), (f"HBGI of {row.mg_dl}", row.rh, found["hbgi"])]
    return rows


def grading() -> list[tuple[str, float, float]]:
    """GRI by recordings made of as many readings as the percentages say."""
    rows = []
    for row in vector("gri").itertuples():
        parts = [(50, row.vlow_pct), (60, row.low_pct), (200, row.high_pct), (300, row.vhigh_pct)]
        values = [value for value, percent in parts for _ in range(round(percent))]
        values += [100] * (100 - len(values))
        found = figures.summary(recording(np.arange(100) * 300, np.array(values), 300))
        rows += [("GRI", row.gri_capped, found["gri"]), ("its hypo part", row.hypo, found["gri_hypo"])]
    return rows


def buckets() -> list[tuple[str, float, float]]:
    rows = []
    for row in vector("range_buckets").itertuples():
        found = figures.summary(recording(np.array([0, 300]), np.array([row.mg_dl, row.mg_dl]), 300))
        rows.append((f"{row.mg_dl} is {row.bucket}", 100.0, found[f"{row.bucket}_percent"]))
        rows.append((f"{row.mg_dl} tight", 100.0 * (row.tight_70_140 == "tight"), found["tight_range_percent"]))
    return rows


def lows() -> list[tuple[str, object, object]]:
    """The vectors begin a level 2 event at 54; an account begins it where the low began, so only its end is compared."""
    traces, rows = vector("episode_traces"), []
    for row in vector("episode_expected").itertuples():
        trace = traces[traces["trace"] == row.trace]
        found = figures.episodes(recording(trace["t_min"] * 60, trace["mg_dl"].to_numpy(), 300))
        lows = [e for e in found if e.kind == "low" and (row.threshold == 70 or e.level == 2)]
        said = row.events if isinstance(row.events, str) else ""
        whole = row.threshold == 70
        text = ";".join(f"{e.start // 60}-{e.end // 60}:{e.extreme:g}" if whole else f"{e.end // 60}:{e.extreme:g}" for e in lows)
        rows.append((f"{row.trace} below {row.threshold}", said if whole else said.partition("-")[2], text))
    return rows


def beside_blood() -> list[tuple[str, object, object]]:
    """Pairs, rates, bounds and grids."""
    given = vector("accuracy_pairs")
    nothing: list[float | None] = [None] * len(given)
    pairs = agreement.Pairs(np.zeros(len(given)), given["ref"].to_numpy(float), given["cgm"].to_numpy(float), nothing)
    found = agreement.figures(pairs, 70)
    names = {
        "n": "pairs", "MARD_pct": "mard_percent", "median_ARD_pct": "median_ard_percent", "MAD_mgdl": "mad_mg_dl",
        "bias_mgdl": "bias_mg_dl", "mean_rel_diff_pct": "relative_bias_percent", "sd_diff_mgdl_n1": "sd_mg_dl",
        "BA_lower": "limits_lower_mg_dl", "BA_upper": "limits_upper_mg_dl",
    }  # fmt: skip
    expected = vector("accuracy_expected").set_index("measure")["value"]
    rows: list[tuple[str, object, object]] = [(name, float(expected[name]), found[ours]) for name, ours in names.items()]
    for name, text in expected.items():
        if name.startswith("agree_"):
            _, limit, _, _, _, split = name.split("_")
            within = agreement.share(pairs, float(limit), float(split))[f"within_{float(limit)}_pairs"]
            rows.append((name, text, f"{within}/{len(given)}"))
    corners = vector("parkes_type1_vertices")
    rows += [(f"Clarke {p.ref} {p.est}", p.zone, agreement.clarke(p.ref, p.est)) for p in vector("clarke_points").itertuples()]
    points = vector("parkes_points").itertuples()
    return rows + [(f"consensus {p.ref} {p.dev}", p.zone, agreement.consensus(p.ref, p.dev, corners)) for p in points]


def check() -> tuple[int, list[str]]:
    """How many values were held against a vector, and what differs."""
    rows = [*variability(), *risk(), *grading(), *buckets(), *lows(), *beside_blood()]
    same = lambda a, b: a == b if isinstance(a, str) else abs(a - b) <= PRINTED
    return len(rows), [f"{name}: expected {expected}, found {found}" for name, expected, found in rows if not same(expected, found)]


if __name__ == "__main__":
    count, wrong = check()
    print("\n".join([*wrong, f"vectors: {count - len(wrong)} passed, {len(wrong)} failed"]))
    raise SystemExit(bool(wrong))
