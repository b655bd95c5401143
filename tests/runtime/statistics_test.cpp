// Intervals and chart limits against numbers published elsewhere. Where a figure was only recomputed from its
// formula, or comes from memory, the line says so.
#include "runtime/statistics.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

using namespace linelaw::runtime;

namespace {

void check_interval(const Interval& interval, double low, double high, double within) {
    CHECK(interval.low == Approx(low).margin(within));
    CHECK(interval.high == Approx(high).margin(within));
}

struct Proportion {
    std::uint64_t x, n;
    double wilson_low, wilson_high;
    double corrected_low, corrected_high;  // Wilson with continuity correction: ours must not be this
    double exact_low, exact_high;
    double wilson_within, exact_within;  // half a unit of the last printed digit
};
// Wilson: Newcombe 1998, Statistics in Medicine 17:857, Table I (the first four, read in a test file labelled
// so), a published R notebook (6/32). Exact: the SciPy manual (7/50), R's help of binom.test (682/925, from
// memory). Corrected: an R-help posting of 1 February 2007 (340/400). The others were recomputed from the
// formulas.
const std::vector<Proportion> proportions = {
    {81, 263, 0.2553, 0.3662, 0.2535, 0.3682, 0.2527, 0.3676, 6e-5, 6e-5},
    {15, 148, 0.0624, 0.1605, 0.0598, 0.1644, 0.0578, 0.1617, 6e-5, 6e-5},
    {0, 20, 0.0000, 0.1611, 0.0000, 0.2005, 0.0000, 0.1684, 6e-5, 6e-5},
    {1, 29, 0.0061, 0.1718, 0.0018, 0.1963, 0.0009, 0.1776, 6e-5, 6e-5},
    {7, 50, 0.0695, 0.2619, 0.0628, 0.2736, 0.05819170033997342, 0.26739600249700846, 6e-5, 1e-12},
    {6, 32, 0.08889545, 0.35309155, 0.0786, 0.3704, 0.0721, 0.3644, 6e-9, 6e-5},
    {340, 400, 0.8117, 0.8817, 0.8103309, 0.8827749, 0.8112, 0.8835, 6e-5, 6e-5},
    {682, 925, 0.7080, 0.7646, 0.7074, 0.7652, 0.7076683, 0.7654066, 6e-5, 6e-8},
    {23, 60, 0.2709, 0.5098, 0.2635, 0.5181, 0.2607, 0.5179, 6e-5, 6e-5},
};

// Newcombe's hybrid score interval for a difference of two shares, built from Wilson's limits alone.
Interval difference(std::uint64_t x1, std::uint64_t n1, std::uint64_t x2, std::uint64_t n2) {
    const Interval a = wilson(x1, n1);
    const Interval b = wilson(x2, n2);
    const double p = static_cast<double>(x1) / static_cast<double>(n1);
    const double q = static_cast<double>(x2) / static_cast<double>(n2);
    return {p - q - std::hypot(p - a.low, b.high - q), p - q + std::hypot(a.high - p, q - b.low)};
}

std::vector<double> sides(const std::string& letters) {  // A above, B below, M on the median of 5
    std::vector<double> values;
    for (const char letter : letters) values.push_back(letter == 'A' ? 9 : letter == 'B' ? 1 : 5);
    return values;
}

}  // namespace

TEST_CASE("a share has Wilson's score interval, as published, without continuity correction") {
    for (const Proportion& p : proportions) {
        INFO(p.x << " of " << p.n);
        check_interval(wilson(p.x, p.n), p.wilson_low, p.wilson_high, p.wilson_within);
        CHECK(std::abs(wilson(p.x, p.n).high - p.corrected_high) > 5e-4);
    }
}

TEST_CASE("a share has Clopper and Pearson's exact interval, as published") {
    for (const Proportion& p : proportions) {
        INFO(p.x << " of " << p.n);
        check_interval(clopper_pearson(p.x, p.n), p.exact_low, p.exact_high, p.exact_within);
    }
}

TEST_CASE("none and all have limits of exactly 0 and 1") {
    CHECK(wilson(0, 20).low == 0);
    CHECK(wilson(20, 20).high == 1);
    CHECK(clopper_pearson(0, 20).low == 0);
    CHECK(clopper_pearson(20, 20).high == 1);
    CHECK(poisson(0, 100).low == 0);
}

