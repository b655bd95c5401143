#include "compiler/clause_matter.hpp"

#include <algorithm>

#include "runtime/time.hpp"

namespace linelaw::compiler {

using namespace runtime;

namespace {

std::int64_t length_of(const Span& span) {
    return (std::int64_t{span.months} * 30 + span.days) * microseconds_per_day + span.elapsed;
}

const Attribute* attribute_of(const EventKind& kind, FieldId field) {
    for (const auto& attribute : kind.attributes)
        if (attribute.field == field) return &attribute;
    return nullptr;
}

// What bare numbers of the type are counted in.
std::int64_t unit_of(const Type& type) {
    if (type.kind == TypeKind::number || type.kind == TypeKind::percent) return 1'000'000;
    if (type.kind == TypeKind::time_of_day) return microseconds_per_minute;
    const auto* unit = find_unit(type.unit);
    return unit != nullptr ? unit->grains_per_unit : 1;
}

// How far off a neighbour is: one of the unit, and a tenth of it where the constants are written so finely.
std::vector<std::int64_t> steps_of(const Type& type, const std::set<std::int64_t>& constants) {
    const auto unit = unit_of(type);
    const auto* written = find_unit(type.unit);
    const auto offset = written != nullptr ? written->offset_in_grains : 0;
    for (const auto constant : constants)
        if ((constant - offset) % unit != 0) return {unit, std::max<std::int64_t>(1, unit / 10)};
    return {unit};
}

bool is_number(const Type& type) {
    return type.kind == TypeKind::count || type.kind == TypeKind::number ||
           dimension_of(type.kind) != Dimension::none;
}

std::vector<std::int64_t> values_of(const Type& type, const std::set<std::int64_t>& constants) {
    std::set<std::int64_t> values;
    switch (type.kind) {
        case TypeKind::flag:
            return {0, 1};
        case TypeKind::one_of:
            values = constants;
            for (const auto symbol : type.values)  // one that nothing speaks of stands for all of those
                if (constants.count(symbol) == 0) {
                    values.insert(symbol);
                    break;
                }
            return {values.begin(), values.end()};
        case TypeKind::text:
        case TypeKind::key:
            return {0, 1};
        default:
            break;
    }
    for (const auto constant : constants) {
        values.insert(constant);
        for (const auto step : steps_of(type, constants)) values.insert({constant - step, constant + step});
    }
    if (is_number(type)) {
        const auto unit = unit_of(type);
        const auto middle = (type.low + (type.high - type.low) / 4) / unit * unit;
        if (values.empty()) values.insert(std::clamp(middle, type.low, type.high));
        for (auto it = values.begin(); it != values.end();)
            it = *it < type.low || *it > type.high ? values.erase(it) : std::next(it);
        if (values.empty()) values.insert(type.low);
    } else if (values.empty()) {
        values.insert(12 * microseconds_per_hour);
    }
    return {values.begin(), values.end()};
}

class Gatherer {
  public:
    explicit Gatherer(const Policy& policy) : policy_(policy) {}

    void clause(ClauseId id) {
        if (!clauses_.insert(id).second) return;
        const Clause& c = policy_.clauses[id];
        at_hand_.clear();
        part(c.for_each);
        condition(c.for_each_where);
        condition(c.applies_for);
        condition(c.applies_while);
        condition(c.trigger.once);
        events(c.trigger.events);
        at_hand_ = kinds_of(c.trigger.events);
        std::visit([&](const auto& d) { demand(d); }, c.demand);
        for (const auto& exception : c.exceptions) condition(exception.condition);
        at_hand_.clear();
        ladder(c.otherwise_escalate);
        ladder(c.then_escalate);
    }

