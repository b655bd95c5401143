// Clauses as timed rules.
#include <algorithm>

#include "compiler/analysis/timed_relevance.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using runtime::TriggerKind;
using Form = Draft::Form;

namespace {

class Drafter {
  public:
    explicit Drafter(Workspace& work) : work_(work) {}

    std::vector<Draft> all() {
        for (ClauseId c = 0; c < work_.policy.clauses.size(); ++c) {
            clause_ = c;
            std::visit([&](const auto& demand) { draft(demand); }, work_.clause(c).demand);
            if (work_.clause(c).then_escalate != none) ladder(work_.clause(c).then_escalate);
            for (; drafted_ < drafts_.size(); ++drafted_)
                drafts_[drafted_].clocks = clocks_of(drafts_[drafted_].applies);
        }
        std::erase_if(drafts_, [&](const Draft& draft) { return begins_afterwards(draft); });
        return std::move(drafts_);
    }

  private:
    Workspace& work_;
    ClauseId clause_ = none;
    std::vector<Draft> drafts_;
    std::size_t drafted_ = 0;  // whose clocks are known

    const runtime::Clause& clause() const { return work_.clause(clause_); }

    Draft begin(Form form) {
        Draft d;
        d.form = form;
        d.clause = clause_;
        d.should = clause().should;
        d.applies = excused_nowhere(work_.applies(clause_).yes);
        return d;
    }

    // Of a clause over time: where the event that it forbids or counts is excused by what is charted with it.
    Node excused_at(EventKindId kind) {
        Node excused = never;
        if (!clause().trigger.events.empty()) return excused;
        for (const runtime::Exception& exception : clause().exceptions)
            if (work_.reads_event(exception.condition, kind))
                excused =
                    work_.diagrams.either(excused, work_.situations.meaning(exception.condition, kind).yes);
        return excused;
    }

    // Where an exception holds for good (it looks at nothing that can change), whatever is at hand, the
    // clause breaks nothing.
    Node excused_nowhere(Node applies) {
        std::vector<bool> passing(work_.situations.variables().size());
        for (std::uint32_t v = 0; v < passing.size(); ++v) {
            const VariableKind kind = work_.situations.variables()[v].kind;
            passing[v] = kind == VariableKind::state || kind == VariableKind::part ||
                         kind == VariableKind::some_part || kind >= VariableKind::other;
        }
        const bool over_time = clause().trigger.events.empty();
        const std::vector<EventKindId> hands = over_time ? hands_of_exceptions(clause()) : hands_of(clause());
        for (const runtime::Exception& exception : clause().exceptions) {
            if (over_time && std::any_of(hands.begin(), hands.end(), [&](EventKindId kind) {
                    return work_.reads_event(exception.condition, kind);
                }))
                continue;  // said of each event by itself
            Node not_held = never;
            for (const EventKindId kind : hands) {
                const Node held = work_.situations.meaning(exception.condition, kind).yes;
                not_held = work_.diagrams.either(not_held, work_.diagrams.opposite(held));
            }
            const Node always_held = work_.diagrams.opposite(work_.diagrams.forget(not_held, passing));
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
            if (comes_at_start(kind))
                d.at_start = true;
            else
                d.triggers[kind] = here;
        }
    }

    // What only the removal sets off asks nothing while the line is in.
    bool begins_afterwards(const Draft& d) const {
        return triggered(d.form) && d.form != Form::had && !d.at_start && !d.by_guard &&
               std::all_of(d.triggers.begin(), d.triggers.end(),
                           [&](const auto& e) { return e.first == work_.policy.removal; });
    }

    std::vector<DraftClock> clocks_of(Node node) {
        std::vector<DraftClock> result;
        const std::vector<bool> support = work_.diagrams.support(node);
        for (std::uint32_t v = 0; v < support.size(); ++v) {
            const Variable& variable = work_.situations.variables()[v];
            if (!support[v] || variable.kind != VariableKind::newest) continue;
            DraftClock& clock = result.emplace_back();
            clock.variable = v;
            for (const EventKindId kind : kinds_in(variable.events)) {
                const Meaning runs = work_.situations.matches(variable.events, kind);
                clock.runs_from[kind] = runs;
                if (comes_at_start(kind) && runs.yes != never) clock.from_start = true;
            }
        }
        return result;
    }

