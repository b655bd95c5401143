// Dressing changes: their intervals, what a damp or loose dressing asks for, and how each change was done.
#include <algorithm>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

bool transparent(const std::string& dressing) {
    return dressing == "transparent" || dressing == "chg_transparent";
}
bool gauze(const std::string& dressing) {
    return dressing == "gauze" || dressing == "gauze_under_transparent";
}
Time due_of(const std::string& dressing, Time from) {
    return add_days(from, gauze(dressing) ? 2 : 7);
}
Time limit_of(const std::string& dressing, Time from) {
    return due_of(dressing, from) + hours(gauze(dressing) ? 4 : 12);
}

enum class Plan {
    in_time,
    at_the_limit,
    late,
    refused,
    never,
    damp_in_time,
    damp_late,
    damp_refused,
    damp_ignored
};

// What the facility does, with the episode's aim first.
Plan plan_next(Stay& s, const std::string& on, bool room) {
    const std::string clause = gauze(on) ? "dressing.gauze" : "dressing.transparent";
    if (room && s.take(clause, "met")) return s.random.chance(0.5) ? Plan::at_the_limit : Plan::in_time;
    if (room && s.take(clause, "late")) return Plan::late;
    if (room && s.take(clause, "excused")) return Plan::refused;
    if (room && s.take(clause, "missed")) return Plan::never;
    if (s.about(clause)) return Plan::in_time;  // pending, no longer due: nothing falls short on the way
    if (s.take("dressing.compromised", "met")) return Plan::damp_in_time;
    if (s.take("dressing.compromised", "late")) return Plan::damp_late;
    if (s.aims("dressing.compromised", "missed")) return Plan::damp_ignored;
    if (s.take("dressing.compromised", "excused")) return Plan::damp_refused;
    if (s.random.chance(0.12)) {
        if (s.lapses(0.14)) return s.random.chance(0.6) ? Plan::damp_late : Plan::damp_ignored;
        return s.random.chance(0.06) ? Plan::damp_refused : Plan::damp_in_time;
    }
    if (s.lapses(0.09)) return s.random.chance(0.75) ? Plan::late : Plan::never;
    if (s.random.chance(0.02)) return Plan::refused;
    return s.random.chance(0.04) ? Plan::at_the_limit : Plan::in_time;
}

// What the later edition asks of adults with a non-tunnelled line, and of premature newborns; else nothing.
std::string by_chlorhexidine(Stay& s) {
    if (s.kind == "nontunnelled_cvc" && s.adult() && s.sensitive != true) {
        const bool without = s.take("dressing.chlorhexidine", "not_met") || s.lapses(0.15);
        return without ? "transparent" : "chg_transparent";
    }
    if (s.preterm == true) {
        const bool with = s.take("dressing.chlorhexidine_preterm", "not_met") || s.lapses(0.06);
        return with ? "chg_transparent" : s.random.chance(0.7) ? "transparent" : "gauze_under_transparent";
    }
    return "";
}

std::string next_dressing(Stay& s, const std::string& on) {
    const std::string clause = gauze(on) ? "dressing.gauze" : "dressing.transparent";
    if (!on.empty() &&
        (s.take(clause, "not_assessable") || s.take("dressing.chlorhexidine", "not_assessable")))
        return "";
    if (s.about("dressing.gauze")) return "gauze";
    if (s.about("dressing.transparent")) return "transparent";
    if (!on.empty() && s.lapses(0.012)) return "";
    if (std::string chosen = s.fifth() ? by_chlorhexidine(s) : ""; !chosen.empty()) return chosen;
    if (s.kind == "tunnelled_cvc" && s.random.chance(0.1)) return "no_dressing";
    return s.random.weighted<const char*>(
        {{"transparent", 62}, {"chg_transparent", 26}, {"gauze", 7}, {"gauze_under_transparent", 5}});
}

void refuse(Stay& s, Time at) {
    s.add("refusal", at, {{"refused", quoted("dressing_change")}});
}
// Something else is refused while a dressing is overdue: no excuse for the dressing.
void refuse_something_else(Stay& s, Time low, Time high) {
    if (!s.random.chance(0.3)) return;
    if (const auto t = s.moment(low, high)) s.add("refusal", *t, {{"refused", quoted("blood_draw")}});
}

