// What runs through the line: infusions, the sets they run through, and the connectors of the lumens.
#include <fmt/format.h>

#include <algorithm>
#include <string_view>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

// The three clauses over sets, as far as their arithmetic goes.
struct SetRule {
    std::string_view clause;
    int days;      // due after so many dates …
    Time elapsed;  // … and so much time
    Time grace;
    Time shortest;  // 0: none
};
constexpr SetRule continuous{"set.continuous", 7, 0, 0, hours(96)};
constexpr SetRule daily{"set.nutrition_lipid_blood", 0, hours(24), hours(1), 0};
constexpr SetRule half_daily{"set.propofol", 0, hours(12), hours(1), 0};
constexpr SetRule connectors{"connector.interval", 7, 0, hours(12), hours(96)};

Time limit_of(const SetRule& rule, Time from) {
    return add_days(from, rule.days) + rule.elapsed + rule.grace;
}

// One change of a set or connector. `reason`: empty where it is not charted.
struct Renewal {
    Time at = 0;
    std::string reason;
    bool spoiled = false;
};

bool excuses_early(const SetRule& rule, const std::string& reason) {
    if (reason == "contaminated") return true;
    if (&rule == &continuous) return reason == "leak";
    return reason == "removed" || reason == "blood_inside" || reason == "before_culture";
}

std::string valid_reason(Stay& s, const SetRule& rule) {
    if (&rule == &connectors) {
        return s.random.weighted<const char*>(
            {{"removed", 3}, {"blood_inside", 4}, {"before_culture", 3}, {"contaminated", 1}});
    }
    return s.random.chance(0.6) ? "leak" : "contaminated";
}

// The changes over one stretch [begin, end), good and bad.
std::vector<Renewal> plan_changes(Stay& s, const SetRule& rule, Time begin, Time end) {
    std::vector<Renewal> changes;
    Time last = begin;
    while (changes.size() < 80) {
        const Time due = add_days(last, rule.days) + rule.elapsed;
        const Time limit = limit_of(rule, last);
        const bool room = limit + hours(2) < end;
        const bool after_change = !changes.empty();
        std::optional<Time> t;
        Renewal change{0, "routine", false};
        if (rule.shortest != 0 && after_change && last + rule.shortest < end &&
            (s.take(std::string(rule.clause), "early") ||
             (&rule == &connectors && s.take("connector.shortest", "early")) || s.lapses(0.05))) {
            t = s.moment(last + hours(5), last + rule.shortest - minutes(1));
        } else if (rule.shortest != 0 && after_change && last + rule.shortest < end &&
                   (s.take(std::string(rule.clause), "not_assessable") ||
                    (&rule == &connectors && s.take("connector.shortest", "not_assessable")) ||
                    s.random.chance(0.01))) {
            t = s.moment(last + hours(5), last + rule.shortest - minutes(1));
            change.reason.clear();
            change.spoiled = s.random.chance(0.3);
        } else if (rule.shortest != 0 && s.random.chance(0.06)) {
            t = s.moment(last + hours(2), std::min(due, end));
            change.reason = valid_reason(s, rule);
        } else if (room && (s.take(std::string(rule.clause), "missed") || s.lapses(0.015))) {
            break;
        } else if (room && (s.take(std::string(rule.clause), "late") || s.lapses(0.07))) {
            t = s.moment(limit + minutes(1), limit + (rule.days > 0 ? hours(40) : hours(5)));
        } else if (s.random.chance(0.03) && limit < end) {
            t = s.exactly(limit);
        } else {
            const Time low = rule.shortest != 0 ? std::max(last + rule.shortest, due - hours(60))
                                                : std::max(last + hours(1), due - hours(3));
            t = s.random.chance(0.03) && rule.shortest != 0 && after_change && last + rule.shortest < end
                    ? s.exactly(last + rule.shortest)
                    : s.moment(low, limit);
        }
        if (!t || *t >= end) break;
        if (change.reason == "routine" && s.take("document.sets", "not_met")) change.reason.clear();
        if (change.reason == "routine" && s.take("document.sets", "not_assessable")) {
            change.reason.clear();
            change.spoiled = true;
        }
        change.at = *t;
        changes.push_back(change);
        last = *t;
    }
    std::sort(changes.begin(), changes.end(), [](const auto& a, const auto& b) { return a.at < b.at; });
    return changes;
}

