#include "runtime/statistics.hpp"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/poisson.hpp>
#include <boost/math/special_functions/beta.hpp>
#include <boost/math/special_functions/binomial.hpp>
#include <boost/math/special_functions/gamma.hpp>
#include <cassert>
#include <charconv>
#include <cmath>
#include <limits>

namespace linelaw::runtime {
namespace {

// How many standard deviations a two-sided interval of this confidence reaches.
double normal_reach(double confidence) {
    return boost::math::quantile(boost::math::normal(), 0.5 + confidence / 2);
}

double median_of(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    const std::size_t middle = values.size() / 2;
    return values.size() % 2 == 1 ? values[middle] : (values[middle - 1] + values[middle]) / 2;
}

}  // namespace

Interval wilson(std::uint64_t x, std::uint64_t n, double confidence) {
    return wilson_clustered(x, n, 1, confidence);
}

Interval wilson_clustered(std::uint64_t x, std::uint64_t n, double design_effect, double confidence) {
    assert(n > 0 && x <= n && design_effect >= 1);
    const double z = normal_reach(confidence);
    const double share = static_cast<double>(x) / static_cast<double>(n);
    const double count = static_cast<double>(n) / design_effect;
    const double z2 = z * z;
    const double middle = share + z2 / (2 * count);
    const double reach = z * std::sqrt(share * (1 - share) / count + z2 / (4 * count * count));
    const double scale = 1 + z2 / count;
    // At the ends the limits are exactly 0 and 1; rounding must not leave 1e-17 there.
    return {x == 0 ? 0 : std::max(0.0, (middle - reach) / scale),
            x == n ? 1 : std::min(1.0, (middle + reach) / scale)};
}

Interval clopper_pearson(std::uint64_t x, std::uint64_t n, double confidence) {
    assert(n > 0 && x <= n);
    const double tail = (1 - confidence) / 2;
    const double hits = static_cast<double>(x);
    const double misses = static_cast<double>(n - x);
    return {x == 0 ? 0 : boost::math::ibeta_inv(hits, misses + 1, tail),
            x == n ? 1 : boost::math::ibetac_inv(hits + 1, misses, tail)};
}

Interval poisson(std::uint64_t count, double exposure, double confidence) {
    assert(exposure > 0);
    const double tail = (1 - confidence) / 2;
    const double k = static_cast<double>(count);
    // Half a chi-squared quantile with 2k degrees of freedom is a gamma quantile of shape k.
    const double low = count == 0 ? 0 : boost::math::gamma_p_inv(k, tail);
    return {low / exposure, boost::math::gamma_q_inv(k + 1, tail) / exposure};
}

namespace {

// `drawn` are taken out of `good` and `bad` ones: the chance of so many good among them (hypergeometric).
struct Draw {
    double good = 0;
    double bad = 0;
    double drawn = 0;

    static double log_choose(double n, double k) {
        return boost::math::lgamma(n + 1) - boost::math::lgamma(k + 1) - boost::math::lgamma(n - k + 1);
    }
    double log_chance(double k) const {
        return log_choose(good, k) + log_choose(bad, drawn - k) - log_choose(good + bad, drawn);
    }
    double least() const { return std::max(0.0, drawn - bad); }
    double most() const { return std::min(drawn, good); }
    double likeliest() const { return std::floor((drawn + 1) * (good + 1) / (good + bad + 2)); }
    Draw of_bad() const { return {bad, good, drawn}; }

