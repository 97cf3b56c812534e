#!/usr/bin/env python3
"""The second look by another road, which the Rust tests are held to.

Invents a person of thirteen days (testdata/methods/second_look_rows.csv; a line of nobody: readings each five minutes with
holes and early ones, insulin still acting, meals) and works out every moment of the days told, as docs/methods/second-look.md
says it: the ridge as least squares over rows with the penalty written out as further rows, the moments alike by all distances,
quantiles by interpolation of the cumulative weight, bands and chances step by step. Writes
testdata/methods/second_look_expected.csv with --write; else the files are compared with what would be.
"""

from __future__ import annotations

import argparse
import csv
import io
import math
import pathlib
import random

import numpy as np

FOLDER = pathlib.Path(__file__).resolve().parent.parent / "testdata" / "methods"
START = 1_735_689_600  # 2025-01-01T00:00:00Z
DAYS = 13
STEP, LIMIT = 300, 900
HORIZONS = [15, 30, 45, 60, 90, 120, 150, 180, 210, 240]
LEVELS = np.arange(1, 20) / 20
LOW, TOP = 70.0, 180.0
PENALTY = np.repeat([30.0, 1.0, 100.0, 300.0, 300.0, 300.0, 1000.0, 100.0], [1, 9, 2, 10, 4, 6, 16, 2])
SHOWN_EVERY = 7


def rows(seed: int = 20_250_101) -> tuple[list[list], list[list]]:
    """Readings with insulin still acting, and meals."""
    chance, wander, readings = random.Random(seed), 0.0, []
    meals, doses = [], []
    for day in range(DAYS):
        for hour in (7.5, 12.6, 19.1):
            at = START + day * 86_400 + round(3600 * (hour + chance.uniform(-0.7, 0.7)))
            grams = chance.choice([30, 45, 60, ""])
            meals.append([at, grams])
            doses.append((at + 120, (grams or 40) / 10))
    for i in range(DAYS * 288):
        wander = 0.98 * wander + chance.gauss(0, 6)
        hole = 700 <= i < 760 or 2000 <= i < 2011 or chance.random() < 0.01
        at = START + 40 + i * STEP + (chance.randrange(-20, 21) if i % 11 == 0 else 0)
        food = sum((g or 40) * 2.3 * ((at - t) / 2700) * math.exp(1 - (at - t) / 2700) for t, g in meals if 0 <= at - t < 18_000)
        act = sum(11 * u * (1 - (1 + (at - t) / 3300) * math.exp(-(at - t) / 3300)) for t, u in doses if 0 <= at - t < 28_800)
        back = sum(11 * u for t, u in doses if 14_400 <= at - t < 28_800) * 0.55
        value = min(max(150 + wander + food - act + back, 41), 390)
        board = sum(u * (1 + (at - t) / 3300) * math.exp(-(at - t) / 3300) for t, u in doses if 0 <= at - t < 28_800)
        if not hole:
            readings.append([at, round(value), round(board, 3)])
    return readings, meals


