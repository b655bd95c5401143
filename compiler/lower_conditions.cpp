#include <algorithm>
#include <utility>

#include "compiler/lower.hpp"
#include "grammar/parse.hpp"

namespace linelaw::compiler {

using grammar::Expression;
using grammar::Place;
using runtime::ExpressionId;
using Answer = std::optional<ExpressionId>;

namespace {

grammar::Comparator mirrored(grammar::Comparator comparator) {
    using C = grammar::Comparator;
    switch (comparator) {
        case C::at_least:
            return C::at_most;
        case C::at_most:
            return C::at_least;
        case C::more_than:
            return C::less_than;
        case C::less_than:
            return C::more_than;
        case C::is:
        case C::is_not:
            break;
    }
    return comparator;
}

Answer negate_if(Work& work, bool negated, Answer operand, Place place) {
    if (!operand || !negated) return operand;
    return intern(work, runtime::Not{*operand}, place);
}

struct Condition {
    Work& work;
    const Context& context;
    const Expression& whole;

    Answer make(const runtime::Expression& expression) const { return intern(work, expression, whole.place); }

    Answer operator()(const grammar::And& node) const {
        runtime::And both;
        return all(node.operands, both.operands) ? make(both) : std::nullopt;
    }
    Answer operator()(const grammar::Or& node) const {
        runtime::Or either;
        return all(node.operands, either.operands) ? make(either) : std::nullopt;
    }
    Answer operator()(const grammar::Not& node) const {
        return negate_if(work, true, lower_condition(work, *node.operand, context), whole.place);
    }
    Answer operator()(const grammar::Comparison& node) const {
        return compare(*node.left, node.comparator, node.comparator_place, *node.right);
    }
    Answer operator()(const grammar::OneOf& node) const {
        const Lowered left = lower_value(work, *node.left, context);
        runtime::OneOf one{left.id, {}};
        bool good = left.shape.kind != Shape::Kind::broken;
        for (const auto& value : node.values) {
            if (left.shape.kind == Shape::Kind::broken) break;
            const auto constant = read_constant(value, left.shape, node.left->place, work);
            good = good && constant;
            if (constant) one.values.push_back(intern(work, *constant, value.place));
        }
        if (!good) return std::nullopt;
        return negate_if(work, node.negated, make(one), whole.place);
    }
    Answer operator()(const grammar::Between& node) const {
        const Answer low = compare(*node.left, grammar::Comparator::at_least, whole.place, *node.low);
        const Answer high = compare(*node.left, grammar::Comparator::at_most, whole.place, *node.high);
        if (!low || !high) return std::nullopt;
        check_order(*low, *high, {node.low->place.text, node.low->place.begin, node.high->place.end});
        return make(runtime::And{{*low, *high}});
    }
    Answer operator()(const grammar::Documented& node) const {
        const Resolved resolved = resolve(work, node.attribute, context);
        if (const auto* value = std::get_if<ResolvedValue>(&resolved))
            return negate_if(work, node.negated,
                             make(runtime::Documented{intern(work, value->node, node.attribute.place)}),
                             whole.place);
        if (!std::holds_alternative<Unresolved>(resolved))
            work.report.add("type.condition",
                            in_ticks(node.attribute.text) +
                                " is no attribute and no state: only what is charted can be documented",
                            node.attribute.place, "not charted");
        return std::nullopt;
    }
    Answer operator()(const grammar::Occurred& node) const {
        auto events = lower_events(work, node.events, context);
        auto window = lower_window(work, node.window, context);
        if (!events || !window) return std::nullopt;
        return make(runtime::Occurred{std::move(*events), std::move(*window), node.negated});
    }
    Answer operator()(const grammar::SomePart& node) const {
        const auto part = use_name(work, work.names.parts, "part", node.part);
        if (part == runtime::none) return std::nullopt;
        runtime::SomePart some{part, runtime::none};
        if (node.where) {
            Context inside = context;
            inside.part = part;
            const Answer where = lower_condition(work, **node.where, inside);
            if (!where) return std::nullopt;
            some.where = *where;
        }
        return negate_if(work, node.negated, make(some), whole.place);
    }
    Answer operator()(const grammar::Reference& node) const {
        const Resolved resolved = resolve(work, node.name, context);
        if (const auto* term = std::get_if<ResolvedTerm>(&resolved))
            return lower_term(work, *term->term, node.name.place, context);
        if (const auto* value = std::get_if<ResolvedValue>(&resolved)) {
            if (value->shape.kind == Shape::Kind::flag) return make(value->node);
            return no_condition(value->shape);
        }
        if (const auto* column = std::get_if<ResolvedColumn>(&resolved)) {
            const Lowered value = lower_column(work, *column, node.name, context);
            if (value.shape.kind == Shape::Kind::broken) return std::nullopt;
            if (value.shape.kind == Shape::Kind::flag) return value.id;
            return no_condition(value.shape);
        }
        return std::nullopt;
    }
    // Anything else is a value.
    template <typename Value>
    Answer operator()(const Value& /*node*/) const {
        if (is_literal(whole)) {
            work.report.add("type.condition", work.report.quote(whole.place) + " by itself is no condition",
                            whole.place, "nothing that can be true or false");
            return std::nullopt;
        }
        const Lowered value = lower_value(work, whole, context);
        return value.shape.kind == Shape::Kind::broken ? std::nullopt : no_condition(value.shape);
    }

