// A policy made ready to run. See plan.hpp.
#include "runtime/engine/plan.hpp"

#include <algorithm>
#include <map>

#include "runtime/joined.hpp"
#include "runtime/overloaded.hpp"

namespace linelaw::runtime::engine {
namespace {

template <typename N>
std::uint32_t size_of(N n) {
    return static_cast<std::uint32_t>(n);
}

bool is_text(const Type& type) {
    return type.kind == TypeKind::text || type.kind == TypeKind::key;
}

// Whether an event's attribute is a text; a field bears one type wherever it stands.
bool is_text(const Policy& policy, FieldId field) {
    for (const EventKind& kind : policy.event_kinds)
        for (const Attribute& a : kind.attributes)
            if (a.field == field) return is_text(a.type);
    return false;
}

void add_kind(Rests& rests, EventKindId kind) {
    const auto place = std::lower_bound(rests.kinds.begin(), rests.kinds.end(), kind);
    if (place == rests.kinds.end() || *place != kind) rests.kinds.insert(place, kind);
}

}  // namespace

Plan::Plan(const Policy& p)
    : policy(p), zone(Zone::of(p.time_zone)), nodes(p.expressions.size()), lowered_(p.expressions.size(), 0) {
    for (ExpressionId id = 0; id < p.expressions.size(); ++id) lower(id);
    index_kinds();
    briefs.resize(p.clauses.size());
    demands.reserve(p.clauses.size());
    for (const Clause& clause : p.clauses) demands.push_back(clause.demand);
    clauses.resize(p.clauses.size());
    for (ClauseId id = 0; id < p.clauses.size(); ++id)
        for (ClauseId other : p.clauses[id].overrides) clauses[other].overriders.push_back(id);
    plan_editions();
    for (ClauseId id = 0; id < p.clauses.size(); ++id) plan_clause(id);
    reach_clauses();
    for (const Ladder& ladder : p.ladders) {
        LadderPlan& plan = ladders.emplace_back();
        for (const LadderHold& hold : ladder.holds) {
            plan.hold_events.push_back(list(hold.events));
            plan.hold_until.push_back(list(hold.until));
        }
    }
    carry_on();
    for (const std::string& role : p.roles) {
        const auto found = std::find(p.symbols.begin(), p.symbols.end(), role);
        symbol_of_role.push_back(found == p.symbols.end() ? none : size_of(found - p.symbols.begin()));
    }
    for (const Bundle& bundle : p.bundles) bundle_events.push_back(list(bundle.events));
    step_numbers.resize(p.event_kinds.size());
    for (EventKindId kind = 0; kind < p.event_kinds.size(); ++kind) {
        const auto& steps = p.event_kinds[kind].steps;
        for (const std::string& name : step_names) {
            const auto found = std::find(steps.begin(), steps.end(), name);
            step_numbers[kind].push_back(found == steps.end() ? none : size_of(found - steps.begin()));
        }
    }
    patterns_of_kind.resize(p.event_kinds.size());
    for (PatternId id = 0; id < patterns.size(); ++id) {
        PatternPlan& pattern = patterns[id];
        patterns_of_kind[pattern.kind].push_back(id);
        if (pattern.where == none) continue;
        pattern.depends_on_scope = reads_part_events(pattern.where) ||
                                   (part_of_kind[pattern.kind] == none && reads_part(pattern.where));
    }
}

std::uint32_t Plan::step_name(const std::string& name) {
    const auto found = std::find(step_names.begin(), step_names.end(), name);
    if (found != step_names.end()) return size_of(found - step_names.begin());
    step_names.push_back(name);
    return size_of(step_names.size() - 1);
}

PatternId Plan::pattern(const Pattern& p) {
    if (p.where != none) lower(p.where);  // first, so that what it rests on has lower numbers
    for (PatternId id = 0; id < patterns.size(); ++id)
        if (patterns[id].kind == p.event && patterns[id].where == p.where) return id;
    patterns.push_back({p.event, p.where, false});
    return size_of(patterns.size() - 1);
}

Run Plan::list(const Events& events) {
    std::vector<PatternId> ids;
    ids.reserve(events.size());
    for (const Pattern& p : events) ids.push_back(pattern(p));
    const auto [known, fresh] =
        lists_.try_emplace(ids, Run{size_of(pattern_lists.size()), size_of(ids.size())});
    if (fresh) pattern_lists.insert(pattern_lists.end(), ids.begin(), ids.end());
    return known->second;
}

WindowId Plan::window(const Window& w) {
    WindowPlan plan;
    plan.has_last = w.in_last.has_value();
    if (w.in_last) plan.last = *w.in_last;
    plan.since = list(w.since);
    windows.push_back(plan);
    return size_of(windows.size() - 1);
}

void Plan::lower(ExpressionId id) {
    if (lowered_[id] != 0) return;
    lowered_[id] = 1;
    Node n;
    n.is_static = true;
    const auto operand = [&](ExpressionId child) {
        lower(child);
        n.is_static = n.is_static && nodes[child].is_static;
        return child;
    };
    const auto operand_list = [&](const std::vector<ExpressionId>& children) {
        for (ExpressionId child : children) operand(child);
        n.run = {size_of(operands.size()), size_of(children.size())};
        operands.insert(operands.end(), children.begin(), children.end());
    };
    const auto dynamic = [&](Op op) {
        n.op = op;
        n.is_static = false;
    };
    std::visit(
        overloaded{
            [&](const Constant& e) { n.op = Op::constant, n.value = e.value; },
            [&](const TextConstant& e) {
                n.op = Op::text_constant, n.a = size_of(texts.size()), n.is_text = true;
                texts.push_back(e.text);
            },
            [&](const SpanConstant& e) {
                n.op = Op::span_constant, n.a = size_of(spans.size());
                spans.push_back(e.span);
            },
            [&](const AgeConstant& e) {
                n.op = Op::age_constant, n.a = static_cast<std::uint32_t>(e.unit), n.value = e.count;
            },
            [&](const Unset&) { n.op = Op::unset; },
            [&](const EventAttribute& e) {
                dynamic(e.field == policy.charting_delay ? Op::charting_delay : Op::event_attribute);
                n.a = e.field, n.is_text = is_text(policy, e.field);
            },
            [&](const PartAttribute& e) {
                dynamic(Op::part_attribute), n.a = e.part, n.b = e.slot;
                n.is_text = is_text(policy.part_kinds[e.part].attributes[e.slot].type);
            },
            [&](const LineAttribute& e) {
                n.op = Op::line_attribute, n.a = e.slot, n.is_text = is_text(policy.line[e.slot].type);
            },
            [&](const PatientAttribute& e) {
                n.op = Op::patient_attribute, n.a = e.slot;
                n.is_text = is_text(policy.patient[e.slot].type);
                if (policy.patient[e.slot].type.kind == TypeKind::age) dynamic(Op::age);
            },
            [&](const StateValue& e) {
                dynamic(Op::state), n.a = e.state, n.is_text = is_text(policy.states[e.state].type);
            },
            [&](const Facility&) { n.op = Op::facility, n.is_text = true; },
            [&](const CareUnit&) { n.op = Op::care_unit, n.is_text = true; },
            [&](const Dwell&) { dynamic(Op::dwell); },
            [&](const TimeSince& e) { dynamic(Op::time_since), n.run = list(e.events); },
            [&](const CountOf& e) { dynamic(Op::count_of), n.run = list(e.events), n.a = window(e.window); },
            [&](const SumOf& e) {
                dynamic(Op::sum_of), n.run = list({{e.event, none}}), n.a = window(e.window), n.b = e.field;
            },
            [&](const DifferenceOf& e) {
                n.op = Op::difference, n.a = operand(e.left), n.b = operand(e.right);
            },
            [&](const Change& e) {
                dynamic(Op::change), n.value = static_cast<std::int64_t>(e.kind), n.a = e.field;
                n.b = e.line_slot, n.run = list(e.since_last);
            },
            [&](const StepTime& e) {
                dynamic(Op::step_time), n.a = step_name(e.from), n.b = step_name(e.to);
            },
            [&](const StepIn& e) { dynamic(Op::step_in), n.a = step_name(e.step); },
            [&](const Multiple& e) {
                n.op = Op::multiple, n.a = operand(e.operand), n.value = e.numerator;
                n.b = static_cast<std::uint32_t>(e.denominator);
            },
            [&](const TableValue& e) {
                n.op = Op::table, n.a = e.table, n.b = e.column;
                operand_list(e.inputs);
                const bool inputs_are_static = n.is_static;
                for (const Row& row : policy.tables[e.table].rows) {
                    for (const Cell& cell : row.given)
                        for (ExpressionId v : cell.values) operand(v);
                    for (ExpressionId v : row.gives) operand(v);
                }
                n.is_static = inputs_are_static;
            },
            [&](const And& e) { n.op = Op::all, operand_list(e.operands); },
            [&](const Or& e) { n.op = Op::any, operand_list(e.operands); },
            [&](const Not& e) { n.op = Op::negation, n.a = operand(e.operand); },
            [&](const Compare& e) {
                n.op = Op::compare, n.comparator = e.comparator;
                n.a = operand(e.left), n.b = operand(e.right);
            },
            [&](const OneOf& e) {
                n.op = Op::one_of, n.a = operand(e.operand);
                operand_list(e.values);
            },
            [&](const Documented& e) { n.op = Op::documented, n.a = operand(e.attribute); },
            [&](const Occurred& e) {
                dynamic(Op::occurred), n.run = list(e.events), n.a = window(e.window), n.negated = e.negated;
            },
            [&](const SomePart& e) {
                dynamic(Op::some_part), n.a = e.part;
                if (e.where != none) lower(e.where), n.b = e.where;
            },
            [&](const Always& e) { n.op = Op::always, n.value = e.value ? 1 : 0; },
        },
        policy.expressions[id]);
    n.is_plain = !n.is_text && (n.op == Op::constant || n.op == Op::unset || n.op == Op::event_attribute ||
                                n.op == Op::part_attribute || n.op == Op::line_attribute ||
                                n.op == Op::patient_attribute || n.op == Op::state);
    nodes[id] = n;
}

void Plan::index_kinds() {
    const std::size_t kinds = policy.event_kinds.size();
    for (const EventKind& kind : policy.event_kinds) fields_ = std::max(fields_, kind.slot_of_field.size());
    slots_.assign(kinds * fields_, none);
    for (EventKindId k = 0; k < kinds; ++k)
        std::copy(policy.event_kinds[k].slot_of_field.begin(), policy.event_kinds[k].slot_of_field.end(),
                  slots_.begin() + static_cast<std::ptrdiff_t>(k * fields_));
    part_of_kind.assign(kinds, none);
    begins_part.assign(kinds, 0);
    ends_part.assign(kinds, 0);
    settings_of_kind.resize(kinds);
    for (EventKindId k = 0; k < kinds; ++k) part_of_kind[k] = policy.event_kinds[k].of;
    for (PartKindId p = 0; p < policy.part_kinds.size(); ++p) {
        for (EventKindId k : policy.part_kinds[p].from) part_of_kind[k] = p, begins_part[k] = 1;
        for (EventKindId k : policy.part_kinds[p].until) part_of_kind[k] = p, ends_part[k] = 1;
    }
    for (StateId s = 0; s < policy.states.size(); ++s) {
        const State& state = policy.states[s];
        for (const StateSource& source : state.sources)
            settings_of_kind[source.event].push_back(
                {s, Setting::How::value, slot(source.event, source.field), none});
        for (const Pattern& p : state.from)
            settings_of_kind[p.event].push_back({s, Setting::How::on, none, pattern(p)});
        for (const Pattern& p : state.until)
            settings_of_kind[p.event].push_back({s, Setting::How::off, none, pattern(p)});
    }
}

void Plan::add_rests(Run run, Rests& rests) const {
    for (const PatternId* id = begin(run); id != end(run); ++id)
        add_pattern(patterns[*id].kind, patterns[*id].where, rests);
}

// What a `where` rests on beside its event was settled at that event: of no matter but to what caused it.
void Plan::add_pattern(EventKindId kind, ExpressionId where, Rests& rests) const {
    add_kind(rests, kind);
    if (rests.in_wheres && where != none) add_rests(where, rests);
}

void Plan::add_rests(NodeId id, Rests& rests) const {
    const Node& n = nodes[id];
    const auto window_rests = [&](WindowId w) {
        add_rests(windows[w].since, rests);
        rests.on_clock = true;
    };
    switch (n.op) {
        case Op::part_attribute:
            break;  // the same all the part's life long
        case Op::state: {
            const State& state = policy.states[n.a];
            for (const StateSource& s : state.sources) add_kind(rests, s.event);
            for (const Pattern& p : state.from) add_pattern(p.event, p.where, rests);
            for (const Pattern& p : state.until) add_pattern(p.event, p.where, rests);
            break;
        }
        case Op::age:
        case Op::dwell:
            rests.on_clock = true;
            break;
        case Op::time_since:
            add_rests(n.run, rests);
            rests.on_clock = true;
            break;
        case Op::count_of:
        case Op::sum_of:
        case Op::occurred:
            add_rests(n.run, rests);
            window_rests(n.a);
            break;
        case Op::difference:
        case Op::compare:
            add_rests(n.a, rests);
            add_rests(n.b, rests);
            break;
        case Op::multiple:
        case Op::negation:
        case Op::documented:
        case Op::one_of:
            add_rests(n.a, rests);
            break;
        case Op::table:
        case Op::all:
        case Op::any:
            for (std::uint32_t i = 0; i < n.run.count; ++i) add_rests(operands[n.run.first + i], rests);
            break;
        case Op::some_part:
            add_kind(rests, policy.removal);  // ends them all
            for (PartKindId p = n.a; p != none; p = policy.part_kinds[p].of) {
                for (EventKindId k : policy.part_kinds[p].from) add_kind(rests, k);
                for (EventKindId k : policy.part_kinds[p].until) add_kind(rests, k);
            }
            if (n.b != none) add_rests(n.b, rests);
            break;
        default:
            break;
    }
}

Rests Plan::rests_of(NodeId node, bool in_wheres) const {
    Rests rests;
    rests.in_wheres = in_wheres;
    add_rests(node, rests);
    return rests;
}

void Plan::add_applies_rests(ClauseId id, Rests& rests, std::uint32_t depth) const {
    const Clause& clause = policy.clauses[id];
    for (ExpressionId e : {clause.for_each_where, clause.applies_for, clause.applies_while})
        if (e != none) add_rests(e, rests);
    for (PartKindId p = clause.for_each; p != none; p = policy.part_kinds[p].of)
        for (EventKindId k : policy.part_kinds[p].until) add_kind(rests, k);
    for (EditionId e = 0; e <= clause.edition && e < editions.size(); ++e)
        for (EventKindId k : editions[e].rests.kinds) add_kind(rests, k);
    if (depth > policy.clauses.size()) return;  // a circle, which the compiler refuses
    if (!clauses[id].overriders.empty()) add_kind(rests, policy.removal);  // it may end their part in it
    for (ClauseId over : clauses[id].overriders) {
        add_applies_rests(over, rests, depth + 1);
        for (PartKindId p = policy.clauses[over].for_each; p != none; p = policy.part_kinds[p].of) {
            for (EventKindId k : policy.part_kinds[p].from) add_kind(rests, k);
            for (EventKindId k : policy.part_kinds[p].until) add_kind(rests, k);
        }
    }
}

namespace {

const Events* demanded(const Demand& demand) {
    return std::visit(
        [](const auto& d) -> const Events* {
            if constexpr (requires { d.events; })
                return &d.events;
            else
                return nullptr;
        },
        demand);
}

}  // namespace

void Plan::plan_editions() {
    for (const Edition& edition : policy.editions) {
        EditionPlan& plan = editions.emplace_back();
        const auto same = [&](const Edition& other) { return other.title == edition.title; };
        plan.first = size_of(std::find_if(policy.editions.begin(), policy.editions.end(), same) -
                             policy.editions.begin());
        if (edition.in_force_from) plan.from = zone.begin_of(*edition.in_force_from);
        if (edition.in_force_until) plan.until = zone.begin_of(add_days(*edition.in_force_until, 1));
        plan.governs = edition.governs;
        if (plan.governs != none) plan.rests = rests_of(plan.governs);
    }
}

// Which clause and which ladder carries on which, across an edition's day.
void Plan::carry_on() {
    const auto older_of = [&](const auto& items, std::uint32_t id) {
        const auto& newer = items[id];
        if (newer.edition == none || newer.edition == 0) return none;
        const EditionId before = newer.edition - 1;  // of one title, by their days
        if (!follows(policy.editions[newer.edition], policy.editions[before])) return none;
        for (std::uint32_t i = 0; i < id; ++i)
            if (items[i].edition == before && items[i].id == newer.id) return i;
        return none;
    };
    for (ClauseId id = 0; id < clauses.size(); ++id) {
        clauses[id].carries_on = older_of(policy.clauses, id);
        if (clauses[id].carries_on != none) briefs[clauses[id].carries_on].carried_on = true;
    }
    for (LadderId id = 0; id < ladders.size(); ++id) {
        const LadderId older = older_of(policy.ladders, id);
        ladders[id].line = older == none ? id : ladders[older].line;
    }
}

// What is joined by `and`, one by one.
void Plan::take_apart(NodeId condition, std::vector<NodeId>& conditions) const {
    const Node& n = nodes[condition];
    if (n.op != Op::all) return conditions.push_back(condition);
    for (std::uint32_t i = 0; i < n.run.count; ++i) take_apart(operands[n.run.first + i], conditions);
}

void Plan::plan_clause(ClauseId id) {
    const Clause& clause = policy.clauses[id];
    ClausePlan& plan = clauses[id];
    ClauseBrief& brief = briefs[id];
    brief.for_each = clause.for_each;
    brief.edition = clause.edition;
    brief.otherwise_escalate = clause.otherwise_escalate;
    brief.then_escalate = clause.then_escalate;
    brief.triggered = clause.trigger.kind;
    brief.form = static_cast<std::uint8_t>(clause.demand.index());
    brief.undocumented = clause.undocumented;
    brief.even_after_removal = clause.even_after_removal;
    if (const auto* holds = std::get_if<Holds>(&clause.demand)) brief.condition = holds->condition;
    for (ExpressionId e : {clause.for_each_where, clause.applies_for, clause.applies_while})
        if (e != none) take_apart(e, plan.applies);
    // The cheap ones first: what never changes decides alone for most lines.
    std::stable_partition(plan.applies.begin(), plan.applies.end(),
                          [&](NodeId n) { return nodes[n].is_static; });
    brief.applies_always = plan.applies.empty() && plan.overriders.empty() && clause.edition == none;
    add_applies_rests(id, plan.applies_rests, 0);
    brief.trigger = list(clause.trigger.events);
    if (clause.trigger.once != none) {
        plan.once_rests = rests_of(clause.trigger.once);
        plan.once_kinds = rests_of(clause.trigger.once, true).kinds;
    }
    brief.exceptions = {size_of(exceptions.size()), size_of(clause.exceptions.size())};
    for (const Exception& e : clause.exceptions) exceptions.push_back({e.condition, rests_of(e.condition)});
    if (const Events* events = demanded(clause.demand)) {
        brief.events = list(*events);
        brief.ends_with_line = brief.ends_with_part = true;
        for (const Pattern& p : *events) {
            const EventKind& event = policy.event_kinds[p.event];
            if (p.event == policy.removal || event.also_after_removal || p.event == policy.notification ||
                p.event == policy.acknowledgement)
                brief.ends_with_line = false;
            if (clause.for_each == none || part_of_kind[p.event] != clause.for_each)
                brief.ends_with_part = false;
        }
    }
    if (const auto* every = std::get_if<AtLeastEvery>(&clause.demand)) plan.unless = every->unless;
    if (const auto* pairs = std::get_if<NoMoreOftenThan>(&clause.demand)) plan.unless = pairs->unless;
    if (const auto* had = std::get_if<HaveHad>(&clause.demand))
        if (!had->anywhen) plan.window = window(had->window);
    if (const auto* follow = std::get_if<FollowSteps>(&clause.demand))
        for (const std::string& step : follow->steps) plan.steps.push_back(step_name(step));
}

// What may open a clause, so that an episode's clauses are found from its events and its time.
void Plan::reach_clauses() {
    clauses_of_kind.resize(policy.event_kinds.size());
    shared_clauses.resize(policy.event_kinds.size());
    clauses_of_part.resize(policy.part_kinds.size());
    std::map<std::vector<NodeId>, std::uint32_t> audience_of;
    std::map<std::pair<std::vector<NodeId>, bool>, std::uint32_t> stretches_of;
    for (ClauseId id = 0; id < policy.clauses.size(); ++id) {
        const Clause& clause = policy.clauses[id];
        const ClausePlan& plan = clauses[id];
        ClauseBrief& brief = briefs[id];
        if (brief.demands<LeavesToJudgement>()) continue;
        const bool for_line = clause.for_each == none;
        if (!for_line) clauses_of_part[clause.for_each].push_back(id);
        if (for_line && plan.overriders.empty() && clause.edition == none)
            brief.stretches =
                stretches_of
                    .try_emplace({plan.applies, clause.even_after_removal}, size_of(stretches_of.size()))
                    .first->second;
        const bool by_time = clause.trigger.kind == TriggerKind::once || brief.demands<AtLeastEvery>() ||
                             brief.demands<EachPeriod>();
        if (!by_time) {
            Rests opened_by;
            add_rests(brief.at_events() ? brief.trigger : brief.events, opened_by);
            auto& lists = opened_by.kinds.size() == 1 ? clauses_of_kind : shared_clauses;
            for (EventKindId kind : opened_by.kinds) lists[kind].push_back(id);
            continue;
        }
        std::vector<NodeId> conditions;
        for (NodeId node : plan.applies)
            if (for_line && nodes[node].is_static) conditions.push_back(node);
        const auto [found, fresh] = audience_of.try_emplace(conditions, size_of(audiences.size()));
        if (fresh) audiences.push_back({conditions, {}});
        audiences[found->second].clauses.push_back(id);
    }
    stretches = size_of(stretches_of.size());
}

// Whether a condition reads windows over events of parts, which `for each` narrows to its own part.
bool Plan::reads_part_events(NodeId id) const {
    const Node& n = nodes[id];
    const auto of_parts = [&](Run run) {
        return std::any_of(begin(run), end(run), [&](PatternId p) {
            return part_of_kind[patterns[p].kind] != none ||
                   (patterns[p].where != none && reads_part_events(patterns[p].where));
        });
    };
    switch (n.op) {
        case Op::time_since:
        case Op::change:
            return of_parts(n.run);
        case Op::count_of:
        case Op::sum_of:
        case Op::occurred:
            return of_parts(n.run) || of_parts(windows[n.a].since);
        case Op::difference:
        case Op::compare:
            return reads_part_events(n.a) || reads_part_events(n.b);
        case Op::multiple:
        case Op::negation:
        case Op::documented:
        case Op::one_of:
            return reads_part_events(n.a);
        case Op::table:
        case Op::all:
        case Op::any:
            for (std::uint32_t i = 0; i < n.run.count; ++i)
                if (reads_part_events(operands[n.run.first + i])) return true;
            return false;
        default:
            return false;
    }
}

bool Plan::reads_part(NodeId id) const {
    const Node& n = nodes[id];
    switch (n.op) {
        case Op::part_attribute:
            return true;
        case Op::state:
            return policy.states[n.a].of != none;
        case Op::difference:
        case Op::compare:
            return reads_part(n.a) || reads_part(n.b);
        case Op::multiple:
        case Op::negation:
        case Op::documented:
        case Op::one_of:
            return reads_part(n.a);
        case Op::table:
        case Op::all:
        case Op::any:
            for (std::uint32_t i = 0; i < n.run.count; ++i)
                if (reads_part(operands[n.run.first + i])) return true;
            return false;
        default:
            return false;
    }
}

}  // namespace linelaw::runtime::engine
