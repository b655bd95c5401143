// Intervals, tests and chart limits for proportions and rates, each the plain textbook form that its name
// says. Counts and exposures in, doubles out; knows nothing of clauses, records or how a number is shown.
// Distributions are Boost.Math's. docs/audit-method.md says which is used where and why.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace linelaw::runtime {

struct Interval {
    double low = 0;
    double high = 0;
};

constexpr double usual_confidence = 0.95;  // two-sided

// Share `x` of `n`: Wilson's score interval without continuity correction (Newcombe 1998, method 3). n > 0.
Interval wilson(std::uint64_t x, std::uint64_t n, double confidence = usual_confidence);
// The same where `n` is divided by a design effect (below), so that it is no whole number.
Interval wilson_clustered(std::uint64_t x, std::uint64_t n, double design_effect,
                          double confidence = usual_confidence);
// The same by Clopper and Pearson ("exact"): never covers less than it says, and is wider. n > 0.
Interval clopper_pearson(std::uint64_t x, std::uint64_t n, double confidence = usual_confidence);

// Rate of a count over an exposure, in counts per unit of exposure: exact Poisson (Garwood 1936). exposure >
// 0.
Interval poisson(std::uint64_t count, double exposure, double confidence = usual_confidence);

// Limits of a control chart: centre ± 3 standard deviations, the lower one cut at zero (a share's upper one
// at 1).
struct ControlLimits {
    double centre = 0;
    double lower = 0;
    double upper = 0;
};
ControlLimits p_chart(double mean_share, double n);        // a share of n opportunities
ControlLimits c_chart(double mean_count);                  // a count over equal exposures
ControlLimits u_chart(double mean_rate, double exposure);  // a rate, per unit of exposure
// The chance that one point falls beyond its limits where nothing but chance is at work: binomial of the
// share of n opportunities, Poisson of the rate over the exposure (of a count: 1). About 0.0027 where the
// number is large; small numbers are skewed.
double chance_beyond_p(const ControlLimits& limits, double n);
double chance_beyond_u(const ControlLimits& limits, double exposure);

// Whether two shares differ: Fisher's exact test, two-sided by the probability method (all tables with the
// same sums that are no more probable than this one). Never quite 0. n1, n2 > 0.
double fisher_exact(std::uint64_t x1, std::uint64_t n1, std::uint64_t x2, std::uint64_t n2);

// Difference of two shares, first less second: Newcombe's hybrid score interval (1998, method 10), made from
// Wilson's limits of each. n1, n2 > 0. The interval is an approximation that fails far out in the tail where
// shares are near 0 or 1; so it is shown, and what stands apart is for the exact test to say.
struct Difference {
    double difference = 0;
    Interval interval;
    double p = 1;      // of Fisher's exact test
    double level = 0;  // 1 less the confidence
    bool apart() const { return p <= level && (interval.low > 0 || interval.high < 0); }
};
Difference difference(std::uint64_t x1, std::uint64_t n1, std::uint64_t x2, std::uint64_t n2,
                      double confidence = usual_confidence);
Interval difference_interval(std::uint64_t x1, std::uint64_t n1, std::uint64_t x2, std::uint64_t n2,
                             double confidence = usual_confidence);

// Of clusters (lines) of opportunities: over all of them, met and counted of each, squared and multiplied.
struct Clustered {
    std::uint64_t met = 0;
    std::uint64_t counted = 0;
    std::uint64_t clusters = 0;  // with any counted
    std::uint64_t met_squared = 0;
    std::uint64_t met_counted = 0;
    std::uint64_t counted_squared = 0;
};
// How many times larger the variance of the shares is than if each opportunity stood for itself: of the
// clusters around their group's share, by the ratio estimator, over the binomial one, all groups together
// (Kish 1965; Rao and Scott 1992). 1 at least, and where nothing can be told.
double design_effect(const std::vector<Clustered>& groups);

// The confidence of each of so many intervals for all of them together to have this one (Bonferroni).
double confidence_of_each(std::size_t many, double confidence = usual_confidence);

// What a run chart says: values in order of time, about their median. Values on the median are skipped: they
// neither make nor break a run. `useful` counts the others.
struct RunChart {
    double median = 0;
    std::size_t useful = 0;
    std::size_t longest_run = 0;
    std::size_t crossings = 0;
    std::size_t longest_trend = 0;  // points in a row that all rise or all fall; a repeated value counts once
    // Limits that depend on `useful`. None below ten useful points, where they say too little.
    std::optional<std::size_t> longest_allowed;  // Anhøj and Olesen 2014
    std::optional<std::size_t> fewest_allowed;
    struct Runs {
        std::size_t fewest = 0;
        std::size_t most = 0;
    };
    std::optional<Runs> runs_allowed;
    std::size_t runs() const { return useful == 0 ? 0 : crossings + 1; }
};
RunChart run_chart(const std::vector<double>& values);
std::size_t longest_run_allowed(std::size_t useful);  // useful > 0
std::size_t fewest_crossings_allowed(std::size_t useful);
// Fewest and most runs with no more than 2.5 % of chance beyond either, where half of the points lie above:
// the exact distribution of the number of runs. useful > 1.
RunChart::Runs runs_allowed(std::size_t useful);

// Which patterns are taken for signals. The first two have limits that depend on the number of points and are
// the default; the others are the fixed rules as they are often taught.
struct ChartRules {
    bool shift = true;         // a run longer than longest_allowed
    bool crossings = true;     // fewer crossings than fewest_allowed
    bool runs = false;         // fewer or more runs than runs_allowed
    std::size_t run_of = 0;    // so many in a row on one side of the median; 0: not asked
    std::size_t trend_of = 0;  // so many in a row that all rise or all fall; 0: not asked
    bool operator==(const ChartRules&) const = default;
};
// "shift,crossings"; "runs", "run-6", "trend-5". Nothing where a word is none of these.
std::optional<ChartRules> read_chart_rules(std::string_view text);
std::string write_chart_rules(const ChartRules& rules);
enum class ChartSignal : std::uint8_t { shift, few_crossings, few_runs, many_runs, run, trend };
std::vector<ChartSignal> signals(const RunChart& chart, const ChartRules& rules);

// Agreement of two raters beyond chance (Cohen 1960), with the large-sample interval of Fleiss, Cohen and
// Everitt (1969). `table` is square, row by row: table[i * size + j] things that the first put in i and the
// second in j. Nothing where chance alone gives full agreement (all in one category), or the table is empty.
struct Kappa {
    double agreement = 0;  // observed share
    double kappa = 0;
    Interval interval;
};
std::optional<Kappa> cohen_kappa(const std::vector<std::uint64_t>& table, std::size_t size,
                                 double confidence = usual_confidence);

}  // namespace linelaw::runtime
