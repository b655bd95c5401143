#include "runtime/comparisons.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace linelaw::runtime {
namespace {

Counts counts_at(const Group& group, std::size_t item) {
    return item < group.counts.size() ? group.counts[item] : Counts{};
}

}  // namespace

const Comparison* Comparisons::find(std::size_t item, const std::string& group) const {
    const auto found = std::find_if(all.begin(), all.end(),
                                    [&](const Comparison& c) { return c.item == item && c.group == group; });
    return found == all.end() ? nullptr : &*found;
}

Comparisons compare_groups(const Audited& audited, const std::map<std::string, Group>& groups) {
    Comparisons out;
    for (std::size_t item = 0; item < audited.items.size(); ++item) {
        // A bundle is made of its clauses: looking at it too would count the same cell twice.
        if (audited.items[item].origin == OriginKind::bundle) continue;
        Counts whole;
        for (const auto& [name, group] : groups) whole.add(counts_at(group, item));
        const Rate all = rate_of(whole);
        for (const auto& [name, group] : groups) {
            const Rate here = rate_of(counts_at(group, item));
            Rate elsewhere;
            elsewhere.met = all.met - here.met;
            elsewhere.counted = all.counted - here.counted;
            if (here.small() || elsewhere.small()) continue;
            elsewhere.share = static_cast<double>(elsewhere.met) / static_cast<double>(elsewhere.counted);
            elsewhere.interval = wilson(elsewhere.met, elsewhere.counted);
            out.all.push_back({item, name, here, elsewhere, 0, {}, {}});
        }
    }
    out.confidence_of_each = confidence_of_each(out.all.size());
    for (Comparison& c : out.all) {
        const auto of = [&](double confidence) {
            return difference(c.here.met, c.here.counted, c.elsewhere.met, c.elsewhere.counted, confidence);
        };
        const Difference usual = of(usual_confidence);
        c.difference = usual.difference;
        c.interval = usual.interval;
        c.widened = of(out.confidence_of_each).interval;
    }
    return out;
}

std::string comparison_words(const Comparison& c, std::size_t looked_at) {
    const bool lower = c.difference < 0;
    const double near = lower ? -c.widened.high : c.widened.low;
    const double far = lower ? -c.widened.low : c.widened.high;
    return fmt::format("{:.1f} points {} than elsewhere ({:.1f} to {:.1f}, 95 % for all {} compared)",
                       100 * std::abs(c.difference), lower ? "lower" : "higher", 100 * near, 100 * far,
                       looked_at);
}

}  // namespace linelaw::runtime