    // Chance of k and fewer, in units of the chance of k, which lies below the likeliest: the terms only
    // shrink, and those that no longer matter are not walked.
    double and_fewer(double k) const {
        double sum = 1;
        for (double term = 1; k > least() && term > 1e-18 * sum; --k) {
            term *= k * (bad - drawn + k) / ((good - k + 1) * (drawn - k + 1));
            sum += term;
        }
        return sum;
    }
};

}  // namespace

double fisher_exact(std::uint64_t x1, std::uint64_t n1, std::uint64_t x2, std::uint64_t n2) {
    assert(n1 > 0 && n2 > 0 && x1 <= n1 && x2 <= n2);
    const auto good = static_cast<double>(x1 + x2);
    Draw draw{good, static_cast<double>(n1 + n2) - good, static_cast<double>(n1)};
    auto k = static_cast<double>(x1);
    if (k == draw.likeliest()) return 1;
    if (k > draw.likeliest()) {  // the same seen from the other side: then k lies below
        k = draw.drawn - k;
        draw = draw.of_bad();
    }
    const double here = draw.log_chance(k);
    constexpr double rounding = 1e-7;  // two tables of one chance may differ by so much when computed
    const auto counts = [&](double other) { return draw.log_chance(other) <= here + rounding; };
    double sum = draw.and_fewer(k);
    // Chances rise to the likeliest and fall beyond it: the first beyond that is no more probable than k.
    double not_yet = k;
    double beyond = draw.most() + 1;
    while (beyond - not_yet > 1) {
        const double middle = std::floor((not_yet + beyond) / 2);
        (counts(middle) ? beyond : not_yet) = middle;
    }
    if (beyond <= draw.most())
        sum += std::exp(draw.log_chance(beyond) - here) * draw.of_bad().and_fewer(draw.drawn - beyond);
    return std::clamp(std::exp(here) * sum, std::numeric_limits<double>::min(), 1.0);
}

double design_effect(const std::vector<Clustered>& groups) {
    double of_clusters = 0;
    double of_each = 0;
    for (const Clustered& group : groups) {
        if (group.clusters < 2) continue;
        const auto n = static_cast<double>(group.counted);
        const auto m = static_cast<double>(group.clusters);
        const double share = static_cast<double>(group.met) / n;
        const double around = static_cast<double>(group.met_squared) -
                              2 * share * static_cast<double>(group.met_counted) +
                              share * share * static_cast<double>(group.counted_squared);
        of_clusters += around * m / (m - 1);
        of_each += n * share * (1 - share) * n / (n - 1);
    }
    const double effect = of_each > 0 ? of_clusters / of_each : 1.0;
    constexpr double rounding = 1e-9;  // where each cluster has one, it is 1 but for that
    return effect > 1 + rounding ? effect : 1.0;
}

Interval difference_interval(std::uint64_t x1, std::uint64_t n1, std::uint64_t x2, std::uint64_t n2,
                             double confidence) {
    const double p = static_cast<double>(x1) / static_cast<double>(n1);
    const double q = static_cast<double>(x2) / static_cast<double>(n2);
    const Interval a = wilson(x1, n1, confidence);
    const Interval b = wilson(x2, n2, confidence);
    return {p - q - std::hypot(p - a.low, b.high - q), p - q + std::hypot(a.high - p, q - b.low)};
}

Difference difference(std::uint64_t x1, std::uint64_t n1, std::uint64_t x2, std::uint64_t n2,
                      double confidence) {
    return {
        static_cast<double>(x1) / static_cast<double>(n1) - static_cast<double>(x2) / static_cast<double>(n2),
        difference_interval(x1, n1, x2, n2, confidence), fisher_exact(x1, n1, x2, n2), 1 - confidence};
}

double confidence_of_each(std::size_t many, double confidence) {
    return 1 - (1 - confidence) / static_cast<double>(std::max<std::size_t>(1, many));
}

ControlLimits p_chart(double mean_share, double n) {
    const double reach = 3 * std::sqrt(mean_share * (1 - mean_share) / n);
    return {mean_share, std::max(0.0, mean_share - reach), std::min(1.0, mean_share + reach)};
}

ControlLimits c_chart(double mean_count) {
    return u_chart(mean_count, 1);
}

ControlLimits u_chart(double mean_rate, double exposure) {
    const double reach = 3 * std::sqrt(mean_rate / exposure);
    return {mean_rate, std::max(0.0, mean_rate - reach), mean_rate + reach};
}

namespace {

// The chance that a whole number of this distribution, divided by `of`, lies beyond the limits.
template <typename Distribution>
double chance_beyond(const Distribution& counts, const ControlLimits& limits, double of, double most) {
    const double least_within = std::ceil(limits.lower * of);
    const double most_within = std::floor(limits.upper * of);
    return (least_within > 0 ? boost::math::cdf(counts, least_within - 1) : 0) +
           (most_within < most ? boost::math::cdf(boost::math::complement(counts, most_within)) : 0);
}

}  // namespace

double chance_beyond_p(const ControlLimits& limits, double n) {
    return chance_beyond(boost::math::binomial(n, limits.centre), limits, n, n);
}

double chance_beyond_u(const ControlLimits& limits, double exposure) {
    if (limits.centre <= 0) return 0;
    return chance_beyond(boost::math::poisson(limits.centre * exposure), limits, exposure,
                         std::numeric_limits<double>::infinity());
}

std::size_t longest_run_allowed(std::size_t useful) {
    return static_cast<std::size_t>(std::lround(std::log2(static_cast<double>(useful)) + 3));
}

std::size_t fewest_crossings_allowed(std::size_t useful) {
    if (useful < 2) return 0;
    using RoundUp = boost::math::policies::policy<
        boost::math::policies::discrete_quantile<boost::math::policies::integer_round_up>>;
    const boost::math::binomial_distribution<double, RoundUp> crossings(static_cast<double>(useful - 1), 0.5);
    return static_cast<std::size_t>(boost::math::quantile(crossings, 0.05));
}

namespace {

// P(number of runs = r) where `above` and `below` points are shuffled (Wald and Wolfowitz 1940).
double chance_of_runs(std::size_t runs, std::size_t above, std::size_t below) {
    const auto choose = [](std::size_t n, std::size_t k) {
        return k > n ? 0.0
                     : boost::math::binomial_coefficient<double>(static_cast<unsigned>(n),
                                                                 static_cast<unsigned>(k));
    };
    const std::size_t half = runs / 2;
    const double ways = runs % 2 == 0 ? 2 * choose(above - 1, half - 1) * choose(below - 1, half - 1)
                                      : choose(above - 1, half) * choose(below - 1, half - 1) +
                                            choose(above - 1, half - 1) * choose(below - 1, half);
    return ways / choose(above + below, above);
}

// The most points in a row that all rise or all fall, a repeated value counted once.
std::size_t longest_trend(const std::vector<double>& values) {
    std::size_t longest = values.empty() ? 0 : 1;
    std::size_t trend = longest;
    int way = 0;
    for (std::size_t i = 1; i < values.size(); ++i) {
        if (values[i] == values[i - 1]) continue;
        const int now = values[i] > values[i - 1] ? 1 : -1;
        trend = now == way ? trend + 1 : 2;
        way = now;
        longest = std::max(longest, trend);
    }
    return longest;
}

}  // namespace

RunChart::Runs runs_allowed(std::size_t useful) {
    assert(useful > 1);
    // Beyond a thousand points the coefficients leave the range of a double; no chart has as many.
    useful = std::min<std::size_t>(useful, 1000);
    constexpr double tail = 0.025;
    const std::size_t above = useful / 2;
    RunChart::Runs allowed{2, useful};
    double chance = 0;
    while ((chance += chance_of_runs(allowed.fewest, above, useful - above)) <= tail) ++allowed.fewest;
    chance = 0;
    while ((chance += chance_of_runs(allowed.most, above, useful - above)) <= tail) --allowed.most;
    return allowed;
}

RunChart run_chart(const std::vector<double>& values) {
    RunChart chart;
    if (values.empty()) return chart;
    chart.median = median_of(values);
    chart.longest_trend = longest_trend(values);
    std::size_t run = 0;
    bool above = false;
    for (const double value : values) {
        if (value == chart.median) continue;
        const bool now_above = value > chart.median;
        if (run != 0 && now_above != above) {
            ++chart.crossings;
            run = 0;
        }
        above = now_above;
        ++chart.useful;
        chart.longest_run = std::max(chart.longest_run, ++run);
    }
    constexpr std::size_t fewest_points = 10;
    if (chart.useful >= fewest_points) {
        chart.longest_allowed = longest_run_allowed(chart.useful);
        chart.fewest_allowed = fewest_crossings_allowed(chart.useful);
        chart.runs_allowed = runs_allowed(chart.useful);
    }
    return chart;
}

std::vector<ChartSignal> signals(const RunChart& chart, const ChartRules& rules) {
    std::vector<ChartSignal> found;
    const auto take = [&](bool is, ChartSignal signal) {
        if (is) found.push_back(signal);
    };
    take(rules.shift && chart.longest_allowed && chart.longest_run > *chart.longest_allowed,
         ChartSignal::shift);
    take(rules.crossings && chart.fewest_allowed && chart.crossings < *chart.fewest_allowed,
         ChartSignal::few_crossings);
    take(rules.runs && chart.runs_allowed && chart.runs() < chart.runs_allowed->fewest,
         ChartSignal::few_runs);
    take(rules.runs && chart.runs_allowed && chart.runs() > chart.runs_allowed->most, ChartSignal::many_runs);
    take(rules.run_of != 0 && chart.longest_run >= rules.run_of, ChartSignal::run);
    take(rules.trend_of != 0 && chart.longest_trend >= rules.trend_of, ChartSignal::trend);
    return found;
}

std::optional<ChartRules> read_chart_rules(std::string_view text) {
    ChartRules rules;
    rules.shift = rules.crossings = false;
    // "run-6": a number of points from 3 to 20.
    const auto number = [](std::string_view word, std::string_view name) -> std::size_t {
        if (word.substr(0, name.size()) != name) return 0;
        word.remove_prefix(name.size());
        std::size_t value = 0;
        const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
        return error == std::errc() && end == word.data() + word.size() && value >= 3 && value <= 20 ? value
                                                                                                     : 0;
    };
    while (!text.empty()) {
        const std::size_t end = std::min(text.find(','), text.size());
        const std::string_view word = text.substr(0, end);
        text.remove_prefix(std::min(text.size(), end + 1));
        if (word == "shift") {
            rules.shift = true;
        } else if (word == "crossings") {
            rules.crossings = true;
        } else if (word == "runs") {
            rules.runs = true;
        } else if (const std::size_t run = number(word, "run-"); run != 0) {
            rules.run_of = run;
        } else if (const std::size_t trend = number(word, "trend-"); trend != 0) {
            rules.trend_of = trend;
        } else {
            return std::nullopt;
        }
    }
    return rules;
}

std::string write_chart_rules(const ChartRules& rules) {
    std::string out;
    const auto add = [&](const std::string& word) { out += (out.empty() ? "" : ",") + word; };
    if (rules.shift) add("shift");
    if (rules.crossings) add("crossings");
    if (rules.runs) add("runs");
    if (rules.run_of != 0) add("run-" + std::to_string(rules.run_of));
    if (rules.trend_of != 0) add("trend-" + std::to_string(rules.trend_of));
    return out;
}

std::optional<Kappa> cohen_kappa(const std::vector<std::uint64_t>& table, std::size_t size,
                                 double confidence) {
    assert(table.size() == size * size);
    double total = 0;
    for (const std::uint64_t cell : table) total += static_cast<double>(cell);
    if (total == 0) return std::nullopt;
    std::vector<double> rows(size, 0);
    std::vector<double> columns(size, 0);
    double observed = 0;
    for (std::size_t i = 0; i < size; ++i) {
        for (std::size_t j = 0; j < size; ++j) {
            const double share = static_cast<double>(table[i * size + j]) / total;
            rows[i] += share;
            columns[j] += share;
            if (i == j) observed += share;
        }
    }
    double chance = 0;
    for (std::size_t i = 0; i < size; ++i) chance += rows[i] * columns[i];
    if (1 - chance < 1e-12) return std::nullopt;
    const double kappa = (observed - chance) / (1 - chance);
    // The variance's three terms, as in Fleiss, Cohen and Everitt (1969), formula 13.
    double agreeing = 0;
    double disagreeing = 0;
    for (std::size_t i = 0; i < size; ++i) {
        for (std::size_t j = 0; j < size; ++j) {
            const double share = static_cast<double>(table[i * size + j]) / total;
            if (i == j) {
                agreeing += share * std::pow(1 - (rows[i] + columns[i]) * (1 - kappa), 2);
            } else {
                disagreeing += share * std::pow(columns[i] + rows[j], 2);
            }
        }
    }
    const double variance =
        (agreeing + std::pow(1 - kappa, 2) * disagreeing - std::pow(kappa - chance * (1 - kappa), 2)) /
        (total * std::pow(1 - chance, 2));
    const double reach = normal_reach(confidence) * std::sqrt(std::max(0.0, variance));
    return Kappa{observed, kappa, {std::max(-1.0, kappa - reach), std::min(1.0, kappa + reach)}};
}

}  // namespace linelaw::runtime
