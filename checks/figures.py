"""The figures of an account, from their published definitions. Sources are named in docs/methods; where a definition
leaves a choice, the page there says which one is taken, and so does the comment here.

Written to be different: whole arrays instead of one pass, Decimal instead of integers, recursion instead of a state machine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from recordings import DAY_S, Recording, yesterday

# Thresholds in thousandths of the unit a value was said in (Battelino et al. 2019, Diabetes Care 42:1593, tables).
MG_DL = {"very_low": 54_000, "low": 70_000, "tight": 140_000, "high": 180_000, "very_high": 250_000}
MMOL_L = {"very_low": 3_000, "low": 3_900, "tight": 7_800, "high": 10_000, "very_high": 13_900}

# Share of a day that must be covered for its MAGE to count.
COVERED = 0.7


def summary(recording: Recording) -> dict[str, float | None]:
    """Every figure of the summary under its name in `review --json`."""
    g, w = recording.mg_dl, recording.weights().astype(float)
    mean = float(np.average(g, weights=w))
    sd = deviation(g, w)
    limit = MMOL_L if recording.mmol else MG_DL
    place = recording.place
    share = lambda mask: float(100 * w[mask].sum() / w.sum())
    very_low = share(place < limit["very_low"])
    low = share((place >= limit["very_low"]) & (place < limit["low"]))
    high = share((place > limit["high"]) & (place <= limit["very_high"]))
    very_high = share(place > limit["very_high"])
    hypo, hyper = very_low + 0.8 * low, very_high + 0.5 * high
    risk = 1.509 * (np.log(np.clip(g, 20, 600)) ** 1.084 - 5.381)
    return {
        "mean_mg_dl": mean,
        "sd_mg_dl": sd,
        "cv_percent": 100 * sd / mean,
        "gmi_percent": 3.31 + 0.02392 * mean,
        "very_low_percent": very_low,
        "low_percent": low,
        "in_range_percent": share((place >= limit["low"]) & (place <= limit["high"])),
        "high_percent": high,
        "very_high_percent": very_high,
        "tight_range_percent": share((place >= limit["low"]) & (place <= limit["tight"])),
        "lbgi": float(np.average(10 * np.minimum(risk, 0) ** 2, weights=w)),
        "hbgi": float(np.average(10 * np.maximum(risk, 0) ** 2, weights=w)),
        "gri": min(100.0, 3.0 * hypo + 1.6 * hyper),
        "gri_hypo": hypo,
        "gri_hyper": hyper,
        "mage_mg_dl": mage(recording),
        "modd_mg_dl": modd(recording),
        "j_index": 0.001 * (mean + sd) ** 2,
        "conga1_mg_dl": conga(recording, 1),
    }


def deviation(x: np.ndarray, w: np.ndarray) -> float:
    """Unbiased standard deviation under reliability weights; with equal weights the one with n - 1."""
    mean = np.average(x, weights=w)
    return float(np.sqrt(np.sum(w * (x - mean) ** 2) / (w.sum() - np.sum(w**2) / w.sum())))


def nearest(recording: Recording, targets: np.ndarray) -> np.ndarray:
    """Index of the reading nearest to each instant, the earlier at a tie; -1 where it is more than half a native
    interval away."""
    at = recording.at
    after = np.clip(np.searchsorted(at, targets), 0, at.size - 1)
    before = np.clip(after - 1, 0, at.size - 1)
    index = np.where(np.abs(at[after] - targets) < np.abs(at[before] - targets), after, before)
    return np.where(2 * np.abs(at[index] - targets) <= recording.interval_s, index, -1)


def differences(recording: Recording, targets: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each reading less the one nearest to its target, where there is one, and the weight of the reading."""
    index = nearest(recording, targets)
    there = index >= 0
    return recording.mg_dl[there] - recording.mg_dl[index[there]], recording.weights()[there].astype(float)


def modd(recording: Recording) -> float | None:
    """Mean of daily differences (Molnar et al. 1972): to the same wall time on the date before."""
    targets = yesterday(recording.wall(), recording.zone)
    targets = np.array([-(10**12) if target is None else target for target in targets])
    d, w = differences(recording, targets)
    return float(np.average(np.abs(d), weights=w)) if d.size else None


def conga(recording: Recording, hours: int) -> float | None:
    """Standard deviation of the differences to the reading so many hours earlier (McDonnell et al. 2005)."""
    d, w = differences(recording, recording.at - hours * 3_600)
    return deviation(d, w) if d.size > 1 else None


def gap_limit_s(interval_s: int) -> int:
    """A silence longer than this is a gap: two native intervals, and at least a quarter of an hour."""
    return max(2 * interval_s, 900)


