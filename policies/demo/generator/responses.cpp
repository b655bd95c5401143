// What must follow on something: the tip after insertion, cultures after a fever or a draining site, a flush
// after a blood draw, the needle's removal, the removal of a
// line that must not stay.
#include <fmt/format.h>

#include <algorithm>

#include "policies/demo/generator/charting.hpp"
#include "policies/demo/generator/scripts.hpp"

namespace linelaw::demo {
namespace {

// An incident and its answer, planned for one outcome.
struct Incident {
    Time at = 0;
    std::optional<Time> answer;
};

std::string draw_outcome(Stay& s, const std::string& clause) {
    for (const char* outcome : {"met", "late", "missed", "pending", "no_longer_due"}) {
        if (s.take(clause, outcome)) return outcome;
    }
    if (s.lapses(0.22)) return s.random.chance(0.65) ? "late" : "missed";
    return s.random.chance(0.04) ? "cut short" : "met";
}

// `latest`: an answer planned as late comes at most so long after the limit.
std::optional<Incident> plan_incident(Stay& s, const std::string& clause, Time allowed, Time latest) {
    const std::string outcome = draw_outcome(s, clause);
    const bool cut_short = outcome == "pending" || outcome == "no_longer_due" || outcome == "cut short";
    const auto at = cut_short ? s.moment(s.end() - allowed + minutes(2), s.end() - minutes(1))
                              : s.moment(s.inserted + hours(1), s.end() - allowed - latest);
    if (!at) return std::nullopt;
    Incident incident{*at, {}};
    const Time limit = *at + allowed;
    if (outcome == "met") {
        if (s.random.chance(0.08)) incident.answer = s.exactly(limit);
        if (!incident.answer) incident.answer = s.moment(*at + minutes(1), limit);
    }
    if (outcome == "late") incident.answer = s.moment(limit + minutes(1), limit + latest);
    return incident;
}

void write_tip(Stay& s) {
    if (!s.central()) return;
    const std::string outcome = draw_outcome(s, "tip.confirmed");
    const Time limit = s.inserted + hours(24);
    std::optional<Time> at;
    if (outcome == "met") {
        at = s.random.chance(0.02) && limit < s.end()
                 ? s.exactly(limit)
                 : s.moment(s.inserted + minutes(15), s.inserted + hours(3));
    }
    if (outcome == "late") at = s.moment(limit + minutes(5), limit + hours(30));
    if (!at) return;
    const char* method =
        s.random.weighted<const char*>({{"chest_radiograph", 5}, {"ecg", 4}, {"fluoroscopy", 1}});
    s.add("tip_confirmation", *at, {{"method", quoted(method)}});
}

void write_fever(Stay& s) {
    if (s.policy == Policy::home_infusion) return;  // there a fever starts a ladder
    if (!s.about("fever.culture") && !s.random.chance(0.06)) return;
    const auto incident = plan_incident(s, "fever.culture", minutes(90), hours(6));
    if (!incident) return;
    s.add("fever", incident->at, {{"temperature", tenths(s.random.between(383, 401))}});
    if (incident->answer) s.add("culture", *incident->answer, {{"specimen", quoted("blood_paired")}});
}

void write_drainage(Stay& s) {
    if (!s.about("drainage.culture") && !s.random.chance(0.03)) return;
    if (s.take("drainage.culture", "not_assessable")) {
        if (const auto at = s.moment(s.inserted + hours(1), s.end())) {
            s.add("site_assessment", *at, {{"dressing_condition", quoted("intact")}});
        }
        return;
    }
    const auto incident = plan_incident(s, "drainage.culture", hours(4), hours(12));
    if (!incident) return;
    s.add("site_assessment", incident->at,
          {{"dressing_condition", quoted("intact")}, {"site_condition", quoted("drainage")}});
    if (incident->answer) s.add("culture", *incident->answer, {{"specimen", quoted("exit_site")}});
}

// In millilitres: at least 10 after a draw, but at most 3 in a newborn.
int volume_for(Stay& s, Time at) {
    if (s.policy != Policy::neonatal || !s.newborn(at)) return s.random.weighted<int>({{10, 8}, {20, 2}});
    return s.take("neonatal.flush", "not_met") || s.lapses(0.08)
               ? 5
               : s.random.weighted<int>({{1, 1}, {2, 2}, {3, 2}});
}

void flush(Stay& s, Time at, Values lumen) {
    lumen.emplace_back("volume", std::to_string(volume_for(s, at)));
    lumen.emplace_back("solution", quoted("saline"));
    s.add("flush", at, std::move(lumen));
    s.plant("document.flush", at, "met");
}

void write_draws(Stay& s) {
    const bool aimed = s.about("flush.after_draw") || s.about("document.flush") ||
                       s.about("neonatal.flush") || s.about("neonatal.flush_after_draw");
    const std::int64_t count = aimed ? 1
                               : s.focus.item == "port.idle"
                                   ? 0
                                   : s.random.weighted<int>({{0, 5}, {1, 2}, {2, 1}});
    for (int i = 0; i < count; ++i) {
        const bool uncharted = s.take("document.flush", "not_met") ||
                               s.take("flush.after_draw", "not_assessable") ||
                               s.take("neonatal.flush", "not_assessable") || s.lapses(0.03);
        const bool spoiled = !uncharted && s.take("document.flush", "not_assessable");
        if (uncharted || spoiled) {  // flushed in time, but nobody can read with how much
            const auto at = s.moment(s.inserted + hours(1), s.end() - hours(1));
            if (!at) continue;
            const Values lumen = name_lumen(s);
            s.add("blood_draw", *at, lumen);
            const auto answer = s.moment(*at + minutes(1), *at + minutes(9));
            if (!answer) continue;
            Values values = lumen;
            if (spoiled) values.emplace_back("volume", spoiled_number(s));
            s.add("flush", *answer, values);
            s.plant("document.flush", *answer, spoiled ? "not_assessable" : "not_met");
            continue;
        }
        const char* clause =
            s.about("neonatal.flush_after_draw") ? "neonatal.flush_after_draw" : "flush.after_draw";
        const auto incident = plan_incident(s, clause, minutes(10), minutes(90));
        if (!incident) continue;
        const Values lumen = name_lumen(s);
        s.add("blood_draw", incident->at, lumen);
        if (incident->answer) flush(s, *incident->answer, lumen);
        if (incident->answer && *incident->answer > incident->at + minutes(10) && s.random.chance(0.5)) {
            if (const auto little = s.moment(incident->at + minutes(1), incident->at + minutes(10))) {
                Values values = lumen;
                values.emplace_back("volume", "5");  // too little to count
                s.add("flush", *little, values);
                s.plant("document.flush", *little, "met");
            }
        }
    }
}

void write_needles(Stay& s) {
    if (s.kind != "port" || s.focus.item == "port.idle") return;
    Time from = s.inserted + minutes(20);
    for (int number = 1; number < 12; ++number) {
        const auto in = s.moment(from, from + hours(2));
        if (!in) return;
        const std::string name = quoted(fmt::format("n{}", number));
        s.add("needle_insertion", *in, {{"needle", name}});
        const Time limit = add_days(*in, 7) + hours(12);
        const bool room = limit + hours(2) < s.end();
        std::optional<Time> out;
        if (room && (s.take("needle.change", "missed") || s.lapses(0.01))) return;
        if (room && (s.take("needle.change", "late") || s.lapses(0.08))) {
            out = s.moment(limit + minutes(1), limit + hours(40));
        } else if (room && s.random.chance(0.05)) {
            out = s.exactly(limit);
        } else {
            if (room) s.take("needle.change", "met");
            out = s.moment(limit - hours(60), limit);
        }
        if (!out) return;
        s.add("needle_removal", *out, {{"needle", name}});
        from = *out + hours(s.random.between(1, 40));
    }
}

// Each trigger of one kind, answered by the first of `answers`, or ended with the line.
void account_each(Stay& s, const std::string& clause, const std::vector<Time>& triggers, Time allowed,
                  const std::vector<Time>& answers) {
    for (const Time t : triggers)
        s.plant(clause, t, settle(s, t + allowed, first_from(answers, t), s.removed));
}

void account_drainage(Stay& s) {
    std::vector<Time> triggers;
    for (const Event& event : s.events) {
        if (event.type != "site_assessment") continue;
        const std::string condition = value_of(event, "site_condition");
        const bool readable = condition == "clear" || condition == "redness" || condition == "drainage";
        if (!readable) s.plant("drainage.culture", event.at, "not_assessable");
        if (condition == "drainage") triggers.push_back(event.at);
    }
    account_each(s, "drainage.culture", triggers, hours(4), instants_of(s, "culture"));
}

// A volume in millilitres; nothing where it cannot be read.
std::optional<int> volume_of(const Event& flush) {
    const std::string volume = value_of(flush, "volume");
    if (volume.empty() || volume.size() > 2) return std::nullopt;
    return std::stoi(volume);
}

void account_draw(Stay& s, Time draw) {
    const Time limit = draw + minutes(10);
    if (s.policy == Policy::neonatal && s.newborn(draw)) {
        s.plant("neonatal.flush_after_draw", draw,
                settle(s, limit, first_from(instants_of(s, "flush"), draw), s.removed));
        return;
    }
    std::optional<Time> enough;
    std::optional<Time> uncertain;
    for (const Event& event : s.events) {
        if (event.type != "flush" || event.at < draw) continue;
        const std::optional<int> volume = volume_of(event);
        std::optional<Time>& which = volume ? enough : uncertain;
        if (volume.value_or(10) >= 10 && (!which || event.at < *which)) which = event.at;
    }
    std::string outcome = settle(s, limit, enough, s.removed);
    // One that may have been enough: in time it leaves the question open unless a certain one follows in
    // time; past the limit it changes nothing but that the draw was not flushed in time.
    if (uncertain && outcome != "met" && (!enough || *uncertain < *enough)) {
        outcome = *uncertain <= limit ? "not_assessable" : "missed";
    }
    s.plant("flush.after_draw", draw, outcome);
}

void account_flushes(Stay& s) {
    for (const Time draw : instants_of(s, "blood_draw")) account_draw(s, draw);
    if (s.policy != Policy::neonatal) return;
    for (const Event& event : s.events) {
        if (event.type != "flush" || !s.newborn(event.at)) continue;
        const std::optional<int> volume = volume_of(event);
        s.plant("neonatal.flush", event.at, !volume ? "not_assessable" : *volume <= 3 ? "met" : "not_met");
    }
}

void account_the_line_itself(Stay& s) {
    if (!s.emergency) {
        s.plant("insertion.emergency", s.inserted, "not_assessable");
    } else if (*s.emergency) {
        s.plant("insertion.emergency", s.inserted,
                settle(s, s.inserted + hours(48), s.removed, std::nullopt));
    }
    const Time old = add_days(s.inserted, 5);
    if (s.kind == "umbilical_artery" && old < s.end()) {
        s.plant("umbilical.artery", old, settle(s, old + hours(24), s.removed, std::nullopt));
    }
}

void account_tip(Stay& s) {
    if (!s.central()) return;
    const std::vector<Time> confirmed = instants_of(s, "tip_confirmation");
    account_each(s, "tip.confirmed", {s.inserted}, hours(24), confirmed);
    for (const Time start : instants_of(s, "infusion_start")) {
        s.plant("tip.before_use", start,
                !confirmed.empty() && confirmed.front() <= start ? "met" : "not_met");
    }
}

}  // namespace

void write_responses(Stay& s) {
    write_tip(s);
    write_fever(s);
    write_drainage(s);
    write_draws(s);
    write_needles(s);
}

void account_responses(Stay& s) {
    account_tip(s);
    account_each(s, "fever.culture", instants_of(s, "fever"), minutes(90), instants_of(s, "culture"));
    account_drainage(s);
    account_flushes(s);
    for (const Time in : instants_of(s, "needle_insertion")) {
        s.plant("needle.change", in,
                settle(s, add_days(in, 7) + hours(12), first_from(instants_of(s, "needle_removal"), in),
                       s.removed));
    }
    account_the_line_itself(s);
}

}  // namespace linelaw::demo