TEST_CASE("Wilson's limits give Newcombe's published intervals of a difference") {
    // Newcombe's hybrid score method, read in the same test file as the shares above.
    check_interval(difference(56, 70, 48, 80), 0.0524, 0.3339, 6e-5);
    check_interval(difference(9, 10, 3, 10), 0.1705, 0.8090, 6e-5);
    check_interval(difference(5, 56, 0, 29), -0.0381, 0.1926, 6e-5);
}

TEST_CASE("six of seven complete bundles have these intervals") {
    // The count is the improvement institute's example of all-or-none; the intervals were recomputed.
    check_interval(clopper_pearson(6, 7), 0.421, 0.996, 6e-4);
    check_interval(wilson(6, 7), 0.487, 0.974, 6e-4);
}

TEST_CASE("65 860 adherent insertions of 72 216 have a narrow interval") {
    // Counts: SHEA 2010 abstract 1885 (6 356 not adherent); share and interval recomputed.
    CHECK((72216.0 - 6356.0) / 72216.0 == Approx(0.9120).margin(5e-5));
    check_interval(wilson(72216 - 6356, 72216), 0.9099, 0.9140, 6e-5);
}

TEST_CASE("a rate has the exact Poisson interval, as published") {
    struct Rate {
        std::uint64_t count;
        double exposure, low, high, within;
    };
    const std::vector<Rate> rates = {
        {0, 1, 0, 3.6889, 6e-5},          // a published R package's manual (3.689); more digits recomputed
        {1, 1, 0.0253, 5.5716, 6e-5},     // recomputed from Garwood's formula
        {2, 1, 0.2422, 7.2247, 6e-5},     // likewise
        {3, 1, 0.6187, 8.7673, 6e-5},     // likewise
        {5, 1, 1.6235, 11.6683, 6e-5},    // likewise
        {10, 1, 4.7954, 18.3904, 6e-5},   // a calculator's page (4.80 to 18.39); more digits recomputed
        {23, 1, 14.5800, 34.5113, 6e-5},  // recomputed
        {23, 5.25, 2.777148, 6.573580, 6e-7},  // a statistics package's manual
        {3, 1.25, 0.495, 7.014, 6e-4},         // 3 in 1 250 line-days, per 1 000; recomputed
    };
    for (const Rate& rate : rates) {
        INFO(rate.count << " in " << rate.exposure);
        check_interval(poisson(rate.count, rate.exposure), rate.low, rate.high, rate.within);
    }
    // One page prints 4.78 to 18.25 for ten: that is not the exact interval.
    CHECK(std::abs(poisson(10, 1).high - 18.25) > 0.1);
}

TEST_CASE("a p-chart has the limits of the NIST handbook's wafers") {
    // NIST/SEMATECH 6.3.3.2: 30 wafers of 50 chips, mean share 0.2313; limits from memory and recomputed.
    const ControlLimits limits = p_chart(0.2313, 50);
    CHECK(limits.lower == Approx(0.0524).margin(6e-5));
    CHECK(limits.upper == Approx(0.4102).margin(6e-5));
}

TEST_CASE("counts of equal lots have the published limits, the lower one cut at zero") {
    // Two published R notebooks: 50 and 20 lots of 200.
    const std::vector<int> fifty = {8, 7, 11, 3, 6,  11, 4,  4, 5,  8, 8,  6, 7,  6, 10, 7, 9,
                                    5, 6, 8,  8, 10, 4,  11, 4, 11, 6, 6,  9, 5,  4, 7,  5, 7,
                                    8, 5, 10, 9, 7,  9,  4,  9, 4,  7, 11, 8, 10, 8, 7,  5};
    const std::vector<int> twenty = {3, 7, 11, 3, 6, 11, 4, 4, 5, 8, 10, 8, 6, 7, 9, 8, 4, 6, 10, 9};
    const auto mean_share = [](const std::vector<int>& lots) {
        double sum = 0;
        for (const int lot : lots) sum += lot;
        return sum / (200.0 * static_cast<double>(lots.size()));
    };
    REQUIRE(fifty.size() == 50);
    CHECK(mean_share(fifty) == Approx(0.0357));
    const ControlLimits of_fifty = p_chart(mean_share(fifty), 200);
    CHECK(200 * of_fifty.centre == Approx(7.14));
    CHECK(200 * of_fifty.upper == Approx(15.01184).margin(6e-6));
    CHECK((200 * of_fifty.upper - 7.14) / 3 == Approx(2.62395).margin(6e-6));
    CHECK(of_fifty.lower == 0);
    for (const int lot : fifty) CHECK(lot / 200.0 <= of_fifty.upper);
    CHECK(mean_share(twenty) == Approx(0.03475));
    CHECK(200 * p_chart(mean_share(twenty), 200).centre == Approx(6.95));
    CHECK(200 * p_chart(mean_share(twenty), 200).upper == Approx(14.72).margin(6e-3));
    CHECK(p_chart(mean_share(twenty), 200).lower == 0);
}

