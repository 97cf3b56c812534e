"""The blood estimate on sensors and checks drawn again: what of a score on six people is the chance of their few sensors.

    python3 checks/redrawn.py --interstice target/release/interstice [--data ../shared/data] [--draws 4]

True blood and tissue glucose, times of wear and times of checks stay those of the simulated people; the errors of sensors and
meter are drawn anew as the recordings' own README describes them, without pressure and early failure. All of it is INVENTED.
Prints for each draw what against_truth.py prints, then how widely six people drawn from these come out. Judges nothing.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from against_truth import FIRST_DAY_MIN, TOP, ZONES, estimate, line, score

NO_READING = ["warmup", "gap", "no_sensor", "failing"]
LOWEST, HIGHEST = 40, 400


def seconds(times: pd.Series) -> np.ndarray:
    return (pd.to_datetime(times, utc=True, format="ISO8601") - pd.Timestamp(0, tz="UTC")).dt.total_seconds().to_numpy()


def forgetful(draw: np.random.Generator, steps: int, kept: float) -> np.ndarray:
    """First-order autoregression of standard deviation one."""
    out = np.empty(steps)
    out[0] = draw.normal()
    for i in range(1, steps):
        out[i] = kept * out[i - 1] + np.sqrt(1 - kept**2) * draw.normal()
    return out


def delayed(draw: np.random.Generator, tissue: pd.Series) -> pd.Series:
    """Tissue behind a sensor that smooths over 2 to 6 minutes; by the minute."""
    minute = np.arange(tissue.index[0], tissue.index[-1] + 1, 60)
    value, kept = np.interp(minute, tissue.index, tissue), np.exp(-1 / draw.uniform(2, 6))
    for i in range(1, len(value)):
        value[i] = kept * value[i - 1] + (1 - kept) * value[i]
    return pd.Series(value, minute)


def readings(draw: np.random.Generator, tissue: pd.Series, at: np.ndarray, age: np.ndarray) -> np.ndarray:
    shows, steps, step = delayed(draw, tissue), int(age.max() // 5) + 2, (age // 5).astype(int)
    settled, off_at_start = draw.normal(0, 0.065), draw.normal(-0.07, 0.14)
    gain = settled + off_at_start * np.exp(-age / (60 * draw.uniform(8, 20)))
    gain += draw.normal(0, 0.004) * np.maximum(age / 1440 - 7, 0)
    gain += 0.035 * forgetful(draw, steps, np.exp(-5 / 600))[step]
    noise = draw.uniform(4.5, 8) * (1 + np.exp(-age / 720))
    noise = noise * (forgetful(draw, steps, 0.7 ** (1 / 3))[step] + 0.22 * draw.normal(size=len(age)))
    return np.round((1 + gain) * np.interp(at, shows.index, shows) + draw.normal(0, 4.5) + noise)


def checks(draw: np.random.Generator, blood: np.ndarray) -> np.ndarray:
    own = 0.063 * np.maximum(blood, 100) * draw.normal(size=len(blood))
    soiled = np.where(draw.uniform(size=len(blood)) < 0.008, np.maximum(draw.normal(60, 30, len(blood)), 0), 0)
    return np.round(blood * (1 + draw.normal(0, 0.02)) + own + soiled)


def person(data: Path, name: str, draw: np.random.Generator, folder: Path) -> tuple[list[tuple[Path, str]], pd.DataFrame]:
    """Files as a wearer would have them, and the truth behind each reading."""
    rows = pd.read_csv(data / f"sim/truth/{name}_cgm.csv", comment="#")
    rows["at"] = seconds(rows["time_utc"])
    once = rows.drop_duplicates("at").set_index("at").sort_index()
    rate = pd.Series(np.gradient(once["true_bg_mgdl"], once.index / 60), once.index)
    worn = rows[rows["sensor_id"].notna() & ~rows["artefact"].isin(NO_READING)].copy()
    for _, of in worn.groupby("sensor_id"):
        age = of["sensor_age_min"].to_numpy(float)
        worn.loc[of.index, "value"] = readings(draw, once["true_ig_mgdl"], of["at"].to_numpy(), age)
    beyond = {True: "below_range", False: "above_range"}
    limited = (worn["value"] < LOWEST) | (worn["value"] > HIGHEST)
    shown = pd.DataFrame({
        "time_local": worn["time_local"], "sensor_id": worn["sensor_id"], "glucose_mgdl": worn["value"].where(~limited),
        "flag": (worn["value"] < LOWEST).map(beyond).where(limited, ""),
    })  # fmt: skip
    shown.to_csv(folder / "cgm.csv", index=False)
    events = pd.read_csv(data / f"sim/input/{name}_events.csv", comment="#", dtype=str)
    pricked = events["event"] == "fingerstick"
    blood = np.interp(seconds(events.loc[pricked, "time_local"]), once.index, once["true_bg_mgdl"])
    events.loc[pricked, "value"] = [f"{value:.0f}" for value in checks(draw, blood)]
    events.to_csv(folder / "events.csv", index=False)
    worn["time_utc"] = pd.to_datetime(worn["time_utc"], utc=True, format="ISO8601")
    worn["rate"] = rate.reindex(worn["at"]).to_numpy()
    zone = ZONES[name]
    return [(folder / "cgm.csv", zone), (folder / "events.csv", zone)], worn[
        ["time_utc", "sensor_id", "true_bg_mgdl", "sensor_age_min", "rate"]
    ]


def six_drawn(everyone: pd.DataFrame) -> str:
    """One draw of each person, again and again: how far the scores of six people go apart by chance."""
    first = everyone[everyone["sensor_age_min"] < FIRST_DAY_MIN]
    sums = first.groupby(["person", "draw"])[["told", "raw"]].sum()
    held = everyone.groupby(["person", "draw"])[["in50", "in90"]].mean() * 100
    choose = np.random.default_rng(1)
    picked = [choose.integers(0, len(sums.loc[name]), 4000) for name in sums.index.levels[0]]
    names = list(sums.index.levels[0])
    drawn = sum(sums.loc[name].to_numpy()[of] for name, of in zip(names, picked, strict=True))
    ratio = drawn[:, 0] / drawn[:, 1]
    bands = sum(held.loc[name].to_numpy()[of] for name, of in zip(names, picked, strict=True)) / len(names)
    low, high = np.quantile(ratio, [0.05, 0.95])
    within = ((held - [50, 90]).abs() <= 5).mean() * 100
    return (
        f"six people drawn: ratio on first days {ratio.mean():.3f}, 90 % within {low:.2f} to {high:.2f}, above 0.60 in"
        f" {100 * (ratio > 0.6).mean():.0f} %; pooled bands go apart by {bands[:, 0].std():.1f} and {bands[:, 1].std():.1f} points\n"
        f"one person: bands hold {held['in50'].mean():.1f} ± {held['in50'].std():.1f} and {held['in90'].mean():.1f} ±"
        f" {held['in90'].std():.1f} %; within 5 points of 50 and 90: {within['in50']:.0f} and {within['in90']:.0f} %"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--interstice", type=Path, required=True)
    parser.add_argument("--data", type=Path, default=Path(os.environ.get("INTERSTICE_DATA", TOP / "../shared/data")))
    parser.add_argument("--draws", type=int, default=4)
    given = parser.parse_args()
    if not (given.data / "sim").is_dir():
        print("the simulated people are not here; nothing to draw from")
        return
    everyone = []
    for number in range(1, given.draws + 1):
        scored = []
        for name in ZONES:
            with tempfile.TemporaryDirectory() as folder:
                draw = np.random.default_rng([int(name[1:]), number])
                files, known = person(given.data, name, draw, Path(folder))
                of_one = score(estimate(given.interstice.resolve(), files), known)
            scored.append(of_one.assign(person=name, draw=number))
        everyone.append(pd.concat(scored))
        print(line(f"draw {number}", everyone[-1]), flush=True)
    everyone = pd.concat(everyone)
    print(line("all", everyone))
    print(six_drawn(everyone))


if __name__ == "__main__":
    main()