class Person:
    """Plain look-ups, no table made beforehand."""

    def __init__(self, readings: list[list], meals: list[list]):
        self.at = np.array([r[0] for r in readings])
        self.g = np.array([float(r[1]) for r in readings])
        self.board = np.array([r[2] for r in readings])
        self.meals = meals
        self.gap = np.flatnonzero(np.diff(self.at) > LIMIT)  # a gap follows these

    def run(self, i: int) -> tuple[int, int]:
        before, after = self.gap[self.gap < i], self.gap[self.gap >= i]
        return (before[-1] + 1 if len(before) else 0), (after[0] if len(after) else len(self.at) - 1)

    def ago(self, i: int, minutes: int) -> float | None:
        first, t = self.run(i)[0], self.at[i] - 60 * minutes
        return float(np.interp(t, self.at[first : i + 1], self.g[first : i + 1])) if self.at[first] <= t else None

    def ahead(self, i: int, minutes: int) -> int | None:
        off = np.abs(self.at - (self.at[i] + 60 * minutes))
        k = int(np.argmin(off))
        return k if 2 * off[k] <= STEP else None

    def changes(self, i: int, before: float = math.inf) -> np.ndarray:
        found = [self.ahead(i, h) for h in HORIZONS]
        return np.array([np.nan if k is None or self.at[k] >= before else self.g[k] - self.g[i] for k in found])

    def carbohydrate(self, i: int) -> float:
        old = [(self.at[i] - t, g or 0.0) for t, g in self.meals]
        return sum(g * 0.5 ** (s / 60 / 45) for s, g in old if 0 <= s <= 240 * 60)

    def mean(self, i: int, days: int) -> float:
        return self.g[(self.at >= self.at[i] - days * 86_400) & (np.arange(len(self.at)) <= i)].mean()

    def clock(self, i: int) -> float:
        return 2 * math.pi * (self.at[i] % 86_400) / 86_400

    def features(self, i: int) -> np.ndarray:
        g, c, last = self.g[i], self.clock(i), None
        lags = {m: self.ago(i, m) for m in (15, 30, 45, 60, 5, 10)}
        far = []
        last = lags[60]
        for m in (90, 120, 180):
            last = self.ago(i, m) if self.ago(i, m) is not None else last
            far.append(last)
        level, slope = (g - 140) / 50, (g - lags[15]) / 15
        long, earlier = (g - lags[45]) / 45, (lags[15] - lags[30]) / 15
        x = [g / 50, *((g - v) / 50 for v in [*lags.values(), *far, self.mean(i, 1), self.mean(i, 7)])]
        x += [f(k * c) for k in range(1, 6) for f in (math.sin, math.cos)]
        x += [level * f(k * c) for k in (1, 2) for f in (math.sin, math.cos)]
        x += [level**2, min(g - 90, 0) / 50, level * slope, abs(slope), slope * math.sin(c), slope * math.cos(c)]
        x += [min(g - 70, 0) / 30, max(g - 180, 0) / 50, max(g - 250, 0) / 50, max(slope, 0) * level, slope * long, level * long]
        x += [abs(long), long * math.sin(c), long * math.cos(c), slope * abs(slope), level**3 / 5]
        x += [level * earlier, abs(earlier), max(slope - earlier, 0), max(slope, 0) * max(earlier, 0), min(slope, 0) * min(earlier, 0)]
        return np.array([*x, self.board[i] / 5, self.carbohydrate(i) / 50])

    def shape(self, i: int) -> np.ndarray:
        g, a, b, d = self.g[i], *(self.ago(i, m) for m in (15, 30, 60))
        c = self.clock(i)
        return np.array([g / 40, (g - a) / 15, (a - b) / 20 * 0.7, (b - d) / 40 * 0.6, 0.8 * math.sin(c), 0.8 * math.cos(c),
                         self.board[i] / 4, self.carbohydrate(i) / 40])  # fmt: skip

    def moments(self) -> list[int]:
        found, free = [], 0
        for i in range(len(self.at)):
            if self.at[i] >= free and self.at[i] - self.at[self.run(i)[0]] >= 3600:
                found.append(i)
                free = self.at[i] + 600 - 150
        return found


def ridge(x: np.ndarray, y: np.ndarray, penalty: np.ndarray, mean: np.ndarray, sd: np.ndarray) -> tuple[float, np.ndarray]:
    """Least squares with each penalty as one more row, on standardised columns."""
    z = np.vstack([(x - mean) / sd, np.diag(np.sqrt(penalty))])
    slopes = np.linalg.lstsq(z, np.concatenate([y - y.mean(), np.zeros(len(penalty))]), rcond=None)[0] / sd
    return y.mean() - slopes @ mean, slopes


def weighted(values: np.ndarray, weight: np.ndarray) -> np.ndarray:
    order = np.argsort(values, kind="stable")
    w = weight[order]
    return np.interp(LEVELS, (np.cumsum(w) - w / 2) / w.sum(), values[order])


