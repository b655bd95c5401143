#include "compiler/analysis/clock_changes.hpp"

#include <algorithm>

#include "runtime/time.hpp"

namespace linelaw::compiler::analysis {

std::vector<ClockChange> clock_changes(const runtime::Policy& policy) {
    const auto zone = runtime::Zone::find(policy.time_zone);
    if (!zone || !policy.in_force_from) return {};
    const runtime::CivilDate last =
        policy.in_force_until.value_or(runtime::add_days(*policy.in_force_from, 2 * 365));
    const runtime::Instant end = zone->begin_of(runtime::add_days(last, 1));
    std::vector<ClockChange> changes;
    for (auto at = zone->next_change(zone->begin_of(*policy.in_force_from)); at && *at < end;
         at = zone->next_change(*at)) {
        const std::int64_t before = zone->offset_at(*at - 1);
        const ClockChange change{*at, *at + before, zone->offset_at(*at) - before};
        const bool known = std::any_of(changes.begin(), changes.end(), [&](const ClockChange& other) {
            return other.shorter == change.shorter;
        });
        if (change.shorter != 0 && !known) changes.push_back(change);
    }
    return changes;
}

std::string date_of(const ClockChange& change) {
    return runtime::write_date(runtime::Zone::utc().date_of(change.local));
}

}  // namespace linelaw::compiler::analysis
