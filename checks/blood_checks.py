"""The account of blood checks alone: written logbooks, read here by pandas and by the command, held against each other.

    python3 checks/blood_checks.py --interstice target/debug/interstice [--data ../shared/data/real]

`logbooks_1994` are paper and meter logbooks of people without a sensor (UCI Machine Learning Repository, 'Diabetes', 1994).
The command is told what the codes of their third column stand for, as the description beside them does; nothing else. One
more logbook is invented here, for machines without them. Mean, spread, shares, risk indices, quarters of the day and insulin
by kind are computed over whole arrays; the margin of a share must hold the exact binomial one of scipy.
"""

from __future__ import annotations

import argparse
import json
import math
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import stats

from against_truth import TOP, run

ZONE = "America/Chicago"
BLOOD = [48, 57, 58, 59, 60, 61, 62, 63, 64]
INSULIN = [33, 34, 35]
EXACT = 1e-9
DAYS = "40000"


def invented() -> str:
    """Six weeks of a logbook of nobody: five checks a day at odd minutes, some days without any."""
    rows, state = [], 19
    for day in range(42):
        date = pd.Timestamp("1994-02-20") + pd.Timedelta(days=day)
        if day % 9 == 4:
            continue
        for hour in (3, 7, 12, 18, 22):
            state = (state * 1_103_515_245 + 12_345) % 2**31
            value = 40 + state % 280
            rows.append(f"{date:%m-%d-%Y}\t{hour}:{state % 60:02d}\t58\t{value}")
            if hour > 3:
                rows.append(f"{date:%m-%d-%Y}\t{hour}:{state % 60:02d}\t33\t{3 + state % 7}")
    return "\n".join(rows) + "\n"


def read(path: Path) -> pd.DataFrame:
    """Rows that can be used: a date there was, a clock there is, a number."""
    table = pd.read_csv(path, sep="\t", header=None, names=["date", "time", "code", "value"], dtype=str)
    table["wall"] = pd.to_datetime(table["date"] + " " + table["time"], format="%m-%d-%Y %H:%M", errors="coerce")
    table["code"] = pd.to_numeric(table["code"], errors="coerce")
    # 'Hi' and 'Lo' count at the usual ends of a meter's range, as the command says that it takes them.
    table["value"] = pd.to_numeric(table["value"].replace({"0Hi": "400", "0Lo": "40"}), errors="coerce")
    return table.dropna(subset=["wall", "code", "value"])


def risk(mg_dl: np.ndarray) -> np.ndarray:
    """Kovatchev et al. 1997, Diabetes Care 20:1655: the symmetrised scale."""
    return 1.509 * (np.log(np.clip(mg_dl, 20, 600)) ** 1.084 - 5.381)


def expected(table: pd.DataFrame) -> dict[str, float]:
    checks = table[table["code"].isin(BLOOD)].drop_duplicates(["wall", "value"])
    values = checks["value"].to_numpy()
    scale = risk(values)
    figures = {
        "checks": float(len(values)),
        "days_with_checks": float(checks["wall"].dt.date.nunique()),
        "mean_mg_dl": values.mean(),
        "sd_mg_dl": values.std(ddof=1),
        "cv_percent": 100 * values.std(ddof=1) / values.mean(),
        "very_low_percent": 100 * (values < 54).mean(),
        "below_percent": 100 * (values < 70).mean(),
        "in_range_percent": 100 * ((values >= 70) & (values <= 180)).mean(),
        "above_percent": 100 * (values > 180).mean(),
        "very_high_percent": 100 * (values > 250).mean(),
        "lbgi": (10 * np.minimum(scale, 0) ** 2).mean(),
        "hbgi": (10 * np.maximum(scale, 0) ** 2).mean(),
    }
    quarter = checks["wall"].dt.hour // 6
    for part in range(4):
        of = values[quarter.to_numpy() == part]
        figures |= {f"part {part} checks": float(len(of)), f"part {part} below": float((of < 70).sum()), f"part {part} above": float((of > 180).sum())}
        for share in (25, 50, 75):
            figures[f"part {part} p{share}"] = float(np.percentile(of, share)) if len(of) >= 5 else math.nan
    return figures


def told(account: dict) -> dict[str, float]:
    figures = {"checks": float(account["checks"]), "days_with_checks": float(account["days_with_checks"])}
    number = lambda value: math.nan if value is None else float(value)  # noqa: E731
    for name, value in account["summary"].items():
        if not name.endswith(("_lo95", "_hi95", "_reason")):
            figures[name] = number(value)
    for part, line in enumerate(account["parts"]):
        figures |= {f"part {part} checks": float(line["checks"]), f"part {part} below": float(line["below"]), f"part {part} above": float(line["above"])}
        for share in (25, 50, 75):
            figures[f"part {part} p{share}"] = number(line[f"p{share}_mg_dl"])
    return figures


def margins(account: dict) -> list[str]:
    """Shares whose margin does not hold the exact binomial one."""
    wrong, count = [], account["checks"]
    for name in ("very_low_percent", "below_percent", "in_range_percent", "above_percent", "very_high_percent"):
        within = round(account["summary"][name] * count / 100)
        exact = stats.binomtest(within, count).proportion_ci(0.95, "exact")
        low, high = account["summary"].get(f"{name}_lo95"), account["summary"].get(f"{name}_hi95")
        if account["days_with_checks"] < 7:
            wrong += [] if low is None else [f"{name}: a margin from fewer than seven days"]
        elif low is None or low > 100 * exact.low + 1e-6 or high < 100 * exact.high - 1e-6:
            wrong.append(f"{name}: {low} to {high} does not hold {100 * exact.low} to {100 * exact.high}")
    return wrong


def check_one(interstice: Path, path: Path) -> tuple[int, float, list[str]]:
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "book"
        roles = [f"3:{code}=blood-glucose" for code in BLOOD] + [f"3:{code}=insulin" for code in INSULIN]
        flags = [word for role in roles for word in ("--as", role)]
        run(interstice, "--book", str(book), "import", str(path), "--zone", ZONE, *flags)
        said = json.loads(run(interstice, "--book", str(book), "review", "--json", "--days", DAYS).stdout)
    account = said["blood_checks"]
    ours, theirs = expected(read(path)), told(account)
    wrong = [f"{path.name} {line}" for line in margins(account)]
    furthest = 0.0
    for name, value in ours.items():
        other = theirs.get(name, math.nan)
        if math.isnan(value) and math.isnan(other):
            continue
        apart = abs(value - other) / max(1.0, abs(value))
        furthest = max(furthest, math.inf if math.isnan(apart) else apart)
        if not apart <= EXACT:
            wrong.append(f"{path.name} {name}: {other}, here {value}")
    return len(ours), furthest, wrong


def check(interstice: Path, data: Path | None) -> list[str]:
    wrong = []
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "invented"
        made.write_text(invented())
        books = [made]
        logbooks = data / "logbooks_1994" if data else None
        if logbooks and logbooks.is_dir():
            books += sorted(logbooks.glob("data-*"))
        else:
            print("logbooks_1994 is not there: left out")
        count, furthest = 0, 0.0
        for path in books:
            figures, apart, lines = check_one(interstice, path)
            count, furthest, wrong = count + figures, max(furthest, apart), wrong + lines
    print(f"{count} figures of blood checks alone in {len(books)} logbooks: furthest {furthest:.1e} apart")
    return wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--interstice", type=Path, required=True)
    parser.add_argument("--data", type=Path, default=TOP.parent / "shared/data/real")
    given = parser.parse_args()
    wrong = check(given.interstice.resolve(), given.data)
    print("\n".join(wrong[:40]))
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
