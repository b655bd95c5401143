// The first pass over a policy: which variables its conditions look at, and every constant that cuts them.
#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <numeric>

#include "compiler/analysis/operand.hpp"
#include "compiler/words.hpp"

namespace linelaw::compiler::analysis {

// ---- declaring variables
// ----------------------------------------------------------------------------------------

std::uint32_t Situations::variable(const std::string& key) const {
    const auto found = by_key_.find(key);
    return found == by_key_.end() ? none : found->second;
}

std::uint32_t Situations::declare(const std::string& key, Variable made) {
    if (const std::uint32_t known = variable(key); known != none) return known;
    assert(scanning_);
    variables_.push_back(std::move(made));
    return by_key_[key] = static_cast<std::uint32_t>(variables_.size() - 1);
}

namespace {

struct Declared {
    std::string key;
    Variable variable;
};

Declared of_attribute(VariableKind kind, const std::string& owner, const runtime::Attribute& attribute,
                      std::string key) {
    Variable v;
    v.kind = attribute.type.kind == runtime::TypeKind::age ? VariableKind::age : kind;
    v.name = owner + "." + attribute.name;
    v.type = attribute.type;
    v.field = attribute.field;
    return {std::move(key), std::move(v)};
}

Declared of_event(const runtime::Policy& policy, EventKindId kind, runtime::FieldId field) {
    std::string key = fmt::format("event {} {}", kind, field);
    const std::string& owner = policy.event_kinds[kind].name;
    if (const runtime::Attribute* attribute = attribute_of(policy, kind, field)) {
        Declared declared = of_attribute(VariableKind::event, owner, *attribute, std::move(key));
        declared.variable.event = kind;
        return declared;
    }
    Variable v;  // charting_delay, which no kind lists
    v.kind = VariableKind::event;
    v.name = owner + "." + policy.fields[field];
    v.type = microseconds();
    v.type.high = highest;
    v.event = kind;
    v.field = field;
    return {std::move(key), std::move(v)};
}

}  // namespace

std::uint32_t Situations::attribute_variable(EventKindId kind, runtime::FieldId field) const {
    return variable(fmt::format("event {} {}", kind, field));
}

// Reads one side of a comparison and declares the variable that it looks at.
struct Situations::OperandReader {
    using K = Operand::Kind;
    Situations& s;
    ExpressionId id;
    EventKindId at_hand;

    Operand of(K kind, Declared declared) const {
        Operand result;
        result.kind = kind;
        result.variable = s.declare(declared.key, std::move(declared.variable));
        return result;
    }
    static Declared simple(std::string key, VariableKind kind, std::string name, runtime::Type type) {
        Variable v;
        v.kind = kind;
        v.name = std::move(name);
        v.type = std::move(type);
        return {std::move(key), std::move(v)};
    }
    // The variable of `left` less `right`, whichever way round it is kept.
    Operand difference(std::pair<std::uint32_t, std::string> left,
                       std::pair<std::uint32_t, std::string> right, bool same_readings,
                       std::string name) const {
        Operand result;
        result.kind = K::change;
        result.swapped = right.second < left.second;
        if (result.swapped) std::swap(left, right);
        Variable v;
        v.kind = VariableKind::relation;
        v.name = std::move(name);
        v.type = s.variables_[left.first].type;
        v.left = left.first;
        v.right = right.first;
        v.same_readings = same_readings;
        v.cuts.insert(0);
        result.variable = s.declare(left.second + " - " + right.second, std::move(v));
        return result;
    }

