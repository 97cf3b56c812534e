"""Mixed models: testdata/methods/mixed_expected.csv against statsmodels and against whole covariance matrices in numpy.

    python3 checks/mixed.py            # holds the file against both
    python3 checks/mixed.py --write    # makes mixed_rows.csv (its invented sets anew) and mixed_expected.csv

The Rust tests hold `interstice_methods::mixed` to the same file. Three ways therefore: sums by group there, patsy and a
likelihood of its own in statsmodels, and here V written out row by row and inverted. Kenward and Roger's widening and
degrees of freedom, which statsmodels has not, are checked by the last alone.
"""

from __future__ import annotations

import argparse
import os
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy.optimize import minimize

TOP = Path(__file__).resolve().parent.parent
ROWS = TOP / "testdata/methods/mixed_rows.csv"
EXPECTED = TOP / "testdata/methods/mixed_expected.csv"

# statsmodels stops where its own search does; both are polished, and what is left is below this share.
NEAR = 1e-6

# Printed in the books named in the file, to the last digit printed.
PUBLISHED = {
    ("dyestuff", "outer_variance"): (1764.05, 0.005),
    ("dyestuff", "row_variance"): (2451.25, 0.005),
    ("dyestuff", "fixed0"): (1527.5, 0.005),
    ("dyestuff", "se0"): (19.383, 0.0005),
    ("dyestuff2", "outer_variance"): (0.0, 1e-9),
    ("dyestuff2", "row_sd"): (3.7157, 5e-5),
    ("dyestuff2", "fixed0"): (5.6656, 5e-5),
    ("rail", "outer_sd"): (24.80547, 5e-6),
    ("rail", "row_sd"): (4.020779, 5e-7),
    ("rail", "fixed0"): (66.5, 1e-9),
    ("rail", "se0"): (10.17104, 5e-6),
    ("pastes", "inner_sd"): (2.9041, 5e-5),
    ("pastes", "outer_sd"): (1.2874, 5e-5),
    ("pastes", "row_sd"): (0.8234, 5e-5),
    ("pastes", "fixed0"): (60.0533, 5e-5),
    ("pastes", "se0"): (0.6769, 5e-5),
}

HEADER = """\
# Rows of random-intercept models: inner groups lie within outer ones; x1, x2 are columns of the fixed part beside a constant (empty: not used).
# dyestuff, dyestuff2: yields of five samples of six batches, measured and generated (Davies and Goldsmith 1972, Statistical Methods in Research and Production; Box and Tiao 1973, Bayesian Inference in Statistical Analysis 5.1.2).
# rail: travel times of three pulses on six rails (Devore 2000, Probability and Statistics for Engineering and the Sciences; Pinheiro and Bates 2000, Mixed-Effects Models in S and S-PLUS 1.1).
# pastes: strength of paste, ten batches, three casks of each, two assays of each (Davies and Goldsmith 1972).
# These four are from memory; that the fits reproduce the printed variance components speaks for every digit.
# shanghai: relative difference, percent, of sensor and capillary value in the first six recordings of real people; x1: 1 on the first day. Zhao et al. 2023, Sci Data 10:35, doi 10.1038/s41597-023-01940-7, CC BY 4.0; only differences are kept.
# sim1 to sim4: invented by checks/mixed.py --write.
"""


