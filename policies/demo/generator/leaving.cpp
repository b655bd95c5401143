// Whether the line is still needed, its removal, and the way home.
#include <algorithm>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

std::vector<Event*> events_of(Stay& s, const char* type) {
    std::vector<Event*> found;
    for (Event& event : s.events) {
        if (event.type == type) found.push_back(&event);
    }
    std::sort(found.begin(), found.end(), [](const Event* a, const Event* b) { return a->at < b->at; });
    return found;
}

// One question that is answered with no, so that what follows comes out as planned.
bool needed_no_longer(Stay& s, const Event& asked) {
    const Time limit = asked.at + hours(24);
    if (s.removed && *s.removed <= limit) return s.take("removal.prompt", "met") || s.random.chance(0.3);
    if (s.removed) return s.take("removal.prompt", "late") || s.lapses(0.004);
    if (limit >= s.horizon) return s.take("removal.prompt", "pending") || s.random.chance(0.05);
    return s.take("removal.prompt", "missed") || s.lapses(0.004);
}

void answer_questions(Stay& s) {
    for (Event* asked : events_of(s, "line_need_review")) {
        Charted charted = Charted::yes;
        asked->values.clear();
        if (s.take("document.need", "not_met") || s.take("removal.prompt", "not_assessable") ||
            s.lapses(0.01)) {
            charted = Charted::no;
        } else if (s.take("document.need", "not_assessable")) {
            charted = Charted::spoiled;
            asked->values = {{"still_needed", spoiled_flag(s)}};
        } else {
            asked->values = {{"still_needed", needed_no_longer(s, *asked) ? "false" : "true"}};
        }
        s.plant("document.need", asked->at, documented({charted}));
    }
}

void account_questions(Stay& s) {
    for (const Event* asked : events_of(s, "line_need_review")) {
        const std::string needed = value_of(*asked, "still_needed");
        if (needed == "true") continue;
        s.plant(
            "removal.prompt", asked->at,
            needed == "false" ? settle(s, asked->at + hours(24), s.removed, std::nullopt) : "not_assessable");
    }
}

void chart_removal(Stay& s) {
    if (!s.removed) return;
    Event event{"removal", *s.removed, {}, {}, {}};
    const bool silent = s.take("removal.inspected", "not_assessable") || s.lapses(0.05);
    std::vector<std::string> steps = {"hand_hygiene", "clean_gloves", "withdraw", "apply_pressure",
                                      "inspect_tip"};
    const bool hasty = s.take("removal.inspected", "not_met") || s.lapses(0.06);
    if (hasty) steps.erase(steps.begin() + s.random.between(2, 4));
    if (s.random.chance(0.3)) std::swap(steps.front(), steps.back());  // no order is asked for here
    for (const std::string& step : steps) {
        if (!silent) event.steps.push_back({step, {}});
    }
    s.plant("removal.inspected", *s.removed, silent ? "not_assessable" : hasty ? "not_met" : "met");

    Charted why = Charted::yes;
    if (s.take("document.removal", "not_met") || s.lapses(0.04)) why = Charted::no;
    if (why == Charted::yes && s.take("document.removal", "not_assessable")) why = Charted::spoiled;
    const bool whole = !s.lapses(0.03);
    const char* reason = s.random.weighted<const char*>(
        {{"therapy_complete", 5}, {"no_longer_needed", 4}, {"complication", 1}});
    if (why == Charted::yes) event.values.emplace_back("removal_reason", quoted(reason));
    if (why == Charted::spoiled) event.values.emplace_back("removal_reason", spoiled_word(s));
    if (whole) event.values.emplace_back("tip_intact", "true");
    s.plant("document.removal", *s.removed, documented({why, whole ? Charted::yes : Charted::no}));
    s.events.push_back(std::move(event));
}

void teach(Stay& s, Time low, Time high) {
    if (const auto at = s.moment(low, high)) s.add("teaching", *at);
}

// Taught before going home; and, by the home-infusion service, again there.
void teach_around(Stay& s, Time home) {
    if (!s.take("discharge.teaching", "not_met") && !s.lapses(0.12)) {
        teach(s, add_days(home, -6), home - minutes(5));
    }
    if (s.policy != Policy::home_infusion) return;
    const Time limit = add_days(home, 3);
    if (s.take("home.teaching", "late") || s.lapses(0.1))
        return teach(s, limit + minutes(1), limit + hours(60));
    if (s.take("home.teaching", "missed") || s.lapses(0.08)) return;
    if (s.take("home.teaching", "pending") || s.take("home.teaching", "no_longer_due")) return;
    teach(s, home + hours(2), limit);
}

}  // namespace

void write_leaving(Stay& s) {
    answer_questions(s);
    chart_removal(s);
    std::vector<Time> homewards;
    for (const Event* transfer : events_of(s, "transfer")) {
        if (value_of(*transfer, "setting") == "home") homewards.push_back(transfer->at);
    }
    for (const Time at : homewards) teach_around(s, at);
}

void account_leaving(Stay& s) {
    account_questions(s);
    const std::vector<Time> lessons = instants_of(s, "teaching");
    for (const Event* transfer : events_of(s, "transfer")) {
        const std::string to = value_of(*transfer, "setting");
        const bool reads = to == "icu" || to == "ward" || to == "home";
        s.plant("document.transfer", transfer->at, to.empty() ? "not_met" : reads ? "met" : "not_assessable");
        if (reads && to != "home") continue;
        const auto last = first_from(lessons, add_days(transfer->at, -7));
        s.plant("discharge.teaching", transfer->at,
                !reads                          ? "not_assessable"
                : last && *last <= transfer->at ? "met"
                                                : "not_met");
        if (s.policy != Policy::home_infusion) continue;
        s.plant("home.teaching", transfer->at,
                !reads ? "not_assessable"
                       : settle(s, add_days(transfer->at, 3), first_from(lessons, transfer->at), s.removed));
    }
    if (s.kind == "umbilical_vein" && s.emergency != true) {
        s.plant(
            "umbilical.vein", s.inserted,
            s.emergency ? settle(s, add_days(s.inserted, 14), s.removed, std::nullopt) : "not_assessable");
    }
}

}  // namespace linelaw::demo
