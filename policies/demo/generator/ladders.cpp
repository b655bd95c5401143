// Who is called when a line has moved or failed, when, and what must wait until then.
#include <algorithm>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

struct LadderRule {
    const char* id;
    const char* first_role;
    Time first_within;
    const char* second_role;
    Time second_within;
    Time unacknowledged;
    bool holds;  // no infusion is started until the tip is confirmed
};
constexpr LadderRule migration{"catheter_migration", "provider",  hours(1), "vascular_access_team",
                               minutes(30),          minutes(30), true};
constexpr LadderRule failure{"device_failure", "provider",  minutes(15), "charge_nurse",
                             minutes(15),      minutes(15), false};
constexpr LadderRule fever_at_home{"fever_at_home", "provider",  hours(1), "vascular_access_team",
                                   minutes(30),     minutes(30), false};
constexpr LadderRule swelling{"arm_swelling", "provider", hours(2), "", 0, 0,
                              false};  // one call, nobody after it

constexpr const char* failures[] = {"occlusion", "infiltration", "catheter_damage", "dislodgement",
                                    "migration"};

// How one run goes. Offsets are drawn when it is written.
enum class Goes {
    acknowledged,       // called and acknowledged in time
    second_called,      // called in time, nobody acknowledges, the second is called in time
    second_late,        // … late, while the run is open
    second_not_called,  // … not at all
    acknowledged_late,  // … nobody needs to be, for the first acknowledges after all
    first_late,         // the first is called late, the second in time
    nobody,             // nobody is called
};

Goes draw(Stay& s, const LadderRule& rule) {
    const std::string id = rule.id;
    if (s.take(id, "met", 1)) return Goes::acknowledged;
    if (s.take(id, "late", 1)) return Goes::first_late;
    if (s.take(id, "missed", 1) || s.take(id, "missed", 2)) return Goes::nobody;
    if (s.take(id, "pending", 1) || s.take(id, "pending", 2)) return Goes::nobody;
    if (s.take(id, "met", 2)) return Goes::second_called;
    if (s.take(id, "late", 2)) return Goes::second_late;
    if (s.take(id, "no_longer_due", 2)) return Goes::acknowledged_late;
    if (s.lapses(0.25)) {
        return s.random.weighted<Goes>(
            {{Goes::nobody, 2}, {Goes::first_late, 3}, {Goes::second_not_called, 2}, {Goes::second_late, 2}});
    }
    return s.random.weighted<Goes>(
        {{Goes::acknowledged, 6}, {Goes::second_called, 3}, {Goes::acknowledged_late, 1}});
}

// Calls may come after the line is out, so an instant is free up to the horizon, not only up to the line's
// end.
std::optional<Time> free_minute(Stay& s, Time low, Time high) {
    high = std::min(high, s.horizon - 60);
    for (int attempt = 0; attempt < 30 && low <= high; ++attempt) {
        const Time t = (s.random.between(low, high) / 60) * 60;
        if (t >= low && s.taken.insert(t).second) return t;
    }
    return std::nullopt;
}

void call(Stay& s, const char* role, Time low, Time high) {
    if (const auto t = free_minute(s, low, high)) s.add("notification", *t, {{"notified", quoted(role)}});
}
void acknowledge(Stay& s, const char* role, Time low, Time high) {
    if (const auto t = free_minute(s, low, high))
        s.add("acknowledgement", *t, {{"acknowledged_by", quoted(role)}});
}

void write_run(Stay& s, const LadderRule& rule, Time start) {
    const Goes goes = draw(s, rule);
    const Time limit = start + rule.first_within;
    const Time second = limit + rule.unacknowledged;  // where the first is called late or not at all
    const Time second_limit = second + rule.second_within;
    if (rule.holds && !s.aims(rule.id, "pending", 3) && goes != Goes::nobody) {
        if (const auto t = s.moment(second_limit + hours(1), second_limit + hours(5))) {
            s.add("tip_confirmation", *t, {{"method", quoted("chest_radiograph")}});
        }
    }
    s.take(rule.id, "pending", 3);
    s.take(rule.id, "met", 3);
    if (goes == Goes::nobody) return;
    if (goes == Goes::first_late) {
        call(s, rule.first_role, second + minutes(1), second_limit - minutes(1));
        call(s, rule.second_role, second + minutes(1), second_limit);
        return;
    }
    const auto first = free_minute(s, start + minutes(1), limit);
    if (!first) return;
    s.add("notification", *first, {{"notified", quoted(rule.first_role)}});
    const Time next = *first + rule.unacknowledged;  // the second's turn, unless somebody acknowledges
    switch (goes) {
        case Goes::acknowledged:
            acknowledge(s, rule.first_role, *first + minutes(1), next - minutes(1));
            break;
        case Goes::second_called:
            call(s, rule.second_role, next + minutes(1), next + rule.second_within);
            break;
        case Goes::second_late:
            call(s, rule.second_role, next + rule.second_within + minutes(1),
                 next + rule.second_within + minutes(50));
            break;
        case Goes::acknowledged_late:
            acknowledge(s, rule.first_role, next + minutes(1), next + rule.second_within - minutes(1));
            break;
        default:
            break;
    }
}

