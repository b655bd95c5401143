// Looks at the site, each shift in the hospital and each week outside it, and the daily question whether the
// line is still needed.
#include <algorithm>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

struct Period {
    Time begin = 0;
    Time end = 0;
};

enum class Where { hospital, outside, unknown };

// A stretch in the hospital or outside it; a move from one ward to another ends none.
struct Stretch {
    Time begin = 0;
    Time end = 0;
    Where where = Where::unknown;
};

Where where_is(const std::string& setting) {
    if (setting.empty()) return Where::unknown;
    return setting == "icu" || setting == "ward" ? Where::hospital : Where::outside;
}

std::vector<Stretch> stretches(const Stay& s) {
    std::vector<Stretch> found;
    for (const auto& [from, setting] : s.setting) {
        if (!found.empty() && found.back().where == where_is(setting)) continue;
        if (!found.empty()) found.back().end = from;
        found.push_back({from, s.end(), where_is(setting)});
    }
    return found;
}

Time wall(Time date, int plus_days, int hour, int minute) {
    const Local l = local(date);
    return instant({l.year, l.month, l.day + plus_days, hour, minute});
}

// Day shifts 07:00–19:30 and night shifts 19:00–07:30 that touch the stretch.
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

// Whole inside the stretch; one that still runs at the horizon has no end to ask for.
bool whole(const Stay& s, const Stretch& stretch, const Period& period) {
    if (period.begin < stretch.begin) return false;
    if (period.end <= stretch.end) return true;
    return !s.removed && stretch.end == s.horizon && period.begin < s.horizon;
}

void look(Stay& s, Time at) {
    Values values;
    if (s.take("document.site", "not_met") || s.lapses(0.004)) {
        values.emplace_back("dressing_condition", quoted("intact"));
    } else if (s.take("document.site", "not_assessable")) {
        values.emplace_back("dressing_condition", quoted("intact"));
        values.emplace_back("site_condition", spoiled_word(s));
    } else {
        values.emplace_back("dressing_condition", quoted("intact"));
        values.emplace_back("site_condition", quoted(s.random.chance(0.05) ? "redness" : "clear"));
    }
    s.add("site_assessment", at, std::move(values));
}

void question(Stay& s, Time at) {
    s.add("line_need_review", at, {{"still_needed", s.random.chance(0.9) ? "true" : "false"}});
}

void write_shifts(Stay& s, const Stretch& stretch) {
    const bool aimed = s.about("site.shift");
    for (const Period& shift : shifts(stretch)) {
        const Time low = std::max(shift.begin + minutes(31), stretch.begin + 60);
        const Time high = std::min(shift.end - minutes(31), stretch.end - 60);
        if (low > high) continue;
        const bool runs = shift.end > s.horizon && !s.removed;
        if (whole(s, stretch, shift)) {
            if (runs && s.take("site.shift", "pending")) continue;
            if (!runs && (s.take("site.shift", "missed") || (!aimed && s.lapses(0.07)))) continue;
            if (runs && s.random.chance(0.4)) continue;
        }
        if (s.random.chance(0.01)) {  // at handover: counts for both shifts
            if (shift.end - minutes(10) < stretch.end) {
                if (const auto t = s.exactly(shift.end - minutes(10))) look(s, *t);
                continue;
            }
        }
        if (const auto t = s.moment(low, high)) look(s, *t);
    }
}

void write_weeks(Stay& s, const Stretch& stretch) {
    Time last = stretch.begin;
    while (true) {
        const Time due = add_days(last, 7);
        const Time limit = add_days(last, 8);
        const bool room = limit + hours(2) < stretch.end;
        std::optional<Time> t;
        if (room && (s.take("site.away", "missed") || s.lapses(0.02))) break;
        if (room && (s.take("site.away", "late") || s.lapses(0.09))) {
            t = s.moment(limit + minutes(1), limit + hours(60));
        } else if (room && s.random.chance(0.05)) {
            t = s.exactly(limit);
        } else {
            if (room) s.take("site.away", "met");
            t = s.moment(due - hours(30), limit);
        }
        if (!t || *t >= stretch.end) break;
        look(s, *t);
        last = *t;
    }
}