    Matter matter() {
        Matter out;
        for (const auto& [slot, constants] : patient_) {
            const auto& attribute = policy_.patient[slot];
            if (attribute.type.kind != TypeKind::age)
                out.patient.push_back({attribute.name, attribute.type, values_of(attribute.type, constants)});
        }
        for (const auto& [slot, constants] : line_)
            out.line.push_back({policy_.line[slot].name, policy_.line[slot].type,
                                values_of(policy_.line[slot].type, constants)});
        for (const auto& [count, unit] : ages_)
            for (const int by : {-1, 0, 1})
                if (count + by >= 0) out.ages.emplace_back(count + by, unit);
        for (const auto kind : kinds_) out.kinds[kind];
        for (const auto& [where, constants] : fields_) {
            const auto& [kind, field] = where;
            auto& one = out.kinds[kind];
            if (field == policy_.charting_delay) {
                for (const auto c : constants)
                    for (const auto by : {-microseconds_per_minute, std::int64_t{0}, microseconds_per_minute})
                        if (c + by >= 0) one.delays.push_back(c + by);
            } else if (const auto* attribute = attribute_of(policy_.event_kinds[kind], field)) {
                one.attributes.push_back(
                    {attribute->name, attribute->type, values_of(attribute->type, constants)});
            }
        }
        for (const auto& [kind, lists] : steps_) out.kinds[kind].steps = lists;
        out.spans.assign(spans_.begin(), spans_.end());
        return out;
    }

  private:
    static std::vector<EventKindId> kinds_of(const Events& events) {
        std::vector<EventKindId> kinds;
        for (const auto& pattern : events) kinds.push_back(pattern.event);
        return kinds;
    }
    void kind(EventKindId id) {
        if (!kinds_.insert(id).second) return;
        const auto of = policy_.event_kinds[id].of;
        part(of);
    }
    // What begins and ends a part, and what numbers it.
    void part(PartKindId id) {
        if (id == none || !parts_.insert(id).second) return;
        const auto& p = policy_.part_kinds[id];
        if (p.count_slot != none) line_[p.count_slot].insert({1, 2});
        for (const auto from : p.from) kind(from);
        for (const auto until : p.until) kind(until);
        part(p.of);
    }
    void span(const Span& s) { spans_.insert(length_of(s)); }
    void events(const Events& all) {
        const auto outer = at_hand_;
        for (const auto& pattern : all) {
            kind(pattern.event);
            at_hand_ = {pattern.event};
            condition(pattern.where);
        }
        at_hand_ = outer;
    }
    void window(const Window& w) {
        if (w.in_last) span(*w.in_last);
        events(w.since);
    }
    void ladder(LadderId id) {
        if (id == none) return;
        for (const auto kind_id : {policy_.notification, policy_.acknowledgement}) kind(kind_id);
        auto& called = fields_[{policy_.notification, policy_.notified}];
        const auto* notified = attribute_of(policy_.event_kinds[policy_.notification], policy_.notified);
        for (const auto& step : policy_.ladders[id].steps) {
            span(step.within);
            span(step.if_not_acknowledged_within);
            for (const auto role : step.roles)
                for (const auto symbol :
                     notified != nullptr ? notified->type.values : std::vector<SymbolId>{})
                    if (policy_.symbols[symbol] == policy_.roles[role]) called.insert(symbol);
        }
        for (const auto& hold : policy_.ladders[id].holds) {
            events(hold.events);
            events(hold.until);
        }
    }

    // ---- expressions

    void condition(ExpressionId id) {
        if (id == none) return;
        std::visit([&](const auto& e) { truth(id, e); }, policy_.expressions[id]);
    }
    void truth(ExpressionId /*id*/, const And& e) {
        for (const auto one : e.operands) condition(one);
    }
    void truth(ExpressionId /*id*/, const Or& e) {
        for (const auto one : e.operands) condition(one);
    }
    void truth(ExpressionId /*id*/, const Not& e) { condition(e.operand); }
    void truth(ExpressionId /*id*/, const Compare& e) {
        const auto constants = constants_of(e.right);
        value(e.left, constants);
        if (constants.empty()) value(e.right, constants_of(e.left));
        input_of_table(e.right);
    }
    void truth(ExpressionId /*id*/, const OneOf& e) {
        std::set<std::int64_t> all;
        for (const auto one : e.values) all.merge(constants_of(one));
        value(e.operand, all);
    }
    void truth(ExpressionId /*id*/, const Documented& e) { value(e.attribute, {}); }
    void truth(ExpressionId /*id*/, const Occurred& e) {
        events(e.events);
        window(e.window);
    }
    void truth(ExpressionId /*id*/, const SomePart& e) {
        part(e.part);
        condition(e.where);
    }
    template <typename E>
    void truth(ExpressionId id, const E& /*a flag*/) {
        value(id, {});
    }

