#include "compiler/analysis/exactness.hpp"

#include <algorithm>

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using runtime::TriggerKind;
using Form = Draft::Form;

namespace {

bool looks_at_parts(const Workspace& work, const Draft& draft) {
    if (work.clause(draft.clause).for_each != none) return true;
    std::vector<Node> nodes{draft.applies, draft.early};
    for (const Track* track : {&draft.events, &draft.triggers, &draft.others})
        for (const auto& [kind, node] : *track) nodes.push_back(node);
    return std::any_of(nodes.begin(), nodes.end(), [&](Node node) {
        const std::vector<bool>& support = work.diagrams.support(node);
        for (std::uint32_t v = 0; v < support.size(); ++v) {
            const VariableKind kind = work.situations.variables()[v].kind;
            if (support[v] && (kind == VariableKind::part || kind == VariableKind::some_part)) return true;
        }
        return false;
    });
}

// Where no clause of a group tells parts apart, an event of any of them is the same event, and with the parts
// forgotten the game is the same. So it is for clauses that nothing can clash with.
void forget_parts(Workspace& work, const std::vector<Draft>& drafts, const Drafts& kept,
                  const std::vector<Drafts>& groups) {
    std::set<ClauseId> blind;
    for (std::size_t i = 0; i < drafts.size(); ++i)
        if (!std::binary_search(kept.begin(), kept.end(), i)) blind.insert(drafts[i].clause);
    std::set<ClauseId> telling;
    for (const Drafts& group : groups) {
        const bool tells = std::any_of(group.begin(), group.end(),
                                       [&](std::size_t i) { return looks_at_parts(work, drafts[i]); });
        for (const std::size_t i : group) (tells ? telling : blind).insert(drafts[i].clause);
    }
    for (const ClauseId c : blind)
        if (telling.count(c) == 0) work.forget_parts(c);
}

// Whether a call can always be made, and sets nothing off: then no call of a ladder can clash.
bool calls_are_free(const Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance) {
    const EventKindId call = work.policy.notification;
    for (std::size_t i = 0; i < drafts.size(); ++i) {
        const Draft& d = drafts[i];
        const Track* track = restricted(d);
        if ((track != nullptr && track->count(call) != 0) || d.triggers.count(call) != 0 ||
            (d.form == Form::hold && d.others.count(call) != 0) || relevance.looks_back_to(i, call))
            return false;
    }
    return true;
}

bool in_months(const runtime::Span& span) {
    return span.months != 0;
}

// Limits on a part's events by a clause that is not about one such part.
bool of_some_part(const Workspace& work, const runtime::Clause& clause, const runtime::Events& events) {
    if (clause.for_each != none) return false;
    return std::any_of(events.begin(), events.end(), [&](const runtime::Pattern& p) {
        return work.policy.event_kinds[p.event].of != none;
    });
}

// Why a demand is not analysed exactly; empty where it is.
struct OutsideDemand {
    const Workspace& work;
    const runtime::Clause& clause;
    bool parts_forgotten;
    static constexpr const char* months = "its months have no fixed length";
    static constexpr const char* midnight = "its grace is added to a midnight";
    static constexpr const char* parts = "it limits the events of a part without `for each`";

    std::string limits(const runtime::Events& events) const {
        return !parts_forgotten && of_some_part(work, clause, events) ? parts : "";
    }

    template <typename T>
    std::string operator()(const T&) const {
        return "";
    }
    std::string operator()(const runtime::AtLeastEvery& d) const {
        if (in_months(d.every) || in_months(d.grace) || (d.shortest && in_months(*d.shortest))) return months;
        return d.every.calendar && d.grace != runtime::Span{} ? midnight : limits(d.events);
    }
    std::string operator()(const runtime::NoMoreOftenThan& d) const {
        if (in_months(d.shortest)) return months;
        return d.shortest.calendar ? "its shortest interval is counted in calendar days" : limits(d.events);
    }
    std::string operator()(const runtime::Within& d) const {
        const auto* span = std::get_if<runtime::Span>(&d.within);
        if (span == nullptr) return limits(d.events);
        if (in_months(*span) || in_months(d.grace)) return months;
        return span->calendar && d.grace != runtime::Span{} ? midnight : limits(d.events);
    }
    std::string operator()(const runtime::HaveHad& d) const {
        if (!d.window.since.empty()) return "it looks back to an event of the history";
        return d.window.in_last && in_months(*d.window.in_last) ? months : "";
    }
    std::string operator()(const runtime::AtMostTimes& d) const {
        return in_months(d.in) ? months : limits(d.events);
    }
    std::string operator()(const runtime::EachPeriod& d) const { return limits(d.events); }
};

}  // namespace

void note_for_exactness(Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance,
                        const Drafts& kept, const std::vector<Drafts>& groups) {
    forget_parts(work, drafts, kept, groups);
    if (calls_are_free(work, drafts, relevance)) work.say_calls_are_free();
}

std::string outside_fragment(Workspace& work, ClauseId id) {
    const runtime::Clause& clause = work.clause(id);
    std::string why;
    const auto look = [&](runtime::ExpressionId condition, EventKindId kind) {
        if (why.empty()) why = work.situations.outside(condition, kind);
    };
    for (const runtime::ExpressionId condition :
         {clause.for_each_where, clause.applies_for, clause.applies_while, clause.trigger.once})
        look(condition, none);
    for (const runtime::Pattern& p : clause.trigger.events) look(p.where, p.event);
    for (const runtime::Pattern& p : demanded_events(clause.demand)) look(p.where, p.event);
    if (const auto* holds = std::get_if<runtime::Holds>(&clause.demand))
        for (const EventKindId kind : kinds_in(clause.trigger.events)) look(holds->condition, kind);
    if (why.empty()) why = std::visit(OutsideDemand{work, clause, work.parts_forgotten(id)}, clause.demand);
    if (const auto* most = std::get_if<runtime::AtMostTimes>(&clause.demand); why.empty() && most != nullptr)
        for (const EventKindId kind : kinds_in(most->events))
            for (const runtime::Exception& exception : clause.exceptions)
                if (work.reads_event(exception.condition, kind))
                    why = "an exception excuses some of the events that it counts";
    if (why.empty() && clause.trigger.kind == TriggerKind::once) {
        const std::vector<bool>& support =
            work.diagrams.support(work.situations.meaning(clause.trigger.once).yes);
        for (std::uint32_t v = 0; v < support.size(); ++v)
            if (support[v] && !work.situations.variables()[v].clock())
                why = "`once` waits for what may change at any time";
    }
    return why;
}

namespace {

// What the games leave out of a clause although it lies in the fragment. What is found of such a clause is
// real, and so not `possible`; but something may be missed.
std::string not_followed(const Workspace& work, ClauseId id) {
    // `otherwise escalate` starts only where something is broken, and care that breaks nothing is what is
    // looked at.
    const runtime::LadderId ladder = work.clause(id).then_escalate;
    if (ladder == none || work.policy.ladders[ladder].steps.size() < 2 || work.calls_are_free()) return "";
    return "the calls of its escalation after the first are not followed";
}

}  // namespace

void sort_by_exactness(Workspace& work) {
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c) {
        std::string why = work.given_up(c);
        if (why.empty()) why = outside_fragment(work, c);
        if (why.empty()) why = not_followed(work, c);
        if (why.empty())
            work.result.exact.push_back(c);
        else
            work.result.not_exact.push_back({c, std::move(why)});
    }
}

}  // namespace linelaw::compiler::analysis