def days(recording: Recording) -> list[tuple[int, int, np.ndarray]]:
    """Lived days as (date, length in seconds, indices of the readings). A date is days since 1970."""
    date = recording.wall() // DAY_S
    found = []
    for day in np.unique(date):
        midnight = datetime(1970, 1, 1) + timedelta(days=int(day))
        start = midnight.replace(tzinfo=recording.zone).timestamp()
        end = (midnight + timedelta(days=1)).replace(tzinfo=recording.zone).timestamp()
        found.append((int(day), int(end - start), np.flatnonzero(date == day)))
    return found


def mage(recording: Recording) -> float | None:
    """Mean over days of the mean swing beyond one SD of the day, in the direction of the day's first such swing
    (Service et al. 1970, Diabetes 19:644). Days must be covered for 70 %; no swing spans a gap."""
    weights = recording.weights().astype(float)
    found = []
    for _, length_s, index in days(recording):
        if weights[index].sum() < COVERED * length_s or index.size < 2:
            continue
        threshold = deviation(recording.mg_dl[index], weights[index])
        cuts = np.flatnonzero(np.diff(recording.at[index]) > gap_limit_s(recording.interval_s)) + 1
        swings = [s for run in np.split(recording.mg_dl[index], cuts) for s in large_swings(list(run), threshold)]
        if swings:
            found.append(np.mean([abs(s) for s in swings if (s > 0) == (swings[0] > 0)]))
    return float(np.mean(found)) if found else None


def large_swings(values: list[float], threshold: float) -> list[float]:
    """Swings left when those not above the threshold are taken away, smallest first: one inside merges its neighbours
    into one swing, one at an end goes with its end."""
    turning = turning_points(values)
    while len(turning) > 1:
        sizes = [abs(b - a) for a, b in zip(turning, turning[1:])]
        smallest = min(range(len(sizes)), key=sizes.__getitem__)
        if sizes[smallest] > threshold:
            break
        if smallest == 0:
            del turning[0]
        elif smallest == len(sizes) - 1:
            del turning[-1]
        else:
            del turning[smallest : smallest + 2]
    return [b - a for a, b in zip(turning, turning[1:])]


def turning_points(points: list[float]) -> list[float]:
    """The values at which the direction turns, and the ends."""
    kept: list[float] = []
    for point in points:
        if kept and point == kept[-1]:
            continue
        if len(kept) > 1 and (kept[-1] - kept[-2]) * (point - kept[-1]) > 0:
            kept[-1] = point
        else:
            kept.append(point)
    return kept


def activity(recording: Recording, start: int, end: int) -> dict[str, float]:
    """Readings received, and percent of the window they stand for."""
    seconds = float(recording.weights().sum())
    return {"received": recording.at.size, "active_percent": min(100.0, 100 * seconds / (end - start))}


def finite(value: float | None) -> bool:
    return value is not None and math.isfinite(value)


@dataclass
class Episode:
    """From the first reading beyond a threshold to the first recovered one, or the last before a gap."""

    start: int
    end: int
    end_unknown: bool
    extreme: float


# An episode takes this long to begin, and recovery this long to end it (Danne et al. 2017, Diabetes Care 40:1631).
LASTING_S = 900


def runs(recording: Recording, kind: str, level: int) -> list[Episode]:
    """Episodes of one level. Level 1: below 70, above 180 mg/dL; level 2: below 54, above 250. Either ends by recovery
    to the level 1 threshold; each reading stands for the native interval, and a gap ends an episode at its last reading."""
    limit = MMOL_L if recording.mmol else MG_DL
    if kind == "low":
        beyond = recording.place < limit["low" if level == 1 else "very_low"]
        back = recording.place >= limit["low"]
    else:
        beyond = recording.place > limit["high" if level == 1 else "very_high"]
        back = recording.place <= limit["high"]
    cuts = np.flatnonzero(np.diff(recording.at) > gap_limit_s(recording.interval_s)) + 1
    found = []
    for index in np.split(np.arange(recording.at.size), cuts):
        begun = lasting(recording, index, beyond)
        over = lasting(recording, index, back)
        after = -1
        for first in begun:
            if first <= after:
                continue
            end = next((i for i in over if i > first), None)
            after = index[-1] if end is None else end
            inside = recording.mg_dl[first : after + (end is None)]
            extreme = float(inside.min() if kind == "low" else inside.max())
            found.append(Episode(int(recording.at[first]), int(recording.at[after]), end is None, extreme))
    return found


def lasting(recording: Recording, index: np.ndarray, mask: np.ndarray) -> list[int]:
    """First readings of the stretches of `mask` within `index` that last long enough."""
    found, first = [], None
    for i in [*index, None]:
        if i is not None and mask[i]:
            first = i if first is None else first
        elif first is not None:
            last = index[-1] if i is None else i - 1
            if recording.at[last] - recording.at[first] + recording.interval_s >= LASTING_S:
                found.append(int(first))
            first = None
    return found