    // The insertion, or the begin of the part that the clause is about.
    bool comes_at_start(EventKindId kind) const {
        if (kind == work_.policy.insertion) return true;
        if (clause().for_each == none) return false;
        const std::vector<EventKindId>& from = work_.policy.part_kinds[clause().for_each].from;
        return std::find(from.begin(), from.end(), kind) != from.end();
    }

    void shortest_interval(const runtime::Events& events, const runtime::Span& span,
                           runtime::ExpressionId unless) {
        Draft d = begin(Form::gap);
        d.events = track(events);
        d.span = shortest(span);
        d.civil = span.civil() && !span.calendar;
        for (const EventKindId kind : kinds_in(events)) {
            const Node excused = excused_at(kind);
            if (excused != never) d.others[kind] = work_.diagrams.both(d.events[kind], excused);
            if (unless == none) continue;
            const Node exempt = work_.situations.meaning(unless, kind).yes;
            if (work_.reads_event(unless, kind))
                d.others[kind] = work_.diagrams.both(d.events[kind], work_.diagrams.either(excused, exempt));
            else
                d.applies = work_.diagrams.without(d.applies, exempt);
        }
        drafts_.push_back(std::move(d));
    }

    void draft(const runtime::AtLeastEvery& demand) {
        if (demand.every.calendar) {
            Draft d = begin(Form::until);
            d.events = d.triggers = track(demand.events);
            d.at_start = true;
            d.periods = {
                {0, (demand.every.days + 1) * runtime::microseconds_per_day + longest(demand.grace)}};
            drafts_.push_back(std::move(d));
        } else {
            Draft d = begin(Form::deadline);
            d.events = track(demand.events);
            d.span = longest(demand.every) + longest(demand.grace);
            d.civil = demand.every.civil() || demand.grace.civil();
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
            periods.emplace_back(shift.from,
                                 shift.to > shift.from ? shift.to : shift.to + runtime::microseconds_per_day);
        return periods;
    }
    void draft(const runtime::EachPeriod& demand) {
        Draft d = begin(Form::each);
        d.events = track(demand.events);
        d.times = demand.times;
        d.periods =
            demand.period == runtime::Period::shift
                ? shifts()
                : std::vector<std::pair<std::int64_t, std::int64_t>>{{0, runtime::microseconds_per_day}};
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::Within& demand) {
        const auto* span = std::get_if<runtime::Span>(&demand.within);
        Draft d = begin(span != nullptr && !span->calendar ? Form::response : Form::until);
        d.events = track(demand.events);
        add_trigger(d);
        if (span != nullptr && !span->calendar) {
            d.span = longest(*span) + longest(demand.grace);
            d.civil = span->civil() || demand.grace.civil();
        } else if (span != nullptr) {
            d.periods = {{0, (span->days + 1) * runtime::microseconds_per_day + longest(demand.grace)}};
        } else {
            const runtime::Until until = std::get<runtime::Until>(demand.within);
            d.next = until == runtime::Until::next_shift;
            d.periods =
                until == runtime::Until::same_calendar_day
                    ? std::vector<std::pair<std::int64_t, std::int64_t>>{{0, runtime::microseconds_per_day}}
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
        for (auto& [kind, where] : d.events) {
            const Node excused = excused_at(kind);
            if (excused == never) continue;
            d.others[kind] = work_.diagrams.both(where, excused);
            where = work_.diagrams.without(where, excused);
        }
        drafts_.push_back(std::move(d));
    }
    void draft(const runtime::AtMostTimes& demand) {
        for (const EventKindId kind : kinds_in(demand.events))
            if (excused_at(kind) != never) return;  // outside_fragment says so
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

}  // namespace

std::vector<Draft> draft_rules(Workspace& work) {
    return Drafter(work).all();
}

}  // namespace linelaw::compiler::analysis
