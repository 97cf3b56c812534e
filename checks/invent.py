"""Makes testdata/checks/invented.csv: sixteen days of nobody's glucose, for machines without the open recordings.

Wall-clock times of Lisbon over the end of summer time in 2025, whole mg/dL every five minutes, with what real exports
have: a silence of some hours, single lost readings, repeated rows, the same instant twice with different values, and
the words low and high. No line of it comes from a person.

    python3 checks/invent.py
"""

from __future__ import annotations

import math
import random
from datetime import datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

CHECKS = Path(__file__).resolve().parent.parent / "testdata/checks/invented_checks.csv"
OUT = Path(__file__).resolve().parent.parent / "testdata/checks/invented.csv"
ZONE = ZoneInfo("Europe/Lisbon")
START = datetime(2025, 10, 17, 6, 2, tzinfo=timezone.utc)
READINGS = 16 * 288


def glucose(minute: float, wander: float) -> float:
    """A daily wave, three meals and a slow wander, mg/dL."""
    hour = minute / 60 % 24
    meals = sum(70 * math.exp(-(((hour - at) / 1.3) ** 2)) for at in (8.5, 13.2, 20.0))
    return 105 + 18 * math.sin(2 * math.pi * (hour - 3) / 24) + meals + wander


def rows(seed: int = 20251026) -> list[str]:
    """The lines of the file."""
    chance, wander, lines = random.Random(seed), 0.0, ["time,glucose mg/dL"]
    for i in range(READINGS):
        wander = 0.985 * wander + chance.gauss(0, 6.5)
        silent = 1500 <= i < 1580 or chance.random() < 0.01
        if silent:
            continue
        moment = START + timedelta(minutes=5 * i)
        value = round(glucose((moment - START).total_seconds() / 60 + 362, wander))
        said = "low" if value < 40 else "high" if value > 400 else str(value)
        wall = moment.astimezone(ZONE).strftime("%Y-%m-%d %H:%M:%S")
        lines.append(f"{wall},{said}")
        if chance.random() < 0.01:
            lines.append(f"{wall},{said}")
        if chance.random() < 0.003 and said.isdigit():
            lines.append(f"{wall},{value + 3}")
    return lines


def check_rows(lines: list[str], seed: int = 20251027) -> list[str]:
    """Blood checks of the same invented days, at seconds of their own, a few per cent off the sensor."""
    chance, found = random.Random(seed), ["time,blood glucose mg/dL"]
    numbers = [line.split(",") for line in lines[1:] if line.split(",")[1].isdigit()]
    for day in range(16):
        for hour in sorted(chance.sample(range(7, 23), 5)):
            wall = datetime(2025, 10, 17) + timedelta(days=day, hours=hour, seconds=chance.randrange(3600))
            near = min(numbers, key=lambda row: abs((datetime.fromisoformat(row[0]) - wall).total_seconds()))
            found.append(f"{wall:%Y-%m-%d %H:%M:%S},{round(int(near[1]) * (1 + chance.gauss(0.02, 0.09)))}")
    return found


if __name__ == "__main__":
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_text("\n".join(rows()) + "\n")
    CHECKS.write_text("\n".join(check_rows(rows())) + "\n")
    print(f"{OUT.name}: {len(rows()) - 1} rows")