  private:
    bool all(const std::vector<Expression>& operands, std::vector<ExpressionId>& ids) const {
        bool good = true;
        for (const auto& operand : operands) {
            const Answer id = lower_condition(work, operand, context);
            good = good && id;
            if (id) ids.push_back(*id);
        }
        return good;
    }

    Answer no_condition(const Shape& shape) const {
        auto& d = work.report.add(
            "type.condition",
            work.report.quote(whole.place) + " is " + in_words(shape) + ", and a condition is wanted",
            whole.place, in_words(shape));
        if (shape.has_place) d.labels.push_back({shape.declared, "declared here"});
        advise(d,
               "compare it, as " + in_ticks(std::string(work.sources.slice(whole.place)) +
                                            (shape.kind == Shape::Kind::one_of ? " is …" : " at least …")));
        return std::nullopt;
    }

    Answer compare(const Expression& left, grammar::Comparator comparator, Place comparator_place,
                   const Expression& right) const {
        if (is_literal(left) && is_literal(right)) {
            work.report.add("type.compare", work.report.quote(whole.place) + " compares two fixed values",
                            whole.place, "always the same answer");
            return std::nullopt;
        }
        if (is_literal(left)) return compare(right, mirrored(comparator), comparator_place, left);
        const Lowered value = lower_value(work, left, context);
        if (value.shape.kind == Shape::Kind::broken) {
            // The other side may have an error of its own.
            if (!is_literal(right) && !std::holds_alternative<grammar::Reference>(right.node))
                lower_value(work, right, context);
            return std::nullopt;
        }
        if (!check_ordered(value.shape, comparator, comparator_place, left.place, work)) return std::nullopt;
        const Lowered other = lower_beside(work, right, value.shape, left.place, context);
        if (other.shape.kind == Shape::Kind::broken) return std::nullopt;
        return make(runtime::Compare{static_cast<runtime::Comparator>(comparator), value.id, other.id});
    }