void find_damp(Stay& s, Time at) {
    const char* condition = s.random.weighted<const char*>({{"damp", 3}, {"loose", 4}, {"soiled", 3}});
    s.add("site_assessment", at,
          {{"dressing_condition", quoted(condition)}, {"site_condition", quoted("clear")}});
}

// A dressing found damp, and what follows; the answer is the change that ends this interval, if any.
std::optional<Time> damp(Stay& s, Plan plan, Time last, Time latest) {
    const auto found = s.moment(last + hours(3), std::min(latest, s.end() - hours(4)));
    if (!found) return std::nullopt;
    find_damp(s, *found);
    const Time limit = *found + hours(2);
    switch (plan) {
        case Plan::damp_in_time:
            if (s.random.chance(0.05)) return found;  // charted at one minute with the look that asked for it
            if (s.random.chance(0.06)) {
                if (const auto t = s.exactly(limit)) return t;
            }
            return s.moment(*found + minutes(3), limit);
        case Plan::damp_refused:
            if (const auto no = s.moment(*found + minutes(5), *found + minutes(100))) refuse(s, *no);
            return s.moment(limit + minutes(20), limit + hours(9));
        case Plan::damp_late:
            refuse_something_else(s, *found + minutes(1), limit);
            return s.moment(limit + minutes(1), limit + hours(9));
        default:
            return std::nullopt;
    }
}

// The instant of the next change, or nothing where there is none before the end.
std::optional<Time> next_change(Stay& s, const std::string& on, Time last) {
    const Time due = due_of(on, last);
    const Time limit = limit_of(on, last);
    const bool watched = transparent(on) || gauze(on);
    const bool room = watched && limit + hours(3) < s.end();
    const Plan plan = watched ? plan_next(s, on, room) : Plan::in_time;
    const Time early = gauze(on) ? hours(10) : hours(30);
    switch (plan) {
        case Plan::in_time:
            return s.moment(due - early, limit);
        case Plan::at_the_limit:
            if (limit < s.end()) {
                if (const auto t = s.exactly(limit)) return t;
            }
            return s.moment(due - early, limit);
        case Plan::late:
            refuse_something_else(s, due - hours(2), limit);
            return s.moment(limit + minutes(1), limit + hours(gauze(on) ? 30 : 60));
        case Plan::refused:
            if (limit < s.end()) {
                if (const auto no = s.moment(due - hours(9), limit)) refuse(s, *no);
            }
            return s.moment(limit + hours(1), limit + hours(20));
        case Plan::never:
            return std::nullopt;
        case Plan::damp_ignored:
            damp(s, plan, last, due - hours(6));
            if (s.take("dressing.compromised", "missed")) return std::nullopt;
            return s.moment(due - early, limit);
        default:
            if (const auto t = damp(s, plan, last, due - hours(3))) return t;
            return s.moment(due - early, limit);
    }
}

// Whether a clause over dressings applied in an interval: yes, no, or nobody can tell.
enum class Applies { no, yes, unknown };

void account_intervals(Stay& s, const std::string& clause, bool (*covers)(const std::string&),
                       const std::vector<Time>& refusals) {
    const std::vector<Change>& changes = s.dressings;
    Time grown = 0;
    const bool newborn = s.neonate_until(grown);
    bool inside_unknown = false;
    for (std::size_t i = 0; i < changes.size(); ++i) {
        const Change& change = changes[i];
        const std::optional<Time> next =
            i + 1 < changes.size() ? std::optional<Time>(changes[i + 1].at) : std::nullopt;
        const Time until = next.value_or(s.end());
        Time opened = change.at;
        Applies applies = change.dressing.empty()            ? Applies::unknown
                          : !covers(change.dressing)         ? Applies::no
                          : s.age_group == AgeGroup::unknown ? Applies::unknown
                                                             : Applies::yes;
        if (newborn && opened < grown) {  // the clause begins with the 29th day of life
            if (until <= grown) applies = Applies::no;
            if (i == 0 || limit_of(change.dressing, opened) <= grown || applies == Applies::unknown)
                opened = grown;
        }
        if (applies == Applies::unknown) {
            if (!inside_unknown) s.plant(clause, opened, "not_assessable");
            inside_unknown = true;
            continue;
        }
        inside_unknown = false;
        if (applies == Applies::no) continue;
        const Time limit = limit_of(change.dressing, opened);
        const Time due = due_of(change.dressing, opened);
        std::string outcome = settle(s, limit, next, s.removed);
        if (outcome == "late" || outcome == "missed") {
            for (const Time no : refusals) {
                if (no <= limit && no + hours(24) >= due) outcome = "excused";
            }
        }
        s.plant(clause, opened, outcome);
    }
}

