"""What a competent script on a general engine does: the yardstick for `interstice import` and `interstice review`.

    baseline.py ENGINE import FILE.csv STORE    parse, drop repeated readings (first stands), write a compact file
    baseline.py ENGINE report STORE             read it back, compute the account, print it as JSON
    baseline.py numpy look STORE                what followed the moments most like the last: ridge, neighbours, quantiles

ENGINE is `polars` or `duckdb`. It knows the two layouts of generate.py beforehand (a real export must first be understood),
takes the hour repeated in autumn once, and gives no confidence intervals: all to the baseline's advantage.
"""

import json
import sys
from pathlib import Path

ZONE = "Europe/Lisbon"
FACTOR = 18.0156
STEP_GUESS = 3000  # readings looked at to find the native interval


def is_awkward(path: str) -> bool:
    with open(path, "rb") as file:
        return file.read(3) == b"\xef\xbb\xbf"


# --- polars -----------------------------------------------------------------------------------------------------------


def polars_import(path: str, store: str) -> None:
    import polars as pl

    if is_awkward(path):
        rows = pl.scan_csv(path, separator=";", skip_rows=3, infer_schema=False).filter(pl.col("record") == "automatic")
        said = pl.col("glucose mmol/L")
        number = said.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False) * FACTOR
        value = pl.when(said == "low").then(40.0).when(said == "high").then(400.0).otherwise(number)
        wall = (pl.col("date") + " " + pl.col("time")).str.to_datetime("%d.%m.%Y %H:%M:%S")
        at = wall.dt.replace_time_zone(ZONE, ambiguous="earliest", non_existent="null").dt.epoch("s")
    else:
        rows = pl.scan_csv(path, schema_overrides={"note": pl.String}).filter(pl.col("kind") == "automatic")
        at = pl.col("time").str.slice(0, 19).str.to_datetime("%Y-%m-%dT%H:%M:%S").dt.epoch("s")
        value = pl.col("glucose").cast(pl.Float64)
    table = rows.select(at=at, mg_dl=value).drop_nulls().collect()
    table = table.with_row_index("row").sort("at", "row").unique("at", keep="first", maintain_order=True)
    table.select(pl.col("at").cast(pl.Int64), pl.col("mg_dl").cast(pl.Float32)).write_parquet(store)


def polars_report(store: str) -> dict:
    import polars as pl

    return polars_account(pl.read_parquet(store).with_columns(pl.col("mg_dl").cast(pl.Float64)))


