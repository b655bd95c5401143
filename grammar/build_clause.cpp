// Clauses: their lines and their demands.
#include <algorithm>
#include <string>
#include <utility>

#include "grammar/tree_builder.hpp"

namespace linelaw::grammar {

AtLeastEvery TreeBuilder::at_least_every(Events events, NodeId tail) {
    AtLeastEvery demand{std::move(events), parts_.quantity_in(tail), false, {}, {}, {}};
    for (NodeId more = parts_.first(tail); more != no_node; more = parts_.after(tail, more)) {
        switch (parts_.node(more).kind) {
            case Kind::counted_anew:
                demand.counted_anew = true;
                break;
            case Kind::grace:
                once(demand.grace, more, "grace");
                demand.grace = parts_.quantity_in(more);
                break;
            case Kind::shortest:
                once(demand.shortest, more, "no more often than every");
                demand.shortest = parts_.quantity_in(more);
                if (const NodeId unless = parts_.part(more, Kind::unless); unless != no_node) {
                    demand.unless = parts_.condition_in(unless);
                }
                break;
            default:
                break;
        }
    }
    return demand;
}

DemandNode TreeBuilder::event_demand(NodeId who, NodeId tail) {
    Events events = parts_.events(who);
    switch (parts_.node(tail).kind) {
        case Kind::at_least_every:
            return at_least_every(std::move(events), tail);
        case Kind::no_more_often: {
            NoMoreOftenThan demand{std::move(events), parts_.quantity_in(tail), {}};
            const NodeId unless = parts_.part(tail, Kind::unless);
            if (unless != no_node) demand.unless = parts_.condition_in(unless);
            return demand;
        }
        case Kind::each_period: {
            EachPeriod demand{std::move(events), {}, Period::calendar_day};
            const NodeId times = parts_.part(tail, Kind::times);
            if (times != no_node) demand.times = parts_.number(parts_.first(times));
            if (parts_.words(parts_.part(tail, Kind::mark)) == "shift") demand.period = Period::shift;
            return demand;
        }
        case Kind::at_most_times:
            return AtMostTimes{std::move(events), parts_.number(parts_.first(parts_.part(tail, Kind::times))),
                               parts_.quantity_in(tail)};
        default:
            break;
    }
    const NodeId grace = parts_.part(tail, Kind::grace);
    if (const NodeId side = parts_.part(tail, Kind::either_side); side != no_node) {
        if (grace != no_node) parts_.say("syntax.demand", "`within … either side` takes no `grace`", grace);
        if (parts_.has(tail, Kind::quantity))
            return WithinEitherSide{std::move(events), parts_.quantity_in(tail)};
        parts_.say("syntax.demand", "`either side` needs a duration such as `2 h` after `within`", side);
    }
    Within demand{std::move(events), Until::same_shift, {}};
    if (grace != no_node) demand.grace = parts_.quantity_in(grace);
    if (const NodeId until = parts_.part(tail, Kind::until_shift); until != no_node) {
        const std::string words = parts_.words(until);
        demand.within = words == "the same shift"   ? Until::same_shift
                        : words == "the next shift" ? Until::next_shift
                                                    : Until::same_calendar_day;
    } else {
        demand.within = parts_.quantity_in(tail);
    }
    return demand;
}

DemandNode TreeBuilder::demand_node(NodeId id) {
    const NodeId what = parts_.first(id);
    switch (parts_.node(what).kind) {
        case Kind::events:
            return event_demand(what, parts_.after(id, what));
        case Kind::forbid:
            return Forbid{parts_.events_in(what)};
        case Kind::document:
            return Document{parts_.names(what)};
        case Kind::follow_steps:
            return FollowSteps{parts_.names(what), parts_.has(what, Kind::in_order)};
        case Kind::have_had: {
            HaveHad demand{parts_.events_in(what), {}};
            if (const NodeId window = parts_.part(what, Kind::window); window != no_node) {
                demand.window = parts_.window(window);
            }
            return demand;
        }
        default:
            if (broken_ && parts_.first(what) == no_node) return Holds{};
            return Holds{parts_.condition_in(what)};
    }
}

Demand TreeBuilder::demand(NodeId id) {
    Demand demand;
    demand.should = parts_.node(id).kind == Kind::should_line;
    demand.place = parts_.place(id);
    demand.place.begin = parts_.place(parts_.first(id)).begin;
    if (parts_.node(id).kind == Kind::leaves_line) {
        demand.node = LeavesToJudgement{parts_.name_in(id), because(id)};
    } else {
        demand.node = demand_node(id);
    }
    return demand;
}

ClauseLine TreeBuilder::clause_line(NodeId id) {
    const Place place = parts_.place(id);
    switch (parts_.node(id).kind) {
        case Kind::for_line:
            return {ForLine{parts_.condition_in(id)}, place};
        case Kind::for_each_line: {
            ForEachLine line{parts_.name_in(id), {}};
            if (parts_.has(id, Kind::any_of)) line.where = parts_.condition_in(id);
            return {std::move(line), place};
        }
        case Kind::while_line:
            return {WhileLine{parts_.condition_in(id)}, place};
        case Kind::even_after_removal:
            return {EvenAfterRemoval{}, place};
        case Kind::at_line:
            return {AtLine{parts_.events_in(id)}, place};
        case Kind::after_line:
            return {AfterLine{parts_.events_in(id)}, place};
        case Kind::before_line:
            return {BeforeLine{parts_.events_in(id)}, place};
        case Kind::once_line:
            return {OnceLine{parts_.condition_in(id)}, place};
        case Kind::except_line:
            return {ExceptLine{parts_.condition_in(id), because(id)}, place};
        case Kind::otherwise_line:
            return {OtherwiseEscalate{parts_.name_in(id)}, place};
        case Kind::then_line:
            return {ThenEscalate{parts_.name_in(id)}, place};
        case Kind::overrides_line:
            return {OverridesLine{parts_.names(id)}, place};
        case Kind::priority_line:
            return {PriorityLine{parts_.name(parts_.first(id))}, place};
        case Kind::source_line: {
            SourceLine line{parts_.name_in(id), {}, {}};
            if (parts_.has(id, Kind::string)) line.where = parts_.text_in(id);
            const NodeId category = parts_.part(id, Kind::category);
            if (category != no_node) line.category = parts_.text_in(category);
            return {std::move(line), place};
        }
        case Kind::reason_line:
            return {ReasonLine{parts_.text_in(id)}, place};
        case Kind::advice_line:
            return {AdviceLine{parts_.text_in(id)}, place};
        case Kind::departs_line:
            return {DepartsLine{parts_.name_in(id), *because(id)}, place};
        case Kind::undocumented_line:
            return {UndocumentedLine{counts(id)}, place};
        default:
            return {demand(id), place};
    }
}

namespace {

// Lines that may stand more than once: their conditions are joined, or they say each its own.
bool may_repeat(Kind kind) {
    return kind == Kind::for_line || kind == Kind::while_line || kind == Kind::except_line ||
           kind == Kind::source_line || kind == Kind::departs_line || kind == Kind::overrides_line;
}

// Lines of which a clause has one among them.
Kind role_of(Kind kind) {
    switch (kind) {
        case Kind::should_line:
        case Kind::leaves_line:
            return Kind::must_line;
        case Kind::after_line:
        case Kind::before_line:
        case Kind::once_line:
            return Kind::at_line;
        default:
            return kind;
    }
}

}  // namespace

ClauseItem TreeBuilder::clause_item(NodeId id) {
    ClauseItem clause;
    clause.id = parts_.name_in(id);
    clause.place = parts_.place(id);
    std::vector<std::pair<Kind, NodeId>> stood;
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        const Kind kind = parts_.node(line).kind;
        if (kind == Kind::name) continue;
        if (kind == Kind::string) {
            clause.sentence = parts_.text(line);
            continue;
        }
        for (const auto& [before, where] : stood) {
            if (may_repeat(kind) || role_of(before) != role_of(kind)) continue;
            const bool two_moments = role_of(kind) == Kind::at_line;
            Diagnostic again = make_diagnostic(
                "syntax.repeated",
                two_moments ? "a clause is judged at one moment, and this names a second"
                            : "a clause has one line of this kind, and this one is its second",
                parts_.place(line), "the second");
            again.labels.push_back({parts_.place(where), "the first"});
            if (kind == Kind::before_line && stood.back().first == Kind::must_line)
                again.mends.push_back(
                    {"what must have been done before an event is written in two lines: `before` with that "
                     "event, and `must have had` with what was done, and `in the last …` where it may be "
                     "too old",
                     {},
                     "",
                     false});
            diagnostics_.push_back(std::move(again));
            break;
        }
        stood.emplace_back(kind, line);
        // A line that a fault cut off before its first word has nothing to build.
        if (broken_ && parts_.first(line) == no_node) continue;
        clause.lines.push_back(clause_line(line));
    }
    return clause;
}

}  // namespace linelaw::grammar
