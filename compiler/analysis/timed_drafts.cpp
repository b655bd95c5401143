// Clauses as timed rules.
#include <algorithm>
#include <utility>

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
        std::vector<Draft> result;
        for (ClauseId c = 0; c < work_.policy.clauses.size(); ++c) {
            clause_ = c;
            drafts_.clear();
            std::visit([&](const auto& demand) { draft(demand); }, work_.clause(c).demand);
            if (work_.clause(c).then_escalate != none) ladder(work_.clause(c).then_escalate);
            for (const Draft& whole : drafts_)
                for (Draft& draft : told_apart_by_clocks(whole)) {
                    draft.clocks = clocks_of(work_.diagrams.both(draft.applies, draft.early));
                    if (!begins_afterwards(draft)) result.push_back(std::move(draft));
                }
        }
        return result;
    }

  private:
    Workspace& work_;
    ClauseId clause_ = none;
    std::vector<Draft> drafts_;  // of the clause

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

    // ---- clocks in an event's `where`

    bool looks_at(Node node, std::uint32_t v) const { return work_.diagrams.support(node)[v]; }
    std::vector<std::uint32_t> clocks_in(const Track& track) const {
        std::vector<std::uint32_t> result;
        for (std::uint32_t v = 0; v < work_.situations.variables().size(); ++v)
            if (work_.situations.variables()[v].clock() &&
                std::any_of(track.begin(), track.end(),
                            [&](const auto& of_kind) { return looks_at(of_kind.second, v); }))
                result.push_back(v);
        return result;
    }
    bool looks_at_a_clock(Node node) const { return !clocks_in({{none, node}}).empty(); }

    // The events that it picks where the clock stands in the cell.
    Track where(const Track& track, std::uint32_t clock, std::size_t cell) {
        std::vector<bool> forgotten(work_.situations.variables().size(), false);
        forgotten[clock] = true;
        Track result;
        for (const auto& [kind, node] : track)
            if (const Node here = work_.diagrams.forget(
                    work_.diagrams.both(node, work_.diagrams.cell(clock, cell)), forgotten);
                here != never)
                result[kind] = here;
        return result;
    }

    // Each choice of events that the clocks leave, and how they stand then.
    std::vector<std::pair<Track, Node>> by_clocks(const Track& track) {
        std::vector<std::pair<Track, Node>> parts{{track, always}};
        for (const std::uint32_t clock : clocks_in(track)) {
            std::map<Track, Node> finer;
            for (const auto& [events, stand] : parts)
                for (std::size_t c = 0; c < work_.situations.variables()[clock].cells.size(); ++c) {
                    Node& here = finer.emplace(where(events, clock, c), never).first->second;
                    here = work_.diagrams.either(here,
                                                 work_.diagrams.both(stand, work_.diagrams.cell(clock, c)));
                }
            parts.assign(finer.begin(), finer.end());
        }
        std::erase_if(parts, [](const auto& part) { return part.first.empty(); });
        return parts;
    }

    // What an event's `where` says of the clocks of the history becomes a condition of the rule: of what it
    // forbids, as of what sets it off, it is asked at the event. Of other events it cannot be said so.
    std::vector<Draft> told_apart_by_clocks(const Draft& draft) {
        const bool forbids = draft.form == Form::forbidden;
        for (const Track* track : {&draft.events, &draft.others})
            if ((!forbids || track != &draft.events) && !clocks_in(*track).empty()) {
                work_.give_up({clause_}, "which events it asks for rests on a clock");
                return {};
            }
        const Track& asked = forbids ? draft.events : draft.triggers;
        const std::vector<std::uint32_t> clocks = clocks_in(asked);
        if (clocks.empty()) return {draft};
        // An event sees those of its own instant that such a clock runs from; here none sees a later one.
        if (forbids && std::any_of(clocks.begin(), clocks.end(), [&](std::uint32_t v) {
                return work_.situations.variables()[v].kind == VariableKind::newest;
            }))
            work_.give_up({clause_}, "what it forbids rests on what else comes at that moment");
        std::vector<Draft> result;
        if (draft.at_start) {
            result.push_back(draft);
            result.back().triggers.clear();
        }
        for (const auto& [events, stand] : by_clocks(asked)) {
            Draft& part = result.emplace_back(draft);
            part.at_start = false;
            (forbids ? part.events : part.triggers) = events;
            part.applies = work_.diagrams.both(part.applies, stand);
        }
        return result;
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

    // An exception that looks back to what sets clauses off may hold whenever they ask: what is forbidden, or
    // too early, is so only where it does not.
    Node unless_looked_back(Node applies) {
        for (const runtime::Exception& exception : clause().exceptions) {
            const Node held = work_.situations.meaning(exception.condition).yes;
            const std::vector<bool> support = work_.diagrams.support(held);
            for (std::uint32_t v = 0; v < support.size(); ++v) {
                const Variable& variable = work_.situations.variables()[v];
                if (!support[v] || variable.kind != VariableKind::newest ||
                    !sets_something_off(variable.events))
                    continue;
                applies = work_.diagrams.without(applies, held);
                break;
            }
        }
        return applies;
    }
    bool sets_something_off(const runtime::Events& events) const {
        return std::any_of(work_.policy.clauses.begin(), work_.policy.clauses.end(),
                           [&](const auto& clause) { return shares_kind(clause.trigger.events, events); });
    }

    void shortest_interval(const runtime::Events& events, const runtime::Span& span,
                           runtime::ExpressionId unless) {
        Draft d = begin(Form::gap);
        d.early = unless_looked_back(always);
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
                d.early = work_.diagrams.without(d.early, exempt);
        }
        if (!looks_at_a_clock(d.early))
            d.applies = work_.diagrams.both(d.applies, std::exchange(d.early, always));
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
        d.of_values = rests_on_values(d.events);
        drafts_.push_back(std::move(d));
    }
    // Else it says of whom, or when, the event may be.
    bool rests_on_values(const Track& track) const {
        return std::any_of(track.begin(), track.end(), [&](const auto& of_kind) {
            const std::vector<bool>& support = work_.diagrams.support(of_kind.second);
            for (std::uint32_t v = 0; v < support.size(); ++v)
                if (support[v] && work_.situations.variables()[v].of_an_event()) return true;
            return false;
        });
    }
    void draft(const runtime::Forbid& demand) {
        Draft d = begin(Form::forbidden);
        d.applies = unless_looked_back(d.applies);
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
            // What releases it is not held by it.
            for (const auto& [kind, releases] : d.others) {
                const auto held = d.events.find(kind);
                if (held == d.events.end()) continue;
                held->second = work_.diagrams.without(held->second, releases);
                if (held->second == never) d.events.erase(held);
            }
            if (!d.events.empty()) drafts_.push_back(std::move(d));
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
