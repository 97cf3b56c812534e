#!/usr/bin/env python3
"""Numbers about pressure lows by another road, which the Rust tests are held to.

Writes testdata/methods/count_interval_scipy.csv (Garwood's interval as quantiles of chi square), rate_ratio_scipy.csv (the
conditional interval of a ratio of rates, as quantiles of beta) and own_prior_scipy.csv (the shift a person's verdicts make:
the mode of the posterior by a general minimiser, its spread by differences). With --check nothing is written and the files
are compared with what would be.
"""

import argparse
import csv
import io
import math
import pathlib
import sys

import numpy
from scipy import optimize, stats

FOLDER = pathlib.Path(__file__).resolve().parent.parent / "testdata" / "methods"
PRIOR_SD = 1.0


def count_intervals():
    yield ["count", "confidence", "lo", "hi"]
    for confidence in (0.9, 0.95, 0.99):
        outer = (1 - confidence) / 2
        for count in [*range(13), 20, 50, 137, 1000, 25000]:
            lo = stats.chi2.ppf(outer, 2 * count) / 2 if count else 0.0
            hi = stats.chi2.ppf(1 - outer, 2 * count + 2) / 2
            yield [count, confidence, repr(float(lo)), repr(float(hi))]


def ratios():
    yield ["first", "first_nights", "second", "second_nights", "lo", "hi"]
    for first, a, second, b in [(3, 40, 9, 38), (1, 12, 0, 30), (20, 200, 21, 90), (5, 14, 5, 14), (0, 20, 4, 11)]:
        lo = stats.beta.ppf(0.025, second, first + 1) if second else 0.0
        hi = stats.beta.ppf(0.975, second + 1, first) if first else 1.0
        odds = lambda p: p / (1 - p) * a / b if p < 1 else math.inf
        yield [first, a, second, b, repr(float(odds(lo))), repr(float(odds(hi)))]


def own_priors():
    yield ["verdicts", "log_odds", "sd"]
    cases = ["0.9+", "0.9-", "0.4+ 0.5+ 0.6-", "0.95- 0.95- 0.95- 0.95-", "0.999- 0.2+", "0.7+ 0.8+ 0.9+ 0.85- 0.4- 0.6+ 0.99+"]
    for case in cases:
        given = numpy.clip([float(word[:-1]) for word in case.split()], 0.01, 0.99)
        said = numpy.array([word[-1] == "+" for word in case.split()])

        def surprise(shift):
            p = stats.logistic.cdf(stats.logistic.ppf(given) + shift)
            return -numpy.sum(numpy.log(numpy.where(said, p, 1 - p))) - stats.norm.logpdf(shift, scale=PRIOR_SD)

        mode = optimize.minimize_scalar(surprise, bounds=(-20, 20), method="bounded", options={"xatol": 1e-11}).x
        step = 1e-3
        curve = (surprise(mode + step) - 2 * surprise(mode) + surprise(mode - step)) / step**2
        yield [case, repr(float(mode)), repr(float(1 / math.sqrt(curve)))]


FILES = {
    "count_interval_scipy.csv": count_intervals,
    "rate_ratio_scipy.csv": ratios,
    "own_prior_scipy.csv": own_priors,
}


def differs(old, new):
    """Whether two texts differ by more than rounding in another version of the libraries."""
    rows = list(zip(csv.reader(io.StringIO(old)), csv.reader(io.StringIO(new)), strict=False))
    if old.count("\n") != new.count("\n"):
        return True

    def same(a, b):
        try:
            return math.isclose(float(a), float(b), rel_tol=1e-6, abs_tol=1e-7)
        except ValueError:
            return a == b

    return not all(len(a) == len(b) and all(map(same, a, b)) for a, b in rows)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="write nothing, compare")
    check = parser.parse_args().check
    for name, rows in FILES.items():
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(rows())
        path = FOLDER / name
        if not check:
            path.write_text(text.getvalue())
        elif differs(path.read_text(), text.getvalue()):
            sys.exit(f"{name} is not what scipy gives; run checks/pressure.py and look at the difference")
        print(f"{name}: {text.getvalue().count(chr(10)) - 1} rows")


if __name__ == "__main__":
    main()
