"""The blood estimate beside the same model in numba: learning and estimating an invented year.

    python3 bench/blood_estimate.py [--days 364] [--rounds 3]

Needs numba, numpy and scipy. Both sides get the invented person of `crates/methods/benches/estimate.rs` (a sensor each two weeks,
a reading each five minutes, four checks a day), fit the same seven numbers of the trace on about 9,000 readings, profile the
same delays with the same six numbers of the checks, smooth three times and run the joint smoother once. The numba side is
compiled before it is timed, holds its matrices dense, and leaves out limits and coarse stamps, which this person has not. The
Rust side is `cargo bench`'s median of the same run.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import time
from pathlib import Path

import numba as nb
import numpy as np
from scipy.optimize import minimize

TOP = Path(__file__).resolve().parent.parent
START, WEAR_DAYS = 1_700_000_000, 14
SETTLING, WANDER, DRIFT, OFFSET = 720.0, 600.0, 0.004, 4.0


def wobble(i: np.ndarray) -> np.ndarray:
    return ((np.asarray(i, dtype=np.uint64) * 2_654_435_761 % 2**32) >> 8) / float(1 << 23) - 1.0


def blood(at: np.ndarray) -> np.ndarray:
    minutes = (np.asarray(at) - START) / 60
    return 140 + 45 * np.sin(minutes / 61) + 25 * np.sin(minutes / 227)


def person(days: int):
    sensors = []
    for sensor in range(-(-days // WEAR_DAYS)):
        at = START + sensor * WEAR_DAYS * 86_400 + 3600 + 300 * np.arange(min(days - sensor * WEAR_DAYS, WEAR_DAYS) * 288 - 12)
        lasting, noise = 0.0, np.empty(len(at))
        for i, w in enumerate(wobble(at)):
            lasting = 0.87 * lasting + 4 * w
            noise[i] = lasting
        gain = 1 + 0.08 * float(wobble(np.array(sensor)))
        sensors.append((at, np.round(gain * blood(np.maximum(at - 720, START)) + noise)))
    i = np.arange(1, days * 4)
    at = START + i * 21_600 + (i * 137) % 9_000
    return sensors, at, blood(at) * (1 + 0.06 * wobble(at))


@nb.njit(cache=True)
def step(l, s, t):
    lt, f = l * t, np.exp(-l * t)
    F = np.array([[1 + lt + lt * lt / 2, t * (1 + lt), t * t / 2],
                  [-0.5 * l * lt * lt, 1 + lt - lt * lt, t * (1 - lt / 2)],
                  [l * l * lt * (lt / 2 - 1), l * lt * (lt - 3), 1 - 2 * lt + lt * lt / 2]]) * f  # fmt: skip
    m = s * s * l * l / 3
    P = np.array([[s * s, 0.0, -m], [0.0, m, 0.0], [-m, 0.0, s * s * l**4]])
    return F, P - F @ P @ F.T, P


@nb.njit(cache=True, fastmath=True)
def walk(F, Q, by, H, z, R, has, x0, P0, nu, keep):
    n, N = len(x0), len(z)
    X, P = np.zeros((N if keep else 1, n)), np.zeros((N if keep else 1, n, n))
    V, S, G = np.zeros(N), np.ones(N), np.zeros((N if keep else 1, n))
    x, p, ll = x0.copy(), P0.copy(), 0.0
    for k in range(N):
        if k:
            f = F[by[k]]
            x, p = f @ x, f @ p @ f.T + Q[by[k]]
        if keep:
            X[k], P[k] = x, p
        if has[k]:
            h = H[k]
            g = p @ h
            s, e = h @ g + R[k], z[k] - h @ x
            used = s
            if nu > 0:
                q = e * e / s
                ll += -0.5 * np.log(s) - 0.5 * (nu + 1) * np.log1p(q / (nu - 2))
                used = s - R[k] + R[k] / min((nu + 1) / (nu + q), 1.0)
            x = x + g * (e / used)
            p = p - np.outer(g, g) / used
            V[k], S[k] = e, used
            if keep:
                G[k] = g
    return ll, X, P, V, S, G


@nb.njit(cache=True, fastmath=True)
def back(F, by, H, has, X, P, V, S, G, W):
    """Smoothed mean and variance of each row of W, and of the level and rate."""
    N, n = X.shape
    r, M = np.zeros(n), np.zeros((n, n))
    mean, var, level, rate, off = np.zeros(N), np.zeros(N), np.zeros(N), np.zeros(N), np.zeros((N, 3))
    for k in range(N - 1, -1, -1):
        if has[k]:
            h, g = H[k], G[k] / S[k]
            Mg = M @ g
            r = r + h * (V[k] / S[k] - g @ r)
            M = M + np.outer(h, h) * (1 / S[k] + g @ Mg) - np.outer(h, Mg) - np.outer(Mg, h)
        w = P[k] @ W[k]
        mean[k], var[k] = W[k] @ X[k] + w @ r, W[k] @ w - w @ (M @ w)
        level[k], rate[k] = X[k, 0] + P[k, 0] @ r, X[k, 1] + P[k, 1] @ r
        off[k, 0] = P[k, 0, 0] - P[k, 0] @ (M @ P[k, 0])
        off[k, 1] = P[k, 0, 1] - P[k, 0] @ (M @ P[k, 1])
        off[k, 2] = P[k, 1, 1] - P[k, 1] @ (M @ P[k, 1])
        if k:
            f = F[by[k]]
            r, M = f.T @ r, f.T @ M @ f
    return mean, var, level, rate, off


def moves(at, make):
    gaps = np.diff(at, prepend=at[0])
    unique, by = np.unique(gaps, return_inverse=True)
    pairs = [make(gap / 60) for gap in unique]
    return np.array([f for f, _ in pairs]), np.array([q for _, q in pairs]), by


def trace_model(p, extra=()):
    """Matrices over so many minutes, and the start; `extra` are (fade a minute, variance, drift a minute)."""
    l, s, c, m = p[0], p[1], p[2], p[3]
    n = 4 + len(extra)

    def make(t):
        F, Q = np.zeros((n, n)), np.zeros((n, n))
        F[:3, :3], Q[:3, :3], _ = step(l, s, t)
        F[3, 3], Q[3, 3] = np.exp(-t / m), c * c * -np.expm1(-2 * t / m)
        for i, (fade, variance, drift) in enumerate(extra, 4):
            F[i, i] = np.exp(-t * fade)
            Q[i, i] = variance * -np.expm1(-2 * t * fade) * (drift == 0) + drift * t
        return F, Q

    P = np.zeros((n, n))
    P[:3, :3], P[3, 3] = step(l, s, 5.0)[2], c * c
    return make, P


def readings(at, value, started, p, centre):
    factor = 1 + p[5] * np.exp(-(at - started) / 60 / 720)
    H = np.zeros((len(at), 4))
    H[:, 0], H[:, 3] = 1, factor
    return H, value - centre, (p[4] * factor) ** 2


PRIOR = np.array([(-4.0943, 1.0), (4.0943, 0.7), (1.6094, 0.7), (3.6889, 0.5), (0.4055, 0.7), (0.4055, 0.3)])
CHECK_PRIOR = np.array([(0, 0.7), (-2.5257, 0.5), (-2.1203, 0.5), (-2.9957, 0.6), (0, 0.04), (0, 0.05)])


def lowest(f, start, steps, evaluations, value, place):
    simplex = np.vstack([start, start + np.diag(steps)])
    options = {"initial_simplex": simplex, "maxfev": evaluations, "fatol": value, "xatol": place}
    return minimize(f, start, method="Nelder-Mead", options=options).x


def learn_and_estimate(sensors, check_at, check_value):
    centre = float(np.median(np.concatenate([value for _, value in sensors])))
    total = sum(len(at) for at, _ in sensors)
    parts = [(at[k], value[k], at[0] - 3600) for at, value in sensors for k in np.array_split(np.arange(len(at)), 14)]
    parts = parts[:: max(1, -(-total // 9000))]

    def params(x):
        return np.append(np.exp(x[:5]), np.exp(x[5]) - 1)

    def unlikely(x):
        p = params(x)
        make, P = trace_model(p)
        out = 0.5 * np.sum(((x - PRIOR[:, 0]) / PRIOR[:, 1]) ** 2)
        for at, value, started in parts:
            F, Q, by = moves(at, make)
            H, z, R = readings(at, value, started, p, centre)
            out -= walk(F, Q, by, H, z, R, np.ones(len(at), bool), np.zeros(4), P, 5.0, False)[0]
        return out

    p = params(lowest(unlikely, PRIOR[:, 0], np.full(6, 0.3), 220, 0.3, 0.03))
    make, P = trace_model(p)
    lines = []
    for at, value in sensors:
        own = (check_at >= at[0] - 600) & (check_at <= at[-1] + 600)
        times = np.concatenate([at, check_at[own]])
        order = np.argsort(times, kind="stable")
        is_reading = (np.arange(len(times)) < len(at))[order]
        H, z, R = np.zeros((len(times), 4)), np.zeros(len(times)), np.ones(len(times))
        H[is_reading], z[is_reading], R[is_reading] = readings(at, value, at[0] - 3600, p, centre)
        F, Q, by = moves(times[order], make)
        usual = R.copy()
        for round_ in range(3):
            _, *kept = walk(F, Q, by, H, z, R, is_reading, np.zeros(4), P, 0.0, True)
            mean, var, level, rate, off = back(F, by, H, is_reading, *kept, H)
            if round_ < 2:
                R = usual / np.minimum(5 / (4 + ((z - mean) ** 2 + var) / usual), 1)
        lines.append((times[order], is_reading, level + centre, rate, off, R, check_value[own], at[0] - 3600, H, z))

    def check_looks(line, x, delay):
        times, is_reading, level, rate, off, _, value, started, *_ = line
        c = ~is_reading
        scaled = np.maximum(level[c] + delay * rate[c], 25)
        m, g0, gs, gw = np.exp(x[:4])
        H = np.stack([scaled, scaled, np.ones(len(scaled)), scaled], axis=1)
        R = (16 + (0.05 * scaled) ** 2) * m * m + np.maximum(off[c] @ np.array([1, 2 * delay, delay * delay]), 0)
        t = times[c]

        def make(minutes):
            fade = np.exp(-minutes / WANDER)
            F = np.diag([1, np.exp(-minutes / SETTLING), 1, fade])
            return F, np.diag([DRIFT**2 * minutes / 1440, 0, 0, gw * gw * (1 - fade * fade)])

        F, Q, by = moves(t, make)
        left = np.exp(-(t[0] - started) / 60 / SETTLING)
        x0 = np.array([x[4], x[5] * left, 0, 0])
        return F, Q, by, H, value - scaled, R, np.ones(len(t), bool), x0, np.diag([g0 * g0, (gs * left) ** 2, OFFSET**2, gw * gw])

    def fit(delay, near, evaluations):
        def unlikely(x):
            out = 0.5 * np.sum(((x - CHECK_PRIOR[:, 0]) / CHECK_PRIOR[:, 1]) ** 2)
            return out - sum(walk(*check_looks(line, x, delay), 5.0, False)[0] for line in lines)

        x = lowest(unlikely, near, 0.5 * CHECK_PRIOR[:, 1], evaluations, 0.02, 0.03)
        return x, -unlikely(x)

    delays = np.arange(0, 41, 2.0)
    near, _ = fit(delays[len(delays) // 2], CHECK_PRIOR[:, 0], 400)
    fits = [fit(delay, near, 160) for delay in delays]
    logs = np.array([0.3 * ll for _, ll in fits]) + np.log(
        0.8 / 4 * np.exp(-0.5 * ((delays - 15) / 4) ** 2) + 0.2 / 9 * np.exp(-0.5 * ((delays - 10) / 9) ** 2)
    )
    chance = np.exp(logs - logs.max())
    chance /= chance.sum()
    delay = float(delays @ chance)
    x = fits[int(np.argmin(abs(delays - delay)))][0]
    m, g0, gs, gw = np.exp(x[:4])
    out = []
    for times, is_reading, level, rate, _, R, value, started, H4, z4 in lines:
        left = np.exp(-(times[0] - started) / 60 / SETTLING)
        extra = [(0, 0, DRIFT**2 / 1440), (1 / SETTLING, 0, 0), (1 / WANDER, gw * gw, 0), (0, 0, 1e-300)]
        make, P = trace_model(p, extra)
        for i, variance in enumerate([g0 * g0, (gs * left) ** 2, gw * gw, OFFSET**2], 4):
            P[i, i] = variance
        scaled = np.maximum(level + delay * rate, 25)
        W = np.zeros((len(times), 8))
        W[:, 0], W[:, 1], W[:, 7] = 1, delay, 1
        W[:, 4:7] = scaled[:, None]
        H, z, R = np.zeros((len(times), 8)), z4.copy(), R.copy()
        H[:, :4] = H4
        c = ~is_reading
        H[c], z[c] = W[c], value - centre
        R[c] = (16 + (0.05 * scaled[c]) ** 2) * m * m
        F, Q, by = moves(times, make)
        x0 = np.zeros(8)
        x0[4], x0[5] = x[4], x[5] * left
        has = np.ones(len(times), bool)
        _, *kept = walk(F, Q, by, H, z, R, has, x0, P, 0.0, True)
        mean, var, *_ = back(F, by, H, has, *kept, W)
        out.append((mean[is_reading] + centre, np.sqrt(np.maximum(var[is_reading], 0))))
    return delay, out


def ours(days: int) -> float:
    """Median seconds of cargo bench."""
    command = ["cargo", "bench", "-q", "-p", "interstice-methods", "--bench", "estimate", "--", "learn_and_estimate"]
    text = subprocess.run(command, cwd=TOP, capture_output=True, text=True, check=True).stdout
    row = next(line for line in text.splitlines() if re.search(rf"[├╰]─ {days} ", line))
    amount, unit = re.findall(r"([\d.]+) (ns|µs|ms|s)\b", row)[2]
    return float(amount) * {"ns": 1e-9, "µs": 1e-6, "ms": 1e-3, "s": 1.0}[unit]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--days", type=int, default=364, choices=[90, 364])
    parser.add_argument("--rounds", type=int, default=3)
    given = parser.parse_args()
    learn_and_estimate(*person(14))
    made = person(given.days)
    seconds = []
    for _ in range(given.rounds):
        began = time.perf_counter()
        delay, told = learn_and_estimate(*made)
        seconds.append(time.perf_counter() - began)
    off = np.concatenate([abs(mean - blood(at)) / blood(at) for (at, _), (mean, _) in zip(made[0], told)])
    theirs, rust = float(np.median(seconds)), ours(given.days)
    print(f"{given.days} days: numba {theirs:.2f} s (delay {delay:.1f} min, MARD {100 * off.mean():.2f} %), ours {rust:.2f} s,")
    print(f"ratio {theirs / rust:.1f}")


if __name__ == "__main__":
    main()
