"""Prints intervals, tests and chances as SciPy and statsmodels compute them, one a line, for statistics_reference_test.cpp to compare.

Exits with status 77 where they are not installed.
"""
import math
import sys
import warnings
from fractions import Fraction

try:
    import numpy
    import statsmodels.api
    from scipy import stats
    from statsmodels.stats.inter_rater import cohens_kappa
    from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint
except ImportError:
    sys.exit(77)

warnings.simplefilter("ignore", RuntimeWarning)  # chances that underflow to 0

SHARES = [(0, 1), (1, 1), (0, 20), (1, 29), (7, 50), (15, 148), (81, 263), (999, 1000), (65860, 72216), (123456, 1000000)]
for x, n in SHARES:
    print("wilson", x, n, *map(repr, map(float, proportion_confint(x, n, method="wilson"))))
    exact = stats.binomtest(x, n).proportion_ci(confidence_level=0.95, method="exact")
    print("exact", x, n, repr(float(exact.low)), repr(float(exact.high)))

for k in [0, 1, 2, 3, 5, 10, 23, 100, 1234, 250000]:
    low = 0.0 if k == 0 else stats.chi2.ppf(0.025, 2 * k) / 2
    print("poisson", k, 1, repr(float(low)), repr(float(stats.chi2.ppf(0.975, 2 * k + 2) / 2)))

# Exposures other than one: a count per 1 000 line-days, and the u-chart's and p-chart's textbook limits are products.
for k, days in [(3, 1250), (0, 400), (170, 100000), (58, 58000)]:
    low = 0.0 if k == 0 else stats.chi2.ppf(0.025, 2 * k) / 2
    print("poisson", k, days, repr(float(low / days)), repr(float(stats.chi2.ppf(0.975, 2 * k + 2) / 2 / days)))

for x1, n1, x2, n2 in [(56, 70, 48, 80), (9, 10, 3, 10), (5, 56, 0, 29), (0, 20, 20, 20), (812, 1000, 30411, 36000)]:
    for confidence in [0.95, 1 - 0.05 / 96]:
        low, high = confint_proportions_2indep(x1, n1, x2, n2, method="newcomb", compare="diff", alpha=1 - confidence)
        print("difference", x1, n1, x2, n2, repr(confidence), repr(float(low)), repr(float(high)))

# Clusters of met of counted: the variance that is robust to them, over the one that is not.
CLUSTERS = [[(3, 4), (0, 2), (5, 5)], [(10, 10)] * 8 + [(0, 10)] * 4, [(1, 1)] * 30 + [(0, 1)] * 10,
            [(k % 4, 3 + k % 5) for k in range(40)], [(7, 13), (13, 13), (2, 13), (12, 13), (13, 13), (6, 13)]]
for clusters in CLUSTERS:
    y = [1.0] * 0
    of = []
    for number, (met, counted) in enumerate(clusters):
        y += [1.0] * met + [0.0] * (counted - met)
        of += [number] * counted
    model = statsmodels.api.OLS(y, [1.0] * len(y))
    robust = model.fit(cov_type="cluster", cov_kwds={"groups": numpy.array(of)}).cov_params()[0][0]
    effect = max(1.0, float(robust / model.fit().cov_params()[0][0]))
    low, high = proportion_confint(sum(y) / effect, len(y) / effect, method="wilson")
    print("design", len(clusters), *(f"{met} {counted}" for met, counted in clusters), repr(effect), repr(float(low)),
          repr(float(high)))

# Every table of 7 and 12, of which many have others of the same chance; small shares of many; counts of a million.
TABLES = [(x1, 7, x2, 12) for x1 in range(8) for x2 in range(13)]
TABLES += [(x1, 20, 7820, 7980) for x1 in range(14, 21)] + [(50, 50, 4851, 4950), (0, 20, 20, 20), (48, 80, 56, 70)]
TABLES += [(985000, 1000000, x2, 1000000) for x2 in (984000, 984500, 985000, 985100)] + [(900, 1000, 980000, 1000000)]
for x1, n1, x2, n2 in TABLES:
    print("fisher", x1, n1, x2, n2, repr(float(stats.fisher_exact([[x1, n1 - x1], [x2, n2 - x2]])[1])))

# How likely one point is to lie beyond limits of three standard deviations, by adding up every count that does.
for share, n in [(0.2313, 50), (0.98, 20), (0.98, 500), (0.5, 1000), (1.0, 30), (0.0, 30)]:
    sd = math.sqrt(share * (1 - share) / n)
    beyond = [k for k in range(n + 1) if k / n < max(0, share - 3 * sd) or k / n > min(1, share + 3 * sd)]
    print("beyond_p", repr(share), n, repr(float(sum(stats.binom.pmf(k, n, share) for k in beyond))))
for rate, exposure in [(16, 1), (0.7, 1), (1.3333, 1.25), (40, 2.5), (0, 3)]:
    sd = math.sqrt(rate / exposure)
    beyond = [k for k in range(1000) if k / exposure < max(0, rate - 3 * sd) or k / exposure > rate + 3 * sd]
    print("beyond_u", rate, exposure, repr(float(sum(stats.poisson.pmf(k, rate * exposure) for k in beyond))))

for n in range(10, 200):
    print("crossings", n, 0, int(stats.binom.ppf(0.05, n - 1, 0.5)), int(math.floor(math.log2(n) + 3 + 0.5)))

def runs_limits(n):
    """By counting: of all ways to place the points above, those with at most (at least) so many runs."""
    above, below = n // 2, n - n // 2
    def chance(runs):
        half, odd = divmod(runs, 2)
        c = lambda total, chosen: math.comb(total, chosen) if chosen >= 0 else 0
        ways = (c(above - 1, half) * c(below - 1, half - 1) + c(above - 1, half - 1) * c(below - 1, half) if odd
                else 2 * c(above - 1, half - 1) * c(below - 1, half - 1))
        return Fraction(ways, math.comb(n, above))
    tail = Fraction(1, 40)
    low = next(r for r in range(2, n) if sum(map(chance, range(2, r + 1))) > tail)
    high = next(r for r in range(n, 2, -1) if sum(map(chance, range(r, n + 1))) > tail)
    return low, high

for n in range(10, 100):
    print("runs", n, 0, *runs_limits(n))

for table in [[[20, 5], [10, 15]], [[45, 15], [25, 15]], [[118, 5], [2, 0]], [[3, 1], [0, 40]],
              [[10, 4, 1, 0], [5, 10, 12, 2], [2, 4, 12, 5], [0, 2, 6, 13]], [[88, 14, 18], [10, 40, 10], [2, 6, 12]]]:
    result = cohens_kappa(numpy.array(table))
    cells = [cell for row in table for cell in row]
    print("kappa", len(table), *cells, repr(float(result.kappa)), repr(float(result.kappa_low)), repr(float(result.kappa_upp)))
