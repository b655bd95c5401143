#include "compiler/read_back.hpp"

#include <algorithm>

#include "compiler/quantities.hpp"
#include "compiler/report.hpp"
#include "compiler/words.hpp"

namespace linelaw::compiler {

using namespace runtime;

namespace {

std::string list_of(const std::vector<std::string>& names) {
    return in_ticks(names, "and");
}

// "7 days after the one before, at the same time of day".
std::string later(const Span& span, std::string_view than) {
    if (span.calendar)
        return "by the midnight that ends the " +
               (span.days == 1 ? std::string("day after ") : std::to_string(span.days) + "th day after ") +
               std::string(than) + ", whose own day does not count";
    std::string out = in_words(span) + " after " + std::string(than);
    if (span.civil()) out += span.elapsed == 0 ? ", at the same time of day" : " (the days on the calendar)";
    return out;
}

std::string late_begins(const Span& grace) {
    const bool none_given = grace == Span{};
    return none_given ? "Late begins at once after that." : "Late begins " + in_words(grace) + " after that.";
}

bool needs_line(const Policy& policy, const Events& events) {
    return std::none_of(events.begin(), events.end(), [&](const Pattern& p) {
        return p.event == policy.removal || policy.event_kinds[p.event].also_after_removal;
    });
}

bool only_removal(const Policy& policy, const Events& events) {
    return std::all_of(events.begin(), events.end(),
                       [&](const Pattern& p) { return p.event == policy.removal && p.where == none; });
}

struct Reader {
    const Policy& policy;
    const Clause& clause;

    std::string events(const Events& all) const { return events_in_words(policy, all); }
    std::string condition(ExpressionId id) const { return condition_in_words(policy, id); }
    std::string trigger() const { return events(clause.trigger.events); }
    std::string unless(ExpressionId id) const { return id == none ? "" : ", unless at it " + condition(id); }
    std::string ends() const {
        if (clause.for_each == none) return "the line is removed";
        return "the " + in_ticks(policy.part_kinds[clause.for_each].name) + " ends";
    }
    std::string opens() const {
        return clause.trigger.kind == TriggerKind::once ? "The moment at which it becomes true that " +
                                                              condition(clause.trigger.once) + " opens a duty"
                                                        : "Every " + trigger() + " opens a duty";
    }