    template <typename T>
    Operand operator()(const T&) const {
        return {};
    }
    Operand operator()(const runtime::Constant& e) const {
        Operand result;
        result.kind = K::constant;
        result.value = e.value;
        return result;
    }
    Operand operator()(const runtime::TextConstant& e) const {
        Operand result;
        result.kind = K::text;
        result.text = e.text;
        return result;
    }
    Operand operator()(const runtime::SpanConstant& e) const {
        Operand result;
        result.kind = K::span;
        result.span = e.span;
        return result;
    }
    Operand operator()(const AgeConstant& e) const {
        Operand result;
        result.kind = K::age;
        result.age_constant = e;
        return result;
    }
    Operand operator()(const runtime::Unset&) const {
        Operand result;
        result.kind = K::unset;
        return result;
    }
    Operand operator()(const runtime::EventAttribute& e) const {
        return at_hand == none ? Operand{} : of(K::variable, of_event(s.policy_, at_hand, e.field));
    }
    Operand operator()(const runtime::PartAttribute& e) const {
        const runtime::PartKind& part = s.policy_.part_kinds[e.part];
        Declared d = of_attribute(VariableKind::part, part.name, part.attributes[e.slot], s.key(id, none));
        d.variable.part = e.part;
        d.variable.slot = e.slot;
        return of(K::variable, std::move(d));
    }
    Operand operator()(const runtime::LineAttribute& e) const {
        Declared d = of_attribute(VariableKind::line, "line", s.policy_.line[e.slot], s.key(id, none));
        d.variable.slot = e.slot;
        return of(K::variable, std::move(d));
    }
    Operand operator()(const runtime::PatientAttribute& e) const {
        Declared d =
            of_attribute(VariableKind::patient, "patient", s.policy_.patient[e.slot], s.key(id, none));
        d.variable.slot = e.slot;
        return of(K::variable, std::move(d));
    }
    Operand operator()(const runtime::StateValue& e) const {
        const runtime::State& state = s.policy_.states[e.state];
        Declared d = simple(s.key(id, none), VariableKind::state, state.name, state.type);
        d.variable.state = e.state;
        d.variable.part = state.of;
        const bool from_until = !state.from.empty();
        d.variable.can_be_unset = !from_until && state.initially == runtime::Initially::unset;
        d.variable.can_be_undocumented = !from_until;
        return of(K::variable, std::move(d));
    }
    Operand operator()(const runtime::Facility&) const {
        return of(K::variable, simple("facility", VariableKind::facility, "facility", {}));
    }
    Operand operator()(const runtime::CareUnit&) const {
        return of(K::variable, simple("care_unit", VariableKind::care_unit, "care_unit", {}));
    }
    Operand operator()(const runtime::Dwell&) const {
        Operand result;
        result.kind = K::variable;
        result.variable = s.declare_dwell();
        return result;
    }
    Operand operator()(const runtime::TimeSince& e) const {
        Operand result;
        result.kind = K::time_since;
        result.dwell = s.declare_dwell();
        result.variable = s.declare_newest(e.events);
        return result;
    }
    Operand operator()(const runtime::Change& e) const {
        const runtime::Attribute* attribute =
            at_hand == none ? nullptr : attribute_of(s.policy_, at_hand, e.field);
        if (attribute == nullptr) return {};
        const bool line_baseline = e.since_last.empty() && e.line_slot != none;
        Declared now = of_event(s.policy_, at_hand, e.field);
        const std::string now_key = now.key;
        const std::string since =
            e.since_last.empty() ? "since insertion" : "since last " + s.event_words(e.since_last);
        Declared base{"baseline " + now_key + " " + s.key(e.since_last), now.variable};
        base.variable.kind = VariableKind::baseline;
        base.variable.events = e.since_last;
        base.variable.name =
            attribute->name +
            (e.since_last.empty() ? " at insertion" : " at the last " + s.event_words(e.since_last));
        if (line_baseline) {
            base = of_attribute(VariableKind::line, "line", s.policy_.line[e.line_slot],
                                fmt::format("line {}", e.line_slot));
            base.variable.slot = e.line_slot;
        }
        const std::uint32_t left = s.declare(now.key, std::move(now.variable));
        const std::uint32_t right = s.declare(base.key, std::move(base.variable));
        // Without the line's own value the insertion event may have one, and places may differ.
        Operand result =
            difference({left, now_key}, {right, base.key}, attribute->comparable_by == none && !line_baseline,
                       "change in " + attribute->name + " " + since);
        result.change = e.kind;
        return result;
    }
    Operand operator()(const runtime::DifferenceOf& e) const {
        const Operand left = s.operand(e.left, at_hand);
        const Operand right = s.operand(e.right, at_hand);
        if (left.kind != K::variable || right.kind != K::variable || left.variable == right.variable)
            return {};
        const Variable& a = s.variables_[left.variable];
        const Variable& b = s.variables_[right.variable];
        if (!a.numeric() || !b.numeric()) return {};
        return difference({left.variable, s.key(e.left, at_hand)}, {right.variable, s.key(e.right, at_hand)},
                          true, a.name + " less " + b.name);
    }
    Operand step_time(std::string name, const std::string& from, const std::string& to) const {
        if (at_hand == none) return {};
        Declared d = simple(s.key(id, at_hand), VariableKind::step_time, std::move(name), microseconds());
        d.variable.event = at_hand;
        d.variable.step_from = from;
        d.variable.step_to = to;
        return of(K::variable, std::move(d));
    }
    Operand operator()(const runtime::StepTime& e) const {
        return step_time(fmt::format("time from {} to {}", e.from, e.to), e.from, e.to);
    }
    Operand operator()(const runtime::StepIn& e) const {
        return step_time("time in " + e.step, e.step, e.step);
    }
    Operand operator()(const runtime::TableValue& e) const {
        Operand result;
        result.kind = K::table;
        result.table = &e;
        return result;
    }
};

Situations::Operand Situations::operand(ExpressionId id, EventKindId at_hand) {
    return std::visit(OperandReader{*this, id, at_hand}, policy_.expressions[id]);
}

std::string Situations::event_words(const runtime::Events& events) const {
    std::vector<std::string> names;
    for (const EventKindId kind : kinds_of(events)) names.push_back(policy_.event_kinds[kind].name);
    return join(names, ", ", " or ");
}

// ---- the first pass: every constant
// -----------------------------------------------------------------------------

// Whether cells can tell how the comparison comes out.
bool Situations::expressible(const Operand& left, const Operand& right) const {
    using K = Operand::Kind;
    const auto constant = [](const Operand& o) {
        return o.kind == K::constant || o.kind == K::text || o.kind == K::span || o.kind == K::age ||
               o.kind == K::unset;
    };
    if (left.kind == K::outside || right.kind == K::outside) return false;
    if (constant(left) || constant(right)) return true;
    if (left.kind == K::table || right.kind == K::table)
        return (left.kind == K::table ? right : left).kind == K::variable;
    if (left.kind != K::variable || right.kind != K::variable) return false;
    const Variable& a = variables_[left.variable];
    const Variable& b = variables_[right.variable];
    if (a.numeric() && b.numeric()) return true;
    return a.type.kind == b.type.kind &&
           (a.type.kind == runtime::TypeKind::one_of || a.type.kind == runtime::TypeKind::flag);
}

void Situations::scan_compare(Comparator comparator, const Operand& left, const Operand& right) {
    using K = Operand::Kind;
    if (left.kind == K::table || right.kind == K::table) {
        const Operand& table = left.kind == K::table ? left : right;
        const Operand& other = left.kind == K::table ? right : left;
        for (const runtime::Row& row : policy_.tables[table.table->table].rows)
            scan_compare(comparator, other, operand(row.gives[table.table->column], none));
        return;
    }
    if (right.kind == K::variable && left.kind != K::variable)
        return scan_compare(runtime::mirrored(comparator), right, left);
    if (right.kind == K::change || right.kind == K::time_since)
        return scan_compare(runtime::mirrored(comparator), right, left);
    if (left.kind == K::variable && right.kind == K::variable) {
        const Variable& a = variables_[left.variable];
        const Variable& b = variables_[right.variable];
        if (!a.numeric() || !b.numeric() || left.variable == right.variable) return;
        declare_order(left.variable, right.variable);
        return;
    }
    if (left.kind == K::change && right.kind == K::constant) {
        variables_[left.variable].cuts.insert(right.value);
        variables_[left.variable].cuts.insert(-right.value);
    } else if (left.kind == K::time_since && right.kind == K::span) {
        variables_[left.variable].cuts.insert(shortest(right.span));
        variables_[left.dwell].cuts.insert(shortest(right.span));
    } else if (left.kind == K::variable) {
        Variable& v = variables_[left.variable];
        if (right.kind == K::constant && v.numeric()) v.cuts.insert(right.value);
        if (right.kind == K::span) v.cuts.insert(shortest(right.span));
        if (right.kind == K::text) v.texts.insert(right.text);
        if (right.kind == K::age) {
            std::vector<std::int32_t>& bounds = in_months(right.age_constant) ? v.months : v.days;
            if (comparator != Comparator::at_most && comparator != Comparator::more_than)
                bounds.push_back(age_bound(right.age_constant, 0));
            if (comparator != Comparator::at_least && comparator != Comparator::less_than)
                bounds.push_back(age_bound(right.age_constant, 1));
        }
    }
}

// The variable that says how two numbers are ordered.
std::uint32_t Situations::declare_order(std::uint32_t left, std::uint32_t right) {
    const auto key_of = [&](std::uint32_t v) {
        for (const auto& [key, index] : by_key_)
            if (index == v) return key;
        return std::string();
    };
    std::string a = key_of(left);
    std::string b = key_of(right);
    if (b < a) {
        std::swap(a, b);
        std::swap(left, right);
    }
    const std::string key = a + " - " + b;
    if (const std::uint32_t known = variable(key); known != none || !scanning_) return known;
    Variable v;
    v.kind = VariableKind::relation;
    v.name = variables_[left].name + " less " + variables_[right].name;
    v.type = variables_[left].type;
    v.left = left;
    v.right = right;
    v.cuts.insert(0);
    return declare(key, std::move(v));
}

void Situations::scan_cell(const Operand& input, const runtime::Cell& cell) {
    using K = runtime::Cell::Kind;
    for (std::size_t i = 0; i < cell.values.size(); ++i) {
        Comparator comparator = cell.kind == K::compare ? cell.comparator : Comparator::is;
        if (cell.kind == K::range) comparator = i == 0 ? Comparator::at_least : Comparator::at_most;
        scan_compare(comparator, input, operand(cell.values[i], none));
    }
}

void Situations::scan_events(const runtime::Events& events) {
    for (const runtime::Pattern& pattern : events) scan(pattern.where, pattern.event);
}

void Situations::scan(ExpressionId root, EventKindId at_hand_of_root) {
    walk(policy_, root, at_hand_of_root, [&](ExpressionId id, EventKindId at_hand) {
        const runtime::Expression& expression = policy_.expressions[id];
        if (const runtime::TableValue* table = table_read(id);
            table != nullptr && policy_.tables[table->table].rows.size() > rows_looked_into)
            declare_other(id, at_hand, "large ");  // should it turn out so
        if (const auto* compare = std::get_if<runtime::Compare>(&expression)) {
            const Operand left = operand(compare->left, at_hand);
            const Operand right = operand(compare->right, at_hand);
            if (!expressible(left, right)) declare_other(id, at_hand);
            scan_compare(compare->comparator, left, right);
        } else if (const auto* one_of = std::get_if<runtime::OneOf>(&expression)) {
            const Operand left = operand(one_of->operand, at_hand);
            for (const ExpressionId value : one_of->values) {
                const Operand right = operand(value, at_hand);
                if (!expressible(left, right)) declare_other(id, at_hand);
                scan_compare(Comparator::is, left, right);
            }
        } else if (const auto* table = std::get_if<runtime::TableValue>(&expression)) {
            const runtime::Table& t = policy_.tables[table->table];
            for (std::size_t i = 0; i < table->inputs.size(); ++i) {
                const Operand input = operand(table->inputs[i], at_hand);
                for (const runtime::Row& row : t.rows) scan_cell(input, row.given[i]);
            }
        } else if (const auto* occurred = std::get_if<runtime::Occurred>(&expression)) {
            if (!occurred->window.since.empty() || !occurred->window.in_last) {
                declare_other(id, at_hand);
                return;
            }
            const std::int64_t span = shortest(*occurred->window.in_last);
            variables_[declare_newest(occurred->events)].cuts.insert(span);
            if (occurred->negated) variables_[declare_dwell()].cuts.insert(span);
        } else if (const auto* some = std::get_if<runtime::SomePart>(&expression)) {
            Variable v;
            v.kind = VariableKind::some_part;
            v.name = "any " + policy_.part_kinds[some->part].name +
                     (some->where == none ? "" : " (" + condition_in_words(policy_, some->where) + ")");
            v.part = some->part;
            v.expression = some->where;
            v.type.kind = runtime::TypeKind::flag;
            declare(key(id, none), std::move(v));
        } else {
            operand(id, at_hand);  // declares what it reads
        }
    });
}

std::uint32_t Situations::declare_newest(const runtime::Events& events) {
    const std::string name = "newest " + key(events);
    if (const std::uint32_t known = variable(name); known != none) return known;
    Variable v;
    v.kind = VariableKind::newest;
    v.name = "time since " + event_words(events);
    v.type = microseconds();
    v.events = events;
    return declare(name, std::move(v));
}

std::uint32_t Situations::declare_dwell() {
    if (const std::uint32_t known = variable("dwell"); known != none) return known;
    Variable v;
    v.kind = VariableKind::dwell;
    v.name = "dwell";
    v.type = microseconds();
    return declare("dwell", std::move(v));
}

std::uint32_t Situations::declare_other(ExpressionId id, EventKindId at_hand, const char* why) {
    const std::string name = why + key(id, at_hand);
    if (const std::uint32_t known = variable(name); known != none) return known;
    Variable v;
    v.kind = VariableKind::other;
    v.name = fmt::format("condition {}", id);
    v.expression = id;
    v.type.kind = runtime::TypeKind::flag;
    v.event = at_hand;
    return declare(name, std::move(v));
}

void Situations::scan_policy() {
    for (const Never& n : compiled_.nevers) scan(n.condition, none);
    for (const Question& q : compiled_.questions) {
        const EventKindId at_hand = q.events.size() == 1 ? q.events[0].event : none;
        if (q.about == Question::About::attribute_at && at_hand != none) {
            Declared d = of_event(policy_, at_hand, q.field);
            declare(d.key, std::move(d.variable));
        }
        scan(q.applies_for, at_hand);
        scan_events(q.events);
        for (const QuestionAxis& axis : q.every) operand(axis.what, at_hand);
        for (const auto& [condition, because] : q.set_aside) scan(condition, at_hand);
    }
    for (const runtime::Clause& clause : policy_.clauses) scan_clause(clause);
    for (const runtime::Ladder& ladder : policy_.ladders)
        for (const runtime::LadderHold& hold : ladder.holds) {
            scan_events(hold.events);
            scan_events(hold.until);
        }
}

runtime::Events demanded_events(const runtime::Demand& demand) {
    return std::visit(
        [](const auto& d) -> runtime::Events {
            if constexpr (requires { d.events; })
                return d.events;
            else
                return {};
        },
        demand);
}

void Situations::scan_clause(const runtime::Clause& clause) {
    for (const ExpressionId condition : {clause.for_each_where, clause.applies_for, clause.applies_while})
        scan(condition, none);
    scan(clause.trigger.once, none);
    scan_events(clause.trigger.events);
    const runtime::Events demanded = demanded_events(clause.demand);
    scan_events(demanded);
    std::vector<EventKindId> hands = kinds_of(clause.trigger.events);
    for (const EventKindId kind : kinds_of(demanded))
        if (std::find(hands.begin(), hands.end(), kind) == hands.end()) hands.push_back(kind);
    if (hands.empty()) hands.push_back(none);
    for (const runtime::Exception& exception : clause.exceptions)
        for (const EventKindId hand : hands) scan(exception.condition, hand);
    if (const auto* d = std::get_if<runtime::AtLeastEvery>(&clause.demand))
        for (const EventKindId kind : kinds_of(d->events)) scan(d->unless, kind);
    if (const auto* d = std::get_if<runtime::NoMoreOftenThan>(&clause.demand))
        for (const EventKindId kind : kinds_of(d->events)) scan(d->unless, kind);
    if (const auto* d = std::get_if<runtime::HaveHad>(&clause.demand)) scan_events(d->window.since);
    if (const auto* d = std::get_if<runtime::Holds>(&clause.demand))
        for (const EventKindId kind : kinds_of(clause.trigger.events)) scan(d->condition, kind);
    if (const auto* d = std::get_if<runtime::Document>(&clause.demand))
        for (const EventKindId kind : kinds_of(clause.trigger.events))
            for (const runtime::FieldId field : d->fields) {
                if (attribute_of(policy_, kind, field) == nullptr) continue;
                Declared declared = of_event(policy_, kind, field);
                declare(declared.key, std::move(declared.variable));
            }
}

// Where a bound on one number and a bound on a difference meet, the other number is cut too: a change of at
// most 1 cm to at least 5 cm begins at 4 cm.
void Situations::derive_cuts() {
    constexpr std::size_t most = 200;
    const std::vector<Variable> before = variables_;
    const auto with_ends = [](const Variable& v) {
        std::set<std::int64_t> cuts = v.cuts;
        if (v.type.low != v.type.high) cuts.insert({v.type.low, v.type.high});
        return cuts;
    };
    for (const Variable& v : before) {
        if (v.kind != VariableKind::relation) continue;
        const std::set<std::int64_t> left = with_ends(before[v.left]);
        const std::set<std::int64_t> right = with_ends(before[v.right]);
        if (v.cuts.size() * std::max(left.size(), right.size()) > most) {
            inexact_.push_back("too many bounds meet on " + v.name);
            continue;
        }
        for (const std::int64_t difference : v.cuts) {
            for (const std::int64_t cut : right) variables_[v.left].cuts.insert(cut + difference);
            for (const std::int64_t cut : left) variables_[v.right].cuts.insert(cut - difference);
        }
    }
}

void Situations::order_variables() {
    std::vector<std::uint32_t> order(variables_.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(), [&](std::uint32_t a, std::uint32_t b) {
        return rank(variables_[a].kind) < rank(variables_[b].kind);
    });
    std::vector<std::uint32_t> place(order.size());
    std::vector<Variable> sorted;
    sorted.reserve(order.size());
    for (std::uint32_t i = 0; i < order.size(); ++i) {
        place[order[i]] = i;
        sorted.push_back(std::move(variables_[order[i]]));
    }
    variables_ = std::move(sorted);
    for (auto& [key, index] : by_key_) index = place[index];
    for (Variable& v : variables_) {
        if (v.left != none) v.left = place[v.left];
        if (v.right != none) v.right = place[v.right];
    }
    derive_cuts();
    for (Variable& v : variables_) {
        for (std::vector<std::int32_t>* bounds : {&v.days, &v.months}) {
            std::sort(bounds->begin(), bounds->end());
            bounds->erase(std::unique(bounds->begin(), bounds->end()), bounds->end());
        }
        make_cells(v, policy_);
    }
    for (const Variable& v : variables_) diagrams_.add_variable(static_cast<std::uint32_t>(v.cells.size()));
    // What people think of last is left out first.
    drop_order_.resize(variables_.size());
    std::iota(drop_order_.rbegin(), drop_order_.rend(), 0U);
}

}  // namespace linelaw::compiler::analysis
