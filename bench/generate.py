"""Invented recordings of any length, for timing: one person, one reading every few minutes, with gaps.

Two shapes of file. `clean`: comma, universal time with offset, whole mg/dL, one table. `awkward`: a preamble, semicolons,
decimal commas, mmol/L, date and wall-clock time in two columns, other kinds of rows among the readings, out-of-range
words, repeated rows and a block out of order. And `worn`: as clean, with a new sensor each two weeks.

    python3 bench/generate.py OUT.csv --days 365 --step 1 --shape awkward
"""

import argparse
from datetime import datetime, timezone
from pathlib import Path

import numpy as np
import polars as pl
from scipy.signal import lfilter

ZONE = "Europe/Lisbon"
END = int(datetime(2025, 11, 1, tzinfo=timezone.utc).timestamp())
MG_PER_DL_IN_ONE_MMOL_PER_L = 18.0156


def readings(days: int, step_min: int, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Seconds since 1970 and whole mg/dL: a daily wave, a slow wander and noise, in 40 to 400, with gaps."""
    rng = np.random.default_rng(seed)
    at = np.arange(END - days * 86_400, END, step_min * 60)
    wave = 30 * np.sin(2 * np.pi * (at % 86_400) / 86_400) + 25 * np.sin(6 * np.pi * (at % 86_400) / 86_400)
    keep = 0.995**step_min
    wander = lfilter([np.sqrt(1 - keep**2)], [1, -keep], rng.standard_normal(at.size)) * 45
    value = np.clip(np.rint(140 + wave + wander + rng.normal(0, 2, at.size)), 40, 400).astype(np.int64)
    there = (at - at[0]) % (14 * 86_400) >= 3_600  # every sensor's first hour is missing
    for start in rng.integers(0, at.size, max(1, days // 9)):  # and now and then one to six hours
        there[start : start + (60 // step_min) * rng.integers(1, 7)] = False
    return at[there], value[there]


def write_clean(path: Path, at: np.ndarray, value: np.ndarray, *more: pl.Expr) -> None:
    """`time,kind,glucose,unit,note`, in time order."""
    pl.DataFrame({"time": at * 1_000_000, "glucose": value}).select(
        pl.col("time").cast(pl.Datetime("us")).dt.to_string("%Y-%m-%dT%H:%M:%S+00:00"),
        pl.lit("automatic").alias("kind"),
        pl.col("glucose"),
        pl.lit("mg/dL").alias("unit"),
        pl.lit("").alias("note"),
        *more,
    ).write_csv(path, quote_style="never")


def write_worn(path: Path, at: np.ndarray, value: np.ndarray) -> None:
    write_clean(path, at, value, pl.format("sensor {}", (pl.col("time") - at[0] * 1_000_000) // (14 * 86_400 * 1_000_000)).alias("sensor"))


def write_awkward(path: Path, at: np.ndarray, value: np.ndarray, seed: int = 2) -> None:
    """Seven columns, most of them empty in most rows; see the module's first lines."""
    rng = np.random.default_rng(seed)
    frame = pl.DataFrame({"at": at, "glucose": value, "place": np.arange(at.size) * 4})
    automatic = frame.with_columns(kind=pl.lit("automatic"))
    repeated = automatic.gather(np.sort(rng.choice(at.size, at.size // 100, replace=False))).with_columns(place=pl.col("place") + 1)
    beside = frame.gather(np.sort(rng.choice(at.size, at.size // 150, replace=False)))
    beside = beside.with_columns(
        at=pl.col("at") + 17,
        place=pl.col("place") + 2,
        kind=pl.Series(rng.choice(["scan", "blood check", "insulin", "food", "note"], beside.height)),
    )
    rows = pl.concat([automatic, repeated, beside]).sort("place")
    tenth = rows.height // 10
    rows = pl.concat([rows[:tenth], rows[2 * tenth : 3 * tenth], rows[tenth : 2 * tenth], rows[3 * tenth :]])
    wall = pl.from_epoch("at", time_unit="s").dt.replace_time_zone("UTC").dt.convert_time_zone(ZONE)
    mmol = (pl.col("glucose") / MG_PER_DL_IN_ONE_MMOL_PER_L).round(1).cast(pl.String).str.replace(".", ",", literal=True)
    said = pl.when(pl.col("glucose") <= 40).then(pl.lit("low")).when(pl.col("glucose") >= 400).then(pl.lit("high")).otherwise(mmol)
    is_kind = lambda *names: pl.col("kind").is_in(names)
    table = rows.select(
        wall.dt.to_string("%d.%m.%Y").alias("date"),
        wall.dt.to_string("%H:%M:%S").alias("time"),
        pl.col("kind").alias("record"),
        pl.when(is_kind("automatic", "scan")).then(said).alias("glucose mmol/L"),
        pl.when(is_kind("blood check")).then(mmol).alias("blood mmol/L"),
        pl.when(is_kind("insulin")).then(pl.lit("4,5")).alias("rapid insulin (units)"),
        pl.when(is_kind("food")).then(pl.lit("45")).alias("carbohydrate (g)"),
        pl.when(is_kind("note")).then(pl.lit("a walk; then rain")).alias("note"),
    )
    with path.open("wb") as file:
        file.write("\ufeffInvented recording\nperson: nobody\n\n".encode())
        table.write_csv(file, separator=";")


def write(path: Path, days: int, step_min: int, shape: str) -> int:
    """Writes the file unless it is there. Returns the number of readings asked for."""
    at, value = readings(days, step_min)
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(".part")
        {"clean": write_clean, "awkward": write_awkward, "worn": write_worn}[shape](part, at, value)
        part.rename(path)
    return at.size


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--days", type=int, default=90)
    parser.add_argument("--step", type=int, default=5, help="minutes between readings")
    parser.add_argument("--shape", choices=["clean", "awkward", "worn"], default="clean")
    given = parser.parse_args()
    print(write(given.out, given.days, given.step, given.shape), "readings")