void account_compromised(Stay& s, const std::vector<Time>& changes, const std::vector<Time>& refusals) {
    for (const Event& event : s.events) {
        if (event.type != "site_assessment") continue;
        const std::string condition = value_of(event, "dressing_condition");
        if (condition.empty()) s.plant("dressing.compromised", event.at, "not_assessable");
        if (condition != "damp" && condition != "loose" && condition != "soiled") continue;
        const Time limit = event.at + hours(2);
        std::string outcome = settle(s, limit, first_from(changes, event.at), s.removed);
        if (outcome == "late" || outcome == "missed") {
            for (const Time no : refusals) {
                if (no <= limit && no + hours(12) >= limit) outcome = "excused";
            }
        }
        s.plant("dressing.compromised", event.at, outcome);
    }
}

// A last look at the dressing shortly before the end, with no time left to answer.
void damp_at_the_end(Stay& s) {
    const bool aimed =
        s.take("dressing.compromised", "pending") || s.take("dressing.compromised", "no_longer_due");
    if (!aimed && !s.random.chance(0.02)) return;
    if (const auto t = s.moment(s.end() - minutes(110), s.end() - minutes(2))) find_damp(s, *t);
}

// An assessment of which only half was charted.
void half_charted(Stay& s) {
    if (!s.take("dressing.compromised", "not_assessable") && !s.lapses(0.03)) return;
    if (const auto t = s.moment(s.inserted + hours(1), s.end())) {
        s.add("site_assessment", *t, {{"site_condition", quoted("clear")}});
    }
}

// Sometimes a late change finds that the line has moved; `ladders.cpp` tells what follows.
void change_that_finds_it_moved(Stay& s, std::int64_t length) {
    const bool aimed = s.about("catheter_migration") && s.focus.outcome != "not_assessable";
    if (!s.measurable() || !s.baseline || (!aimed && (s.about("arm_swelling") || !s.random.chance(0.05))))
        return;
    const Time last = s.dressings.back().at;
    Time low = std::max(last + hours(2), s.end() - hours(70));
    Time high = s.end() - hours(6);
    if (s.aims("catheter_migration", "pending", 1)) low = s.end() - minutes(50), high = s.end() - minutes(5);
    if (s.aims("catheter_migration", "pending", 2))
        low = s.end() - minutes(116), high = s.end() - minutes(95);
    if (low <= last) return;
    const auto t = s.moment(low, high);
    if (!t) return;
    length += s.random.chance(0.8) || length < 40 ? s.random.between(21, 60) : -s.random.between(21, 39);
    s.dressings.push_back({*t, chart_change(s, *t, "transparent", length)});
    s.moved.push_back(*t);
}

}  // namespace

void write_dressings(Stay& s) {
    std::string on =
        s.kind == "port" || s.kind == "intraosseous" ? "transparent" : next_dressing(s, "transparent");
    s.dressings.push_back({s.inserted, chart_insertion(s, on)});
    const std::int64_t length = s.baseline.value_or(100);
    while (s.dressings.size() < 60) {
        on = s.dressings.back().dressing;
        const auto t = next_change(s, on, s.dressings.back().at);
        if (!t) break;
        const bool watched = transparent(on) || gauze(on);
        s.dressings.push_back({*t, chart_change(s, *t, watched ? next_dressing(s, on) : "transparent",
                                                length + s.random.between(-20, 20))});
    }
    change_that_finds_it_moved(s, length);
    damp_at_the_end(s);
    half_charted(s);
}

void account_dressings(Stay& s) {
    std::vector<Time> refusals;
    for (const Event& event : s.events) {
        if (event.type == "refusal" && value_of(event, "refused") == "dressing_change")
            refusals.push_back(event.at);
    }
    account_intervals(s, "dressing.transparent", transparent, refusals);
    account_intervals(s, "dressing.gauze", gauze, refusals);
    account_compromised(s, instants_of(s, "dressing_change"), refusals);
}

}  // namespace linelaw::demo
