#include "runtime/comparisons.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>

namespace linelaw::runtime {
namespace {

Counts counts_at(const Group& group, std::size_t item) {
    return item < group.counts.size() ? group.counts[item] : Counts{};
}

double effect_of(const std::map<std::string, Group>& groups, std::size_t item) {
    std::vector<Clustered> all;
    for (const auto& [name, group] : groups) all.push_back(clustered(counts_at(group, item)));
    return design_effect(all);
}

std::vector<Comparison> cells(const Audited& audited, const std::map<std::string, Group>& groups) {
    std::vector<Comparison> out;
    for (std::size_t item = 0; item < audited.items.size(); ++item) {
        // A bundle is made of its clauses: looking at it too would count the same cell twice.
        if (audited.items[item].origin == OriginKind::bundle) continue;
        Counts whole;
        for (const auto& [name, group] : groups) whole.add(counts_at(group, item));
        const double effect = effect_of(groups, item);
        const Rate all = rate_of(whole);
        for (const auto& [name, group] : groups) {
            const Rate here = rate_of(counts_at(group, item));
            Rate elsewhere;
            elsewhere.met = all.met - here.met;
            elsewhere.counted = all.counted - here.counted;
            if (here.small() || elsewhere.small()) continue;
            elsewhere.share = static_cast<double>(elsewhere.met) / static_cast<double>(elsewhere.counted);
            elsewhere.interval = wilson(elsewhere.met, elsewhere.counted);
            out.push_back({item, name, here, elsewhere, {}, {}, effect});
        }
    }
    return out;
}

// As many as would tell as much if each stood for itself, and as large a share of them.
Rate as_independent(const Rate& rate, double effect) {
    Rate out = rate;
    out.counted = std::max<std::uint64_t>(
        1, static_cast<std::uint64_t>(std::llround(static_cast<double>(rate.counted) / effect)));
    out.met = static_cast<std::uint64_t>(
        std::llround(static_cast<double>(rate.met) / static_cast<double>(rate.counted) *
                     static_cast<double>(out.counted)));
    return out;
}

// Places after the point with which none of these is shown as zero that is not; one at least.
int places(std::initializer_list<double> hundredths) {
    constexpr int most = 9;
    int needed = 1;
    for (const double value : hundredths) {
        while (needed < most && value != 0 && std::abs(value) * std::pow(10, needed) < 0.5) ++needed;
    }
    return needed;
}

}  // namespace

const Comparison* Comparisons::find(std::string_view grouped_by, std::size_t item,
                                    const std::string& group) const {
    const auto cells = by.find(grouped_by);
    if (cells == by.end()) return nullptr;
    const auto found = std::lower_bound(
        cells->second.begin(), cells->second.end(), std::tie(item, group),
        [](const Comparison& c, const auto& sought) { return std::tie(c.item, c.group) < sought; });
    if (found == cells->second.end() || found->item != item || found->group != group) return nullptr;
    return &*found;
}

Comparisons compare_groups(const Audited& audited, const Tally& tally) {
    Comparisons out;
    out.by.emplace(by_care_unit, cells(audited, tally.by_care_unit));
    for (const auto& [attribute, groups] : tally.by) out.by.emplace(attribute, cells(audited, groups));
    for (const auto& [by, cells] : out.by) out.made += cells.size();
    out.confidence_of_each = confidence_of_each(out.made);
    for (auto& [by, cells] : out.by) {
        for (Comparison& c : cells) {
            const Rate here = as_independent(c.here, c.design_effect);
            const Rate elsewhere = as_independent(c.elsewhere, c.design_effect);
            c.widened =
                difference(here.met, here.counted, elsewhere.met, elsewhere.counted, out.confidence_of_each);
            c.widened.difference = c.here.share - c.elsewhere.share;
            c.usual = difference_interval(here.met, here.counted, elsewhere.met, elsewhere.counted);
        }
    }
    return out;
}

std::string comparison_words(const Comparison& c, std::size_t looked_at) {
    const double sign = c.lower() ? -1 : 1;
    const double near = 100 * sign * (c.lower() ? c.widened.interval.high : c.widened.interval.low);
    const double far = 100 * sign * (c.lower() ? c.widened.interval.low : c.widened.interval.high);
    const double points = 100 * sign * c.widened.difference;
    return fmt::format(
        "{0:.{4}f} points {1} than elsewhere ({2:.{4}f} to {3:.{4}f}, 95 % widened for all {5} compared)",
        points, c.lower() ? "lower" : "higher", near, far, places({points, near, far}), looked_at);
}

std::string points(double share) {
    return share == 0 ? "0.0" : fmt::format("{:+.{}f}", 100 * share, places({100 * share}));
}

std::string points_range(const Interval& shares) {
    return points(shares.low) + " to " + points(shares.high);
}

}  // namespace linelaw::runtime