    std::string operator()(const NoDemand& /*d*/) const {
        return clause.then_escalate == none ? "Nothing is demanded."
                                            : "What is demanded are the calls of the escalation that it "
                                              "starts, and what that holds back.";
    }
    std::string operator()(const AtLeastEvery& d) const {
        const std::string e = events(d.events);
        std::string out =
            "Each " + e + " is due " + later(d.every, "the one before") + ". " + late_begins(d.grace);
        out += d.counted_anew
                   ? " When the clause begins to apply the time runs from that moment, whatever came before."
                   : " When the clause begins to apply, the last " + e +
                         " before counts if its time is not yet over; else the time runs from that moment.";
        if (d.shortest)
            out += " One that comes less than " + in_words(*d.shortest) + " after the one before is early" +
                   unless(d.unless) + '.';
        return out +
               " If the line is removed, or the clause stops applying, before late begins, the duty ends.";
    }
    std::string operator()(const NoMoreOftenThan& d) const {
        return "Where one " + events(d.events) + " comes less than " + in_words(d.shortest) +
               " after another, the second is early" + unless(d.unless) +
               ". The clause must apply at both; how long ago the first one was is all that counts.";
    }
    std::string operator()(const EachPeriod& d) const {
        const std::string period = d.period == Period::shift ? "shift" : "calendar day";
        return "In every " + period + " there " +
               (d.times == 1 ? "is a " : "are at least " + std::to_string(d.times) + " of ") +
               events(d.events) + ". Only a " + period +
               " through which the clause applied from its start to its end counts: the one of the insertion "
               "and the "
               "one of the removal do not.";
    }
    std::string operator()(const Within& d) const {
        std::string out = opens() + ": " + events(d.events);
        if (const auto* span = std::get_if<Span>(&d.within)) {
            out += ", due " + later(*span, clause.trigger.kind == TriggerKind::once ? "it" : "that") + ". " +
                   late_begins(d.grace);
        } else {
            static constexpr std::string_view ends[] = {
                "before the end of the same shift (the one that began last, where two overlap)",
                "before the end of the next shift (the first to begin after)",
                "before the end of the same calendar day"};
            out += ' ' + std::string(ends[static_cast<std::size_t>(std::get<Until>(d.within))]) + '.';
        }
        out += " One at that very moment counts.";
        out += needs_line(policy, d.events)     ? " If the line is removed before late begins, the duty ends."
               : only_removal(policy, d.events) ? ""
                                                : " Removing the line does not end the duty.";
        return out;
    }
    std::string operator()(const WithinEitherSide& d) const {
        return "For every " + trigger() + " there is a " + events(d.events) + " at most " +
               in_words(d.within) + " before it or after it.";
    }
    std::string operator()(const HaveHad& d) const {
        return "Before every " + trigger() + " there was a " + events(d.events) + ' ' +
               (d.anywhen ? "at some time since insertion" : window_in_words(policy, d.window)) +
               ". One at the same moment counts as before.";
    }
    std::string operator()(const Holds& d) const {
        return "At every " + trigger() + " it must be so that " + condition(d.condition) + '.';
    }
    std::string operator()(const Document& d) const {
        std::vector<std::string> names;
        for (const auto field : d.fields) names.push_back(policy.fields[field]);
        return "At every " + trigger() + " it is recorded what " + list_of(names) +
               (names.size() == 1 ? " was." : " were.");
    }
    std::string operator()(const FollowSteps& d) const {
        return "At every " + trigger() + " these steps are recorded: " + list_of(d.steps) +
               (d.in_order ? ", in this order; others may stand between." : ", in any order.");
    }
    std::string operator()(const Forbid& d) const {
        return "While the clause applies, every " + events(d.events) + " counts against.";
    }
    std::string operator()(const AtMostTimes& d) const {
        return "Of " + events(d.events) + ", each one beyond " + std::to_string(d.times) + " in the " +
               in_words(d.in) +
               " up to it counts against. Those before the clause began to apply are counted too.";
    }
    std::string operator()(const LeavesToJudgement& d) const {
        return "The answer to the question " + in_ticks(d.question) +
               " is left to judgement; nothing is demanded.";
    }
};

bool asked_at_event(const Clause& clause) {
    return clause.trigger.kind == TriggerKind::at || clause.trigger.kind == TriggerKind::before ||
           std::holds_alternative<NoMoreOftenThan>(clause.demand) ||
           std::holds_alternative<Forbid>(clause.demand) ||
           std::holds_alternative<AtMostTimes>(clause.demand);
}

void applies(std::string& out, const Policy& policy, const Clause& clause) {
    if (clause.for_each != none) {
        out += "  For each " + in_ticks(policy.part_kinds[clause.for_each].name);
        if (clause.for_each_where != none)
            out += " of which " + condition_in_words(policy, clause.for_each_where);
        out += ", judged by itself.\n";
    }
    if (clause.applies_for != none)
        out += "  Where " + condition_in_words(policy, clause.applies_for) + ".\n";
    if (clause.applies_while != none)
        out += "  While " + condition_in_words(policy, clause.applies_while) + ".\n";
    if (clause.even_after_removal) out += "  Also after the line is out.\n";
}

// What becomes of what is not charted: an event did not happen, as far as the record says; only of a value
// does the policy say what to make of it.
std::string_view uncharted(const Clause& clause) {
    if (clause.undocumented == UndocumentedCounts::not_met) return "What is not charted counts as not done.";
    if (std::holds_alternative<Document>(clause.demand))
        return "What is not charted is not recorded, and counts against.";
    if (std::holds_alternative<FollowSteps>(clause.demand))
        return "Where no step at all is charted, that cannot be judged, and counts neither way.";
    const bool awaits = std::holds_alternative<AtLeastEvery>(clause.demand) ||
                        std::holds_alternative<EachPeriod>(clause.demand) ||
                        std::holds_alternative<Within>(clause.demand) ||
                        std::holds_alternative<WithinEitherSide>(clause.demand) ||
                        std::holds_alternative<HaveHad>(clause.demand);
    return awaits ? "An event that is not charted counts as not done; a value that is not charted cannot be "
                    "judged, and counts neither way."
                  : "A value that is not charted cannot be judged, and counts neither way.";
}

void consequences(std::string& out, const Policy& policy, const Clause& clause) {
    for (const auto& exception : clause.exceptions)
        out += "  Excused if " + condition_in_words(policy, exception.condition) +
               (asked_at_event(clause)
                    ? ", asked at the event.\n"
                    : ", at some moment between the time it was due and the time late began.\n");
    if (clause.otherwise_escalate != none)
        out += "  What counts against starts the escalation " +
               in_ticks(policy.ladders[clause.otherwise_escalate].id) + ".\n";
    if (clause.then_escalate != none) {
        const std::string moment = clause.trigger.kind == TriggerKind::once
                                       ? "The moment at which it becomes true that " +
                                             condition_in_words(policy, clause.trigger.once)
                                       : "Every " + events_in_words(policy, clause.trigger.events);
        out += "  " + moment + " starts the escalation " + in_ticks(policy.ladders[clause.then_escalate].id) +
               ".\n";
    }
    std::vector<std::string> overridden;
    for (const auto other : clause.overrides) overridden.push_back(policy.clauses[other].id);
    if (!overridden.empty())
        out += (at_events(clause.trigger.kind) ? "  At an event at which this is judged, "
                                               : "  Where this applies, ") +
               list_of(overridden) + (overridden.size() == 1 ? " does not apply.\n" : " do not apply.\n");
    out += "  " + std::string(uncharted(clause)) + '\n';
}

}  // namespace

std::string read_back(const Policy& policy, const Clause& clause) {
    static constexpr std::string_view priorities[] = {"critical", "major", "minor", "advisory"};
    std::string out =
        clause.id + " (" + std::string(priorities[static_cast<std::size_t>(clause.priority)]) + ")\n";
    applies(out, policy, clause);
    out += "  " + std::visit(Reader{policy, clause}, clause.demand) + '\n';
    if (!std::holds_alternative<LeavesToJudgement>(clause.demand)) consequences(out, policy, clause);
    return out;
}

std::string read_back(const Compiled& compiled) {
    std::string out;
    for (const auto& clause : compiled.policy.clauses) {
        if (!out.empty()) out += '\n';
        out += read_back(compiled.policy, clause);
    }
    return out;
}

}  // namespace linelaw::compiler