void write_questions(Stay& s, const Stretch& stretch) {
    const bool aimed = s.about("need.daily");
    for (const Period& date : dates(stretch)) {
        const Time low = std::max(date.begin + hours(6), stretch.begin + 60);
        const Time high = std::min(date.end - hours(2), stretch.end - 60);
        if (low > high) continue;
        const bool runs = date.end > s.horizon && !s.removed;
        if (whole(s, stretch, date)) {
            if (runs && s.take("need.daily", "pending")) continue;
            if (!runs && (s.take("need.daily", "missed") || (!aimed && s.lapses(0.09)))) continue;
        }
        if (const auto t = s.moment(low, high)) question(s, *t);
    }
}

void account_periods(Stay& s, const std::string& clause, const Stretch& stretch,
                     const std::vector<Period>& periods, const std::vector<Time>& events) {
    for (const Period& period : periods) {
        if (!whole(s, stretch, period)) continue;
        const auto first = first_from(events, period.begin);
        const bool done = first && *first < period.end;
        s.plant(clause, period.begin, done ? "met" : period.end > s.horizon ? "pending" : "missed");
    }
}

// `at least every 7 days`, with a day of grace, over a stretch outside the hospital.
void account_weeks(Stay& s, const Stretch& stretch, const std::vector<Time>& looks) {
    Time opened = stretch.begin;
    for (const Time t : looks) {  // a look shortly before the discharge still counts
        if (t <= stretch.begin && add_days(t, 8) > stretch.begin) opened = t;
    }
    for (const Time t : looks) {
        if (t <= stretch.begin || t > stretch.end) continue;
        s.plant("site.away", opened, t <= add_days(opened, 8) ? "met" : "late");
        opened = t;
    }
    const bool ends = stretch.end != s.end() || s.removed;
    s.plant(
        "site.away", opened,
        settle(s, add_days(opened, 8), std::nullopt, ends ? std::optional<Time>(stretch.end) : std::nullopt));
}

}  // namespace

void write_reviews(Stay& s) {
    for (const auto& [from, setting] : s.setting) {
        if (from != s.inserted) s.add("transfer", from, {{"setting", quoted(setting)}});
    }
    for (const Stretch& stretch : stretches(s)) {
        if (stretch.where == Where::hospital) {
            write_shifts(s, stretch);
            write_questions(s, stretch);
        } else if (stretch.where == Where::outside) {
            write_weeks(s, stretch);
        }
    }
}

void account_reviews(Stay& s) {
    const std::vector<Time> looks = instants_of(s, "site_assessment");
    const std::vector<Time> questions = instants_of(s, "line_need_review");
    for (const Stretch& stretch : stretches(s)) {
        if (stretch.where == Where::unknown) {
            for (const char* clause : {"site.shift", "site.away", "need.daily"}) {
                s.plant(clause, stretch.begin, "not_assessable");
            }
        } else if (stretch.where == Where::hospital) {
            account_periods(s, "site.shift", stretch, shifts(stretch), looks);
            account_periods(s, "need.daily", stretch, dates(stretch), questions);
        } else {
            account_weeks(s, stretch, looks);
        }
    }
    for (const Event& event : s.events) {
        if (event.type != "site_assessment") continue;
        const std::string dressing = value_of(event, "dressing_condition");
        const std::string site = value_of(event, "site_condition");
        const bool readable = site == "clear" || site == "redness" || site == "drainage";
        s.plant("document.site", event.at,
                dressing.empty() || site.empty() ? "not_met"
                : readable                       ? "met"
                                                 : "not_assessable");
    }
}

}  // namespace linelaw::demo