std::optional<Time> first_call(const Stay& s, const char* role, Time from, Time until) {
    std::optional<Time> first;
    for (const Event& event : s.events) {
        if (event.type == "notification" && value_of(event, "notified") == role && event.at >= from &&
            event.at <= until && (!first || event.at < *first)) {
            first = event.at;
        }
    }
    return first;
}

// What becomes of a called role: its first notification while the run is open, else the record's end.
std::string called(const Stay& s, std::optional<Time> call, Time limit) {
    if (call) return *call <= limit ? "met" : "late";
    return s.horizon <= limit ? "pending" : "missed";
}

void account_hold(Stay& s, const LadderRule& rule, Time start, Time until, bool confirmed) {
    bool broken = false;
    for (const Time t : instants_of(s, "infusion_start")) {
        if (t < start || t >= until) continue;
        s.plant(rule.id, t, "not_met", "", 3);
        broken = true;
    }
    if (broken) return;
    s.plant(rule.id, start, confirmed || s.removed ? "met" : "pending", "", 3);
}

void account_run(Stay& s, const LadderRule& rule, Time start) {
    const Time limit = start + rule.first_within;
    const std::optional<Time> confirmed =
        rule.holds ? first_from(instants_of(s, "tip_confirmation"), start) : std::nullopt;
    const Time held_until = !rule.holds ? start : confirmed.value_or(s.end());

    const auto in_time = first_call(s, rule.first_role, start, limit);
    const Time second = in_time.value_or(limit) + rule.unacknowledged;
    const Time second_limit = second + rule.second_within;
    const auto acknowledged = first_from(instants_of(s, "acknowledgement"), start);
    const bool second_starts =
        *rule.second_role != '\0' && !(acknowledged && *acknowledged <= second) && second <= s.horizon;
    const Time run_end = std::max(second_starts ? second_limit : limit, held_until);

    s.plant(rule.id, start, called(s, first_call(s, rule.first_role, start, run_end), limit), "", 1);
    if (second_starts) {
        const auto call = first_call(s, rule.second_role, start, run_end);
        std::string outcome = called(s, call, second_limit);
        if (acknowledged && (!call || *acknowledged < *call)) {
            outcome = *acknowledged <= second_limit ? "no_longer_due" : "missed";
        }
        s.plant(rule.id, second, outcome, "", 2);
    }
    if (rule.holds) account_hold(s, rule, start, held_until, confirmed.has_value());
}

// One ladder at a time keeps the episode readable.
bool called_already(const Stay& s) {
    return !s.moved.empty() || (s.policy == Policy::home_infusion && !instants_of(s, "fever").empty());
}

bool failed(const Stay& s) {
    for (const char* what : failures) {
        if (!instants_of(s, what).empty()) return true;
    }
    return false;
}

// A fever of a patient at home; also one in the hospital, which starts no ladder.
void write_fever_at_home(Stay& s) {
    const bool aimed = s.focus.item == "fever_at_home";
    if (!s.moved.empty() || (!aimed && !s.about("fever.culture") && !s.lapses(0.1))) return;
    Time low = s.inserted + hours(1);
    Time high = s.end() - hours(4);
    if (s.aims("fever_at_home", "pending", 1)) low = s.horizon - minutes(58), high = s.horizon - minutes(2);
    if (s.aims("fever_at_home", "pending", 2)) low = s.horizon - minutes(118), high = s.horizon - minutes(92);
    const auto t = s.moment(low, high);
    if (!t) return;
    s.add("fever", *t, {{"temperature", tenths(s.random.between(383, 401))}});
    if (const auto at = s.moment(*t + minutes(10), *t + minutes(s.lapses(0.2) ? 300 : 90)))
        s.add("culture", *at, {{"specimen", quoted("blood_paired")}});
    if (s.setting_at(*t) == "home") write_run(s, fever_at_home, *t);
}