def polars_account(table) -> dict:
    import numpy as np
    import polars as pl

    at, g = table["at"].to_numpy(), table["mg_dl"].to_numpy()
    interval = float(np.median(np.diff(at[:STEP_GUESS])))
    zoned = pl.from_epoch("at", time_unit="s").dt.replace_time_zone("UTC").dt.convert_time_zone(ZONE)
    table = table.with_columns(second=zoned.dt.replace_time_zone(None).dt.epoch("s"))  # the wall clock as a number
    table = table.with_columns(
        day=(pl.col("second") // 86_400).cast(pl.Int32),
        weekday=((pl.col("second") // 86_400 + 3) % 7 + 1).cast(pl.Int8),
        hour=(pl.col("second") % 86_400 // 3_600).cast(pl.Int8),
        bin=(pl.col("second") % 86_400 // 300).cast(pl.Int16),
    )
    value = pl.col("mg_dl")
    percentiles = [value.quantile(p / 100, "linear").alias(f"p{p}") for p in (5, 25, 50, 75, 95)]
    means = [value.len().alias("n"), value.mean().alias("mean"), value.is_between(70, 180).mean().alias("in_range")]
    account = summary(g, at, interval)
    account["usual_day"] = table.group_by("bin").agg(*percentiles, pl.col("day").n_unique().alias("days")).sort("bin").rows()
    for name in ("day", "weekday", "hour"):
        account[name] = table.group_by(name).agg(*means).sort(name).rows()
    account["mage"] = polars_mage(table)
    return account


def polars_mage(table) -> float | None:
    """Mean over days of the swings above one SD of the day in the direction of the first such swing."""
    import polars as pl

    value, day = pl.col("mg_dl"), pl.col("day")
    before = pl.when(day == day.shift(1)).then(value - value.shift(1))  # null at the first of a day
    after = pl.when(day == day.shift(-1)).then(value.shift(-1) - value)
    deviation = table.group_by("day").agg(sd=value.std())
    turning = table.select("day", "mg_dl").filter((before != 0).fill_null(True))
    turning = turning.filter((before.sign() != after.sign()).fill_null(True))
    swings = turning.with_columns(swing=before).drop_nulls().join(deviation, on="day", maintain_order="left")
    swings = swings.filter(pl.col("swing").abs() > pl.col("sd"))
    same_way = pl.col("swing").sign() == pl.col("swing").sign().first().over("day")
    return swings.filter(same_way).group_by("day").agg(pl.col("swing").abs().mean()).select(pl.col("swing").mean()).item()


# --- DuckDB -----------------------------------------------------------------------------------------------------------


def duckdb_import(path: str, store: str) -> None:
    import duckdb

    Path(store).unlink(missing_ok=True)
    base = duckdb.connect(store)
    if is_awkward(path):
        base.execute(f"""
            create temp table raw as select row_number() over () as line, "record" as kind, "glucose mmol/L" as said,
                epoch(timezone('{ZONE}', strptime("date" || ' ' || "time", '%d.%m.%Y %H:%M:%S')))::bigint as t
            from read_csv('{path}', delim=';', skip=3, header=true, all_varchar=true)""")
        value = f"""case said when 'low' then 40.0 when 'high' then 400.0
            else try_cast(replace(said, ',', '.') as double) * {FACTOR} end"""
    else:
        base.execute(f"""
            create temp table raw as select row_number() over () as line, kind, glucose as said,
                epoch(strptime(left(time, 19), '%Y-%m-%dT%H:%M:%S'))::bigint as t
            from read_csv('{path}', header=true, types={{'time': 'VARCHAR'}})""")
        value = "said::double"
    base.execute(f"""
        create table readings as select t, arg_min({value}, line)::float as mg_dl
        from raw where kind = 'automatic' group by t order by t""")
    base.close()


def duckdb_report(store: str) -> dict:
    import duckdb
    import numpy as np

    base = duckdb.connect(store, read_only=True)
    columns = base.execute("select t, mg_dl::double as mg_dl from readings order by t").fetchnumpy()
    at, g = columns["t"], columns["mg_dl"]
    interval = float(np.median(np.diff(at[:STEP_GUESS])))
    base.execute(f"""
        create temp table lived as select t, mg_dl::double as mg_dl, wall::date as day, isodow(wall) as weekday,
            hour(wall) as hour, (hour(wall) * 12 + minute(wall) // 5) as bin
        from (select *, timezone('{ZONE}', to_timestamp(t)) as wall from readings)""")
    account = summary(g, at, interval)
    account["usual_day"] = base.execute("""
        select bin, quantile_cont(mg_dl, [0.05, 0.25, 0.5, 0.75, 0.95]), count(distinct day)
        from lived group by bin order by bin""").fetchall()
    for name in ("day", "weekday", "hour"):
        account[name] = base.execute(f"""
            select {name}::varchar, count(*), avg(mg_dl), avg((mg_dl between 70 and 180)::int)
            from lived group by {name} order by {name}""").fetchall()
    account["mage"] = base.execute(DUCKDB_MAGE).fetchone()[0]
    return account


DUCKDB_MAGE = """
    with changed as (
        select day, t, mg_dl, sd from (
            select day, t, mg_dl, stddev_samp(mg_dl) over (partition by day) as sd,
                lag(mg_dl) over (partition by day order by t) as before from lived)
        where before is null or before <> mg_dl),
    turning as (
        select * from (
            select *, lag(mg_dl) over w as before, lead(mg_dl) over w as after from changed
            window w as (partition by day order by t))
        where before is null or after is null or sign(mg_dl - before) <> sign(after - mg_dl)),
    swings as (
        select day, t, sd, mg_dl - lag(mg_dl) over (partition by day order by t) as swing from turning),
    large as (
        select day, swing, first_value(sign(swing)) over (partition by day order by t) as direction
        from swings where abs(swing) > sd),
    days as (select day, avg(abs(swing)) as mage from large where sign(swing) = direction group by day)
    select avg(mage) from days"""


# --- shared: plain vector arithmetic ----------------------------------------------------------------------------------


def summary(g, at, interval: float) -> dict:
    import numpy as np

    mean, sd = float(g.mean()), float(g.std(ddof=1))
    share = lambda mask: float(100 * np.count_nonzero(mask) / g.size)
    levels, counts = distinct(g)
    risk = 1.509 * (np.log(np.clip(levels, 20, 600)) ** 1.084 - 5.381)
    out = {
        "n": int(g.size), "mean": mean, "sd": sd, "cv": 100 * sd / mean, "gmi": 3.31 + 0.02392 * mean,
        "very_low": share(g < 54), "low": share((g >= 54) & (g < 70)), "in_range": share((g >= 70) & (g <= 180)),
        "high": share((g > 180) & (g <= 250)), "very_high": share(g > 250), "tight": share((g >= 70) & (g <= 140)),
        "lbgi": float(10 * counts @ np.where(risk < 0, risk, 0) ** 2 / g.size),
        "hbgi": float(10 * counts @ np.where(risk > 0, risk, 0) ** 2 / g.size),
        "j_index": 0.001 * (mean + sd) ** 2,
    }  # fmt: skip
    slot = np.rint((at - at[0]) / interval).astype(np.int64)
    grid = np.full(slot[-1] + 1, np.nan)
    grid[slot] = g
    per_day, per_hour = round(86_400 / interval), round(3_600 / interval)
    out["modd"] = float(np.nanmean(np.abs(grid[per_day:] - grid[:-per_day]))) if grid.size > per_day else None
    out["conga1"] = float(np.nanstd(grid[per_hour:] - grid[:-per_hour], ddof=1))
    out["active"] = 100 * g.size / grid.size
    for name, beyond, back in [("low", g < 70, g >= 70), ("low2", g < 54, g >= 70), ("high", g > 180, g <= 180), ("high2", g > 250, g <= 180)]:
        out[f"episodes_{name}"] = episodes(beyond, back, at, interval)
    return out


def distinct(g):
    """Distinct values and their counts, without a sort: a sensor says a few hundred numbers."""
    import numpy as np

    codes, levels = np.rint(g * 10_000).astype(np.int64), None
    counts = np.bincount(codes)
    levels = np.flatnonzero(counts)
    return levels / 10_000, counts[levels]


def episodes(beyond, back, at, interval: float) -> list[list[int]]:
    """[start, end] of runs of 15 minutes beyond the threshold, each ended by 15 minutes back or by a gap."""
    import numpy as np

    need = -(-900 // interval)
    state = np.where(beyond, 1, np.where(back, 2, 0))
    gap = np.diff(at) > max(900, 1.5 * interval)
    cut = np.flatnonzero((np.diff(state) != 0) | gap) + 1
    starts = np.concatenate(([0], cut))
    ends = np.concatenate((cut, [state.size]))
    after_gap = np.concatenate(([True], gap[cut - 1]))
    long = ends - starts >= need
    found, open_since = [], None
    interesting = np.flatnonzero((long & (state[starts] != 0)) | after_gap)
    for i in interesting:
        if after_gap[i] and open_since is not None:
            found.append([open_since, int(at[starts[i] - 1])])
            open_since = None
        if not long[i]:
            continue
        if state[starts[i]] == 1 and open_since is None:
            open_since = int(at[starts[i]])
        elif state[starts[i]] == 2 and open_since is not None:
            found.append([open_since, int(at[starts[i]])])
            open_since = None
    if open_since is not None:
        found.append([open_since, int(at[-1])])
    return found


# --- the second look, bare ---------------------------------------------------------------------------------------------


def look(store: str) -> dict:
    """Ten horizons ahead of the last reading, from the 400 days before: a ridge on where glucose stood and the clock, the hundred
    nearest moments by level, slopes and clock, and the quantiles of both. No calibration, bands of chance or insulin."""
    import numpy as np
    import polars as pl

    table = pl.scan_parquet(store).filter(pl.col("at") > pl.col("at").max() - 400 * 86_400).collect()
    at, g = table["at"].to_numpy(), table["mg_dl"].to_numpy().astype(float)
    grid = np.full((at[-1] - at[0]) // 300 + 1, np.nan)
    grid[(at - at[0]) // 300] = g
    lags = {k: np.roll(grid, k) for k in (0, 1, 2, 3, 6, 9, 12, 18, 24, 36)}
    angle = 2 * np.pi * ((at[0] + 300 * np.arange(grid.size)) % 86_400) / 86_400
    clock = [f(k * angle) for k in range(1, 6) for f in (np.sin, np.cos)]
    slope, level = (grid - lags[3]) / 15, (grid - 140) / 50
    bends = [level**2, level * slope, np.abs(slope), *(level * c for c in clock[:4])]
    x = np.column_stack([*(lag / 50 for lag in lags.values()), *clock, *bends, np.ones(grid.size)])
    shape = np.column_stack([grid / 40, slope, (lags[3] - lags[6]) / 20, (lags[6] - lags[12]) / 40, 0.8 * clock[0], 0.8 * clock[1]])
    whole = np.flatnonzero(np.isfinite(x[36:]).all(axis=1)) + 36
    now, past = whole[-1], whole[whole < whole[-1] - 288][::2]
    near = past[np.argsort(((shape[past] - shape[now]) ** 2).sum(axis=1))[:100]]
    fan = []
    for ahead in (3, 6, 9, 12, 18, 24, 30, 36, 42, 48):
        change = grid[past + ahead] - grid[past]
        known = np.isfinite(change)
        z, y = x[past[known]], change[known]
        slopes = np.linalg.solve(z.T @ z + 100 * np.eye(z.shape[1]), z.T @ y)
        centre, off = grid[now] + x[now] @ slopes, y - z @ slopes
        followed = grid[near + ahead] - grid[near]
        levels = np.arange(0.05, 1, 0.05)
        both = 0.5 * (centre + np.quantile(off, levels)) + 0.5 * (grid[now] + np.nanquantile(followed, levels))
        fan.append([ahead * 5, *both.tolist()])
    return {"at": int(at[-1]), "moments": int(past.size), "fan": fan}


def main() -> None:
    engine, step, *paths = sys.argv[1:]
    if step == "import":
        {"polars": polars_import, "duckdb": duckdb_import}[engine](*paths)
    elif step == "report":
        print(json.dumps({"polars": polars_report, "duckdb": duckdb_report}[engine](*paths)))
    elif step == "look":
        print(json.dumps(look(*paths)))
    else:
        raise SystemExit(f"there is no step '{step}'")


if __name__ == "__main__":
    main()
