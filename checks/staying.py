"""How long sensors stay on: testdata/methods/staying_expected.csv against lifelines.

    python3 checks/staying.py            # holds the file against lifelines
    python3 checks/staying.py --write    # makes staying_rows.csv (its invented sets anew) and staying_expected.csv

The Rust tests hold `interstice_methods::staying` to the same file. lifelines gives no standard error of a restricted mean; the
Rust tests hold that to the case where it is known, all lost and none cut short.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import pandas as pd
from lifelines import KaplanMeierFitter
from lifelines.statistics import multivariate_logrank_test
from lifelines.utils import restricted_mean_survival_time

from held import compare

TOP = Path(__file__).resolve().parent.parent
ROWS = TOP / "testdata/methods/staying_rows.csv"
EXPECTED = TOP / "testdata/methods/staying_expected.csv"
NEAR = 1e-9

HEADER = """\
# Times and whether each ended in a loss (0: it might have lasted longer), by set and group.
# remission: weeks in remission of leukaemia, 6-mercaptopurine (0) and placebo (1): Freireich et al. 1963, Blood 21:699; Gehan 1965, Biometrika 52:203. From memory; that the published curve and statistic come out speaks for every number.
# sensors1, sensors2, ties: invented by checks/staying.py --write.
"""

# Printed in Kleinbaum and Klein, Survival Analysis (2012), chapter 2; from memory.
PUBLISHED = {6: (0.8571, 0.0764), 7: (0.8067, 0.0869), 10: (0.7529, 0.0963), 13: (0.6902, 0.1068), 16: (0.6275, 0.1141), 22: (0.5378, 0.1282), 23: (0.4482, 0.1346)}
PUBLISHED_LOG_RANK = 16.79

TREATED = [(6, 1), (6, 1), (6, 1), (7, 1), (10, 1), (13, 1), (16, 1), (22, 1), (23, 1), (6, 0), (9, 0), (10, 0), (11, 0), (17, 0), (19, 0), (20, 0), (25, 0), (32, 0), (32, 0), (34, 0), (35, 0)]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def invented() -> list[tuple[str, int, float, int]]:
    rng = np.random.default_rng(11)
    rows = [("remission", 0, float(time), lost) for time, lost in TREATED]
    rows += [("remission", 1, float(time), 1) for time in PLACEBO]
    for name, groups, count in (("sensors1", 3, 25), ("sensors2", 2, 9)):
        for group in range(groups):
            lasts = rng.weibull(1.4, count) * 400 * (1 + 0.4 * group)
            for hours in lasts:
                rows.append((name, group, round(float(min(hours, 336.0)), 2), int(hours < 336.0)))
    for group in range(2):
        for _ in range(30):
            rows.append(("ties", group, float(rng.integers(1, 8) * 24), int(rng.random() < 0.5)))
    return rows


def expected(rows: pd.DataFrame) -> pd.DataFrame:
    out = []
    for name, all_of in rows.groupby("set", sort=False):
        test = multivariate_logrank_test(all_of["hours"], all_of["group"], all_of["lost"])
        out += [(name, "", "chi_square", "", test.test_statistic), (name, "", "p", "", test.p_value)]
        for group, of in all_of.groupby("group"):
            fitted = KaplanMeierFitter().fit(of["hours"], of["lost"])
            within = fitted.confidence_interval_
            for hours, share in fitted.survival_function_["KM_estimate"].items():
                if hours == 0 or fitted.event_table.loc[hours, "observed"] == 0:
                    continue
                out.append((name, group, "still_on", hours, share))
                if share > 0:
                    lo, hi = within.loc[hours]
                    out += [(name, group, "lo", hours, lo), (name, group, "hi", hours, hi)]
            limit = 0.8 * of["hours"].max()
            out.append((name, group, "mean", limit, restricted_mean_survival_time(fitted, t=limit)))
        if all_of["group"].nunique() == 2:
            out += apart(name, [of for _, of in all_of.groupby("group")])
    return pd.DataFrame(out, columns=["set", "group", "what", "hours", "value"])


def apart(name: str, groups: list[pd.DataFrame]) -> list[tuple]:
    """Difference of the means up to a limit, and its error: of every loss the rest of the area."""
    limit = 0.8 * min(of["hours"].max() for of in groups)
    means, variances = [], []
    for of in groups:
        fitted = KaplanMeierFitter().fit(of["hours"], of["lost"])
        means.append(restricted_mean_survival_time(fitted, t=limit))
        table = fitted.event_table.loc[lambda t: (t["observed"] > 0) & (t.index < limit)]
        rest = [means[-1] - restricted_mean_survival_time(fitted, t=float(hours)) for hours in table.index]
        gone, left = table["observed"].to_numpy(), (table["at_risk"] - table["observed"]).to_numpy()
        variances.append(float(np.sum(np.square(rest) * gone / table["at_risk"].to_numpy() / left)))
    return [(name, "", "apart", limit, means[0] - means[1]), (name, "", "apart_error", limit, np.sqrt(sum(variances)))]


def published(rows: pd.DataFrame) -> None:
    treated = rows[(rows["set"] == "remission") & (rows["group"] == 0)]
    fitted = KaplanMeierFitter().fit(treated["hours"], treated["lost"])
    for week, (share, _) in PUBLISHED.items():
        assert abs(fitted.predict(week) - share) < 6e-5, (week, fitted.predict(week))
    both = rows[rows["set"] == "remission"]
    found = multivariate_logrank_test(both["hours"], both["group"], both["lost"]).test_statistic
    assert abs(found - PUBLISHED_LOG_RANK) < 0.005, found


def check() -> tuple[int, list[str]]:
    rows = pd.read_csv(ROWS, comment="#")
    published(rows)
    return compare("staying", EXPECTED, expected(rows), "lifelines", NEAR)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--write", action="store_true")
    if parser.parse_args().write:
        rows = pd.DataFrame(invented(), columns=["set", "group", "hours", "lost"])
        ROWS.write_text(HEADER + rows.to_csv(index=False))
        EXPECTED.write_text("# Made by checks/staying.py --write from staying_rows.csv with lifelines.\n" + expected(rows).to_csv(index=False))
    _, wrong = check()
    print("\n".join(wrong) or "staying: agrees with lifelines and with the printed curve")
    raise SystemExit(1 if wrong else 0)


if __name__ == "__main__":
    main()