// The arm measured once or twice; where it has swollen, the provider is called or not.
void chart_arm(Stay& s, Time at, bool swollen) {
    Values values;
    Charted charted = Charted::yes;
    const char* other = s.arm_place == "at_insertion_site" ? "ten_cm_above_crease" : "at_insertion_site";
    const bool elsewhere = !swollen && (s.take("arm_swelling", "not_assessable", 1) || s.random.chance(0.05));
    const std::string place = elsewhere || s.arm_place.empty() ? other : s.arm_place;
    const std::int64_t arm =
        s.arm.value_or(300) + (swollen ? s.random.between(30, 60) : s.random.between(-10, 29));
    if (!swollen && (s.take("document.arm", "not_met") || s.lapses(0.04))) charted = Charted::no;
    if (!swollen && charted == Charted::yes && s.take("document.arm", "not_assessable"))
        charted = Charted::spoiled;
    values.emplace_back("arm_place", quoted(place));
    if (charted == Charted::yes) values.emplace_back("arm_circumference", tenths(arm));
    if (charted == Charted::spoiled) values.emplace_back("arm_circumference", spoiled_number(s));
    s.add("measurement", at, std::move(values));
    s.plant("document.arm", at, documented({charted}));
    const bool arm_line = s.kind == "picc" || s.kind == "midline";
    const bool comparable = charted == Charted::yes && s.arm && place == s.arm_place;
    if (arm_line && !comparable) s.plant("arm_swelling", at, "not_assessable", "", 1);
}

void write_arm(Stay& s) {
    if (called_already(s) || failed(s)) return;
    const bool arm_line = s.kind == "picc" || s.kind == "midline";
    if (!s.about("document.arm") && !s.about("arm_swelling") && !s.random.chance(arm_line ? 0.3 : 0.02))
        return;
    const bool aims_at_a_call = s.about("arm_swelling") && s.focus.outcome != "not_assessable";
    if (!aims_at_a_call) {
        if (const auto t = s.moment(s.inserted + hours(2), s.end())) chart_arm(s, *t, false);
    }
    if (!s.arm || s.arm_place.empty() || (!aims_at_a_call && !s.random.chance(0.15))) return;
    const std::vector<Time> before = instants_of(s, "measurement");
    const Time from = (before.empty() ? s.inserted : before.back()) + hours(1);
    Time low = from;
    Time high = s.end() - hours(3);
    if (s.take("arm_swelling", "pending", 1))
        low = std::max(from, s.horizon - minutes(115)), high = s.horizon - minutes(3);
    const auto t = s.moment(low, high);
    if (!t) return;
    chart_arm(s, *t, true);
    s.swollen = t;
    if (s.take("arm_swelling", "missed", 1) || s.lapses(0.15)) return;
    s.take("arm_swelling", "met", 1);
    if (high + hours(2) < s.horizon)
        call(s, swelling.first_role, *t + minutes(1), *t + swelling.first_within);
}

// A blocked, leaking, infiltrated or displaced line. Not where a move keeps a run open already: one call at a
// time keeps the episode readable.
void write_failure(Stay& s) {
    const bool aimed = s.about("device_failure");
    if (called_already(s) || (!aimed && (s.about("arm_swelling") || !s.lapses(0.04)))) return;
    Time low = s.inserted + hours(1);
    Time high = s.end() - hours(3);
    if (s.aims("device_failure", "pending", 1)) low = s.horizon - minutes(13), high = s.horizon - minutes(2);
    if (s.aims("device_failure", "pending", 2)) low = s.horizon - minutes(43), high = s.horizon - minutes(32);
    const auto t = s.moment(low, high);
    if (!t) return;
    const char* what = s.random.weighted<const char*>({{"occlusion", 6},
                                                       {"infiltration", 3},
                                                       {"catheter_damage", 1},
                                                       {"dislodgement", 2},
                                                       {"migration", 1}});
    s.add(what, *t);
    write_run(s, failure, *t);
}

}  // namespace

void write_ladders(Stay& s) {
    for (const Time t : s.moved) write_run(s, migration, t);
    if (s.policy == Policy::home_infusion) write_fever_at_home(s);
    write_failure(s);
    if (s.fifth()) write_arm(s);
}

void account_ladders(Stay& s) {
    for (const Time t : s.moved) account_run(s, migration, t);
    for (const char* what : failures) {
        for (const Time t : instants_of(s, what)) account_run(s, failure, t);
    }
    if (s.swollen) account_run(s, swelling, *s.swollen);
    if (s.policy != Policy::home_infusion) return;
    for (const Time t : instants_of(s, "fever")) {
        const std::string where = s.setting_at(t);
        if (where.empty()) s.plant("fever_at_home", t, "not_assessable", "", 1);
        if (where == "home") account_run(s, fever_at_home, t);
    }
}

}  // namespace linelaw::demo
