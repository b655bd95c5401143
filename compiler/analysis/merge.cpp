#include "compiler/analysis/merge.hpp"

#include <algorithm>
#include <map>
#include <stdexcept>

namespace linelaw::compiler::analysis {

namespace {

using namespace runtime;  // every part of a compiled policy is renumbered here

struct Missing : std::runtime_error {
    using std::runtime_error::runtime_error;
};

template <typename Named>
std::uint32_t find_name(const std::vector<Named>& all, const std::string& name) {
    for (std::uint32_t i = 0; i < all.size(); ++i) {
        if constexpr (std::is_same_v<Named, std::string>) {
            if (all[i] == name) return i;
        } else {
            if (all[i].name == name) return i;
        }
    }
    throw Missing(name);
}

// Copies expressions and demands of one policy into another, renumbering by name.
class Copier {
  public:
    Copier(const Policy& from, Policy& to) : from_(from), to_(to) {}

    ExpressionId expression(ExpressionId id) {
        if (id == none) return none;
        if (const auto found = copied_.find(id); found != copied_.end()) return found->second;
        Expression copy = std::visit([&](const auto& e) { return Expression(of(e)); }, from_.expressions[id]);
        to_.expressions.push_back(std::move(copy));
        return copied_[id] = static_cast<ExpressionId>(to_.expressions.size() - 1);
    }
    std::vector<ExpressionId> all(const std::vector<ExpressionId>& ids) {
        std::vector<ExpressionId> result;
        result.reserve(ids.size());
        for (const ExpressionId id : ids) result.push_back(expression(id));
        return result;
    }
    EventKindId kind(EventKindId id) const {
        return id == none ? none : find_name(to_.event_kinds, from_.event_kinds[id].name);
    }
    FieldId field(FieldId id) const { return id == none ? none : find_name(to_.fields, from_.fields[id]); }
    PartKindId part(PartKindId id) const {
        return id == none ? none : find_name(to_.part_kinds, from_.part_kinds[id].name);
    }
    StateId state(StateId id) const { return find_name(to_.states, from_.states[id].name); }
    std::uint32_t line(std::uint32_t slot) const {
        return slot == none ? none : find_name(to_.line, from_.line[slot].name);
    }
    std::uint32_t patient(std::uint32_t slot) const {
        return find_name(to_.patient, from_.patient[slot].name);
    }
    Events events(const Events& events) {
        Events result;
        for (const Pattern& p : events) result.push_back({kind(p.event), expression(p.where)});
        return result;
    }
    Window window(const Window& w) { return {w.in_last, events(w.since)}; }

    Clause clause(const Clause& c) {
        Clause copy = c;
        copy.for_each = part(c.for_each);
        copy.for_each_where = expression(c.for_each_where);
        copy.applies_for = expression(c.applies_for);
        copy.applies_while = expression(c.applies_while);
        copy.trigger.events = events(c.trigger.events);
        copy.trigger.once = expression(c.trigger.once);
        copy.demand = std::visit([&](const auto& d) { return Demand(demand(d)); }, c.demand);
        for (Exception& e : copy.exceptions) e.condition = expression(e.condition);
        copy.then_escalate = ladder(c.then_escalate);
        copy.otherwise_escalate = ladder(c.otherwise_escalate);
        return copy;
    }

    LadderId ladder(LadderId id) {
        if (id == none) return none;
        if (const auto found = ladders_.find(id); found != ladders_.end()) return found->second;
        Ladder copy = from_.ladders[id];
        for (LadderStep& step : copy.steps)
            for (RoleId& role : step.roles) role = find_name(to_.roles, from_.roles[role]);
        for (LadderHold& hold : copy.holds) {
            hold.events = events(hold.events);
            hold.until = events(hold.until);
        }
        to_.ladders.push_back(std::move(copy));
        return ladders_[id] = static_cast<LadderId>(to_.ladders.size() - 1);
    }

  private:
    const Policy& from_;
    Policy& to_;
    std::map<ExpressionId, ExpressionId> copied_;
    std::map<LadderId, LadderId> ladders_;
    std::map<TableId, TableId> tables_;

