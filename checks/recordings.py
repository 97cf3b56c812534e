"""Recordings read with pandas, by a reader written for each layout. Nothing of the command's own reading is used here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

# A tenth of the molar mass of glucose, 180.156 g/mol (IUPAC standard atomic weights).
MG_PER_DL_IN_ONE_MMOL_PER_L = 18.0156
DAY_S = 86_400


@dataclass
class Recording:
    """One person's automatic readings in time order, one at an instant."""

    name: str
    zone: ZoneInfo
    interval_s: int
    """Native interval, from the description of the data set."""
    at: np.ndarray
    """Seconds since 1970, universal time."""
    mg_dl: np.ndarray
    place: np.ndarray
    """The value in thousandths of the unit it was said in, mmol/L rounded to one decimal: what ranges look at."""
    mmol: bool
    """Whether it was said in mmol/L."""

    def between(self, start: int, end: int) -> Recording:
        """The readings with start <= at < end."""
        keep = (self.at >= start) & (self.at < end)
        return Recording(self.name, self.zone, self.interval_s, self.at[keep], self.mg_dl[keep], self.place[keep], self.mmol)

    def wall(self) -> np.ndarray:
        """Wall-clock time of each reading, as seconds since 1970 of a clock that knows no zones."""
        wall = pd.DatetimeIndex(pd.to_datetime(self.at, unit="s", utc=True)).tz_convert(str(self.zone)).tz_localize(None)
        return wall.as_unit("s").asi8

    def weights(self) -> np.ndarray:
        """Seconds each reading stands for: the native interval, or until the next if that comes within half of it."""
        gap = np.append(np.diff(self.at), np.iinfo(np.int64).max)
        return np.where(gap < -(-self.interval_s // 2), gap, self.interval_s)


# A usual step between two readings, with room for a late one.
USUAL_STEP_S = 20 * 60


def instants(walls: list[datetime], zone: ZoneInfo) -> list[int | None]:
    """Instants of wall-clock times in the order of a file. In the hour that is repeated in autumn the file stepping back
    begins the second pass; a file that goes through it once has made the pass that joins, within a usual step, what comes
    before or what comes after; where both or neither join, the first. A time in the hour skipped in spring is none."""
    both = [(wall.replace(tzinfo=zone, fold=0), wall.replace(tzinfo=zone, fold=1)) for wall in walls]
    found: list[int | None] = []
    run: list[int] = []
    for i, (first, second) in enumerate(both):
        if first.utcoffset() == second.utcoffset():
            settle_run(run, walls, both, found, int(first.timestamp()))
            run = []
            found.append(int(first.timestamp()))
        elif first.astimezone(timezone.utc).astimezone(zone).replace(tzinfo=None) != walls[i]:
            found.append(None)
        else:
            run.append(i)
            found.append(int(first.timestamp()))
    settle_run(run, walls, both, found, None)
    return found


def settle_run(run: list[int], walls: list[datetime], both: list[tuple[datetime, datetime]], found: list[int | None], after: int | None) -> None:
    """Settles the rows `run` of one repeated hour, all taken for the first pass so far."""
    if not run:
        return
    backs = [k for k in range(1, len(run)) if walls[run[k]] < walls[run[k - 1]]]
    before = next((found[i] for i in range(run[0] - 1, -1, -1) if found[i] is not None), None)
    second_from = len(run)
    if backs:
        second_from = backs[0]
    elif before is not None and after is not None:
        joins_before = both[run[0]][0].timestamp() - before <= USUAL_STEP_S
        joins_after = after - both[run[-1]][1].timestamp() <= USUAL_STEP_S
        second_from = 0 if joins_after and not joins_before else len(run)
    later = run[second_from:]
    if is_doubled([walls[i] for i in run]):
        later = run[1::2]
    for i in later:
        found[i] = int(both[i][1].timestamp())


def is_doubled(walls: list[datetime]) -> bool:
    """Whether each time of a run stands there twice in a row: a file sorted by the wall clock, both passes interleaved."""
    firsts, seconds = walls[0::2], walls[1::2]
    return len(walls) >= 4 and firsts == seconds and all(a < b for a, b in zip(firsts, firsts[1:]))


def assemble(name: str, zone: ZoneInfo, interval_s: int, at: list[int | None], said: list[str], mmol: bool, edges: dict[str, str]) -> Recording:
    """Puts readings in time order; at a repeated instant the first in the file stands. `edges` gives the number for
    words such as 'Low', which count as below the number they are kept at."""
    rows = [(second, i, text) for i, (second, text) in enumerate(zip(at, said)) if second is not None and text]
    rows.sort(key=lambda row: (row[0], row[1]))
    rows = [row for i, row in enumerate(rows) if i == 0 or rows[i - 1][0] != row[0]]
    numbers = [Decimal(edges.get(text.strip().lower(), text.strip())) for _, _, text in rows]
    shown = [n.quantize(Decimal("0.1"), ROUND_HALF_UP) if mmol else n for n in numbers]
    factor = MG_PER_DL_IN_ONE_MMOL_PER_L if mmol else 1.0
    return Recording(
        name,
        zone,
        interval_s,
        np.array([row[0] for row in rows], dtype=np.int64),
        np.array([float(n) for n in numbers]) * factor,
        np.array([float(n * 1000) for n in shown]),
        mmol,
    )


def read_plain(path: Path, zone: str, interval_s: int, time: str, value: str, format: str, mmol: bool = False) -> Recording:
    """Two columns: wall-clock time and value."""
    table = pd.read_csv(path, dtype=str, keep_default_na=False)
    walls = [datetime.strptime(text, format) for text in table[time]]
    said = list(table[value])
    numbers = [float(text) for text in said if text.replace(".", "").isdigit()]
    edges = {"low": str(int(min(numbers))), "high": str(int(max(numbers)))}
    return assemble(path.stem, ZoneInfo(zone), interval_s, instants(walls, ZoneInfo(zone)), said, mmol, edges)


def read_with_offsets(path: Path, zone: str, interval_s: int, time: str, value: str, kind: tuple[str, str], mmol: bool) -> Recording:
    """Time with an offset that some rows lack; rows of other kinds are passed over."""
    table = pd.read_csv(path, dtype=str, keep_default_na=False)
    table = table[table[kind[0]] == kind[1]]
    at: list[int | None] = []
    for text in table[time]:
        moment = datetime.fromisoformat(text)
        moment = moment.replace(tzinfo=ZoneInfo(zone)) if moment.tzinfo is None else moment
        at.append(int(moment.timestamp()))
    return assemble(path.stem, ZoneInfo(zone), interval_s, at, list(table[value]), mmol, {})


def yesterday(wall: np.ndarray, zone: ZoneInfo) -> list[int | None]:
    """The instant at which the clock read the same on the date before: none where that time was skipped, the second
    pass where it was repeated."""
    found: list[int | None] = []
    for second in wall:
        before = datetime(1970, 1, 1) + timedelta(seconds=int(second) - DAY_S)
        moment = before.replace(tzinfo=zone, fold=1)
        exists = moment.astimezone(timezone.utc).astimezone(zone).replace(tzinfo=None) == before
        found.append(int(moment.timestamp()) if exists else None)
    return found
