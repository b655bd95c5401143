// Looks at the site, each shift in the hospital and each week outside it, and the daily question whether the
// line is still needed.
#include <algorithm>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/periods.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

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
            if (runs && !s.about("phlebitis.reported") && s.random.chance(0.4)) continue;
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

// Of an umbilical catheter in the neonatal unit it is asked each shift whether it is needed.
bool asked_each_shift(const Stay& s) {
    return s.policy == Policy::neonatal && (s.kind == "umbilical_artery" || s.kind == "umbilical_vein");
}

void write_questions(Stay& s, const Stretch& stretch) {
    const bool aimed = s.about("need.daily") || s.about("neonatal.umbilical_need");
    const bool each_shift = asked_each_shift(s);
    const std::string clause = each_shift ? "neonatal.umbilical_need" : "need.daily";
    for (const Period& date : each_shift ? shifts(stretch) : dates(stretch)) {
        const Time low = std::max(date.begin + (each_shift ? minutes(31) : hours(6)), stretch.begin + 60);
        const Time high = std::min(date.end - (each_shift ? minutes(31) : hours(2)), stretch.end - 60);
        if (low > high) continue;
        const bool runs = date.end > s.horizon && !s.removed;
        if (whole(s, stretch, date)) {
            if (runs && s.take(clause, "pending")) continue;
            if (!runs && (s.take(clause, "missed") || (!aimed && s.lapses(0.09)))) continue;
        }
        if (const auto t = s.moment(low, high)) question(s, *t);
    }
}

// `at least every 7 days`, with a day of grace, over a stretch outside the hospital.
void account_weeks(Stay& s, const Stretch& stretch, const std::vector<Time>& looks) {
    account_every(s, "site.away", "", stretch.begin, stretch.ends(s), looks,
                  [](Time t) { return add_days(t, 8); });
}

}  // namespace

void write_reviews(Stay& s) {
    for (const auto& [from, setting] : s.setting) {
        if (from == s.inserted) continue;
        Event& transfer = s.add("transfer", from);
        if (!setting.empty()) transfer.values.emplace_back("setting", quoted(setting));
        if (setting.empty() && (s.take("document.transfer", "not_assessable") || s.random.chance(0.3)))
            transfer.values.emplace_back("setting", spoiled_word(s));
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
            if (asked_each_shift(s)) s.plant("neonatal.umbilical_need", stretch.begin, "not_assessable");
        } else if (stretch.where == Where::hospital) {
            account_periods(s, "site.shift", stretch, shifts(stretch), looks);
            if (asked_each_shift(s)) {
                account_periods(s, "neonatal.umbilical_need", stretch, shifts(stretch), questions);
            } else {
                account_periods(s, "need.daily", stretch, dates(stretch), questions);
            }
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
