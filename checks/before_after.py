"""Two windows held against each other, found anew, against `interstice compare`; run.py runs it.

Each recording of run.py that is long enough is cut in the middle, and its weekends are held against its other days. The
differences are worked out over whole arrays and must agree to rounding. The intervals are made by the same rule (each side's days
in blocks of geometric length, the last followed by the first; two quantiles of the differences) with random numbers of
numpy, ten times over: the ends of the command must lie where those ten do, within six of their standard deviations.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
from scipy import stats

import figures
from recordings import DAY_S, Recording

REPLICATES, AGAIN, STANDARD_DEVIATIONS = 2000, 10, 6
EXACT = 1e-9
NIGHT_S = 6 * 3600
NAMES = (
    "in_range_percent tight_range_percent below_percent very_low_percent above_percent very_high_percent mean_mg_dl sd_mg_dl cv_percent "
    "gmi_percent lows_per_week level_2_lows_per_week highs_per_week night_mean_mg_dl night_in_range_percent night_below_percent"
).split()


def day_sums(recording: Recording) -> tuple[np.ndarray, np.ndarray]:
    """Dates, and for each the sums from which every figure follows: seconds, their squares, glucose less 100 and its square, seconds
    in each range, episodes begun, the same of the night."""
    limit = figures.MMOL_L if recording.mmol else figures.MG_DL
    w, place, x = recording.weights().astype(float), recording.place, recording.mg_dl - 100
    night = recording.wall() % DAY_S < NIGHT_S
    edges = [place < limit["very_low"], place < limit["low"], place <= limit["tight"], place <= limit["high"], place <= limit["very_high"]]
    columns = [w, w**2, w * x, w * x**2, *(w * edge for edge in edges), w * night, w * night * x, w * night * edges[1], w * night * edges[3]]
    dates, of = np.unique(recording.wall() // DAY_S, return_inverse=True)
    sums = np.stack([np.bincount(of, column, dates.size) for column in columns], axis=1)
    counts = np.zeros((dates.size, 3))
    at = {second: day for second, day in zip(recording.at.tolist(), of.tolist())}
    for episode in figures.episodes(recording):
        counts[at[episode.start], 2 if episode.kind == "high" else 0] += 1
        counts[at[episode.start], 1] += episode.kind == "low" and episode.level == 2
    return dates, np.hstack([sums, counts])


def of_sums(s: np.ndarray) -> np.ndarray:
    """Every figure, of rows of sums."""
    with np.errstate(invalid="ignore", divide="ignore"):
        w, mean = s[..., 0], 100 + s[..., 2] / s[..., 0]
        sd = np.sqrt((s[..., 3] - s[..., 2] ** 2 / w) / (w - s[..., 1] / w))
        share = lambda column: 100 * s[..., column] / w
        very_low, low, tight, high, very_high = (share(column) for column in range(4, 9))
        week = lambda column: 7 * DAY_S * s[..., column] / w
        night = lambda column: s[..., column] / s[..., 9]
        all_ = [high - low, tight - low, low, very_low, 100 - high, 100 - very_high, mean, sd, 100 * sd / mean, 3.31 + 0.02392 * mean]
        all_ += [week(13), week(14), week(15), 100 + night(10), 100 * (night(12) - night(11)), 100 * night(11)]
    return np.stack(all_, axis=-1)


def block(days: int) -> float:
    return max(3.0, days ** (1 / 3))


def drawn(random: np.random.Generator, days: int) -> np.ndarray:
    """Which days make up each replicate."""
    picked = np.empty((REPLICATES, days), dtype=int)
    for row in picked:
        filled = 0
        while filled < days:
            start, length = random.integers(days), min(random.geometric(1 / block(days)), days - filled)
            row[filled : filled + length] = (start + np.arange(length)) % days
            filled += length
    return picked


def corrections(days: int) -> tuple[float, float]:
    """The factor by which the replicates' variance is too small, and its degrees of freedom."""
    q2 = (1 - 1 / block(days)) ** 2
    return 1 - (2 * block(days) - 1) / days, max(3.0, days * (1 - q2) / (1 + q2))


