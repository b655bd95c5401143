// How a line was put in, as the later edition asks: where, by whom, in how many attempts, scrubbed before
// dried, and how long it is.
#include <algorithm>

#include "policies/demo/generator/charting.hpp"

namespace linelaw::demo {
namespace {

std::string usual_site(Stay& s) {
    const std::string& kind = s.kind;
    if (kind == "picc" || kind == "midline") return "upper_arm";
    if (kind == "umbilical_artery" || kind == "umbilical_vein") return "umbilicus";
    if (kind == "intraosseous") return "bone";
    if (kind == "arterial" || kind == "peripheral") return s.random.chance(0.7) ? "forearm" : "hand";
    return s.random.chance(0.5) ? "neck" : "chest";
}

// A word of the insertion, or nothing of it.
Charted chart_word(Event& event, const char* name, const std::string& word, bool missing) {
    if (missing) return Charted::no;
    event.values.emplace_back(name, quoted(word));
    return Charted::yes;
}

Charted chart_site(Stay& s, Event& event) {
    std::string site = usual_site(s);
    const bool groin = s.central() && (s.take("insertion.femoral", "not_met") || s.lapses(0.05));
    const bool foot = s.kind == "peripheral" && (s.take("insertion.upper_limb", "not_met") || s.lapses(0.04));
    if (groin) site = "groin";
    if (foot) site = "foot";
    const bool missing = s.take("insertion.femoral", "not_assessable") ||
                         s.take("insertion.upper_limb", "not_assessable") || s.lapses(0.02);
    const Charted charted = chart_word(event, "site", site, missing);
    const bool age_known = s.age_group != AgeGroup::unknown;
    const auto judge = [&](const char* clause, bool kept) {
        if (s.adult() || !age_known)
            s.plant(clause, s.inserted, !age_known || missing ? "not_assessable" : kept ? "met" : "not_met");
    };
    if (s.central()) judge("insertion.femoral", !groin);
    if (s.kind == "peripheral") judge("insertion.upper_limb", !foot);
    return charted;
}

Charted chart_attempts(Stay& s, Event& event) {
    const bool child_rule =
        s.policy == Policy::neonatal && s.kind == "peripheral" && s.young_infant(s.inserted) == true;
    const bool many = s.take("insertion.attempts", "not_met") || s.lapses(0.05);
    const bool three = s.take("neonatal.two_months", "not_met");
    const bool missing = s.take("insertion.attempts", "not_assessable") ||
                         s.take("document.insertion", "not_met") ||
                         s.take("neonatal.two_months", "not_assessable") || s.lapses(0.03);
    const std::int64_t attempts = many    ? s.random.between(4, 7)
                                  : three ? 3
                                          : s.random.weighted<int>({{1, 8}, {2, 3}, {3, 1}});
    if (!missing) event.values.emplace_back("attempts", std::to_string(attempts));
    s.plant("insertion.attempts", s.inserted, missing ? "not_assessable" : attempts <= 3 ? "met" : "not_met");
    if (child_rule)
        s.plant("neonatal.two_months", s.inserted,
                missing         ? "not_assessable"
                : attempts <= 2 ? "met"
                                : "not_met");
    return missing ? Charted::no : Charted::yes;
}

Charted chart_operator(Stay& s, Event& event) {
    if (s.take("document.insertion", "not_assessable")) {
        event.values.emplace_back("operator", spoiled_word(s));
        return Charted::spoiled;
    }
    const char* who = s.random.weighted<const char*>(
        {{"physician", 4}, {"vascular_access_nurse", 4}, {"bedside_nurse", 3}});
    return chart_word(event, "operator", who, s.lapses(0.02));
}

// Scrubbing comes before drying. The barriers of a central line are charted already, or nothing is.
void chart_order(Stay& s, Event& event) {
    if (!s.central() && !s.take("insertion.dry", "not_assessable") && !s.lapses(0.05)) {
        for (const char* step : {"hand_hygiene", "scrub", "dry", "apply_dressing"})
            event.steps.push_back({step, {}});
    }
    if (event.steps.empty()) return s.plant("insertion.dry", s.inserted, "not_assessable");
    if (!s.take("insertion.dry", "not_met") && !s.lapses(0.05))
        return s.plant("insertion.dry", s.inserted, "met");
    const auto step = [&](const char* name) {
        return std::find_if(event.steps.begin(), event.steps.end(),
                            [&](const Step& one) { return one.name == name; });
    };
    if (s.random.chance(0.5)) {
        std::iter_swap(step("scrub"), step("dry"));
    } else {
        event.steps.erase(step(s.random.chance(0.5) ? "scrub" : "dry"));
    }
    s.plant("insertion.dry", s.inserted, "not_met");
}

void chart_lengths(Stay& s) {
    if (!s.measurable()) return;
    const bool missing = s.take("insertion.length", "not_met") || s.lapses(0.04);
    const bool spoiled = !missing && s.take("insertion.length", "not_assessable");
    if (!missing) s.inserted_length = spoiled ? spoiled_number(s) : tenths(s.random.between(120, 480));
    s.plant("insertion.length", s.inserted,
            documented({s.baseline ? Charted::yes : Charted::no, missing   ? Charted::no
                                                                 : spoiled ? Charted::spoiled
                                                                           : Charted::yes}));
}

void chart_weight(Stay& s) {
    if (s.policy != Policy::neonatal || !s.newborn(s.inserted)) return;
    const bool missing = s.take("neonatal.weight", "not_met") || s.lapses(0.06);
    const bool spoiled = !missing && s.take("neonatal.weight", "not_assessable");
    if (!missing) s.weight = spoiled ? spoiled_number(s) : tenths(s.random.between(7, 45));
    if (s.central())
        s.plant("neonatal.weight", s.inserted, missing ? "not_met" : spoiled ? "not_assessable" : "met");
}

// How a word that chart_preparation wrote can be read.
Charted charted_word(const Event& event, const std::string& name) {
    const std::string word = value_of(event, name);
    if (word.empty()) return Charted::no;
    return word == "7" || word == "see notes" ? Charted::spoiled : Charted::yes;
}

}  // namespace

void chart_practices(Stay& s, Event& event) {
    const Charted site = chart_site(s, event);
    const Charted attempts = chart_attempts(s, event);
    const Charted who = chart_operator(s, event);
    s.plant("document.insertion", s.inserted,
            documented(
                {who, site, charted_word(event, "antiseptic"), charted_word(event, "dressing"), attempts}));
    chart_order(s, event);
    chart_lengths(s);
    chart_weight(s);
}

void account_chlorhexidine(Stay& s, Time at, const std::string& dressing) {
    const bool age_known = s.age_group != AgeGroup::unknown;
    if (s.kind == "nontunnelled_cvc" && (s.adult() || !age_known) && s.sensitive != true) {
        const bool unknown = !age_known || !s.sensitive || dressing.empty();
        s.plant("dressing.chlorhexidine", at,
                unknown                         ? "not_assessable"
                : dressing == "chg_transparent" ? "met"
                                                : "not_met");
    }
    if (s.newborn(at) && s.preterm != false) {
        const bool unknown = !s.preterm || dressing.empty();
        s.plant("dressing.chlorhexidine_preterm", at,
                unknown                         ? "not_assessable"
                : dressing != "chg_transparent" ? "met"
                                                : "not_met");
    }
}

}  // namespace linelaw::demo
