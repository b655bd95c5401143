#include "policies/demo/generator/periods.hpp"

#include <algorithm>

namespace linelaw::demo {
namespace {

Where where_is(const std::string& setting) {
    if (setting.empty()) return Where::unknown;
    return setting == "icu" || setting == "ward" ? Where::hospital : Where::outside;
}

Time wall(Time date, int plus_days, int hour, int minute) {
    const Local l = local(date);
    return instant({l.year, l.month, l.day + plus_days, hour, minute});
}

}  // namespace

std::vector<Stretch> stretches(const Stay& s) {
    std::vector<Stretch> found;
    for (const auto& [from, setting] : s.setting) {
        if (!found.empty() && found.back().where == where_is(setting)) continue;
        if (!found.empty()) {
            found.back().end = from;
            found.back().turns_unknown = setting.empty();
        }
        found.push_back({from, s.end(), where_is(setting), false});
    }
    return found;
}

std::vector<Period> shifts(const Stretch& stretch) {
    std::vector<Period> found;
    for (Time day = add_days(midnight(stretch.begin), -1); day < stretch.end; day = add_days(day, 1)) {
        found.push_back({wall(day, 0, 7, 0), wall(day, 0, 19, 30)});
        found.push_back({wall(day, 0, 19, 0), wall(day, 1, 7, 30)});
    }
    return found;
}

std::vector<Period> dates(const Stretch& stretch) {
    std::vector<Period> found;
    for (Time day = midnight(stretch.begin); day < stretch.end; day = add_days(day, 1)) {
        found.push_back({day, add_days(day, 1)});
    }
    return found;
}

bool whole(const Stay& s, const Stretch& stretch, const Period& period) {
    if (period.begin < stretch.begin) return false;
    if (period.end <= stretch.end || (stretch.turns_unknown && period.begin < stretch.end)) return true;
    return !s.removed && stretch.end == s.horizon && period.begin < s.horizon;
}

void account_periods(Stay& s, const std::string& clause, const Stretch& stretch,
                     const std::vector<Period>& periods, const std::vector<Time>& events) {
    for (const Period& period : periods) {
        if (!whole(s, stretch, period)) continue;
        const auto first = first_from(events, period.begin);
        const bool done =
            first && *first < std::min(period.end, stretch.turns_unknown ? stretch.end : period.end);
        const bool broken_off = stretch.turns_unknown && period.end > stretch.end;
        s.plant(clause, period.begin,
                done                     ? "met"
                : broken_off             ? "not_assessable"
                : period.end > s.horizon ? "pending"
                                         : "missed");
    }
}

}  // namespace linelaw::demo
