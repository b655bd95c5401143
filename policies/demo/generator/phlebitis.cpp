// The grade of phlebitis at each look at the site, and who is told of one above 2. Written after every other
// look.
#include <algorithm>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/periods.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

constexpr const char* clause = "phlebitis.reported";

// The end of the shift that began last.
Time end_of_shift(Time at) {
    const Local l = local(at);
    const int minute = l.hour * 60 + l.minute;
    if (minute < 7 * 60) return instant({l.year, l.month, l.day, 7, 30});
    if (minute < 19 * 60) return instant({l.year, l.month, l.day, 19, 30});
    return instant({l.year, l.month, l.day + 1, 7, 30});
}

// Somebody is told, or not. A report may come after the line is out.
void report(Stay& s, Time at) {
    const Time limit = end_of_shift(at);
    Time low = at + minutes(1);
    Time high = limit - minutes(1);
    if (s.take(clause, "missed") || s.lapses(0.15)) return;
    if (s.take(clause, "late") || s.lapses(0.15)) low = limit, high = limit + hours(9);
    s.take(clause, "met");
    high = std::min(high, s.horizon - 60);
    for (int attempt = 0; attempt < 30 && low <= high; ++attempt) {
        const Time t = s.random.between(low, high) / 60 * 60;
        if (t < low || !s.taken.insert(t).second) continue;
        s.add("notification", t, {{"notified", quoted("infection_prevention")}});
        return;
    }
}

bool fits(const Stay& s, Time at) {
    if (s.aims(clause, "pending")) return !s.removed && end_of_shift(at) > s.horizon;
    if (s.aims(clause, "late")) return end_of_shift(at) + hours(2) < s.horizon;
    return s.about(clause) && end_of_shift(at) < s.horizon;
}

}  // namespace

void write_phlebitis(Stay& s) {
    std::vector<Time> inflamed;
    for (Event& event : s.events) {
        if (event.type != "site_assessment") continue;
        Charted charted = Charted::yes;
        if (s.take("document.phlebitis", "not_met") || s.take(clause, "not_assessable") || s.lapses(0.006)) {
            charted = Charted::no;
        } else if (s.take("document.phlebitis", "not_assessable")) {
            charted = Charted::spoiled;
            event.values.emplace_back("phlebitis_grade", spoiled_number(s));
        } else {
            const bool high = (inflamed.empty() && fits(s, event.at)) || s.random.chance(0.003);
            if (high) inflamed.push_back(event.at);
            event.values.emplace_back(
                "phlebitis_grade", std::to_string(high ? s.random.between(3, 4)
                                                       : s.random.weighted<int>({{0, 20}, {1, 2}, {2, 1}})));
        }
        s.plant("document.phlebitis", event.at, documented({charted}));
    }
    for (const Time at : inflamed) {
        if (s.take(clause, "pending")) continue;
        report(s, at);
    }
}

void account_phlebitis(Stay& s) {
    const std::vector<Time> reports = instants_of(s, "notification");
    for (const Event& event : s.events) {
        if (event.type != "site_assessment") continue;
        const std::string grade = value_of(event, "phlebitis_grade");
        if (grade == "0" || grade == "1" || grade == "2") continue;
        if (grade != "3" && grade != "4") {
            s.plant(clause, event.at, "not_assessable");
            continue;
        }
        // Past at the very end of the shift, and awaited beyond the line's removal.
        s.plant(clause, event.at,
                settle(s, end_of_shift(event.at) - 1, first_from(reports, event.at), std::nullopt));
    }
}

}  // namespace linelaw::demo
