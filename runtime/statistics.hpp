// Intervals and chart limits for proportions and rates, each the plain textbook form that its name says.
// Counts and exposures in, doubles out; knows nothing of clauses, records or how a number is shown.
// Distributions are Boost.Math's. docs/audit-method.md says which is used where and why.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

namespace linelaw::runtime {

struct Interval {
    double low = 0;
    double high = 0;
};

constexpr double usual_confidence = 0.95;  // two-sided

// Share `x` of `n`: Wilson's score interval without continuity correction (Newcombe 1998, method 3). n > 0.
Interval wilson(std::uint64_t x, std::uint64_t n, double confidence = usual_confidence);
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

// What a run chart says: values in order of time, about their median. Values on the median are skipped: they
// neither make nor break a run. `useful` counts the others.
struct RunChart {
    double median = 0;
    std::size_t useful = 0;
    std::size_t longest_run = 0;
    std::size_t crossings = 0;
    // Limits that depend on `useful` (Anhøj and Olesen 2014): a longer run, or fewer crossings, is a signal.
    // None below ten useful points, where they say too little.
    std::optional<std::size_t> longest_allowed;
    std::optional<std::size_t> fewest_allowed;
    bool shift = false;          // longest_run > longest_allowed
    bool few_crossings = false;  // crossings < fewest_allowed
    bool run_of_six = false;     // the rule as it is often taught: six or more in a row on one side
    bool signal() const { return shift || few_crossings; }
};
RunChart run_chart(const std::vector<double>& values);
std::size_t longest_run_allowed(std::size_t useful);  // useful > 0
std::size_t fewest_crossings_allowed(std::size_t useful);

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