    // The numbers, symbols and so on that something is compared with.
    std::set<std::int64_t> constants_of(ExpressionId id) {
        const auto& e = policy_.expressions[id];
        if (const auto* constant = std::get_if<Constant>(&e)) return {constant->value};
        if (const auto* s = std::get_if<SpanConstant>(&e)) span(s->span);
        if (const auto* age = std::get_if<AgeConstant>(&e)) ages_.emplace(age->count, age->unit);
        if (const auto* multiple = std::get_if<Multiple>(&e)) return constants_of(multiple->operand);
        std::set<std::int64_t> all;
        if (const auto* column = std::get_if<TableValue>(&e))
            for (const auto& row : policy_.tables[column->table].rows)
                all.merge(constants_of(row.gives[column->column]));
        return all;
    }
    // A table's inputs are compared with its cells.
    void input_of_table(ExpressionId id) {
        const auto* column = std::get_if<TableValue>(&policy_.expressions[id]);
        if (column == nullptr) return;
        for (std::size_t i = 0; i < column->inputs.size(); ++i) {
            std::set<std::int64_t> all;
            for (const auto& row : policy_.tables[column->table].rows)
                for (const auto one : row.given[i].values) all.merge(constants_of(one));
            value(column->inputs[i], all);
        }
    }

    using Constants = std::set<std::int64_t>;
    void value(ExpressionId id, const Constants& constants) {
        std::visit([&](const auto& e) { operand(e, constants); }, policy_.expressions[id]);
    }
    void field(EventKindId kind_id, FieldId id, const Constants& constants) {
        kind(kind_id);
        fields_[{kind_id, id}].insert(constants.begin(), constants.end());
    }
    void operand(const EventAttribute& e, const Constants& constants) {
        for (const auto kind_id : at_hand_)
            if (e.field == policy_.charting_delay ||
                attribute_of(policy_.event_kinds[kind_id], e.field) != nullptr)
                field(kind_id, e.field, constants);
    }
    void operand(const PartAttribute& e, const Constants& constants) {
        part(e.part);
        const auto& p = policy_.part_kinds[e.part];
        for (const auto from : p.from)
            for (const auto& attribute : policy_.event_kinds[from].attributes)
                if (attribute.name == p.attributes[e.slot].name) field(from, attribute.field, constants);
    }
    void operand(const LineAttribute& e, const Constants& constants) {
        line_[e.slot].insert(constants.begin(), constants.end());
    }
    void operand(const PatientAttribute& e, const Constants& constants) {
        patient_[e.slot].insert(constants.begin(), constants.end());
    }
    void operand(const StateValue& e, const Constants& constants) {
        if (!states_.emplace(e.state, constants).second) return;
        const auto& state = policy_.states[e.state];
        for (const auto& source : state.sources) field(source.event, source.field, constants);
        events(state.from);
        events(state.until);
        if (state.initially == Initially::patient) operand(PatientAttribute{state.initial_slot}, constants);
        if (state.initially == Initially::line) operand(LineAttribute{state.initial_slot}, constants);
    }
    void operand(const TimeSince& e, const Constants& /*constants*/) { events(e.events); }
    void operand(const CountOf& e, const Constants& /*constants*/) {
        events(e.events);
        window(e.window);
    }
    void operand(const SumOf& e, const Constants& constants) {
        field(e.event, e.field, constants);
        window(e.window);
    }
    void operand(const DifferenceOf& e, const Constants& constants) {
        value(e.left, apart(e.left, constants));
        value(e.right, apart(e.right, {0}));
    }
    // Readings that lie so far from one another: about a middle of the range.
    void operand(const Change& e, const Constants& constants) {
        for (const auto kind_id : at_hand_) {
            const auto* attribute = attribute_of(policy_.event_kinds[kind_id], e.field);
            if (attribute == nullptr) continue;
            field(kind_id, e.field, about_middle(attribute->type, constants));
        }
        if (e.line_slot != none)
            line_[e.line_slot].merge(about_middle(policy_.line[e.line_slot].type, {0}));
        else if (attribute_of(policy_.event_kinds[policy_.insertion], e.field) != nullptr)
            field(policy_.insertion, e.field,
                  about_middle(attribute_of(policy_.event_kinds[policy_.insertion], e.field)->type, {0}));
        events(e.since_last);
    }
    void operand(const Multiple& e, const Constants& constants) {
        Constants all;
        for (const auto c : constants) all.insert(c * e.denominator / std::max<std::int64_t>(1, e.numerator));
        value(e.operand, all);
    }
    template <typename E>
    void operand(const E& /*nothing that an episode can choose*/, const Constants& /*constants*/) {}

