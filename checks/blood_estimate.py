"""The blood estimate's filter and smoother, by statsmodels' state space and scipy's matrix exponential.

    python3 checks/blood_estimate.py            holds testdata/methods/blood_estimate.csv against it
    python3 checks/blood_estimate.py --write    makes that file anew

The model is built here from its differential equations alone: the motion by the matrix exponential of its drift (Van Loan's
block form for the noise it gathers), not by the closed form in crates/methods. Parameters are given, nothing is fitted. The
recording is invented: sixty readings with a hole of three hours, uneven seconds, and three blood checks, one of them on the
very second of a reading.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.linalg import expm
from statsmodels.tsa.statespace.kalman_smoother import KalmanSmoother

FILE = Path(__file__).resolve().parent.parent / "testdata/methods/blood_estimate.csv"
CLOSE = 1e-8

# The same as in crates/methods/src/estimate/tests.rs.
TRACE = {"centre": 130.0, "rate": 0.021, "spread": 55.0, "noise": 6.0, "memory": 35.0, "jitter": 1.3, "new": 0.8}
CHECKS = {"noise": 1.2, "gain": 0.01, "start": -0.02, "gain_sd": 0.07, "start_sd": 0.11, "wander_sd": 0.045}
DELAY, DELAY_SD = 13.0, 3.5
SETTLING, WANDER, DRIFT, OFFSET = 720.0, 600.0, 0.004, 4.0
METER_MG_DL, METER_PART, LEAST = 4.0, 0.05, 25.0
STARTED = 1_700_000_000


def recording() -> pd.DataFrame:
    """Readings (kind 0) and checks (kind 1), in time order."""
    at, value, rows = STARTED + 3600, 120.0, []
    for i in range(60):
        at += 300 + (i * 37) % 23 - 11 + (3 * 3600 if i == 30 else 0)
        value += 9.0 * np.sin(i / 4.0) + ((i * 53) % 17 - 8) * 0.6
        rows.append((at, 0, round(value)))
    checks = [(rows[7][0] + 71, 1, 118.0), (rows[25][0], 1, 190.0), (rows[44][0] + 140, 1, 99.0)]
    return pd.DataFrame(sorted(rows + checks), columns=["at", "kind", "mg_dl"])


def motion() -> tuple[np.ndarray, np.ndarray]:
    """Drift and noise density of level, rate and acceleration (Matérn, nu = 5/2)."""
    l, s = TRACE["rate"], TRACE["spread"]
    drift = np.array([[0, 1, 0], [0, 0, 1], [-(l**3), -3 * l**2, -3 * l]])
    density = np.zeros((3, 3))
    density[2, 2] = 16 / 3 * l**5 * s**2
    return drift, density


def over(drift: np.ndarray, density: np.ndarray, minutes: float) -> tuple[np.ndarray, np.ndarray]:
    """Transition and gathered noise (Van Loan CF (1978). IEEE Trans Autom Control 23:395-404)."""
    n = len(drift)
    block = np.zeros((2 * n, 2 * n))
    block[:n, :n], block[:n, n:], block[n:, n:] = -drift, density, drift.T
    e = expm(block * minutes)
    f = e[n:, n:].T
    return f, f @ e[:n, n:]


def stationary() -> np.ndarray:
    l, s = TRACE["rate"], TRACE["spread"]
    m = s**2 * l**2 / 3
    return np.array([[s**2, 0, -m], [0, m, 0], [-m, 0, s**2 * l**4]])


def age(at: np.ndarray) -> np.ndarray:
    return (at - STARTED) / 60


def model(rows: pd.DataFrame, joint: bool, design: np.ndarray, noise: np.ndarray, seen: np.ndarray):
    drift3, density3 = motion()
    n = 8 if joint else 4
    drift, density, start, mean = np.zeros((n, n)), np.zeros((n, n)), np.zeros((n, n)), np.zeros(n)
    drift[:3, :3], density[:3, :3], start[:3, :3] = drift3, density3, stationary()
    drift[3, 3], density[3, 3] = -1 / TRACE["memory"], 2 * TRACE["noise"] ** 2 / TRACE["memory"]
    start[3, 3] = TRACE["noise"] ** 2
    if joint:
        left = np.exp(-age(rows["at"].iloc[0]) / SETTLING)
        density[4, 4] = DRIFT**2 / 1440
        drift[5, 5] = -1 / SETTLING
        drift[6, 6], density[6, 6] = -1 / WANDER, 2 * CHECKS["wander_sd"] ** 2 / WANDER
        start[4, 4], start[5, 5] = CHECKS["gain_sd"] ** 2, (CHECKS["start_sd"] * left) ** 2
        start[6, 6], start[7, 7] = CHECKS["wander_sd"] ** 2, OFFSET**2
        mean[4], mean[5] = CHECKS["gain"], CHECKS["start"] * left
    minutes = np.diff(rows["at"]) / 60
    steps = [over(drift, density, m) for m in minutes] + [(np.eye(n), np.zeros((n, n)))]
    values = np.where(seen, rows["mg_dl"] - TRACE["centre"], np.nan)
    smoother = KalmanSmoother(k_endog=1, k_states=n, k_posdef=n)
    smoother.bind(values.reshape(-1, 1))
    smoother["transition"] = np.stack([f for f, _ in steps], axis=2)
    smoother["selection"] = np.eye(n)
    smoother["state_cov"] = np.stack([q for _, q in steps], axis=2)
    smoother["design"] = design.T.reshape(1, n, len(rows))
    smoother["obs_cov"] = noise.reshape(1, 1, -1)
    smoother.initialize_known(mean, start)
    # The steady state is never reached: every step has its own matrices.
    smoother.tolerance = 0
    return smoother.smooth()


def solved() -> pd.DataFrame:
    rows = recording()
    count = len(rows)
    reading = (rows["kind"] == 0).to_numpy()
    factor = 1 + TRACE["new"] * np.exp(-age(rows["at"].to_numpy()) / 720)
    design = np.zeros((count, 4))
    design[reading, 0], design[reading, 3] = 1, factor[reading]
    jitter = (TRACE["jitter"] * factor) ** 2
    alone = model(rows, False, design, jitter, reading)
    level = alone.smoothed_state[0] + TRACE["centre"]
    slope = alone.smoothed_state[1]

    scaled = np.maximum(level + DELAY * slope, LEAST)
    blood = np.zeros((count, 8))
    blood[:, 0], blood[:, 1], blood[:, 7] = 1, DELAY, 1
    blood[:, 4:7] = scaled[:, None]
    both = np.zeros((count, 8))
    both[:, :4] = design
    both[~reading] = blood[~reading]
    meter = (METER_MG_DL**2 + (METER_PART * scaled) ** 2) * CHECKS["noise"] ** 2 + (DELAY_SD * slope) ** 2
    result = model(rows, True, both, np.where(reading, jitter, meter), np.ones(count, dtype=bool))
    state, cov = result.smoothed_state.T, result.smoothed_state_cov.transpose(2, 0, 1)
    rows["level_mg_dl"], rows["rate_mg_dl_min"] = level, slope
    rows["blood_mg_dl"] = np.einsum("ij,ij->i", blood, state) + TRACE["centre"]
    rows["variance"] = np.einsum("ij,ijk,ik->i", blood, cov, blood) + (DELAY_SD * slope) ** 2
    rows["log_density"] = result.llf_obs
    return rows


def check() -> tuple[int, list[str]]:
    """Rows of the kept file, and what differs from it."""
    found, kept, apart = solved(), pd.read_csv(FILE, comment="#"), []
    for column in found:
        difference = (found[column] - kept[column]).abs() / found[column].abs().clip(lower=1)
        apart += [f"blood estimate, row {row}: {column} {found[column][row]}" for row in difference.index[difference > CLOSE]]
    return len(kept) * len(found.columns), apart


def main() -> int:
    if "--write" in sys.argv:
        note = (
            "# The blood estimate with given parameters on an invented recording, by checks/blood_estimate.py\n"
            "# (statsmodels KalmanSmoother, scipy expm). kind 0 is a reading, 1 a blood check. log_density: of that row\n"
            "# given those before it, in the model of readings and checks together.\n"
        )
        FILE.write_text(note + solved().to_csv(index=False, float_format="%.12g"))
        return 0
    count, apart = check()
    print("\n".join(apart) or f"{count} values of the blood estimate agree")
    return 1 if apart else 0


if __name__ == "__main__":
    sys.exit(main())
