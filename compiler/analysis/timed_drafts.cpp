// Clauses as timed rules, and which clauses lie in the fragment that is analysed exactly.
#include <fmt/format.h>

#include <algorithm>

#include "compiler/analysis/timed.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using runtime::TriggerKind;
using Form = Draft::Form;

namespace {

constexpr std::int64_t day_length = 24 * runtime::microseconds_per_hour;

class Drafter {
  public:
    explicit Drafter(Workspace& work) : work_(work) {}

    std::vector<Draft> all() {
        for (ClauseId c = 0; c < work_.policy.clauses.size(); ++c) {
            clause_ = c;
            std::visit([&](const auto& demand) { draft(demand); }, work_.clause(c).demand);
            if (work_.clause(c).then_escalate != none) ladder(work_.clause(c).then_escalate);
        }
        return std::move(drafts_);
    }

  private:
    Workspace& work_;
    ClauseId clause_ = none;
    std::vector<Draft> drafts_;

    const runtime::Clause& clause() const { return work_.clause(clause_); }

    Draft begin(Form form) {
        Draft d;
        d.form = form;
        d.clause = clause_;
        d.should = clause().should;
        d.applies = excused_nowhere(work_.applies(clause_).yes);
        return d;
    }

    // Where an exception holds for good (it looks at nothing that can change) the clause breaks nothing.
    Node excused_nowhere(Node applies) {
        std::vector<bool> passing(work_.situations.variables().size());
        for (std::uint32_t v = 0; v < passing.size(); ++v) {
            const VariableKind kind = work_.situations.variables()[v].kind;
            passing[v] = kind == VariableKind::state || kind == VariableKind::part ||
                         kind == VariableKind::some_part || kind >= VariableKind::other;
        }
        for (const runtime::Exception& exception : clause().exceptions) {
            const Node held = work_.situations.meaning(exception.condition).yes;
            const Node always_held =
                work_.diagrams.opposite(work_.diagrams.forget(work_.diagrams.opposite(held), passing));
            applies = work_.diagrams.without(applies, always_held);
        }
        return applies;
    }

    Track track(const runtime::Events& events) {
        Track result;
        for (const EventKindId kind : kinds_in(events))
            result[kind] = work_.situations.matches(events, kind).yes;
        return result;
    }

    // The clause's own trigger, with overrides at the event; the insertion and a part's begin come at the
    // start.
    void add_trigger(Draft& d) {
        const runtime::Trigger& trigger = clause().trigger;
        if (trigger.kind == TriggerKind::once) {
            const Meaning once = work_.situations.meaning(trigger.once);
            d.applies = work_.diagrams.both(d.applies, once.yes);
            d.by_guard = true;
            return;
        }
        for (const EventKindId kind : kinds_in(trigger.events)) {
            const Node here = excused_nowhere(work_.applies(clause_, kind).yes);
            if (kind == work_.policy.insertion || begins_its_part(kind))
                d.at_start = true;
            else
                d.triggers[kind] = here;
        }
    }

    bool begins_its_part(EventKindId kind) const {
        if (clause().for_each == none) return false;
        const std::vector<EventKindId>& from = work_.policy.part_kinds[clause().for_each].from;
        return std::find(from.begin(), from.end(), kind) != from.end();
    }

    void shortest_interval(const runtime::Events& events, const runtime::Span& span,
                           runtime::ExpressionId unless) {
        Draft d = begin(Form::gap);
        d.events = track(events);
        d.span = shortest(span);
        if (unless != none) {
            const auto with_event = [&](EventKindId kind) {
                const std::vector<bool> support =
                    work_.diagrams.support(work_.situations.meaning(unless, kind).yes);
                for (std::uint32_t v = 0; v < support.size(); ++v) {
                    const VariableKind k = work_.situations.variables()[v].kind;
                    if (support[v] && (k == VariableKind::event || k == VariableKind::relation)) return true;
                }
                return false;
            };
            for (const EventKindId kind : kinds_in(events)) {
                const Node exempt = work_.situations.meaning(unless, kind).yes;
                if (with_event(kind))
                    d.others[kind] = work_.diagrams.both(d.events[kind], exempt);
                else
                    d.applies = work_.diagrams.without(d.applies, exempt);
            }
        }
        drafts_.push_back(std::move(d));
    }

