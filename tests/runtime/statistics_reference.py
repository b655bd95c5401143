"""Prints intervals as SciPy and statsmodels compute them, one a line, for statistics_reference_test.cpp to compare.

Exits with status 77 where they are not installed.
"""
import sys

try:
    import numpy
    from scipy import stats
    from statsmodels.stats.inter_rater import cohens_kappa
    from statsmodels.stats.proportion import proportion_confint
except ImportError:
    sys.exit(77)

SHARES = [(0, 1), (1, 1), (0, 20), (1, 29), (7, 50), (15, 148), (81, 263), (999, 1000), (65860, 72216), (123456, 1000000)]
for x, n in SHARES:
    print("wilson", x, n, *map(repr, map(float, proportion_confint(x, n, method="wilson"))))
    exact = stats.binomtest(x, n).proportion_ci(confidence_level=0.95, method="exact")
    print("exact", x, n, repr(float(exact.low)), repr(float(exact.high)))

for k in [0, 1, 2, 3, 5, 10, 23, 100, 1234, 250000]:
    low = 0.0 if k == 0 else stats.chi2.ppf(0.025, 2 * k) / 2
    print("poisson", k, 1, repr(float(low)), repr(float(stats.chi2.ppf(0.975, 2 * k + 2) / 2)))

for n in range(10, 200):
    print("crossings", n, 0, int(stats.binom.ppf(0.05, n - 1, 0.5)), 0)

for cells in [(20, 5, 10, 15), (45, 15, 25, 15), (118, 5, 2, 0), (3, 1, 0, 40)]:
    found = cohens_kappa(numpy.array(cells).reshape(2, 2))
    print("kappa", *cells, repr(float(found.kappa)), repr(float(found.kappa_low)), repr(float(found.kappa_upp)))