def interval(random: np.random.Generator, sides: list[np.ndarray]) -> np.ndarray:
    """Both ends for every figure."""
    both = [of_sums(side[drawn(random, len(side))].sum(axis=1)) for side in sides]
    variances = [np.var(replicates, axis=0, ddof=1) for replicates in both]
    shrunk, free = zip(*(corrections(len(side)) for side in sides))
    whole = variances[0] / shrunk[0] + variances[1] / shrunk[1]
    with np.errstate(invalid="ignore", divide="ignore"):
        parts = sum((v / s) ** 2 / f for v, s, f in zip(variances, shrunk, free))
        tails = stats.norm.sf(stats.t.ppf(0.975, whole**2 / parts) / np.sqrt((variances[0] + variances[1]) / whole))
    differences = both[1] - both[0]
    ends = [np.quantile(differences[:, i], [tail, 1 - tail]) if whole[i] > 0 else [np.nan, np.nan] for i, tail in enumerate(tails)]
    return np.array(ends)


def asked(dates: np.ndarray) -> dict[str, tuple[np.ndarray, np.ndarray, list[str]]]:
    """Former days, latter days, and how the command is asked."""
    said = lambda day: str(date(1970, 1, 1) + timedelta(days=int(day)))
    first, last = dates[0], dates[-1]
    middle = (first + last) // 2
    between = lambda a, b: f"{said(a)}..{said(b)}"
    weekend = (dates + 3) % 7 >= 5
    return {
        "halves": (dates <= middle, dates > middle, ["--before", between(first, middle), "--after", between(middle + 1, last)]),
        "weekends": (~weekend, weekend, ["--days", "weekend", "--among", between(first, last)]),
    }


def relative(theirs: object, ours: float) -> float:
    """Relative, and absolute below 1; infinite where there is none of theirs."""
    return abs(theirs - ours) / max(1.0, abs(ours)) if isinstance(theirs, (int, float)) else math.inf


def compare(recording: Recording, ask: Callable[..., dict]) -> tuple[list[str], int, float, float]:
    """Everything wrong of a recording whose book `ask` asks; how much was compared; the largest difference; the furthest end, in
    standard deviations."""
    dates, sums = day_sums(recording)
    wrong, compared, largest, furthest = [], 0, 0.0, 0.0
    for name, (before, after, arguments) in asked(dates).items():
        said = ask("compare", *arguments)
        if not said["figures"]:
            continue
        sides = [sums[before], sums[after]]
        points = [of_sums(side.sum(axis=0)) for side in sides]
        random = np.random.default_rng(20)
        again = np.stack([interval(random, sides) for _ in range(AGAIN)])
        middle, spread = again.mean(axis=0), again.std(axis=0, ddof=1)
        for i, line in enumerate(said["figures"]):
            where, ours = f"{recording.name}: {name}: {line['what']}", float(points[1][i] - points[0][i])
            apart = relative(line["difference"], ours)
            compared, largest = compared + 1, max(largest, apart)
            if line["what"] != NAMES[i] or not apart <= EXACT:
                wrong.append(f"{where}: interstice {line['difference']}, here {ours}")
            if line["difference_lo95"] is None:
                wrong += [f"{where}: interstice has no interval"] if np.isfinite(middle[i]).all() else []
                continue
            ends = np.array([line["difference_lo95"], line["difference_hi95"]])
            # A figure that a few days make has ends that stand still: a thousandth of its width is room enough.
            away = float(np.max(np.abs(ends - middle[i]) / np.maximum(spread[i], 1e-3 * np.ptp(middle[i]) + 1e-9)))
            compared, furthest = compared + 2, max(furthest, away)
            if not away <= STANDARD_DEVIATIONS:
                wrong.append(f"{where}: interstice {ends}, here {middle[i]} give or take {spread[i]}")
    return wrong, compared, largest, furthest