TEST_CASE("a c-chart has the limits of the NIST handbook's defects") {
    // NIST/SEMATECH 6.3.3.1: 25 wafers, 400 defects; limits from memory and recomputed.
    const ControlLimits limits = c_chart(400.0 / 25);
    CHECK(limits.centre == 16);
    CHECK(limits.upper == Approx(28));
    CHECK(limits.lower == Approx(4));
}

TEST_CASE("a u-chart follows each period's line-days") {
    // Built and recomputed: 9 events in 6 750 line-days, per 1 000.
    const std::vector<double> line_days = {1250, 980, 1100, 1320, 890, 1210};
    const std::vector<double> uppers = {4.432, 4.833, 4.636, 4.348, 5.005, 4.483};
    const std::vector<double> events = {3, 1, 0, 2, 1, 2};
    for (std::size_t i = 0; i < line_days.size(); ++i) {
        const ControlLimits limits = u_chart(9.0 / 6.750, line_days[i] / 1000);
        CHECK(limits.centre == Approx(1.3333).margin(5e-5));
        CHECK(limits.upper == Approx(uppers[i]).margin(6e-4));
        CHECK(limits.lower == 0);
        CHECK(events[i] / line_days[i] * 1000 <= limits.upper);
    }
}

TEST_CASE("a run chart's limits depend on the number of useful points") {
    // Anhøj and Olesen 2014's rule (longest run up to round(log2 n + 3); crossings from the 5 % point of the
    // binomial), recomputed.
    struct Limits {
        std::size_t useful, run, crossings;
    };
    const std::vector<Limits> table = {{10, 6, 2}, {12, 7, 3}, {15, 7, 4}, {16, 7, 4},
                                       {20, 7, 6}, {24, 8, 8}, {25, 8, 8}, {30, 8, 10}};
    for (const Limits& limits : table) {
        INFO(limits.useful << " useful points");
        CHECK(longest_run_allowed(limits.useful) == limits.run);
        CHECK(fewest_crossings_allowed(limits.useful) == limits.crossings);
    }
}

TEST_CASE("values on the median neither make nor break a run") {
    // Six or more on one side, points on the median skipped: the rule as taught; sequences built. Each is
    // balanced so that 5 is the median.
    const RunChart skipped =
        run_chart(sides("AAAMAAA"
                        "BBBBBB"));
    CHECK(skipped.median == 5);
    CHECK(skipped.longest_run == 6);
    CHECK(skipped.useful == 12);
    CHECK(skipped.crossings == 1);
    CHECK(skipped.run_of_six);
    CHECK_FALSE(run_chart(sides("AAAAABA"
                                "BBABBB"
                                "M"))
                    .run_of_six);
    CHECK_FALSE(run_chart(sides("AAAAAMM"
                                "BBBBB"))
                    .run_of_six);
}

TEST_CASE("a long run and few crossings are signals from ten useful points on") {
    const RunChart chart =
        run_chart(sides("AAAAAAABBBBBBB"));  // 14 points: runs up to 7, at least 4 crossings
    CHECK_FALSE(chart.shift);
    CHECK(chart.few_crossings);
    CHECK(chart.signal());
    CHECK(run_chart(sides("AAAAAAAABBBBBBBB")).shift);
    CHECK_FALSE(run_chart(sides("ABABABABABAB")).signal());
    CHECK_FALSE(run_chart(sides("AAAABBBB")).signal());
    CHECK_FALSE(run_chart(sides("AAAABBBB")).longest_allowed);
    CHECK_FALSE(run_chart({}).signal());
}

TEST_CASE("agreement beyond chance is Cohen's kappa") {
    // Recomputed by hand: 20, 5, 10, 15 of 50 give observed 0.7, chance 0.5.
    const auto kappa = cohen_kappa({20, 5, 10, 15}, 2);
    REQUIRE(kappa);
    CHECK(kappa->agreement == Approx(0.7));
    CHECK(kappa->kappa == Approx(0.4));
    CHECK_FALSE(cohen_kappa({7, 0, 0, 0}, 2));
    CHECK_FALSE(cohen_kappa({0, 0, 0, 0}, 2));
}
