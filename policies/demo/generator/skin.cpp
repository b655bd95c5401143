// The daily cleansing of the skin.
#include <algorithm>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/periods.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

// The stretches in the hospital over which the skin is cleansed with chlorhexidine: not before the age of 2
// months.
std::vector<Stretch> cleansed(const Stay& s) {
    std::vector<Stretch> found;
    if (!s.central() || s.sensitive == true) return found;
    for (Stretch stretch : stretches(s)) {
        if (stretch.where == Where::outside) continue;
        if (s.birth) stretch.begin = std::max(stretch.begin, add_months(*s.birth, 2));
        if (!s.sensitive || s.age_group == AgeGroup::unknown) stretch.where = Where::unknown;
        if (stretch.begin >= stretch.end) continue;
        const bool goes_on = !found.empty() && found.back().end == stretch.begin;
        if (goes_on && stretch.where == Where::unknown && found.back().where == Where::unknown) {
            found.back().end = stretch.end;  // unknown for one reason, then for another: one stretch
        } else {
            found.push_back(stretch);
        }
    }
    return found;
}

void bathe(Stay& s, Time at, Charted charted, const char* with) {
    Values values;
    if (charted == Charted::yes) values.emplace_back("cleanser", quoted(with));
    if (charted == Charted::spoiled) values.emplace_back("cleanser", spoiled_word(s));
    s.add("bathing", at, std::move(values));
    s.plant("document.cleansing", at, documented({charted}));
}

bool reads(const Event& bath) {
    const std::string with = value_of(bath, "cleanser");
    return with == "chg_cloth" || with == "soap" || with == "other";
}

}  // namespace

void write_skin(Stay& s) {
    for (const Stretch& stretch : cleansed(s)) {
        for (const Period& date : dates(stretch)) {
            const Time low = std::max(date.begin + hours(6), stretch.begin + 60);
            const Time high = std::min(date.end - hours(2), stretch.end - 60);
            const bool runs = date.end > s.horizon && !s.removed;
            if (low > high || (whole(s, stretch, date) && s.take("skin.daily", runs ? "pending" : "missed")))
                continue;
            if (s.lapses(0.06)) continue;
            const auto at = s.moment(low, high);
            if (!at) continue;
            Charted charted = Charted::yes;
            if (!runs && (s.take("document.cleansing", "not_met") || s.lapses(0.02))) charted = Charted::no;
            if (!runs && s.take("document.cleansing", "not_assessable")) charted = Charted::spoiled;
            bathe(s, *at, charted, s.lapses(0.04) ? "soap" : "chg_cloth");
        }
    }
}

void account_skin(Stay& s) {
    for (const Stretch& stretch : cleansed(s)) {
        if (stretch.where == Where::unknown) {
            s.plant("skin.daily", stretch.begin, "not_assessable");
            continue;
        }
        for (const Period& date : dates(stretch)) {
            if (!whole(s, stretch, date)) continue;
            bool done = false;
            bool perhaps = false;
            for (const Event& event : s.events) {
                if (event.type != "bathing" || event.at < date.begin ||
                    event.at >= std::min(date.end, stretch.end))
                    continue;
                done = done || value_of(event, "cleanser") == "chg_cloth";
                perhaps = perhaps || !reads(event);
            }
            s.plant("skin.daily", date.begin,
                    done                                                           ? "met"
                    : perhaps || (stretch.turns_unknown && date.end > stretch.end) ? "not_assessable"
                    : date.end > s.horizon                                         ? "pending"
                                                                                   : "missed");
        }
    }
}

}  // namespace linelaw::demo
