#include "policies/demo/generator/charting.hpp"

#include <fmt/format.h>

#include <cstdlib>

namespace linelaw::demo {
namespace {

struct Preparation {  // outcomes; empty where the clause does not speak
    std::string choice;
    std::string sensitive;
    std::string scrub;
    std::string dry;
};

// How one value of the event is charted, with the episode's aim first.
Charted charted(Stay& s, const std::string& clause, const std::string& document, double missing) {
    if (s.take(clause, "not_assessable")) return Charted::no;
    if (s.take(document, "not_met")) return Charted::no;
    if (s.take(document, "not_assessable")) return Charted::spoiled;
    if (s.lapses(missing)) return Charted::no;
    return s.random.chance(0.003) ? Charted::spoiled : Charted::yes;
}

bool has_chlorhexidine(const std::string& antiseptic) {
    return antiseptic == "chg_alcohol" || antiseptic == "chg_aqueous";
}

std::string choose_antiseptic(Stay& s, Time at) {
    if (s.sensitive == true) {
        if (s.take("antisepsis.sensitive", "not_met") || s.lapses(0.05)) return "chg_alcohol";
        return s.random.weighted<const char*>({{"povidone_iodine", 3}, {"alcohol", 1}});
    }
    if (s.young_infant(at) == true) {
        return s.random.weighted<const char*>(
            {{"chg_aqueous", 5}, {"chg_alcohol", 2}, {"povidone_iodine", 2}});
    }
    if (s.take("antisepsis.choice", "not_met") || s.lapses(0.04)) {
        return s.random.weighted<const char*>({{"povidone_iodine", 4}, {"chg_aqueous", 2}, {"alcohol", 3}});
    }
    return "chg_alcohol";
}

std::string seconds_text(Stay& s, std::int64_t seconds) {
    if (seconds % 60 == 0 && s.random.chance(0.3)) {
        return fmt::format(R"({{"value":{},"unit":"min"}})", seconds / 60);
    }
    return std::to_string(seconds);
}

// The antiseptic, its scrubbing and its drying, and the dressing put on.
Preparation chart_preparation(Stay& s, Event& event, const std::string& dressing,
                              std::string& known_dressing) {
    Preparation said;
    int missing = 0;
    int spoiled = 0;
    const auto count = [&](Charted c) {
        missing += c == Charted::no ? 1 : 0;
        spoiled += c == Charted::spoiled ? 1 : 0;
    };
    const std::string antiseptic = choose_antiseptic(s, event.at);
    const bool young_known = s.young_infant(event.at).has_value();
    const bool young = s.young_infant(event.at).value_or(false);

    const Charted names = s.take("antisepsis.sensitive", "not_assessable")
                              ? Charted::no
                              : charted(s, "antisepsis.choice", "-", 0.02);
    const Charted scrubbed = charted(s, "antisepsis.scrub", "document.dressing", 0.02);
    // One thing amiss with drying at a time: what rests on two is hard to read, for people too.
    const Charted dried = names != Charted::yes                        ? Charted::yes
                          : s.take("antisepsis.dry", "not_assessable") ? Charted::spoiled
                                                                       : charted(s, "-", "-", 0.03);
    count(names);
    count(scrubbed);
    count(dried);
    if (names == Charted::yes) event.values.emplace_back("antiseptic", quoted(antiseptic));
    if (names == Charted::spoiled) event.values.emplace_back("antiseptic", spoiled_word(s));

    // What the table of the policy asks for.
    const std::int64_t to_scrub = antiseptic == "povidone_iodine" ? 60 : 30;
    const bool dry_known = names == Charted::yes && (young_known || antiseptic != "chg_alcohol");
    const std::int64_t to_dry = antiseptic == "alcohol"       ? 30
                                : antiseptic != "chg_alcohol" ? 120
                                : young                       ? 60
                                                              : 30;
    const bool short_scrub = s.take("antisepsis.scrub", "not_met") || s.lapses(0.06);
    const bool short_dry = s.take("antisepsis.dry", "not_met") || s.lapses(0.08);
    const std::int64_t scrub = names != Charted::yes ? 40
                               : short_scrub
                                   ? s.random.between(to_scrub / 3, to_scrub - 1)
                                   : to_scrub + (s.random.chance(0.3) ? 0 : s.random.between(0, 60));
    const std::int64_t dry = !dry_known  ? 45  // enough or not, as the antiseptic and the age may be
                             : short_dry ? s.random.between(to_dry / 4, to_dry - 1)
                                         : to_dry + (s.random.chance(0.3) ? 0 : s.random.between(0, 120));
    if (scrubbed == Charted::yes) event.values.emplace_back("scrub_time", seconds_text(s, scrub));
    if (scrubbed == Charted::spoiled) event.values.emplace_back("scrub_time", spoiled_number(s));
    if (dried == Charted::yes) event.values.emplace_back("dry_time", seconds_text(s, dry));
    if (dried == Charted::spoiled) event.values.emplace_back("dry_time", spoiled_number(s));

    known_dressing = dressing;
    if (dressing.empty()) {
        const bool wrong = s.random.chance(0.25);
        count(wrong ? Charted::spoiled : Charted::no);
        if (wrong) event.values.emplace_back("dressing", spoiled_word(s));
    } else {
        event.values.emplace_back("dressing", quoted(dressing));
    }

    const bool sensitive_known = s.sensitive.has_value();
    const bool sensitive = s.sensitive.value_or(false);
    if (!young && !sensitive) {
        said.choice = !young_known || !sensitive_known || names != Charted::yes ? "not_assessable"
                      : antiseptic == "chg_alcohol"                             ? "met"
                                                                                : "not_met";
    }
    if (sensitive || !sensitive_known) {
        said.sensitive = !sensitive_known || names != Charted::yes ? "not_assessable"
                         : has_chlorhexidine(antiseptic)           ? "not_met"
                                                                   : "met";
    }
    said.scrub = names != Charted::yes || scrubbed != Charted::yes ? "not_assessable"
                 : scrub >= to_scrub                               ? "met"
                                                                   : "not_met";
    // A drying time that is merely missing counts as not met here; one that cannot be read does not.
    said.dry = names == Charted::spoiled || dried == Charted::spoiled ? "not_assessable"
               : dried == Charted::no || !dry_known || dry < to_dry   ? "not_met"
                                                                      : "met";
    s.plant("document.dressing", event.at, missing > 0 ? "not_met" : spoiled > 0 ? "not_assessable" : "met");
    if (!said.choice.empty()) s.plant("antisepsis.choice", event.at, said.choice);
    if (!said.sensitive.empty()) s.plant("antisepsis.sensitive", event.at, said.sensitive);
    s.plant("antisepsis.scrub", event.at, said.scrub);
    s.plant("antisepsis.dry", event.at, said.dry);
    return said;
}

std::string chart_barriers(Stay& s, Event& event) {
    std::vector<std::string> barriers = {"hand_hygiene",   "cap",       "mask", "sterile_gown",
                                         "sterile_gloves", "full_drape"};
    if (s.take("insertion.barriers", "not_assessable") || s.lapses(0.03)) return "not_assessable";
    std::string outcome = "met";
    if (s.take("insertion.barriers", "not_met") || s.lapses(0.07)) {
        barriers.erase(barriers.begin() + s.random.between(0, 5));
        outcome = "not_met";
    }
    if (s.random.chance(0.3)) std::swap(barriers.front(), barriers.back());  // no order is asked for here
    for (const std::string& step : barriers) event.steps.push_back({step, {}});
    for (const char* step : {"scrub", "dry", "secure", "apply_dressing"}) event.steps.push_back({step, {}});
    return outcome;
}

void chart_steps(Stay& s, Event& event) {
    if (s.take("dressing.steps", "not_assessable") || s.lapses(0.04)) {
        s.plant("dressing.steps", event.at, "not_assessable");
        return;
    }
    std::vector<std::string> steps = {"hand_hygiene",   "remove_dressing", "hand_hygiene",
                                      "sterile_gloves", "scrub",           "dry",
                                      "apply_dressing"};
    std::string outcome = "met";
    if (s.take("dressing.steps", "not_met") || s.lapses(0.07)) {
        outcome = "not_met";
        if (s.random.chance(0.4)) {
            std::swap(steps[2], steps[4]);  // scrubbed before the hands
        } else {
            steps.erase(steps.begin() + s.random.between(0, 6));
        }
    }
    if (s.random.chance(0.4)) steps.insert(steps.begin() + 1, "patient_mask");
    if (s.random.chance(0.3)) steps.emplace_back("label");
    const bool timed = outcome == "met" && s.random.chance(0.08);
    for (std::size_t i = 0; i < steps.size(); ++i) {
        event.steps.push_back({steps[i], {}});
        if (timed) event.steps.back().at = event.at - minutes(static_cast<int>(steps.size() - i));
    }
    if (timed) std::swap(event.steps.front(), event.steps.back());  // the times say the order, not the list
    s.plant("dressing.steps", event.at, outcome);
}

void chart_length(Stay& s, Event& event, std::int64_t length) {
    if (!s.measurable()) return;
    const bool moved = s.baseline && std::llabs(length - *s.baseline) > 20;
    const Charted how = moved ? Charted::yes : charted(s, "-", "document.length", 0.03);
    if (how == Charted::yes && !moved &&
        s.random.chance(0.02)) {  // an inch tape: within 0.2 cm of the baseline
        const std::int64_t inches = (s.baseline.value_or(100) * 100 + 127) / 254;
        event.values.emplace_back("external_length",
                                  fmt::format(R"({{"value":{},"unit":"[in_i]"}})", tenths(inches)));
    } else if (how == Charted::yes) {
        event.values.emplace_back("external_length", tenths(length));
    } else if (how == Charted::spoiled) {
        event.values.emplace_back("external_length", spoiled_number(s));
    }
    s.plant("document.length", event.at,
            how == Charted::yes  ? "met"
            : how == Charted::no ? "not_met"
                                 : "not_assessable");
    if (how != Charted::yes || !s.baseline) s.plant("catheter_migration", event.at, "not_assessable", "", 1);
}

void chart_promptly(Stay& s, Event& event) {
    if (s.take("charting.prompt", "not_assessable") || s.lapses(0.02)) {
        s.plant("charting.prompt", event.at, "not_assessable");
        return;
    }
    const bool late = s.take("charting.prompt", "not_met") || s.lapses(0.08);
    const std::int64_t most = s.fifth() ? 120 : 240;  // minutes
    event.recorded_at = event.at + minutes(late                    ? s.random.between(most + 1, 2000)
                                           : s.random.chance(0.05) ? most
                                                                   : s.random.between(2, most - 40));
    s.plant("charting.prompt", event.at, late ? "not_met" : "met");
}

}  // namespace

std::string spoiled_number(Stay& s) {
    switch (s.random.between(0, 2)) {
        case 0:
            ++s.set_aside["value.range"];
            return "99999";
        case 1:
            ++s.set_aside["value.type"];
            return quoted("about the same");
        default:
            ++s.set_aside["value.unit"];
            return R"({"value":38,"unit":"Cel"})";
    }
}

std::string spoiled_word(Stay& s) {
    if (s.random.chance(0.5)) {
        ++s.set_aside["value.type"];
        return "7";
    }
    ++s.set_aside["value.list"];
    return quoted("see notes");
}

std::string spoiled_flag(Stay& s) {
    ++s.set_aside["value.type"];
    return quoted("perhaps");
}

std::string chart_insertion(Stay& s, const std::string& dressing) {
    Event event{"insertion", s.inserted, {}, {}, {}};
    std::string known;
    const std::string barriers = s.central() ? chart_barriers(s, event) : "";
    const Preparation said = chart_preparation(s, event, dressing, known);
    std::string bundle = "met";
    for (const std::string& outcome : {barriers, said.choice, said.sensitive, said.scrub, said.dry}) {
        if (outcome == "not_met" || (outcome == "not_assessable" && bundle == "met")) bundle = outcome;
    }
    if (!barriers.empty()) s.plant("insertion.barriers", s.inserted, barriers);
    s.plant("insertion_practices", s.inserted, bundle);
    if (s.fifth()) {
        chart_practices(s, event);
        account_chlorhexidine(s, s.inserted, known);
    }
    s.taken.insert(s.inserted);
    s.events.push_back(std::move(event));
    return known;
}

std::string chart_change(Stay& s, Time at, const std::string& dressing, std::int64_t length) {
    Event event{"dressing_change", at, {}, {}, {}};
    std::string known;
    chart_preparation(s, event, dressing, known);
    chart_steps(s, event);
    chart_length(s, event, length);
    chart_promptly(s, event);
    if (s.fifth()) account_chlorhexidine(s, at, known);
    s.taken.insert(at);
    s.events.push_back(std::move(event));
    return known;
}

}  // namespace linelaw::demo