// What the changes over a part's life come to.
void account_changes(Stay& s, const SetRule& rule, const std::string& part, Time begin,
                     std::optional<Time> end, const std::vector<Renewal>& changes) {
    Time opened = begin;
    bool from_change = false;
    for (const Renewal& change : changes) {
        const Time limit = limit_of(rule, opened);
        std::string outcome = change.at <= limit ? "met" : "late";
        if (rule.shortest != 0 && from_change && change.at < opened + rule.shortest) {
            outcome = change.reason.empty()                ? "not_assessable"
                      : excuses_early(rule, change.reason) ? outcome
                                                           : "early";
        }
        s.plant(std::string(rule.clause), opened, outcome, part);
        opened = change.at;
        from_change = true;
    }
    s.plant(std::string(rule.clause), opened, settle(s, limit_of(rule, opened), std::nullopt, end), part);
}

// The same shortest time as a clause of its own: one opportunity for each pair.
void account_pairs(Stay& s, const SetRule& rule, const std::string& part,
                   const std::vector<Renewal>& changes) {
    for (std::size_t i = 1; i < changes.size(); ++i) {
        const Renewal& change = changes[i];
        s.plant("connector.shortest", changes[i - 1].at,
                change.at >= changes[i - 1].at + rule.shortest ? "met"
                : change.reason.empty()                        ? "not_assessable"
                : excuses_early(rule, change.reason)           ? "met"
                                                               : "early",
                part);
    }
}

struct Infusion {
    std::string name;
    std::string fluid;     // empty: not charted
    std::string delivery;  // empty: not charted
    Time start = 0;
    std::optional<Time> stop;
};

const SetRule* rule_of(const std::string& fluid, const std::string& delivery) {
    if (fluid == "nutrition" || fluid == "lipid" || fluid == "blood") return &daily;
    if (fluid == "propofol") return &half_daily;
    return delivery == "continuous" ? &continuous : nullptr;
}

void write_lumen(Stay& s, Event& event) {
    if (!s.lumens) return;
    if (*s.lumens == 1 && s.random.chance(0.6)) return;  // just one is there: it need not be named
    const std::int64_t lumen = s.random.between(1, *s.lumens);
    event.values.emplace_back("lumen",
                              s.random.chance(0.5) ? std::to_string(lumen) : fmt::format("\"{}\"", lumen));
}

std::string choose_fluid(Stay& s) {
    if (s.about("set.continuous")) return "crystalloid";
    if (s.about("set.nutrition_lipid_blood")) return s.random.chance(0.5) ? "nutrition" : "lipid";
    if (s.about("set.propofol")) return "propofol";
    const bool small = !s.central();
    if (small && (s.take("vesicant.route", "not_met") || s.lapses(0.03))) return "vesicant";
    return s.random.weighted<const char*>({{"crystalloid", 40},
                                           {"medication", 30},
                                           {"nutrition", small ? 0 : 8},
                                           {"lipid", small ? 0 : 5},
                                           {"blood", 8},
                                           {"propofol", s.unit.rfind("icu", 0) == 0 ? 10 : 0},
                                           {"vesicant", small ? 0 : 4}});
}

Time long_enough(Stay& s, const std::string& fluid) {
    if (s.focus.item.rfind("set.", 0) == 0) return hours(24L * 40);
    if (fluid == "blood") return minutes(s.random.between(90, 240));
    if (fluid == "lipid") return hours(s.random.between(10, 60));
    if (fluid == "propofol") return hours(s.random.between(8, 70));
    return hours(s.random.between(8, 24L * 14));
}

