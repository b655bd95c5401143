// The second pass: conditions as diagrams, and situations in words.
#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <numeric>

#include "compiler/analysis/analysis.hpp"
#include "compiler/analysis/operand.hpp"

namespace linelaw::compiler::analysis {

// ---- the second pass: conditions as diagrams
// ---------------------------------------------------------------------

Situations::Situations(const Compiled& compiled, const Limits& limits)
    : compiled_(compiled), policy_(compiled.policy), diagrams_(limits.diagram_room, limits.diagram_work) {
    scan_policy();
    order_variables();
    scanning_ = false;
    constrain();
}

Meaning Situations::truth_of(std::uint32_t variable, const std::function<bool(const ValueCell&)>& is_true) {
    const std::vector<ValueCell>& cells = variables_[variable].cells;
    CellSet yes(cells.size());
    CellSet no(cells.size());
    for (std::size_t c = 0; c < cells.size(); ++c) {
        if (cells[c].kind == ValueCell::Kind::undocumented) continue;
        (is_true(cells[c]) ? yes : no).put(c);
    }
    return {diagrams_.literal(variable, yes), diagrams_.literal(variable, no)};
}

Meaning Situations::kleene_and(const std::vector<Meaning>& parts) {
    std::vector<Node> yes;
    std::vector<Node> no;
    for (const Meaning& part : parts) {
        yes.push_back(part.yes);
        no.push_back(part.no);
    }
    return {diagrams_.all_of(std::move(yes)), diagrams_.any_of(std::move(no))};
}

Meaning Situations::kleene_or(const std::vector<Meaning>& parts) {
    std::vector<Meaning> negated;
    negated.reserve(parts.size());
    for (const Meaning& part : parts) negated.push_back({part.no, part.yes});
    const Meaning result = kleene_and(negated);
    return {result.no, result.yes};
}

Meaning Situations::other(ExpressionId id, EventKindId at_hand, const char* why) {
    const std::uint32_t asked = variable(why + key(id, at_hand));
    if (asked == none) return {never, never};  // of an event that is not at hand: nothing is known
    return truth_of(asked, [](const ValueCell& cell) { return cell.low != 0; });
}

Meaning Situations::compare(Comparator comparator, const Operand& left, const Operand& right,
                            EventKindId at_hand) {
    using K = Operand::Kind;
    const auto constant = [](const Operand& o) {
        return o.kind == K::constant || o.kind == K::text || o.kind == K::span || o.kind == K::age ||
               o.kind == K::unset;
    };
    const auto known = [](bool yes) { return yes ? Meaning{always, never} : Meaning{never, always}; };
    if (left.kind == K::table) return compare_table(comparator, left, right, at_hand);
    if (right.kind == K::table) return compare_table(runtime::mirrored(comparator), right, left, at_hand);
    if (constant(left) && constant(right)) {
        if (left.kind == K::text || right.kind == K::text)
            return known((left.text == right.text) == (comparator == Comparator::is));
        return known(runtime::holds(left.value, comparator, right.value));
    }
    if (constant(left)) return compare(runtime::mirrored(comparator), right, left, at_hand);
    if (!constant(right)) return compare_variables(comparator, left, right);

    if (left.kind == K::change)
        return truth_of(left.variable, [&](const ValueCell& cell) {
            const std::int64_t difference = standing_for(cell);
            return runtime::holds(change_of(left.change, left.swapped ? -difference : difference), comparator,
                                  right.value);
        });
    if (left.kind == K::time_since) {
        const std::int64_t span = shortest(right.span);
        const auto of_clock = [&](const ValueCell& cell) {
            return runtime::holds(standing_for(cell), comparator, span);
        };
        const Meaning since = truth_of(left.variable, [&](const ValueCell& cell) {
            return cell.kind != ValueCell::Kind::never_yet && of_clock(cell);
        });
        const Meaning not_yet = truth_of(
            left.variable, [&](const ValueCell& cell) { return cell.kind == ValueCell::Kind::never_yet; });
        const Meaning from_insertion = truth_of(left.dwell, of_clock);
        const Node yes = diagrams_.either(since.yes, diagrams_.both(not_yet.yes, from_insertion.yes));
        return {yes, diagrams_.opposite(yes)};
    }
    const Variable& v = variables_[left.variable];
    return truth_of(left.variable, [&](const ValueCell& cell) {
        if (right.kind == K::unset || cell.kind == ValueCell::Kind::unset) {
            const bool same = right.kind == K::unset && cell.kind == ValueCell::Kind::unset;
            return comparator == Comparator::is ? same : comparator == Comparator::is_not && !same;
        }
        switch (cell.kind) {
            case ValueCell::Kind::text:
            case ValueCell::Kind::other_text: {
                const bool same = cell.kind == ValueCell::Kind::text && cell.text == right.text;
                return same == (comparator == Comparator::is);
            }
            case ValueCell::Kind::age: {
                const auto behind = [&](std::int32_t more) {
                    const std::int32_t bound = age_bound(right.age_constant, more);
                    const bool months = in_months(right.age_constant);
                    const std::vector<std::int32_t>& bounds = months ? v.months : v.days;
                    const auto count = months ? cell.months_behind : cell.days_behind;
                    return std::upper_bound(bounds.begin(), bounds.end(), bound) - bounds.begin() <=
                           static_cast<std::ptrdiff_t>(count);
                };
                return runtime::holds_of_bound(comparator, behind(0), behind(1));
            }
            case ValueCell::Kind::value:
                return runtime::holds(cell.low, comparator, right.value);
            default:
                break;
        }
        return runtime::holds(standing_for(cell), comparator,
                              right.kind == K::span ? shortest(right.span) : right.value);
    });
}

Meaning Situations::compare_variables(Comparator comparator, const Operand& left, const Operand& right) {
    const Variable& a = variables_[left.variable];
    const Variable& b = variables_[right.variable];
    if (a.numeric()) {
        if (left.variable == right.variable)
            return truth_of(left.variable,
                            [&](const ValueCell&) { return runtime::holds(0, comparator, 0); });
        const std::uint32_t relation = declare_order(left.variable, right.variable);
        const bool swapped = variables_[relation].left != left.variable;
        return truth_of(relation, [&](const ValueCell& cell) {
            const std::int64_t difference = standing_for(cell);
            return runtime::holds(swapped ? -difference : difference, comparator, 0);
        });
    }
    Meaning same;
    for (std::uint32_t i = 0; i < a.cells.size(); ++i)
        for (std::uint32_t j = 0; j < b.cells.size(); ++j) {
            if (a.cells[i].kind == ValueCell::Kind::undocumented ||
                b.cells[j].kind == ValueCell::Kind::undocumented)
                continue;
            const bool equal = a.cells[i].kind == ValueCell::Kind::value &&
                               b.cells[j].kind == ValueCell::Kind::value && a.cells[i].low == b.cells[j].low;
            Node& side = equal ? same.yes : same.no;
            side = diagrams_.either(
                side, diagrams_.both(diagrams_.cell(left.variable, i), diagrams_.cell(right.variable, j)));
        }
    return comparator == Comparator::is ? same : Meaning{same.no, same.yes};
}

Meaning Situations::fits(const Operand& input, const runtime::Cell& cell, EventKindId at_hand) {
    using K = runtime::Cell::Kind;
    switch (cell.kind) {
        case K::any:
            return {always, never};
        case K::compare:
            return compare(cell.comparator, input, operand(cell.values[0], none), at_hand);
        case K::range:
            return kleene_and({compare(Comparator::at_least, input, operand(cell.values[0], none), at_hand),
                               compare(Comparator::at_most, input, operand(cell.values[1], none), at_hand)});
        case K::one_of:
            break;
    }
    std::vector<Meaning> any;
    for (const ExpressionId value : cell.values)
        any.push_back(compare(Comparator::is, input, operand(value, none), at_hand));
    return kleene_or(any);
}

Meaning Situations::fits_row(const runtime::TableValue& table, const runtime::Row& row, EventKindId at_hand) {
    std::vector<Meaning> all;
    for (std::size_t i = 0; i < table.inputs.size(); ++i)
        all.push_back(fits(operand(table.inputs[i], at_hand), row.given[i], at_hand));
    return kleene_and(all);
}

// The cells that a row's cell picks, where constants say it: the same that `fits` says, without diagrams.
std::optional<CellSet> Situations::picked(const Variable& v, const runtime::Cell& cell) {
    using K = runtime::Cell::Kind;
    CellSet cells(v.cells.size(), cell.kind == K::any);
    if (cell.kind == K::any) return cells;
    const auto constant = [&](std::size_t i) {
        return std::get_if<runtime::Constant>(&policy_.expressions[cell.values[i]]);
    };
    for (std::size_t i = 0; i < cell.values.size(); ++i)
        if (constant(i) == nullptr) return std::nullopt;
    if (v.numeric() && cell.kind == K::range) {  // its cells rise, and each constant is one
        const auto from_on = [&](std::int64_t value) {
            const auto end = std::find_if(v.cells.begin(), v.cells.end(), [](const ValueCell& c) {
                return c.kind != ValueCell::Kind::range;
            });
            return static_cast<std::size_t>(
                std::lower_bound(v.cells.begin(), end, value,
                                 [](const ValueCell& c, std::int64_t x) { return c.low < x; }) -
                v.cells.begin());
        };
        const std::size_t first = from_on(constant(0)->value);
        const std::size_t past = from_on(constant(1)->value + 1);
        if (first < past) cells.put_range(first, past - 1);
        return cells;
    }
    if (cell.kind != K::one_of || v.type.kind != runtime::TypeKind::one_of) return std::nullopt;
    for (std::size_t c = 0; c < v.cells.size(); ++c)
        for (std::size_t i = 0; i < cell.values.size(); ++i)
            if (v.cells[c].kind == ValueCell::Kind::value && v.cells[c].low == constant(i)->value)
                cells.put(c);
    return cells;
}

std::optional<std::vector<std::vector<CellSet>>> Situations::row_boxes(const runtime::TableValue& table,
                                                                       EventKindId at_hand) {
    std::vector<Operand> inputs;
    for (const ExpressionId input : table.inputs) {
        inputs.push_back(operand(input, at_hand));
        if (inputs.back().kind != Operand::Kind::variable) return std::nullopt;
    }
    std::vector<std::vector<CellSet>> boxes;
    for (const runtime::Row& row : policy_.tables[table.table].rows) {
        std::vector<CellSet>& box = boxes.emplace_back();
        for (std::size_t i = 0; i < inputs.size(); ++i) {
            const Variable& v = variables_[inputs[i].variable];
            if (std::optional<CellSet> cells = picked(v, row.given[i])) {
                box.push_back(std::move(*cells));
                continue;
            }
            const Node node = fits(inputs[i], row.given[i], at_hand).yes;
            CellSet cells(v.cells.size(), node == always);
            if (diagrams_.top(node) == inputs[i].variable)
                for (std::uint32_t c = 0; c < cells.size(); ++c)
                    cells.put(c, diagrams_.child(node, c) != never);
            box.push_back(std::move(cells));
        }
    }
    return boxes;
}

bool Situations::too_large(const runtime::TableValue& table, EventKindId at_hand) {
    constexpr std::size_t most = 200'000;
    const std::size_t rows = policy_.tables[table.table].rows.size();
    if (rows <= rows_looked_into) return false;
    std::size_t cells = 0;
    for (const ExpressionId input : table.inputs)
        if (const Operand read = operand(input, at_hand); read.variable != none)
            cells += variables_[read.variable].cells.size();
    return rows * cells > most;
}

const runtime::TableValue* Situations::table_read(ExpressionId condition) const {
    const auto of = [&](ExpressionId id) {
        return std::get_if<runtime::TableValue>(&policy_.expressions[id]);
    };
    if (const auto* e = std::get_if<runtime::Compare>(&policy_.expressions[condition]))
        return of(e->left) != nullptr ? of(e->left) : of(e->right);
    if (const auto* e = std::get_if<runtime::OneOf>(&policy_.expressions[condition])) return of(e->operand);
    return of(condition);
}

bool Situations::reads_too_large(ExpressionId condition, EventKindId at_hand) {
    const runtime::TableValue* table = table_read(condition);
    return table != nullptr && too_large(*table, at_hand);
}

// Known where every row that may fit answers alike, and some row may.
Meaning Situations::compare_table(Comparator comparator, const Operand& table, const Operand& other_side,
                                  EventKindId at_hand) {
    const runtime::Table& t = policy_.tables[table.table->table];
    Node before = never;  // of first row wins: some row above certainly fits
    std::vector<Node> some;
    std::vector<Node> all_yes;
    std::vector<Node> all_no;
    for (const runtime::Row& row : t.rows) {
        const Meaning fit = fits_row(*table.table, row, at_hand);
        Node may = diagrams_.opposite(fit.no);
        if (t.first_row_wins) {
            may = diagrams_.without(may, before);
            before = diagrams_.either(before, fit.yes);
        }
        const Meaning answer =
            compare(comparator, operand(row.gives[table.table->column], none), other_side, at_hand);
        some.push_back(may);
        all_yes.push_back(diagrams_.either(diagrams_.opposite(may), answer.yes));
        all_no.push_back(diagrams_.either(diagrams_.opposite(may), answer.no));
    }
    const Node any = diagrams_.any_of(std::move(some));
    return {diagrams_.both(any, diagrams_.all_of(std::move(all_yes))),
            diagrams_.both(any, diagrams_.all_of(std::move(all_no)))};
}

Meaning Situations::compute_occurred(const runtime::Occurred& occurred) {
    const std::int64_t span = shortest(*occurred.window.in_last);
    const Meaning came = truth_of(variable("newest " + key(occurred.events)), [&](const ValueCell& cell) {
        return cell.kind != ValueCell::Kind::never_yet && standing_for(cell) <= span;
    });
    if (!occurred.negated) return came;
    const Meaning long_enough =
        truth_of(variable("dwell"), [&](const ValueCell& cell) { return standing_for(cell) >= span; });
    const Node yes = diagrams_.both(came.no, long_enough.yes);
    return {yes, diagrams_.opposite(yes)};
}

Meaning Situations::compute(ExpressionId id, EventKindId at_hand) {
    const runtime::Expression& expression = policy_.expressions[id];
    if (reads_too_large(id, at_hand)) return other(id, at_hand, "large ");
    const auto all = [&](const std::vector<ExpressionId>& operands) {
        std::vector<Meaning> parts;
        parts.reserve(operands.size());
        for (const ExpressionId part : operands) parts.push_back(meaning(part, at_hand));
        return parts;
    };
    if (const auto* e = std::get_if<runtime::And>(&expression)) return kleene_and(all(e->operands));
    if (const auto* e = std::get_if<runtime::Or>(&expression)) return kleene_or(all(e->operands));
    if (const auto* e = std::get_if<runtime::Not>(&expression)) {
        const Meaning operand_meaning = meaning(e->operand, at_hand);
        return {operand_meaning.no, operand_meaning.yes};
    }
    if (const auto* e = std::get_if<runtime::Always>(&expression))
        return e->value ? Meaning{always, never} : Meaning{never, always};
    if (const auto* e = std::get_if<runtime::Compare>(&expression)) {
        const Operand left = operand(e->left, at_hand);
        const Operand right = operand(e->right, at_hand);
        return expressible(left, right) ? compare(e->comparator, left, right, at_hand) : other(id, at_hand);
    }
    if (const auto* e = std::get_if<runtime::OneOf>(&expression)) {
        const Operand left = operand(e->operand, at_hand);
        std::vector<Meaning> any;
        for (const ExpressionId value : e->values) {
            const Operand right = operand(value, at_hand);
            if (!expressible(left, right)) return other(id, at_hand);
            any.push_back(compare(Comparator::is, left, right, at_hand));
        }
        return kleene_or(any);
    }
    if (const auto* e = std::get_if<runtime::Documented>(&expression)) {
        const Operand what = operand(e->attribute, at_hand);
        if (what.kind != Operand::Kind::variable) return other(id, at_hand);
        const Meaning known = truth_of(what.variable, [](const ValueCell&) { return true; });
        return {known.yes, diagrams_.opposite(known.yes)};
    }
    if (const auto* e = std::get_if<runtime::Occurred>(&expression))
        return e->window.since.empty() && e->window.in_last ? compute_occurred(*e) : other(id, at_hand);
    if (std::holds_alternative<runtime::SomePart>(expression))
        return truth_of(variable(key(id, none)), [](const ValueCell& cell) { return cell.low != 0; });
    const Operand value = operand(id, at_hand);  // a flag as a truth
    if (value.kind == Operand::Kind::variable)
        return truth_of(value.variable, [](const ValueCell& cell) { return cell.low != 0; });
    if (value.kind == Operand::Kind::table) {
        Operand yes;
        yes.kind = Operand::Kind::constant;
        yes.value = 1;
        return compare_table(Comparator::is, value, yes, at_hand);
    }
    return {};  // unknown everywhere
}

Meaning Situations::meaning(ExpressionId id, EventKindId at_hand) {
    if (id == none) return {always, never};
    const auto place = std::make_pair(id, at_hand);
    if (const auto found = memo_.find(place); found != memo_.end()) return found->second;
    const Meaning made = compute(id, at_hand);
    memo_.emplace(place, made);
    return made;
}

Meaning Situations::matches(const runtime::Events& events, EventKindId kind) {
    std::vector<Meaning> any;
    for (const runtime::Pattern& pattern : events)
        if (pattern.event == kind) any.push_back(meaning(pattern.where, kind));
    return kleene_or(any);
}

std::uint32_t Situations::variable_of(ExpressionId what, EventKindId at_hand) const {
    return variable(key(what, at_hand));
}

std::uint32_t Situations::other_of(ExpressionId condition, EventKindId at_hand) const {
    const std::uint32_t large = variable("large " + key(condition, at_hand));
    return large != none ? large : variable("other " + key(condition, at_hand));
}

std::string Situations::outside(ExpressionId condition, EventKindId at_hand) {
    std::string why;
    walk(policy_, condition, at_hand, [&](ExpressionId id, EventKindId hand) {
        const runtime::Expression& e = policy_.expressions[id];
        if (!why.empty()) return;
        if (std::holds_alternative<runtime::CountOf>(e)) why = "it counts events in a condition";
        if (std::holds_alternative<runtime::SumOf>(e)) why = "it adds up an attribute";
        if (std::holds_alternative<runtime::Multiple>(e)) why = "it multiplies a quantity";
        if (reads_too_large(id, hand))
            why = "it reads `" + policy_.tables[table_read(id)->table].name +
                  "`, which is too large to be looked into row by row";
        if (variable("other " + key(id, hand)) != none && why.empty())
            why = std::holds_alternative<runtime::Occurred>(e) ? "it looks back to an event of the history"
                                                               : "it compares what no finite cells can tell";
    });
    return why;
}

// ---- situations in words
// ------------------------------------------------------------------------------------------

// From the last variable up, so that each step makes one node.
Node Situations::none_is(ValueCell::Kind kind, const std::vector<bool>& which) {
    Node result = always;
    for (std::uint32_t v = static_cast<std::uint32_t>(variables_.size()); v-- > 0;) {
        if (!which[v]) continue;
        std::vector<Node> children(variables_[v].cells.size(), result);
        for (std::size_t c = 0; c < children.size(); ++c)
            if (variables_[v].cells[c].kind == kind) children[c] = never;
        result = diagrams_.make(v, children);
    }
    return result;
}

Node Situations::documented(const std::vector<bool>& which) {
    return none_is(ValueCell::Kind::undocumented, which);
}

Node Situations::set(const std::vector<bool>& which) {
    return none_is(ValueCell::Kind::unset, which);
}

Box Situations::smallest_within(Node bad, Node given) {
    const Node reachable = diagrams_.both(bad, possible_);
    assert(reachable != never);
    // What is undocumented or unset goes unsaid wherever the finding does not hang on it.
    const std::vector<bool>& matters = diagrams_.support(reachable);
    Node bad_here = reachable;
    Node scope = diagrams_.both(possible_, given);
    for (const Node ordinary : {documented(matters), set(matters)})
        if (const Node narrower = diagrams_.both(bad_here, ordinary); narrower != never) {
            bad_here = narrower;
            scope = diagrams_.both(scope, ordinary);
        }
    return diagrams_.widen(bad_here, scope, diagrams_.assignment(bad_here), drop_order_);
}

std::vector<Box> Situations::boxes(Node bad, std::size_t limit, bool& cut) {
    return boxes_within(bad, possible_, limit, cut);
}

std::vector<Box> Situations::boxes_within(Node bad, Node scope, std::size_t limit, bool& cut) {
    const Node all = diagrams_.both(bad, scope);
    Node rest = all;
    std::vector<Box> found;
    while (rest != never) {
        if (found.size() >= limit) {
            cut = true;
            break;
        }
        found.push_back(diagrams_.widen(all, scope, diagrams_.assignment(rest), drop_order_));
        rest = diagrams_.without(rest, diagrams_.box(found.back()));
    }
    return found;
}

WordedSituation Situations::worded(const Box& box) const {
    WordedSituation result;
    for (const Constraint& constraint : box)
        result.emplace_back(variables_[constraint.variable].name,
                            words(variables_[constraint.variable], constraint.cells, policy_));
    return result;
}

std::string Situations::sentence(const Box& box) const {
    std::vector<std::string> parts;
    for (const Constraint& constraint : box)
        parts.push_back(analysis::sentence(variables_[constraint.variable], constraint.cells, policy_));
    if (parts.empty()) return "any situation";
    // A list within a condition has commas of its own.
    const bool lists =
        parts.size() > 1 && std::any_of(parts.begin(), parts.end(), [](const std::string& part) {
            return part.find(',') != std::string::npos;
        });
    return lists ? join(parts, "; ", "; and ") : join(parts, ", ", " and ");
}

std::string Situations::where_sentence(const Box& box) const {
    return box.empty() ? "" : " where " + sentence(box);
}

}  // namespace linelaw::compiler::analysis