def shanghai(folder: Path) -> pd.DataFrame:
    """Differences of the real recordings, by recording and day."""
    parts = []
    for outer, file in enumerate(sorted(folder.glob("*.csv"))[:6]):
        rows = pd.read_csv(file)
        at = pd.to_datetime(rows["time_local"])
        day = ((at - at.iloc[0]).dt.total_seconds() // 86_400).astype(int)
        paired = rows["capillary_mgdl"].notna() & rows["sensor_mgdl"].notna()
        blood, sensor = rows["capillary_mgdl"][paired], rows["sensor_mgdl"][paired]
        difference = (100 * (sensor - blood) / blood).round(3)
        first = (day[paired] == 0).astype(int)
        parts.append(pd.DataFrame({"outer": outer, "inner": 1 - first, "x1": first, "x2": np.nan, "y": difference}))
    return pd.concat(parts).assign(set="shanghai")


def invented(name: str, seed: int, groups: int, deviations: tuple[float, float, float]) -> pd.DataFrame:
    """Unbalanced rows of nobody: one column that differs between outer groups, one that differs between rows."""
    random = np.random.default_rng(seed)
    parts = []
    for outer in range(groups):
        cells = random.integers(1, 5)
        shift = deviations[0] * random.normal()
        for inner in range(cells):
            rows = random.integers(1, 9)
            x2 = random.normal(size=rows).round(3)
            within = deviations[1] * random.normal() + deviations[2] * random.normal(size=rows)
            y = (2 + 3 * (outer % 2) - 1.5 * x2 + shift + within).round(4)
            parts.append(pd.DataFrame({"outer": outer, "inner": inner, "x1": outer % 2, "x2": x2, "y": y}))
    return pd.concat(parts).assign(set=name)


@dataclass
class Set:
    """A model, as arrays."""

    name: str
    y: np.ndarray
    x: np.ndarray
    outer: np.ndarray
    inner: np.ndarray | None


def read_sets() -> list[Set]:
    rows = pd.read_csv(ROWS, comment="#")
    sets = []
    for name, part in rows.groupby("set", sort=False):
        columns = [np.ones(len(part))] + [part[c].to_numpy(float) for c in ("x1", "x2") if part[c].notna().all()]
        inner = part["inner"].to_numpy() if part["inner"].notna().all() else None
        sets.append(Set(str(name), part["y"].to_numpy(float), np.column_stack(columns), part["outer"].to_numpy(), inner))
    return sets


def parts_of_v(of: Set) -> list[np.ndarray]:
    """What V is a sum of: rows, outer groups, inner groups."""
    same = of.outer[:, None] == of.outer[None, :]
    parts = [np.eye(len(of.y)), same.astype(float)]
    if of.inner is not None:
        parts.append((same & (of.inner[:, None] == of.inner[None, :])).astype(float))
    return parts


def projected(of: Set, theta: np.ndarray, parts: list[np.ndarray]):
    """V⁻¹, Φ, P = V⁻¹ - V⁻¹ X Φ X' V⁻¹ and the restricted log-likelihood."""
    v = sum(t * part for t, part in zip(theta, parts))
    inverse = np.linalg.inv(v)
    phi = np.linalg.inv(of.x.T @ inverse @ of.x)
    p = inverse - inverse @ of.x @ phi @ of.x.T @ inverse
    signs, logs = zip(np.linalg.slogdet(v), np.linalg.slogdet(of.x.T @ inverse @ of.x))
    if min(signs) <= 0:
        return None
    freedom = len(of.y) - of.x.shape[1]
    likelihood = -0.5 * (sum(logs) + of.y @ p @ of.y + freedom * np.log(2 * np.pi))
    return inverse, phi, p, likelihood


def dense(of: Set, bounded: bool) -> dict[str, float]:
    """REML by a general search, polished by Newton's method on the score, then Kenward and Roger's second column."""
    parts = parts_of_v(of)
    spread = of.y.var()
    start = np.sqrt(np.full(len(parts), spread / len(parts)))

    def down(root: np.ndarray) -> float:
        found = projected(of, root**2, parts)
        return 1e300 if found is None else -found[3]

    # A rough search only: Newton's steps below do the rest.
    root = minimize(down, start, method="Nelder-Mead", options={"xatol": 1e-2, "fatol": 1e-3, "maxiter": 500}).x
    theta = root**2
    free = [i for i in range(len(parts)) if not bounded or i == 0 or theta[i] > 1e-4 * spread]
    theta = np.array([t if i in free else 0.0 for i, t in enumerate(theta)])
    for _ in range(200):
        _, _, p, before = projected(of, theta, parts)
        score = np.array([-0.5 * (np.trace(p @ parts[i]) - of.y @ p @ parts[i] @ p @ of.y) for i in free])
        average = np.array([[0.5 * of.y @ p @ parts[i] @ p @ parts[j] @ p @ of.y for j in free] for i in free])
        step = np.linalg.solve(average, score)
        for _ in range(60):
            tried = theta.copy()
            tried[free] += step
            found = projected(of, tried, parts) if tried[0] > 0 and positive(tried, parts) else None
            if found is not None and found[3] >= before - 1e-12 * abs(before):
                break
            step *= 0.5
        theta = tried
        if np.max(np.abs(step)) < 1e-13 * spread:
            break
    return described(of, theta, parts, free)


def positive(theta: np.ndarray, parts: list[np.ndarray]) -> bool:
    try:
        np.linalg.cholesky(sum(t * part for t, part in zip(theta, parts)))
    except np.linalg.LinAlgError:
        return False
    return True


def described(of: Set, theta: np.ndarray, parts: list[np.ndarray], free: list[int]) -> dict[str, float]:
    inverse, phi, _, likelihood = projected(of, theta, parts)
    fixed = phi @ of.x.T @ inverse @ of.y
    values = {"row_variance": theta[0], "outer_variance": theta[1], "minus_twice_log_likelihood": -2 * likelihood}
    if of.inner is not None:
        values["inner_variance"] = theta[2]
    xi = of.x.T @ inverse
    first = [xi @ parts[i] @ xi.T for i in free]
    second = [[xi @ parts[i] @ inverse @ parts[j] @ xi.T for j in free] for i in free]
    information = np.array(
        [
            [
                0.5 * np.trace(inverse @ parts[i] @ inverse @ parts[j])
                - np.trace(phi @ second[a][b])
                + 0.5 * np.trace(phi @ first[a] @ phi @ first[b])
                for b, j in enumerate(free)
            ]
            for a, i in enumerate(free)
        ]
    )
    w = np.linalg.inv(information)
    count = range(len(free))
    middle = sum(w[a, b] * (second[a][b] - first[a] @ phi @ first[b]) for a in count for b in count)
    adjusted = phi + 2 * phi @ middle @ phi
    for k in range(of.x.shape[1]):
        gradient = np.array([(phi @ f @ phi)[k, k] for f in first])
        freedom = 2 * phi[k, k] ** 2 / (gradient @ w @ gradient)
        values[f"fixed{k}"] = fixed[k]
        values[f"se{k}"] = np.sqrt(phi[k, k])
        values[f"kr_se{k}"] = np.sqrt(adjusted[k, k])
        values[f"freedom{k}"] = min(max(freedom, 1.0), len(of.y) - of.x.shape[1])
    left = of.y - of.x @ fixed
    for group in np.unique(of.outer):
        z = (of.outer == group).astype(float)
        weight = inverse @ z
        p_z = weight - inverse @ of.x @ phi @ (of.x.T @ weight)
        values[f"shift{group}"] = theta[1] * weight @ left
        values[f"shift_se{group}"] = np.sqrt(max(0.0, theta[1] - theta[1] ** 2 * z @ p_z))
    return values


def by_statsmodels(of: Set) -> dict[str, float]:
    """What statsmodels says, from its own search."""
    components = {}
    if of.inner is not None:
        components = {"exog_vc": inner_component(of)}
    # Its search stops by absolute steps, so it is given values of spread 1.
    unit = of.y.std()
    model = sm.MixedLM(of.y / unit, of.x, groups=of.outer, exog_re=np.ones((len(of.y), 1)), **components)
    fits = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for method in ("bfgs", "cg"):
            try:
                fits.append(model.fit(reml=True, method=[method], maxiter=2000, gtol=1e-11))
            except np.linalg.LinAlgError:
                continue
    best = max(fits, key=lambda fit: fit.llf)
    values = {"row_variance": best.scale * unit**2, "outer_variance": best.cov_re[0, 0] * unit**2}
    if of.inner is not None:
        values["inner_variance"] = best.vcomp[0] * unit**2
    for k in range(of.x.shape[1]):
        # Its standard errors come from the second derivatives in all parameters, not from (X' V⁻¹ X)⁻¹.
        values[f"fixed{k}"] = best.fe_params[k] * unit
    for group, shift in best.random_effects.items():
        values[f"shift{group}"] = (shift.iloc[0] if hasattr(shift, "iloc") else shift[0]) * unit
    return values


def inner_component(of: Set):
    from statsmodels.regression.mixed_linear_model import VCSpec

    names, columns = [], []
    for group in np.unique(of.outer):
        inner = of.inner[of.outer == group]
        levels = np.unique(inner)
        names.append([str(level) for level in levels])
        columns.append((inner[:, None] == levels[None, :]).astype(float))
    return VCSpec(["inner"], [names], [columns])


def write(data: Path) -> None:
    kept = pd.read_csv(ROWS, comment="#")
    books = kept[kept["set"].isin(["dyestuff", "dyestuff2", "rail", "pastes"])]
    sets = [books, shanghai(data / "shanghai")]
    sets += [invented("sim1", 11, 4, (3, 0, 4)).assign(inner=np.nan), invented("sim2", 12, 9, (2, 3, 4))]
    sets += [invented("sim3", 13, 24, (6, 2, 3)), invented("sim4", 14, 15, (1, 1, 8)).assign(inner=np.nan)]
    rows = pd.concat(sets)[["set", "outer", "inner", "x1", "x2", "y"]]
    rows[["inner", "x1"]] = rows[["inner", "x1"]].astype("Int64")
    ROWS.write_text(HEADER + rows.to_csv(index=False))
    lines = ["# Fits of mixed_rows.csv by checks/mixed.py (whole covariance matrices; polished to rounding). Held against statsmodels there."]
    lines += ["# bounds: not_negative or free. kr_se: Kenward and Roger; freedom: Satterthwaite's, which are theirs for one contrast.", "set,bounds,name,value"]
    for of in read_sets():
        for bounds in ("not_negative", "free"):
            found = dense(of, bounds == "not_negative")
            lines += [f"{of.name},{bounds},{name},{value:.15g}" for name, value in found.items()]
    EXPECTED.write_text("\n".join(lines) + "\n")


def near(got: float, want: float, scale: float = 0.0) -> bool:
    return abs(got - want) <= NEAR * max(abs(want), scale, 1e-9)


def check() -> tuple[int, list[str]]:
    """Values compared, and those that differ, in words."""
    expected = pd.read_csv(EXPECTED, comment="#").set_index(["set", "bounds", "name"])["value"]
    count, wrong = 0, []
    for of in read_sets():
        spread = of.y.std()
        for bounds in ("not_negative", "free"):
            for name, found in dense(of, bounds == "not_negative").items():
                count += 1
                want = expected[(of.name, bounds, name)]
                if not near(found, want, spread * 1e-3):
                    wrong.append(f"mixed model {of.name}: {name} ({bounds}): {found} here, {want} in the file")
        for name, found in by_statsmodels(of).items():
            count += 1
            want = expected[(of.name, "not_negative", name)]
            # A variance near 0, or what hangs on it, is found by a search only to its own step.
            scale = spread**2 if "variance" in name else spread
            if not near(found, want, scale):
                wrong.append(f"mixed model {of.name}: {name}: statsmodels {found}, {want} in the file")
        values = {name: expected[(of.name, "not_negative", name)] for name in ("row_variance", "outer_variance", "fixed0", "se0")}
        values |= {"row_sd": values["row_variance"] ** 0.5, "outer_sd": values["outer_variance"] ** 0.5}
        if of.inner is not None:
            values["inner_sd"] = expected[(of.name, "not_negative", "inner_variance")] ** 0.5
        for name, value in values.items():
            if (of.name, name) in PUBLISHED:
                count += 1
                printed, half = PUBLISHED[(of.name, name)]
                if not abs(value - printed) <= half * 1.001:
                    wrong.append(f"mixed model {of.name}: {name}: {value}, printed {printed}")
    return count, wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--data", type=Path, default=Path(os.environ.get("INTERSTICE_DATA", TOP.parent / "shared/data")) / "real")
    given = parser.parse_args()
    if given.write:
        write(given.data)
    count, wrong = check()
    print(f"{count - len(wrong)} of {count} values of mixed models agree")
    for line in wrong:
        print(line)
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