class Fit:
    """What a day's forecasts are made with."""

    def __init__(self, p: Person, moments: list[int], x: dict, y: dict, start: int):
        self.p, self.start, self.lines = p, start, []
        known = [i for i in moments if p.at[i] + 4 * 3600 + 900 < start]
        step = max(1, -(-len(known) // 4000))
        for h in range(len(HORIZONS)):
            at = [i for i in known if not np.isnan(y[i][h])]
            xs, ys = np.array([x[i] for i in at]), np.array([y[i][h] for i in at])
            mean, sd = xs.mean(0), np.maximum(xs.std(0), 1e-9)
            line = ridge(xs, ys, PENALTY, mean, sd)
            some = [i for i in known[::step] if not np.isnan(y[i][h])]
            xs = np.array([x[i] for i in some])
            error = np.array([y[i][h] for i in some]) - line[0] - xs @ line[1]
            size = ridge(xs, np.abs(error), np.maximum(PENALTY, 100.0), mean, sd)
            size_at = lambda v, s=size, m=np.abs(error).mean(): np.maximum(s[0] + v @ s[1], 0.3 * m)
            self.lines.append((line, size_at, np.quantile(error / size_at(xs), LEVELS)))
        self.candidates = [i for i in moments if p.at[i] < start - 7200 and p.at[p.run(i)[1]] >= p.at[i] + 7200 - 150]

    def expected(self, x: np.ndarray) -> np.ndarray:
        return np.array([line[0] + x @ line[1] for line, _, _ in self.lines])

    def forecast(self, x: np.ndarray, shapes: dict, here: np.ndarray, features: dict) -> dict:
        far = np.array([((shapes[i] - here) ** 2).sum() for i in self.candidates])
        near = np.argsort(far, kind="stable")[: min(100, len(self.candidates) // 3)]
        weight = 1 - 0.95 * far[near] / far[near].max()
        changes = np.array([self.p.changes(self.candidates[k], self.start) for k in near])
        there = np.array([self.expected(features[self.candidates[k]]) for k in near])
        centre, fan, paths = self.expected(x), np.zeros((10, 19)), np.full(changes.shape, np.nan)
        ahead = centre.copy()
        for h, (_, size, levels) in enumerate(self.lines):
            ok = ~np.isnan(changes[:, h])
            w, change = weight[ok], changes[ok, h]
            part = 0.65 if HORIZONS[h] <= 45 else 0.6 if HORIZONS[h] <= 75 else 0.55
            centre[h] = part * ahead[h] + (1 - part) * (w @ change) / w.sum()
            own = change - 0.35 * there[ok, h]
            own -= (w @ own) / w.sum()
            paths[ok, h] = centre[h] + own
            fan[h] = centre[h] + 0.5 * weighted(own, w) + 0.5 * size(x) * levels
        return {"far": far[near], "weight": weight, "centre": centre, "ridge": ahead, "fan": fan, "paths": paths}


EVENTS = {"back": (180, lambda v: v <= TOP, lambda v: v > TOP), "low": (240, lambda v: v < LOW, lambda v: v >= LOW)}


def share(told: dict, level: float, event: str) -> float:
    minutes, met, _ = EVENTS[event]
    within = told["paths"][:, [h for h, m in enumerate(HORIZONS) if m <= minutes]] + level
    came = np.array([any(met(v) for v in row if not np.isnan(v)) for row in within])
    known = came | ~np.isnan(within).any(1)
    return float(told["weight"][came].sum() / told["weight"][known].sum())


def came(p: Person, i: int, event: str) -> bool | None:
    minutes, met, _ = EVENTS[event]
    until, end = p.at[i] + 60 * minutes, p.run(i)[1]
    values = [p.g[k] for k in range(i + 1, end + 1) if p.at[k] <= until]
    if any(met(v) for v in values):
        return True
    return False if p.at[end] > until or 2 * (until - p.at[end]) <= STEP else None


class Learning:
    """Bands and chances, as they are learned."""

    def __init__(self):
        self.all, self.zone = np.full((10, 2), 1.04), np.zeros((10, 3, 2))
        self.n_all, self.n_zone = np.zeros(10), np.zeros((10, 3))
        self.odds = {"back": [0.0, 1.0], "low": [0.0, 1.0]}

    def stretch(self, h: int, zone: int) -> np.ndarray:
        return np.clip(self.all[h] + self.zone[h, zone], 0.2, 5.0)

    def shown(self, fan: np.ndarray, zone: int) -> np.ndarray:
        off = fan - fan[:, 9:10]
        by = np.array([self.stretch(h, zone) for h in range(10)])
        return fan[:, 9:10] + np.where(off < 0, off * by[:, :1], off * by[:, 1:])

    def band(self, h: int, zone: int, fan: np.ndarray, change: float) -> None:
        missed = np.array([change < fan[1], change > fan[17]], float) - 0.1
        late = math.sqrt(max(HORIZONS[h], 60) / 60)
        self.n_all[h] += 1
        self.n_zone[h, zone] += 1
        self.all[h] += max(0.08 * self.n_all[h] ** -0.6, 0.01) / late * missed
        self.zone[h, zone] += max(0.04 * self.n_zone[h, zone] ** -0.6, 0.01) / late * missed

    def chance(self, event: str, raw: float) -> float:
        q = min(max(raw, 0.01), 0.99)
        a, b = self.odds[event]
        return 1 / (1 + math.exp(-(a + b * math.log(q / (1 - q)))))

    def outcome(self, event: str, raw: float, did: bool) -> None:
        q = min(max(raw, 0.01), 0.99)
        error = did - self.chance(event, raw)
        self.odds[event][0] += 0.02 * error
        self.odds[event][1] = max(self.odds[event][1] + 0.006 * error * math.log(q / (1 - q)), 0.1)


def learn(learning: Learning, waiting: list[dict], p: Person, y: dict, start: int) -> None:
    """Learns from what is in before a day starts."""
    for past in waiting:
        for h, minutes in enumerate(HORIZONS):
            if h not in past["done"] and p.at[past["i"]] + 60 * minutes + 450 <= start:
                past["done"].add(h)
                if not np.isnan(y[past["i"]][h]):
                    learning.band(h, past["zone"], past["fan"][h], y[past["i"]][h])
        for event, (minutes, _, _) in EVENTS.items():
            if event in past and p.at[past["i"]] + 60 * minutes + 450 <= start:
                did = came(p, past["i"], event)
                if did is not None:
                    learning.outcome(event, past[event], did)
                del past[event]


def told(readings: list[list], meals: list[list]):
    """Every moment of the days told."""
    p = Person(readings, meals)
    moments = p.moments()
    x, y, shapes = ({i: f(i) for i in moments} for f in (p.features, p.changes, p.shape))
    learning, waiting = Learning(), []
    for day in range(6, DAYS):
        start = START + day * 86_400
        fit = Fit(p, moments, x, y, start)
        learn(learning, waiting, p, y, start)
        waiting = [past for past in waiting if len(past["done"]) < 10 or "low" in past or "back" in past]
        for i in (i for i in moments if start <= p.at[i] < start + 86_400):
            look = fit.forecast(x[i], shapes, shapes[i], x)
            zone = 0 if p.g[i] < 90 else 2 if p.g[i] > 180 else 1
            past = {"i": i, "zone": zone, "fan": learning.shown(look["fan"], zone), "done": set()}
            for event, (_, _, asked) in EVENTS.items():
                if asked(p.g[i]):
                    past[event] = share(look, p.g[i], event)
                    look[event] = learning.chance(event, past[event])
            waiting.append(past)
            yield p.at[i], look, past["fan"]


def expected(readings: list[list], meals: list[list]):
    yield ["at", "minutes", "alike", "distance2", "weights", "ridge", "centre", "p10", "p50", "p90", "shown10", "shown50", "shown90",
           "back", "low"]  # fmt: skip
    for k, (at, look, fan) in enumerate(told(readings, meals)):
        if k % SHOWN_EVERY:
            continue
        for h in (1, 3, 5, 9):
            numbers = [look["far"].sum(), look["weight"].sum(), look["ridge"][h], look["centre"][h], *look["fan"][h][[1, 9, 17]], *fan[h][[1, 9, 17]]]
            chances = [repr(float(look[event])) if event in look else "" for event in EVENTS]
            yield [at, HORIZONS[h], len(look["far"]), *(repr(float(n)) for n in numbers), *chances]


def files() -> dict[str, str]:
    readings, meals = rows()
    made = {
        "second_look_rows.csv": [["what", "at", "value", "on_board"], *(["reading", *r] for r in readings), *(["meal", *m, ""] for m in meals)],
        "second_look_expected.csv": expected(readings, meals),
    }
    texts = {}
    for name, lines in made.items():
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(lines)
        texts[name] = text.getvalue()
    return texts


def same(a: str, b: str) -> bool:
    try:
        return math.isclose(float(a), float(b), rel_tol=1e-8, abs_tol=1e-8)
    except ValueError:
        return a == b


def check() -> tuple[int, list[str]]:
    """Values in the files, and those that are not what is worked out here."""
    count, wrong = 0, []
    for name, text in files().items():
        held, found = (list(csv.reader(io.StringIO(t))) for t in ((FOLDER / name).read_text(), text))
        if len(held) != len(found):
            wrong.append(f"{name}: {len(held)} rows in the file, {len(found)} here")
        for here, there in zip(held, found):
            count += len(here)
            wrong += [f"{name} at {here[:2]}: {a}, here {b}" for a, b in zip(here, there) if not same(a, b)]
    return count, wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--write", action="store_true")
    if parser.parse_args().write:
        for name, text in files().items():
            (FOLDER / name).write_text(text)
    count, wrong = check()
    print("\n".join(wrong) or f"second look: {count} values agree with the files")
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
