#include <algorithm>
#include <charconv>

#include "compiler/lower.hpp"

namespace linelaw::compiler {

using grammar::Expression;
using grammar::Name;
using grammar::Place;

namespace {

Shape clock_shape(std::string name) {
    Shape shape;
    shape.kind = Shape::Kind::clock;
    shape.unit = "h";
    shape.name = std::move(name);
    return shape;
}

Shape number_shape(runtime::Dimension dimension) {
    Shape shape;
    shape.kind = Shape::Kind::number;
    shape.dimension = dimension;
    return shape;
}

// Numbers that may be taken from one another and multiplied.
bool is_amount(const Shape& shape) {
    return shape.kind == Shape::Kind::number;
}

// A decimal as a fraction: 1.5 is 15 over 10.
std::optional<std::pair<std::int64_t, std::int64_t>> fraction(const std::string& text) {
    std::string digits;
    std::int64_t denominator = 1;
    bool after_point = false;
    for (const char c : text) {
        if (c == '.') {
            after_point = true;
            continue;
        }
        digits += c;
        if (after_point) denominator *= 10;
        if (digits.size() > 9) return std::nullopt;
    }
    std::int64_t numerator = 0;
    const auto [end, fault] = std::from_chars(digits.data(), digits.data() + digits.size(), numerator);
    if (fault != std::errc{} || end != digits.data() + digits.size() || numerator <= 0) return std::nullopt;
    while (denominator > 1 && numerator % 10 == 0) {
        numerator /= 10;
        denominator /= 10;
    }
    return std::pair{numerator, denominator};
}

struct Value {
    Work& work;
    const Context& context;
    const Expression& whole;

    Lowered make(const runtime::Expression& expression, Shape shape) const {
        return {intern(work, expression, whole.place), std::move(shape)};
    }

    Lowered operator()(const grammar::Reference& node) const {
        const Resolved resolved = resolve(work, node.name, context);
        if (const auto* value = std::get_if<ResolvedValue>(&resolved)) return make(value->node, value->shape);
        if (const auto* column = std::get_if<ResolvedColumn>(&resolved))
            return lower_column(work, *column, node.name, context);
        if (std::holds_alternative<ResolvedTerm>(resolved)) return no_value("a term, which is a condition");
        return {};
    }
    Lowered operator()(const grammar::Dwell& /*node*/) const {
        return make(runtime::Dwell{}, clock_shape("dwell"));
    }
    Lowered operator()(const grammar::TimeSince& node) const {
        auto events = lower_events(work, node.events, context);
        if (!events) return {};
        return make(runtime::TimeSince{std::move(*events)}, clock_shape(""));
    }
    Lowered operator()(const grammar::CountOf& node) const {
        auto events = lower_events(work, node.events, context);
        auto window = lower_window(work, node.window, context);
        if (!events || !window) return {};
        Shape shape = number_shape(runtime::Dimension::none);
        shape.whole = true;
        return make(runtime::CountOf{std::move(*events), std::move(*window)}, std::move(shape));
    }
    Lowered operator()(const grammar::SumOf& node) const {
        const auto event = use_name(work, work.names.events, "event", node.event);
        auto window = lower_window(work, node.window, context);
        if (event == runtime::none) return {};
        const Field field = resolve_field(work, node.attribute, at_events(work, {event}, "a sum", context));
        if (field.field == runtime::none || !window) return {};
        if (!is_amount(field.shape) || field.shape.dimension == runtime::Dimension::temperature)
            return no_amount(node.attribute, field.shape, "added up");
        Shape shape = field.shape;
        shape.range.reset();
        return make(runtime::SumOf{event, field.field, std::move(*window)}, std::move(shape));
    }
    Lowered operator()(const grammar::DifferenceOf& node) const {
        const bool swap = is_literal(*node.left);
        const Expression& first = swap ? *node.right : *node.left;
        const Expression& second = swap ? *node.left : *node.right;
        const Lowered left = lower_value(work, first, context);
        if (left.shape.kind == Shape::Kind::broken) return {};
        if (!is_amount(left.shape)) return no_amount(first.place, left.shape, "taken from one another");
        const Lowered right = lower_beside(work, second, left.shape, first.place, context);
        if (right.shape.kind == Shape::Kind::broken) return {};
        Shape shape = left.shape;
        shape.difference = true;
        shape.range.reset();
        shape.name.clear();
        return make(runtime::DifferenceOf{left.id, right.id}, std::move(shape));
    }
    Lowered operator()(const grammar::Change& node) const;
    Lowered operator()(const grammar::StepTime& node) const {
        const bool from = check_step(node.from);
        if (!check_step(node.to) || !from) return {};
        return make(runtime::StepTime{node.from.text, node.to.text}, step_shape());
    }
    Lowered operator()(const grammar::StepIn& node) const {
        if (!check_step(node.step)) return {};
        return make(runtime::StepIn{node.step.text}, step_shape());
    }
    Lowered operator()(const grammar::Multiple& node) const {
        const Lowered operand = lower_value(work, *node.operand, context);
        const auto factor = fraction(node.factor.text);
        if (!factor)
            work.report.add("range.zero",
                            "a value is multiplied by a number more than 0, of at most 9 digits",
                            node.factor.place, "not such a number");
        if (operand.shape.kind == Shape::Kind::broken || !factor) return {};
        if (!is_amount(operand.shape) || operand.shape.dimension == runtime::Dimension::temperature)
            return no_amount(node.operand->place, operand.shape, "multiplied");
        Shape shape = operand.shape;
        shape.range.reset();
        shape.name.clear();
        return make(runtime::Multiple{factor->first, factor->second, operand.id}, std::move(shape));
    }
    // Conditions, and literals that stand beside nothing.
    template <typename Other>
    Lowered operator()(const Other& /*node*/) const {
        if (is_literal(whole)) {
            work.report.add("type.compare",
                            work.report.quote(whole.place) + " stands where something charted is wanted",
                            whole.place, "a fixed value");
            return {};
        }
        lower_condition(work, whole, context);  // it may have errors of its own
        return no_value("a condition");
    }