    void check_order(ExpressionId low, ExpressionId high, Place place) const {
        const auto bound = [&](ExpressionId comparison) {
            return std::get<runtime::Compare>(work.policy().expressions[comparison]).right;
        };
        if (ends_before_it_begins(work, bound(low), bound(high)))
            work.report.add("range.order", "nothing lies in " + work.report.quote(whole.place), place,
                            "the greater end stands first");
    }
};

// The same for two uses of a term in which its bare names mean the same.
std::string use_key(const grammar::TermItem& term, const Context& context) {
    std::string key = std::to_string(term.name.place.text) + ' ' + std::to_string(term.name.place.begin);
    for (const auto event : context.at_hand) key += ' ' + std::to_string(event);
    key += context.bare_sees_event ? " e" : " -";
    key += context.governs ? "g " : "- ";
    return key + std::to_string(context.part);
}

// Of a condition by itself there is the parser's limit; this is the same one with the terms written out.
bool too_deep(Work& work, std::uint32_t levels, Place place) {
    constexpr std::uint32_t leaf = 1;  // the sides of a comparison are no level
    work.deepest = std::max(work.deepest, work.depth + levels);
    if (work.depth + levels <= grammar::deepest_nesting + leaf) return false;
    auto& d = work.report.add("syntax.nesting",
                              "with the terms that they use, conditions are nested deeper than " +
                                  std::to_string(grammar::deepest_nesting) + " levels",
                              place, "nested too deeply");
    advise(d, "let the terms rest on fewer other terms");
    return true;
}

// Terms that each use another twice double with each: every later stage reads them written out.
bool too_large(Work& work, Place place) {
    constexpr std::uint32_t most = 5'000;
    if (work.parts <= most) return false;
    auto& d = work.report.add("syntax.nesting",
                              "with the terms that it uses written out, the condition has more than " +
                                  std::to_string(most) + " parts",
                              place, "grows past all reading");
    advise(d, "let the terms rest on fewer other terms");
    return true;
}

}  // namespace

Deeper::Deeper(Work& work, Place place) : work_(work) {
    if (work_.depth++ == 0) work_.parts = 0;
    ++work_.parts;
    fits_ = !too_deep(work_, 0, place);
}
Deeper::~Deeper() {
    --work_.depth;
}

Answer lower_condition(Work& work, const Expression& expression, const Context& context) {
    const Deeper deeper(work, expression.place);
    if (!deeper.fits()) return std::nullopt;
    return std::visit(Condition{work, context, expression}, expression.node);
}

Answer lower_term(Work& work, const grammar::TermItem& term, Place use, const Context& context) {
    if (work.depth == 0) work.parts = 0;  // the term is the whole condition
    const auto known = work.terms_read.find(use_key(term, context));
    if (known != work.terms_read.end()) {
        const ReadTerm& read = known->second;
        if (!read.condition || too_deep(work, read.levels, use)) return std::nullopt;
        work.parts += read.parts;
        return too_large(work, use) ? std::nullopt : read.condition;
    }
    auto& expanding = work.expanding;
    if (std::find(expanding.begin(), expanding.end(), &term) != expanding.end()) {
        auto& d =
            work.report.add("name.circle", "the term " + in_ticks(term.name.text) + " is explained by itself",
                            use, "leads back to the term");
        d.labels.push_back({term.name.place, "the term"});
        return std::nullopt;
    }
    expanding.push_back(&term);
    Context inside = context;
    if (expanding.size() == 1) inside.where += ", where the term " + in_ticks(term.name.text) + " is used";
    const std::uint32_t deepest_before = std::exchange(work.deepest, work.depth);
    const std::uint32_t parts_before = work.parts;
    ReadTerm read;
    read.condition = lower_condition(work, term.condition, inside);
    read.levels = work.deepest - work.depth;
    read.parts = work.parts - parts_before;
    work.deepest = std::max(work.deepest, deepest_before);
    expanding.pop_back();
    work.terms_read.emplace(use_key(term, context), read);
    return read.condition;
}

std::optional<runtime::Pattern> lower_pattern(Work& work, const grammar::EventPattern& pattern,
                                              const Context& outer) {
    const auto event = use_name(work, work.names.events, "event", pattern.event);
    if (event == runtime::none) return std::nullopt;
    runtime::Pattern lowered{event, runtime::none};
    if (!pattern.where) return lowered;
    const auto where = lower_condition(work, **pattern.where, at_events(work, {event}, "a `where`", outer));
    if (!where) return std::nullopt;
    lowered.where = *where;
    return lowered;
}

std::optional<runtime::Events> lower_events(Work& work, const grammar::Events& events, const Context& outer) {
    runtime::Events lowered;
    bool good = true;
    for (const auto& pattern : events) {
        const auto one = lower_pattern(work, pattern, outer);
        good = good && one;
        if (one) lowered.push_back(*one);
    }
    if (!good) return std::nullopt;
    return lowered;
}

std::optional<runtime::Window> lower_window(Work& work, const grammar::Window& window, const Context& outer) {
    runtime::Window lowered;
    bool good = true;
    if (window.in_the_last) {
        lowered.in_last = read_span(*window.in_the_last, "in the last", work.report);
        good = lowered.in_last.has_value();
    }
    if (window.since) {
        auto since = lower_events(work, *window.since, outer);
        good = good && since;
        if (since) lowered.since = std::move(*since);
    }
    if (!good) return std::nullopt;
    return lowered;
}

std::vector<runtime::EventKindId> kinds_of(const runtime::Events& events) {
    std::vector<runtime::EventKindId> kinds;
    for (const auto& pattern : events)
        if (std::find(kinds.begin(), kinds.end(), pattern.event) == kinds.end())
            kinds.push_back(pattern.event);
    return kinds;
}

}  // namespace linelaw::compiler
