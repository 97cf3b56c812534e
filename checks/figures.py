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
        "below_percent": very_low + low,
        "in_range_percent": share((place >= limit["low"]) & (place <= limit["high"])),
        "high_percent": high,
        "very_high_percent": very_high,
        "above_percent": high + very_high,
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


# An episode takes this long to begin, and recovery this long to end it (Danne et al. 2017, Diabetes Care 40:1631).
LASTING_S = 900
# Extended: a low unbroken for longer than this, a high for this long of two hours (Battelino et al. 2023).
EXTENDED_LOW_S, EXTENDED_HIGH_S, WITHIN_S = 7_200, 5_400, 7_200


@dataclass
class Episode:
    """From the first reading beyond the level 1 threshold to the first recovered one; where the readings stop before
    recovery has lasted, `end_unknown`."""

    kind: str
    level: int
    extended: bool
    start: int
    end: int
    end_unknown: bool
    seconds: int
    extreme: float
    area: float


def episodes(recording: Recording) -> list[Episode]:
    """Low and high episodes by start. One that holds fifteen minutes beyond the level 2 threshold stands once, at level
    2. Both levels end by recovery to the level 1 threshold; nothing is followed across a gap."""
    found = []
    cuts = np.flatnonzero(np.diff(recording.at) > gap_limit_s(recording.interval_s)) + 1
    for index in np.split(np.arange(recording.at.size), cuts):
        found += of_run(recording, index, "low") + of_run(recording, index, "high")
    return sorted(found, key=lambda episode: (episode.start, episode.kind != "low"))


def of_run(recording: Recording, index: np.ndarray, kind: str) -> list[Episode]:
    """The episodes of one kind in readings without a gap."""
    limit, place = MMOL_L if recording.mmol else MG_DL, recording.place[index]
    beyond = place < limit["low"] if kind == "low" else place > limit["high"]
    far = place < limit["very_low"] if kind == "low" else place > limit["very_high"]
    at, g, w = recording.at[index], recording.mg_dl[index], recording.weights()[index]
    back = [first for first, last in stretches(~beyond) if w[first:last].sum() >= LASTING_S]
    found, after = [], 0
    for first, last in stretches(beyond):
        if first < after or w[first:last].sum() < LASTING_S:
            continue
        after = next((b for b in back if b > first), len(index))
        inside = np.flatnonzero(beyond[first:after]) + first
        end = after if after < len(index) else inside[-1] + 1  # a recovery too short to count still dates the end
        recovered = end < len(index)
        seconds = at[end] - at[first] if recovered else at[inside[-1]] + w[inside[-1]] - at[first]
        parts = [(a + first, b + first) for a, b in stretches(far[first:after])]
        depth = (70 - g[inside]) if kind == "low" else (g[inside] - 180)
        found.append(
            Episode(
                kind,
                2 if any(w[a:b].sum() >= LASTING_S for a, b in parts) else 1,
                extended_low(beyond, w, first, after) if kind == "low" else extended_high(at, far, w, first, after),
                int(at[first]),
                int(at[end] if recovered else at[inside[-1]]),
                after == len(index),
                int(seconds),
                float(g[inside].min() if kind == "low" else g[inside].max()),
                float((np.maximum(depth, 0) * w[inside]).sum() / 60),
            )
        )
    return found


def stretches(mask: np.ndarray) -> list[tuple[int, int]]:
    """The stretches of a mask as (first, one past the last)."""
    edge = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(int), [0]))))
    return [(int(a), int(b)) for a, b in zip(edge[::2], edge[1::2])]


def extended_low(beyond: np.ndarray, w: np.ndarray, first: int, after: int) -> bool:
    return any(w[first + a : first + b].sum() > EXTENDED_LOW_S for a, b in stretches(beyond[first:after]))


def extended_high(at: np.ndarray, far: np.ndarray, w: np.ndarray, first: int, after: int) -> bool:
    """Whether 90 minutes lie far beyond in some two hours that end with a reading far beyond."""
    far = [i for i in range(first, after) if far[i]]
    inside = lambda i: [j for j in far if j <= i and at[j] >= at[i] + w[i] - WITHIN_S]
    return any(sum(int(w[j]) for j in inside(i)) >= EXTENDED_HIGH_S for i in far)


BIN_S, BINS = 300, 288
# Fewest days behind the median and the quartiles, and behind the outer percentiles.
FEWEST_DAYS = {"p5": 5, "p25": 3, "p50": 3, "p75": 3, "p95": 5}


def usual_day(recording: Recording) -> list[dict[str, float | None]]:
    """Percentiles in 288 bins of five minutes by wall clock. A reading that stands for longer counts in as many bins
    from its own on as its time rounds to, in equal parts of whole seconds."""
    wall = recording.wall()
    share: list[list[tuple[float, int]]] = [[] for _ in range(BINS)]
    dates: list[set[int]] = [set() for _ in range(BINS)]
    for second, value, weight in zip(wall.tolist(), recording.mg_dl.tolist(), recording.weights().tolist()):
        first, bins = second % DAY_S // BIN_S, max(1, (weight + BIN_S // 2) // BIN_S)
        for k in range(bins):
            share[(first + k) % BINS].append((value, weight // bins + (k < weight % bins)))
            dates[(first + k) % BINS].add(second // DAY_S)
    rows = []
    for i in range(BINS):
        row: dict[str, float | None] = {"minute": 5 * i, "days": len(dates[i])}
        for name, fewest in FEWEST_DAYS.items():
            row[f"{name}_mg_dl"] = quantile(share[i], int(name[1:]) / 100) if len(dates[i]) >= fewest else None
        rows.append(row)
    return rows


def quantile(rows: list[tuple[float, int]], p: float) -> float:
    """Linear between order statistics (type 7 of Hyndman and Fan 1996). With unequal weights its continuous form: the
    mean of the inverse distribution function over a stretch as long as the mean weight (Akinshin 2023)."""
    values, weights = np.array([v for v, _ in rows]), np.array([float(w) for _, w in rows])
    if np.all(weights == weights[0]):
        return float(np.percentile(values, 100 * p))
    order = np.argsort(values, kind="stable")
    until = np.concatenate(([0.0], np.cumsum(weights[order])))
    integral = np.concatenate(([0.0], np.cumsum(weights[order] * values[order])))
    mean_weight = np.sum(weights**2) / weights.sum()
    start = p * (weights.sum() - mean_weight)
    a, b = np.interp([start, start + mean_weight], until, integral)
    return float((b - a) / mean_weight)