  private:
    Lowered no_value(std::string_view what) const {
        work.report.add(
            "type.condition",
            work.report.quote(whole.place) + " is " + std::string(what) + ", and a value is wanted",
            whole.place, "true or false, no value");
        return {};
    }
    Lowered no_amount(Place place, const Shape& shape, std::string_view done) const {
        auto& d = work.report.add(
            "type.condition",
            work.report.quote(place) + " is " + in_words(shape) + " and cannot be " + std::string(done),
            place, in_words(shape));
        if (shape.has_place) d.labels.push_back({shape.declared, "declared here"});
        return {};
    }
    Lowered no_amount(const Name& name, const Shape& shape, std::string_view done) const {
        return no_amount(name.place, shape, done);
    }
    static Shape step_shape() {
        Shape shape = number_shape(runtime::Dimension::duration);
        shape.unit = "s";
        return shape;
    }
    bool check_step(const Name& step) const {
        if (!context.at_hand.empty()) return have_step(work, step, context);
        work.report.add("name.at_hand",
                        "a step belongs to an event, and no event is at hand in " + context.where, step.place,
                        "a step of which event");
        return false;
    }
};

Lowered Value::operator()(const grammar::Change& node) const {
    if (context.at_hand.empty()) {
        auto& d = work.report.add(
            "type.change",
            "a change is of a reading at an event, and no event is at hand in " + context.where, whole.place,
            "of which reading");
        advise(d, "write the clause `at` the event that brings the reading, or ask in its `where`");
        return {};
    }
    const Field field = resolve_field(work, node.attribute, context);
    if (field.field == runtime::none) return {};
    if (!is_amount(field.shape)) return no_amount(node.attribute, field.shape, "said to change by an amount");
    runtime::Change change;
    change.kind = static_cast<runtime::ChangeKind>(node.kind);
    change.field = field.field;
    if (node.since_last) {
        auto events = lower_events(work, *node.since_last, context);
        if (!events) return {};
        for (std::size_t i = 0; i < events->size(); ++i) {
            const auto& kind = work.policy().event_kinds[(*events)[i].event];
            if (kind.attributes.empty() ||
                find_attribute(kind.attributes, work.policy().fields[field.field]) == nullptr) {
                work.report.add("type.change",
                                in_ticks(kind.name) + " does not record " + in_ticks(node.attribute.text) +
                                    ", so nothing can have changed since",
                                (*node.since_last)[i].event.place, "not recorded at this event");
                return {};
            }
        }
        change.since_last = std::move(*events);
    } else {
        const std::string& name = work.policy().fields[field.field];
        const auto& line = work.policy().line;
        const auto* baseline = find_attribute(line, name);
        if (baseline != nullptr) {
            Shape from = shape_of(baseline->type);
            from.name = "line." + name;
            if (!check_comparable(field.shape, node.attribute.place, from, node.attribute.place, work))
                return {};
        }
        if (baseline != nullptr) {
            change.line_slot = static_cast<std::uint32_t>(baseline - line.data());
            work.names.attributes.at({Owner::line, runtime::none, change.line_slot}).used = true;
        }
        const auto& insertion = work.policy().event_kinds[work.policy().insertion];
        if (baseline == nullptr && find_attribute(insertion.attributes, name) == nullptr) {
            auto& d = work.report.add("type.change",
                                      "nothing records " + in_ticks(name) +
                                          " at insertion, so a change since insertion is never known",
                                      whole.place, "no baseline");
            advise(
                d,
                "declare it for the line or for the event `insertion`, or write `since last` and an event");
            return {};
        }
    }
    Shape shape = field.shape;
    shape.difference = true;
    shape.name.clear();
    if (shape.range) shape.range = {0, shape.range->second - shape.range->first};
    return make(change, std::move(shape));
}

}  // namespace

bool have_step(Work& work, const Name& step, const Context& context) {
    for (const auto event : context.at_hand) {
        const auto& kind = work.policy().event_kinds[event];
        if (std::find(kind.steps.begin(), kind.steps.end(), step.text) != kind.steps.end()) continue;
        if (perhaps_lost(work, step.text)) return false;
        auto& d = work.report.add("name.unknown", in_ticks(kind.name) + " has no step " + in_ticks(step.text),
                                  step.place, "not one of its steps");
        offer_near(d, step.text, step.place, kind.steps);
        if (d.mends.empty() && !kind.steps.empty())
            d.notes.push_back("its steps are " + in_ticks(kind.steps, "and"));
        return false;
    }
    return true;
}

Lowered lower_value(Work& work, const Expression& expression, const Context& context) {
    const Deeper deeper(work, expression.place);
    if (!deeper.fits()) return {};
    return std::visit(Value{work, context, expression}, expression.node);
}

Lowered lower_beside(Work& work, const Expression& expression, const Shape& shape, Place beside,
                     const Context& context) {
    const auto constant = [&]() -> Lowered {
        const auto read = read_constant(expression, shape, beside, work);
        if (!read) return {};
        return {intern(work, *read, expression.place), shape};
    };
    if (is_literal(expression)) return constant();
    if (const auto* reference = std::get_if<grammar::Reference>(&expression.node)) {
        const std::string& name = reference->name.text;
        const bool listed = std::any_of(shape.values.begin(), shape.values.end(),
                                        [&](auto symbol) { return work.policy().symbols[symbol] == name; });
        const bool yes_or_no = shape.kind == Shape::Kind::flag && (name == "yes" || name == "no");
        if (listed || yes_or_no) return constant();
        // A misspelt value is said to be one, unless the name is something else here.
        const std::string what = what_is(work, name);
        const bool a_name =
            name.find('.') != std::string::npos || (!what.empty() && what != "a value of a list");
        const auto like_a_name = [&] {
            return perhaps_lost(work, name) || near(name, names_in_reach(work, context)).word.has_value();
        };
        if (!a_name && (shape.kind == Shape::Kind::one_of || !what.empty() || !like_a_name()))
            return constant();
    }
    Lowered other = lower_value(work, expression, context);
    if (other.shape.kind == Shape::Kind::broken) return {};
    if (!check_comparable(shape, beside, other.shape, expression.place, work)) return {};
    return other;
}

namespace {

// The fewest and the most days that may pass until so many units are completed.
std::pair<std::int64_t, std::int64_t> days_of(std::int64_t count, runtime::AgeUnit unit) {
    switch (unit) {
        case runtime::AgeUnit::days:
            return {count, count};
        case runtime::AgeUnit::weeks:
            return {7 * count, 7 * count};
        case runtime::AgeUnit::months:
            return {28 * count, 31 * count};
        case runtime::AgeUnit::years:
            return {365 * count, 366 * count};
    }
    return {};
}

// An age is of so many completed units until one more is: 30 months lie in 2 years.
bool begins_after_it_ends(const runtime::AgeConstant& low, const runtime::AgeConstant& high) {
    if (low.unit == high.unit) return low.count > high.count;
    return days_of(low.count, low.unit).first >= days_of(std::int64_t{high.count} + 1, high.unit).second;
}

}  // namespace

bool ends_before_it_begins(const Work& work, runtime::ExpressionId low, runtime::ExpressionId high) {
    if (low == runtime::none || high == runtime::none) return false;
    const runtime::Expression& first = work.policy().expressions[low];
    const runtime::Expression& last = work.policy().expressions[high];
    if (const auto* a = std::get_if<runtime::AgeConstant>(&first))
        if (const auto* b = std::get_if<runtime::AgeConstant>(&last)) return begins_after_it_ends(*a, *b);
    const auto* a = std::get_if<runtime::Constant>(&first);
    const auto* b = std::get_if<runtime::Constant>(&last);
    return a != nullptr && b != nullptr && a->value > b->value;
}

}  // namespace linelaw::compiler
