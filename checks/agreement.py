"""Sensors beside blood checks, from published definitions; the choices are those docs/methods/agreement.md states.

Written to be different: a scan over all readings for every check instead of a search, numpy and scipy instead of our own
sums and bounds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from scipy import stats

from recordings import Recording, instants

# A reading may come this long after its check.
AFTER_S = 300
# A rate of change is told by the readings this long before and after, which must span at least this.
WINDOW_S, SPAN_S = 900, 600


@dataclass
class Checks:
    """Blood checks in time order."""

    at: np.ndarray
    mg_dl: np.ndarray


def read_checks(path: Path, zone: str, time: str, value: str, format: str) -> Checks:
    """Checks from the rows of a table in which `value` is filled in."""
    table = pd.read_csv(path, dtype=str, keep_default_na=False)
    table = table[table[value] != ""]
    at = instants([datetime.strptime(text, format) for text in table[time]], ZoneInfo(zone))
    rows = sorted(zip(at, (float(text) for text in table[value])))
    return Checks(np.array([row[0] for row in rows], dtype=np.int64), np.array([row[1] for row in rows]))


@dataclass
class Pairs:
    """Blood and sensor, mg/dL, the instant of the check, and the rate of change where it is known."""

    at: np.ndarray
    blood: np.ndarray
    sensor: np.ndarray
    rate: list[float | None]


def pair(recording: Recording, checks: Checks, rule: str, censored: np.ndarray) -> Pairs:
    """`censored` says which readings are only known to be beyond a limit: a pair that rests on one is left out."""
    kept = []
    for moment, blood in zip(checks.at.tolist(), checks.mg_dl.tolist()):
        index, value = nearest_after(recording, moment) if rule == "nearest-after" else between(recording, moment)
        if value is not None and not censored[index].any():
            kept.append((moment, blood, value, slope(recording, moment, censored)))
    at, blood, sensor, rate = ([row[i] for row in kept] for i in range(4))
    return Pairs(np.array(at), np.array(blood), np.array(sensor), rate)


def nearest_after(recording: Recording, moment: int) -> tuple[np.ndarray, float | None]:
    inside = np.flatnonzero((recording.at >= moment) & (recording.at <= moment + AFTER_S))
    return (inside[:1], float(recording.mg_dl[inside[0]])) if inside.size else (inside, None)


def between(recording: Recording, moment: int) -> tuple[np.ndarray, float | None]:
    before = np.flatnonzero((recording.at <= moment) & (recording.at >= moment - recording.interval_s))
    after = np.flatnonzero((recording.at >= moment) & (recording.at <= moment + recording.interval_s))
    if not before.size or not after.size:
        return before, None
    index = np.array([before[-1], after[0]])
    return index, float(np.interp(moment, recording.at[index], recording.mg_dl[index]))


def slope(recording: Recording, moment: int, censored: np.ndarray) -> float | None:
    """Least-squares slope, mg/dL a minute."""
    near = np.flatnonzero(np.abs(recording.at - moment) <= WINDOW_S)
    at = recording.at[near]
    if near.size < 2 or at[0] > moment or at[-1] < moment or at[-1] - at[0] < SPAN_S:
        return None
    if censored[near].any() or np.diff(at).max() > 2 * recording.interval_s:
        return None
    return float(np.polyfit((at - moment) / 60, recording.mg_dl[near], 1)[0])


def figures(pairs: Pairs, split: float) -> dict[str, float | None]:
    """Under the names of `trust --json`; bounds of the means are left out, for their random numbers are the command's own."""
    difference = pairs.sensor - pairs.blood
    relative = 100 * difference / pairs.blood
    n, bias, sd = difference.size, float(difference.mean()), float(difference.std(ddof=1))
    reach = stats.t.ppf(0.975, n - 1) * sd * math.sqrt(1 / n + 1.96**2 / (2 * (n - 1)))
    found: dict[str, float | None] = {
        "pairs": n,
        "mard_percent": float(np.abs(relative).mean()),
        "median_ard_percent": float(np.median(np.abs(relative))),
        "mad_mg_dl": float(np.abs(difference).mean()),
        "bias_mg_dl": bias,
        "relative_bias_percent": float(relative.mean()),
        "sd_mg_dl": sd,
    }
    for side, limit in (("lower", bias - 1.96 * sd), ("upper", bias + 1.96 * sd)):
        name = f"limits_{side}_mg_dl"
        found |= {name: limit, f"{name}_lo95": limit - reach, f"{name}_hi95": limit + reach}
    for limit in (15, 20, 30, 40):
        found |= share(pairs, limit, split)
    return found


def share(pairs: Pairs, limit: float, split: float) -> dict[str, float | None]:
    """The share within, with exact bounds by scipy."""
    allowed = np.where(pairs.blood < split, limit, limit / 100 * pairs.blood)
    within, of = int((np.abs(pairs.sensor - pairs.blood) <= allowed + 1e-6).sum()), pairs.blood.size
    exact = stats.binomtest(within, of).proportion_ci(0.95, "exact")
    lower = stats.beta.ppf(0.05, within, of - within + 1) if within else 0.0
    name = f"within_{limit}_percent"
    return {
        f"within_{limit}_pairs": within,
        name: 100 * within / of,
        f"{name}_lo95": 100 * exact.low,
        f"{name}_hi95": 100 * exact.high,
        f"{name}_lower95": 100 * lower,
    }


def directions(pairs: Pairs) -> dict[str, int]:
    """How many pairs in each direction."""
    found = {"falling_fast": 0, "falling": 0, "steady": 0, "rising": 0, "rising_fast": 0, "unknown": 0}
    for rate in pairs.rate:
        if rate is None:
            found["unknown"] += 1
            continue
        size = abs(rate)
        name = "steady" if size <= 1 else "rising" if rate > 0 else "falling"
        found[f"{name}_fast" if size > 2 else name] += 1
    return found


def clarke(blood: float, sensor: float) -> str:
    """Zone of the Clarke grid, by the rules in their order."""
    if (blood <= 70 and sensor <= 70) or abs(sensor - blood) <= 0.2 * blood + 1e-9 * blood:
        return "A"
    if (blood >= 180 and sensor <= 70) or (blood <= 70 and sensor >= 180):
        return "E"
    if (70 <= blood <= 290 and sensor >= blood + 110) or (130 <= blood <= 180 and sensor <= 1.4 * blood - 182):
        return "C"
    middling = 70 <= sensor <= 180
    if (blood >= 240 and middling) or (blood <= 175 / 3 and middling) or (175 / 3 <= blood <= 70 and sensor >= 1.2 * blood):
        return "D"
    return "B"


def consensus(blood: float, sensor: float, vertices: pd.DataFrame) -> str:
    """Zone of the consensus grid from the table of corners."""
    worst = "A"
    for border, corners in vertices.groupby("boundary"):
        x, y = corners["x_ref"].to_numpy(float), corners["y_dev"].to_numpy(float)
        upper = border.endswith("upper")
        if not upper and blood <= x[0]:
            continue
        x, y = (x, y) if upper else (x[1:], y[1:])
        slope_at_end = (y[-1] - y[-2]) / (x[-1] - x[-2])
        height = float(np.interp(blood, x, y)) if blood <= x[-1] else y[-1] + slope_at_end * (blood - x[-1])
        if sensor > height if upper else sensor < height:
            worst = max(worst, border[1])
    return worst