    static Constants about_middle(const Type& type, const Constants& distances) {
        const auto unit = unit_of(type);
        const auto middle = (type.low + (type.high - type.low) / 4) / unit * unit;
        Constants all = {middle};
        for (const auto d : distances) all.insert({middle + d, middle - d});
        return all;
    }
    Constants apart(ExpressionId id, const Constants& distances) const {
        const auto& e = policy_.expressions[id];
        if (const auto* line = std::get_if<LineAttribute>(&e))
            return about_middle(policy_.line[line->slot].type, distances);
        if (const auto* attribute = std::get_if<EventAttribute>(&e))
            for (const auto kind_id : at_hand_)
                if (const auto* one = attribute_of(policy_.event_kinds[kind_id], attribute->field))
                    return about_middle(one->type, distances);
        return distances;
    }

    // ---- demands

    void at_events(const Events& all) {
        events(all);
        at_hand_ = kinds_of(all);
    }
    void demand(const AtLeastEvery& d) {
        at_events(d.events);
        for (const auto& s : {d.every, d.grace}) span(s);
        if (d.shortest) span(*d.shortest);
        condition(d.unless);
    }
    void demand(const NoMoreOftenThan& d) {
        at_events(d.events);
        span(d.shortest);
        condition(d.unless);
    }
    void demand(const EachPeriod& d) { events(d.events); }
    void demand(const Within& d) {
        events(d.events);
        if (const auto* s = std::get_if<Span>(&d.within)) span(*s);
        span(d.grace);
    }
    void demand(const WithinEitherSide& d) {
        events(d.events);
        span(d.within);
    }
    void demand(const HaveHad& d) {
        events(d.events);
        window(d.window);
    }
    void demand(const Holds& d) { condition(d.condition); }
    void demand(const Document& d) {
        for (const auto id : d.fields)
            for (const auto kind_id : at_hand_)
                if (attribute_of(policy_.event_kinds[kind_id], id) != nullptr) field(kind_id, id, {});
    }
    void demand(const FollowSteps& d) {
        for (const auto kind_id : at_hand_) steps_[kind_id].push_back(d.steps);
    }
    void demand(const Forbid& d) { at_events(d.events); }
    void demand(const AtMostTimes& d) {
        at_events(d.events);
        span(d.in);
    }
    void demand(const LeavesToJudgement& /*d*/) {}
    void demand(const NoDemand& /*d*/) {}

    const Policy& policy_;
    std::vector<EventKindId> at_hand_;
    std::set<ClauseId> clauses_;
    std::set<EventKindId> kinds_;
    std::set<PartKindId> parts_;
    std::set<std::pair<StateId, Constants>> states_;
    std::map<std::uint32_t, Constants> patient_;
    std::map<std::uint32_t, Constants> line_;
    std::set<std::pair<std::int32_t, AgeUnit>> ages_;
    std::map<std::pair<EventKindId, FieldId>, Constants> fields_;
    std::map<EventKindId, std::vector<std::vector<std::string>>> steps_;
    std::set<std::int64_t> spans_;
};

}  // namespace

Matter matter_of(const Policy& policy, const std::vector<ClauseId>& clauses) {
    Gatherer gatherer(policy);
    for (const auto id : clauses) {
        gatherer.clause(id);
        for (const auto other : policy.clauses[id].overrides) gatherer.clause(other);
        for (ClauseId other = 0; other < policy.clauses.size(); ++other) {
            const auto& overrides = policy.clauses[other].overrides;
            if (std::find(overrides.begin(), overrides.end(), id) != overrides.end()) gatherer.clause(other);
        }
    }
    return gatherer.matter();
}

}  // namespace linelaw::compiler