    // A constant is a symbol where it stands beside something with a list of values; which it is only its
    // place tells, so symbols are renumbered there.
    ExpressionId beside(ExpressionId constant, ExpressionId other) {
        const auto* c = std::get_if<Constant>(&from_.expressions[constant]);
        if (c == nullptr || !lists_values(other)) return expression(constant);
        to_.expressions.push_back(Constant{symbol(c->value)});
        return static_cast<ExpressionId>(to_.expressions.size() - 1);
    }
    std::int64_t symbol(std::int64_t value) const {
        return find_name(to_.symbols, from_.symbols[static_cast<std::size_t>(value)]);
    }
    bool lists_values(ExpressionId id) const {
        const auto is_list = [](const Type& type) { return type.kind == TypeKind::one_of; };
        const Expression& e = from_.expressions[id];
        if (const auto* a = std::get_if<LineAttribute>(&e)) return is_list(from_.line[a->slot].type);
        if (const auto* a = std::get_if<PatientAttribute>(&e)) return is_list(from_.patient[a->slot].type);
        if (const auto* a = std::get_if<PartAttribute>(&e))
            return is_list(from_.part_kinds[a->part].attributes[a->slot].type);
        if (const auto* a = std::get_if<StateValue>(&e)) return is_list(from_.states[a->state].type);
        if (const auto* a = std::get_if<EventAttribute>(&e))
            return std::any_of(from_.event_kinds.begin(), from_.event_kinds.end(), [&](const EventKind& k) {
                const std::uint32_t slot =
                    a->field < k.slot_of_field.size() ? k.slot_of_field[a->field] : none;
                return slot != none && is_list(k.attributes[slot].type);
            });
        return false;
    }
    // Whether a table's column holds symbols: what it is compared with somewhere says so.
    bool column_lists_values(TableId table, std::uint32_t column) const {
        const auto is_column = [&](ExpressionId id) {
            const auto* value = std::get_if<TableValue>(&from_.expressions[id]);
            return value != nullptr && value->table == table && value->column == column;
        };
        return std::any_of(from_.expressions.begin(), from_.expressions.end(), [&](const Expression& e) {
            const auto* compare = std::get_if<Compare>(&e);
            return compare != nullptr && ((is_column(compare->left) && lists_values(compare->right)) ||
                                          (is_column(compare->right) && lists_values(compare->left)));
        });
    }

    template <typename T>
    T of(const T& e) {
        return e;  // constants, dwell, unset, steps, facility …
    }
    EventAttribute of(const EventAttribute& e) const { return {field(e.field)}; }
    PartAttribute of(const PartAttribute& e) const {
        const PartKindId p = part(e.part);
        return {p, find_name(to_.part_kinds[p].attributes, from_.part_kinds[e.part].attributes[e.slot].name)};
    }
    LineAttribute of(const LineAttribute& e) const { return {line(e.slot)}; }
    PatientAttribute of(const PatientAttribute& e) const { return {patient(e.slot)}; }
    StateValue of(const StateValue& e) const { return {state(e.state)}; }
    TimeSince of(const TimeSince& e) { return {events(e.events)}; }
    CountOf of(const CountOf& e) { return {events(e.events), window(e.window)}; }
    SumOf of(const SumOf& e) { return {kind(e.event), field(e.field), window(e.window)}; }
    DifferenceOf of(const DifferenceOf& e) { return {expression(e.left), expression(e.right)}; }
    Change of(const Change& e) { return {e.kind, field(e.field), events(e.since_last), line(e.line_slot)}; }
    Multiple of(const Multiple& e) { return {e.numerator, e.denominator, expression(e.operand)}; }
    TableValue of(const TableValue& e) { return {table(e), e.column, all(e.inputs)}; }
    And of(const And& e) { return {all(e.operands)}; }
    Or of(const Or& e) { return {all(e.operands)}; }
    Not of(const Not& e) { return {expression(e.operand)}; }
    Compare of(const Compare& e) { return {e.comparator, beside(e.left, e.right), beside(e.right, e.left)}; }
    OneOf of(const OneOf& e) {
        OneOf copy;
        copy.operand = expression(e.operand);
        for (const ExpressionId value : e.values) copy.values.push_back(beside(value, e.operand));
        return copy;
    }
    Documented of(const Documented& e) { return {expression(e.attribute)}; }
    Occurred of(const Occurred& e) { return {events(e.events), window(e.window), e.negated}; }
    SomePart of(const SomePart& e) { return {part(e.part), expression(e.where)}; }

