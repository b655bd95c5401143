// The first pass over a policy: which variables its conditions look at, and every constant that cuts them.
#include <algorithm>
#include <numeric>

#include "compiler/analysis/operand.hpp"
#include "compiler/words.hpp"

namespace linelaw::compiler::analysis {

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
    // Two of one event are told apart by their `where`.
    const bool narrowed =
        std::any_of(events.begin(), events.end(), [](const runtime::Pattern& p) { return p.where != none; });
    v.name = "time since " + (narrowed ? events_in_words(policy_, events) : event_words(events));
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
    const auto* occurred = std::get_if<runtime::Occurred>(&policy_.expressions[id]);
    v.name = occurred == nullptr
                 ? condition_in_words(policy_, id)
                 : (occurred->negated ? "no " : "any ") + events_in_words(policy_, occurred->events) + ' ' +
                       window_in_words(policy_, occurred->window);
    v.expression = id;
    v.type.kind = runtime::TypeKind::flag;
    v.event = at_hand;
    return declare(name, std::move(v));
}

void Situations::scan_policy() {
    for (const Never& n : compiled_.nevers) scan(n.condition, none);
    for (const Question& q : compiled_.questions) {
        const EventKindId at_hand = q.events.size() == 1 ? q.events[0].event : none;
        if (q.about == Question::About::attribute_at && at_hand != none) declare_attribute(at_hand, q.field);
        scan(q.applies_for, at_hand);
        scan_events(q.events);
        scan_events(q.by);
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
            for (const runtime::FieldId field : d->fields)
                if (attribute_of(policy_, kind, field) != nullptr) declare_attribute(kind, field);
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