    void draft(const runtime::AtLeastEvery& demand) {
        if (demand.every.calendar) {
            Draft d = begin(Form::until);
            d.events = d.triggers = track(demand.events);
            d.at_start = true;
            d.periods = {{0, (demand.every.days + 1) * day_length + longest(demand.grace)}};
            drafts_.push_back(std::move(d));
        } else {
            Draft d = begin(Form::deadline);
            d.events = track(demand.events);
            d.span = longest(demand.every) + longest(demand.grace);
            drafts_.push_back(std::move(d));
        }
        if (demand.shortest) shortest_interval(demand.events, *demand.shortest, demand.unless);
    }
    void draft(const runtime::NoMoreOftenThan& demand) {
        shortest_interval(demand.events, demand.shortest, demand.unless);
    }
    std::vector<std::pair<std::int64_t, std::int64_t>> shifts() const {
        std::vector<std::pair<std::int64_t, std::int64_t>> periods;
        for (const runtime::Shift& shift : work_.policy.shifts)
            periods.emplace_back(shift.from, shift.to > shift.from ? shift.to : shift.to + day_length);
        return periods;
    }
    void draft(const runtime::EachPeriod& demand) {
        Draft d = begin(Form::each);
        d.events = track(demand.events);
        d.times = demand.times;
        d.periods = demand.period == runtime::Period::shift
                        ? shifts()
                        : std::vector<std::pair<std::int64_t, std::int64_t>>{{0, day_length}};
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::Within& demand) {
        const auto* span = std::get_if<runtime::Span>(&demand.within);
        Draft d = begin(span != nullptr && !span->calendar ? Form::response : Form::until);
        d.events = track(demand.events);
        add_trigger(d);
        if (span != nullptr && !span->calendar) {
            d.span = longest(*span) + longest(demand.grace);
        } else if (span != nullptr) {
            d.periods = {{0, (span->days + 1) * day_length + longest(demand.grace)}};
        } else {
            const runtime::Until until = std::get<runtime::Until>(demand.within);
            d.next = until == runtime::Until::next_shift;
            d.periods = until == runtime::Until::same_calendar_day
                            ? std::vector<std::pair<std::int64_t, std::int64_t>>{{0, day_length}}
                            : shifts();
        }
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::WithinEitherSide& demand) {
        Draft d = begin(Form::response);
        d.events = track(demand.events);
        add_trigger(d);
        d.span = longest(demand.within);
        d.either_side = true;
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::HaveHad& demand) {
        Draft d = begin(Form::had);
        d.events = track(demand.events);
        add_trigger(d);
        d.forever = !demand.window.in_last;
        if (demand.window.in_last) d.span = longest(*demand.window.in_last);
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::Holds& demand) {
        Draft d = begin(Form::forbidden);
        for (const EventKindId kind : kinds_in(clause().trigger.events))
            d.events[kind] = work_.diagrams.without(work_.applies(clause_, kind).yes,
                                                    work_.situations.meaning(demand.condition, kind).yes);
        d.applies = always;
        d.of_values = true;
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::Forbid& demand) {
        Draft d = begin(Form::forbidden);
        d.events = track(demand.events);
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::AtMostTimes& demand) {
        Draft d = begin(Form::at_most);
        d.events = track(demand.events);
        d.times = demand.times;
        d.span = shortest(demand.in);
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::NoDemand&) {}
    void draft(const runtime::Document&) {}
    void draft(const runtime::FollowSteps&) {}
    void draft(const runtime::LeavesToJudgement&) {}

    // Its first call is a response; its holds forbid. Later calls come only where nobody answers, and nothing
    // but a clause about notifications could stand in their way; where there is one, a clause with later
    // calls is said not to be exact.
    void ladder(runtime::LadderId id) {
        const runtime::Ladder& l = work_.policy.ladders[id];
        if (!l.steps.empty()) {
            Draft d = begin(Form::response);
            add_trigger(d);
            d.events[work_.policy.notification] = notified(l.steps[0].roles);
            d.span = longest(l.steps[0].within);
            drafts_.push_back(std::move(d));
        }
        for (const runtime::LadderHold& hold : l.holds) {
            Draft d = begin(Form::hold);
            add_trigger(d);
            d.events = track(hold.events);
            d.others = track(hold.until);
            drafts_.push_back(std::move(d));
        }
    }

    Node notified(const std::vector<runtime::RoleId>& roles) {
        const std::uint32_t v =
            work_.situations.attribute_variable(work_.policy.notification, work_.policy.notified);
        if (v == none) return always;
        CellSet cells(work_.situations.variables()[v].cells.size());
        for (std::size_t c = 0; c < cells.size(); ++c) {
            const ValueCell& cell = work_.situations.variables()[v].cells[c];
            if (cell.kind != ValueCell::Kind::value) continue;
            const std::string& name = work_.policy.symbols[static_cast<std::size_t>(cell.low)];
            for (const runtime::RoleId role : roles)
                if (work_.policy.roles[role] == name) cells.put(c);
        }
        return work_.diagrams.literal(v, cells);
    }
};

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

std::vector<Draft> draft_rules(Workspace& work) {
    return Drafter(work).all();
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
    if (why.empty() && clause.trigger.kind == TriggerKind::once) {
        const std::vector<bool> support =
            work.diagrams.support(work.situations.meaning(clause.trigger.once).yes);
        for (std::uint32_t v = 0; v < support.size(); ++v)
            if (support[v] && !work.situations.variables()[v].clock())
                why = "`once` waits for what may change at any time";
    }
    return why;
}

// What the games leave out of a clause although it lies in the fragment. What is found of such a clause is
// real, and so not `possible`; but something may be missed.
std::string not_followed(const Workspace& work, ClauseId id) {
    // `otherwise escalate` starts only where something is broken, and care that breaks nothing is what is
    // looked at.
    const runtime::LadderId ladder = work.clause(id).then_escalate;
    if (ladder == none || work.policy.ladders[ladder].steps.size() < 2 || work.calls_are_free()) return "";
    return "the calls of its escalation after the first are not followed";
}

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