    TableId table(const TableValue& use) {
        if (const auto found = tables_.find(use.table); found != tables_.end()) return found->second;
        Table copy = from_.tables[use.table];
        for (Row& row : copy.rows) {
            for (std::size_t i = 0; i < row.given.size(); ++i)
                for (ExpressionId& value : row.given[i].values) value = beside(value, use.inputs[i]);
            for (std::uint32_t column = 0; column < row.gives.size(); ++column) {
                const auto* constant = std::get_if<Constant>(&from_.expressions[row.gives[column]]);
                if (constant == nullptr || !column_lists_values(use.table, column)) {
                    row.gives[column] = expression(row.gives[column]);
                } else {
                    to_.expressions.push_back(Constant{symbol(constant->value)});
                    row.gives[column] = static_cast<ExpressionId>(to_.expressions.size() - 1);
                }
            }
        }
        to_.tables.push_back(std::move(copy));
        return tables_[use.table] = static_cast<TableId>(to_.tables.size() - 1);
    }

    template <typename T>
    T demand(const T& d) {
        return d;
    }
    AtLeastEvery demand(const AtLeastEvery& d) {
        AtLeastEvery copy = d;
        copy.events = events(d.events);
        copy.unless = expression(d.unless);
        return copy;
    }
    NoMoreOftenThan demand(const NoMoreOftenThan& d) {
        return {events(d.events), d.shortest, expression(d.unless)};
    }
    EachPeriod demand(const EachPeriod& d) { return {events(d.events), d.times, d.period}; }
    Within demand(const Within& d) { return {events(d.events), d.within, d.grace}; }
    WithinEitherSide demand(const WithinEitherSide& d) { return {events(d.events), d.within}; }
    HaveHad demand(const HaveHad& d) { return {events(d.events), window(d.window), d.anywhen}; }
    Holds demand(const Holds& d) { return {expression(d.condition)}; }
    Document demand(const Document& d) {
        Document copy;
        for (const FieldId f : d.fields) copy.fields.push_back(field(f));
        return copy;
    }
    Forbid demand(const Forbid& d) { return {events(d.events)}; }
    AtMostTimes demand(const AtMostTimes& d) { return {events(d.events), d.times, d.in}; }
};

}  // namespace

Merged merge(const Compiled& first, const Compiled& second) {
    Merged merged;
    merged.compiled = first;
    merged.shifts_of_second = second.policy.shifts;
    Compiled& out = merged.compiled;
    merged.first_of_second = static_cast<ClauseId>(out.policy.clauses.size());
    Copier copier(second.policy, out.policy);
    std::map<ClauseId, ClauseId> placed;
    for (ClauseId c = 0; c < second.policy.clauses.size(); ++c) {
        try {
            Clause copy = copier.clause(second.policy.clauses[c]);
            placed[c] = static_cast<ClauseId>(out.policy.clauses.size());
            out.policy.clauses.push_back(std::move(copy));
            out.clauses.push_back(second.clauses[c]);
        } catch (const Missing& missing) {
            merged.left_out.push_back("`" + second.policy.clauses[c].id + "` (there is no `" +
                                      missing.what() + "` here)");
        }
    }
    for (ClauseId c = merged.first_of_second; c < out.policy.clauses.size(); ++c) {
        std::vector<ClauseId> kept;
        for (const ClauseId overridden : out.policy.clauses[c].overrides)
            if (const auto found = placed.find(overridden); found != placed.end())
                kept.push_back(found->second);
        out.policy.clauses[c].overrides = std::move(kept);
    }
    for (const Question& question : second.questions)
        if (std::none_of(out.questions.begin(), out.questions.end(),
                         [&](const Question& q) { return q.id == question.id; }))
            merged.left_out.push_back("question `" + question.id + "` (only one of the policies asks it)");
    return merged;
}

}  // namespace linelaw::compiler::analysis