void write_one(Stay& s, int number, Time earliest) {
    Infusion one;
    one.name = fmt::format("i{}", number);
    one.fluid = choose_fluid(s);
    one.delivery = one.fluid == "medication" && s.random.chance(0.6) ? "intermittent" : "continuous";
    const auto start = s.moment(earliest, std::min(earliest + hours(40), s.end() - hours(1)));
    if (!start) return;
    one.start = *start;
    // Nobody charts what runs: the clauses for each such infusion cannot be judged.
    bool spoiled = false;
    for (const SetRule* rule : {&daily, &half_daily}) {
        if (s.take(std::string(rule->clause), "not_assessable")) one.fluid.clear();
    }
    if (s.take("document.infusion", "not_met") || s.take("vesicant.route", "not_assessable") ||
        s.lapses(0.01)) {
        one.fluid.clear();
    } else if (s.take("document.infusion", "not_assessable")) {
        one.fluid.clear();
        spoiled = true;
    } else if (!one.fluid.empty() && s.lapses(0.01)) {
        one.delivery.clear();
    }

    Time stop = one.start + long_enough(s, one.fluid);
    const bool to_the_end = s.focus.item.rfind("set.", 0) == 0 || stop + hours(1) > s.end();
    if (!to_the_end) one.stop = s.moment(stop, stop + hours(2));

    Event began{"infusion_start", one.start, {{"infusion", quoted(one.name)}}, {}, {}};
    write_lumen(s, began);
    if (!one.fluid.empty()) began.values.emplace_back("fluid", quoted(one.fluid));
    if (spoiled) began.values.emplace_back("fluid", spoiled_word(s));
    if (!one.delivery.empty()) began.values.emplace_back("delivery", quoted(one.delivery));
    s.events.push_back(began);
    s.plant("document.infusion", one.start,
            (one.fluid.empty() && !spoiled) || one.delivery.empty() ? "not_met"
            : spoiled                                               ? "not_assessable"
                                                                    : "met");
    if (s.kind == "peripheral" || s.kind == "midline") {
        s.plant("vesicant.route", one.start,
                one.fluid.empty()         ? "not_assessable"
                : one.fluid == "vesicant" ? "not_met"
                                          : "met");
    }
    if (one.stop) s.add("infusion_stop", *one.stop, {{"infusion", quoted(one.name)}});

    const Time end = one.stop.value_or(s.end());
    const std::optional<Time> known_end = one.stop ? one.stop : s.removed;
    if (one.fluid.empty()) {
        for (const SetRule* rule : {&continuous, &daily, &half_daily}) {
            if (rule == &continuous && one.delivery == "intermittent") continue;
            s.plant(std::string(rule->clause), one.start, "not_assessable", one.name);
        }
        return;
    }
    const SetRule* rule = rule_of(one.fluid, one.delivery);
    if (rule == nullptr) {
        if (one.delivery.empty())
            s.plant(std::string(continuous.clause), one.start, "not_assessable", one.name);
        return;
    }
    const std::vector<Renewal> changes = plan_changes(s, *rule, one.start, end);
    for (const Renewal& change : changes) {
        Event event{"set_change", change.at, {{"infusion", quoted(one.name)}}, {}, {}};
        if (!change.reason.empty()) event.values.emplace_back("reason", quoted(change.reason));
        if (change.spoiled) event.values.emplace_back("reason", spoiled_word(s));
        s.events.push_back(event);
        s.plant("document.sets", change.at,
                change.spoiled          ? "not_assessable"
                : change.reason.empty() ? "not_met"
                                        : "met");
    }
    account_changes(s, *rule, one.name, one.start, known_end, changes);
}

}  // namespace

void write_infusions(Stay& s) {
    const bool needed = s.focus.item.rfind("set.", 0) == 0 || s.about("vesicant.route") ||
                        s.about("document.infusion") || s.about("document.sets") || s.about("tip.before_use");
    const std::int64_t count = needed ? 1 : s.random.weighted<int>({{0, 3}, {1, 4}, {2, 2}, {3, 1}});
    for (int i = 1; i <= count; ++i) {
        const Time earliest = s.inserted + (s.aims("tip.before_use", "not_met") ? minutes(5) : hours(3)) +
                              hours((i - 1) * s.random.between(1, 30));
        write_one(s, i, earliest);
    }
    // Something is started while the line may have moved.
    for (const Time t : s.moved) {
        if (!s.take("catheter_migration", "not_met", 3) && !s.random.chance(0.15)) continue;
        if (const auto at = s.moment(t + minutes(1), t + hours(2))) {
            Event began{"infusion_start", *at, {{"infusion", quoted("held")}}, {}, {}};
            write_lumen(s, began);
            began.values.emplace_back("fluid", quoted("medication"));
            began.values.emplace_back("delivery", quoted("intermittent"));
            s.events.push_back(began);
            s.plant("document.infusion", *at, "met");
            if (s.kind == "midline") s.plant("vesicant.route", *at, "met");
        }
    }
}

void write_connectors(Stay& s) {
    if (!s.lumens) {  // how many there are is not charted
        s.plant(std::string(connectors.clause), s.inserted, "not_assessable");
        if (s.fifth()) s.plant("connector.shortest", s.inserted, "not_assessable");
        return;
    }
    for (int lumen = 1; lumen <= *s.lumens; ++lumen) {
        const std::vector<Renewal> changes = plan_changes(s, connectors, s.inserted, s.end());
        for (const Renewal& change : changes) {
            Event event{"connector_change", change.at, {}, {}, {}};
            if (*s.lumens > 1 || s.random.chance(0.5))
                event.values.emplace_back("lumen", std::to_string(lumen));
            if (!change.reason.empty()) event.values.emplace_back("reason", quoted(change.reason));
            if (change.spoiled) event.values.emplace_back("reason", spoiled_word(s));
            s.events.push_back(event);
            s.plant("document.sets", change.at,
                    change.spoiled          ? "not_assessable"
                    : change.reason.empty() ? "not_met"
                                            : "met");
        }
        account_changes(s, connectors, std::to_string(lumen), s.inserted, s.removed, changes);
        if (s.fifth()) account_pairs(s, connectors, std::to_string(lumen), changes);
    }
}

}  // namespace linelaw::demo
