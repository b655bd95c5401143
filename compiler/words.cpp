#include "compiler/words.hpp"

#include <algorithm>

#include "compiler/quantities.hpp"
#include "compiler/report.hpp"

namespace linelaw::compiler {

using namespace runtime;

namespace {

// What the constants beside a value are written in.
struct Measure {
    const Type* type = nullptr;
    Type made;  // where no attribute has the type: counts, times
    bool difference = false;
};

const Attribute* attribute_of_field(const Policy& policy, FieldId field) {
    for (const auto& kind : policy.event_kinds)
        for (const auto& attribute : kind.attributes)
            if (attribute.field == field) return &attribute;
    return nullptr;
}

Measure measure_of(const Policy& policy, ExpressionId id);

struct MeasureOf {
    const Policy& policy;

    static Measure made(TypeKind kind, std::string unit) {
        Measure measure;
        measure.made.kind = kind;
        measure.made.unit = std::move(unit);
        return measure;
    }
    Measure field(FieldId id, bool difference) const {
        const auto* attribute = attribute_of_field(policy, id);
        return {attribute == nullptr ? nullptr : &attribute->type, {}, difference};
    }
    Measure operator()(const EventAttribute& e) const { return field(e.field, false); }
    Measure operator()(const PartAttribute& e) const {
        return {&policy.part_kinds[e.part].attributes[e.slot].type, {}, false};
    }
    Measure operator()(const LineAttribute& e) const { return {&policy.line[e.slot].type, {}, false}; }
    Measure operator()(const PatientAttribute& e) const { return {&policy.patient[e.slot].type, {}, false}; }
    Measure operator()(const StateValue& e) const { return {&policy.states[e.state].type, {}, false}; }
    Measure operator()(const CountOf& /*e*/) const { return made(TypeKind::count, ""); }
    Measure operator()(const SumOf& e) const { return field(e.field, false); }
    Measure operator()(const DifferenceOf& e) const {
        Measure measure = measure_of(policy, e.left);
        measure.difference = true;
        return measure;
    }
    Measure operator()(const Change& e) const { return field(e.field, true); }
    Measure operator()(const StepTime& /*e*/) const { return made(TypeKind::duration, "s"); }
    Measure operator()(const StepIn& /*e*/) const { return made(TypeKind::duration, "s"); }
    Measure operator()(const Multiple& e) const { return measure_of(policy, e.operand); }
    template <typename Other>
    Measure operator()(const Other& /*e*/) const {
        return {};
    }
};

Measure measure_of(const Policy& policy, ExpressionId id) {
    return std::visit(MeasureOf{policy}, policy.expressions[id]);
}

std::string decimal(std::int64_t grains, std::int64_t one) {
    const Unit bare{"", "", Dimension::none, one, 0};
    std::string words = in_words(grains, bare);
    words.pop_back();
    return words;
}

std::string constant_in_words(const Policy& policy, std::int64_t value, const Measure& measure) {
    const Type& type = measure.type != nullptr ? *measure.type : measure.made;
    switch (type.kind) {
        case TypeKind::flag:
            return value != 0 ? "yes" : "no";
        case TypeKind::one_of:
            return in_ticks(policy.symbols[static_cast<std::size_t>(value)]);
        case TypeKind::count:
            return std::to_string(value);
        case TypeKind::number:
            return decimal(value, 1'000'000);
        case TypeKind::time_of_day: {
            const auto minutes = value / microseconds_per_minute;
            const auto two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
            return two(minutes / 60) + ':' + two(minutes % 60);
        }
        default:
            break;
    }
    const Unit* unit = find_unit(type.unit);
    if (unit == nullptr) return std::to_string(value);
    if (unit->dimension == Dimension::duration) return in_words(Span{0, 0, false, value});
    const Unit plain{unit->name, unit->ucum, unit->dimension, unit->grains_per_unit, 0};
    return in_words(value, measure.difference ? plain : *unit);
}

bool is_value(const Expression& node) {
    return std::holds_alternative<EventAttribute>(node) || std::holds_alternative<PartAttribute>(node) ||
           std::holds_alternative<LineAttribute>(node) || std::holds_alternative<PatientAttribute>(node) ||
           std::holds_alternative<StateValue>(node) || std::holds_alternative<TableValue>(node);
}

// Conditions of which several are joined, or which end in such: beside another one they need a bracket.
bool is_compound(const Policy& policy, ExpressionId id) {
    const Expression& node = policy.expressions[id];
    if (const auto* negated = std::get_if<Not>(&node)) return is_compound(policy, negated->operand);
    if (const auto* part = std::get_if<SomePart>(&node))
        return part->where != none && is_compound(policy, part->where);
    return std::holds_alternative<And>(node) || std::holds_alternative<Or>(node);
}

std::string_view comparator_words(Comparator comparator) {
    switch (comparator) {
        case Comparator::at_least:
            return " is at least ";
        case Comparator::at_most:
            return " is at most ";
        case Comparator::more_than:
            return " is more than ";
        case Comparator::less_than:
            return " is less than ";
        case Comparator::is:
            return " is ";
        case Comparator::is_not:
            break;
    }
    return " is not ";
}

// The words of a comparison that is denied. With an unset state no order holds, so that "more than" would say
// more than "not at most".
std::string_view opposite(const Policy& policy, const Compare& e) {
    const auto is_state = [&](ExpressionId id) {
        return std::holds_alternative<StateValue>(policy.expressions[id]);
    };
    const bool may_be_unset = is_state(e.left) || is_state(e.right);
    switch (e.comparator) {
        case Comparator::at_least:
            return may_be_unset ? " is not at least " : " is less than ";
        case Comparator::at_most:
            return may_be_unset ? " is not at most " : " is more than ";
        case Comparator::more_than:
            return may_be_unset ? " is not more than " : " is at most ";
        case Comparator::less_than:
            return may_be_unset ? " is not less than " : " is at least ";
        case Comparator::is:
            return " is not ";
        case Comparator::is_not:
            break;
    }
    return " is ";
}

struct Words {
    const Policy& policy;

    std::string condition(ExpressionId id) const { return condition_in_words(policy, id); }
    std::string value(ExpressionId id) const { return value_in_words(policy, id); }
    std::string beside(ExpressionId constant, ExpressionId of) const {
        if (const auto* number = std::get_if<Constant>(&policy.expressions[constant]))
            return constant_in_words(policy, number->value, measure_of(policy, of));
        return value(constant);
    }
    std::string bracketed(ExpressionId id) const {
        return is_compound(policy, id) ? '(' + condition(id) + ')' : condition(id);
    }
    std::string joined(const std::vector<ExpressionId>& ids, std::string_view word) const {
        std::string out;
        for (std::size_t i = 0; i < ids.size(); ++i) {
            if (i > 0) out += word;
            out += ids.size() > 1 ? bracketed(ids[i]) : condition(ids[i]);
        }
        return out;
    }

    std::string operator()(const Constant& e) const { return std::to_string(e.value); }
    std::string operator()(const TextConstant& e) const { return '"' + e.text + '"'; }
    std::string operator()(const SpanConstant& e) const { return in_words(e.span); }
    std::string operator()(const AgeConstant& e) const { return in_words(e); }
    std::string operator()(const Unset& /*e*/) const { return "unset"; }
    std::string operator()(const EventAttribute& e) const {
        return "its " + in_ticks(policy.fields[e.field]);
    }
    std::string operator()(const PartAttribute& e) const {
        const auto& part = policy.part_kinds[e.part];
        return in_ticks(part.attributes[e.slot].name) + " of the " + in_ticks(part.name);
    }
    std::string operator()(const LineAttribute& e) const {
        return in_ticks(policy.line[e.slot].name) + " of the line";
    }
    std::string operator()(const PatientAttribute& e) const {
        return in_ticks(policy.patient[e.slot].name) + " of the patient";
    }
    std::string operator()(const StateValue& e) const {
        return "the newest " + in_ticks(policy.states[e.state].name);
    }
    std::string operator()(const Facility& /*e*/) const { return "the facility"; }
    std::string operator()(const CareUnit& /*e*/) const { return "the care unit"; }
    std::string operator()(const Dwell& /*e*/) const { return "the time since insertion"; }
    std::string operator()(const TimeSince& e) const {
        return "the time since the last " + events_in_words(policy, e.events) +
               " (since insertion, before there was one)";
    }
    std::string operator()(const CountOf& e) const {
        return "the number of " + events_in_words(policy, e.events) + ' ' + window_in_words(policy, e.window);
    }
    std::string operator()(const SumOf& e) const {
        return "the sum of " + in_ticks(policy.fields[e.field]) + " of every " +
               in_ticks(policy.event_kinds[e.event].name) + ' ' + window_in_words(policy, e.window);
    }
    std::string operator()(const DifferenceOf& e) const {
        return "the difference, up or down, of " + value(e.left) + " and " + beside(e.right, e.left);
    }
    std::string operator()(const Change& e) const {
        static constexpr std::string_view kinds[] = {"the change, up or down, in its ", "the rise in its ",
                                                     "the fall in its "};
        std::string out(kinds[static_cast<std::size_t>(e.kind)]);
        out += in_ticks(policy.fields[e.field]) + " since ";
        return out +
               (e.since_last.empty() ? "insertion" : "the last " + events_in_words(policy, e.since_last));
    }
    std::string operator()(const StepTime& e) const {
        return "the time from the step " + in_ticks(e.from) + " to the step " + in_ticks(e.to);
    }
    std::string operator()(const StepIn& e) const { return "the time spent in the step " + in_ticks(e.step); }
    std::string operator()(const Multiple& e) const {
        const std::string factor =
            e.denominator == 1 ? std::to_string(e.numerator) : decimal(e.numerator, e.denominator);
        return factor + " times " + value(e.operand);
    }
    std::string operator()(const TableValue& e) const {
        const auto& table = policy.tables[e.table];
        std::string out = "what the table " + in_ticks(table.name) + " gives as " +
                          in_ticks(table.columns[e.column]) + " for ";
        for (std::size_t i = 0; i < e.inputs.size(); ++i)
            out += (i == 0 ? "" : i + 1 == e.inputs.size() ? " and " : ", ") + value(e.inputs[i]);
        return out;
    }
    std::string operator()(const And& e) const { return joined(e.operands, " and "); }
    std::string operator()(const Or& e) const { return joined(e.operands, " or "); }
    std::string operator()(const Not& e) const { return negated(e.operand); }
    // A negation stays with the one thing that it denies, or names the several that it covers: "it is not so
    // that A and B" is read in two ways.
    std::string negated(ExpressionId id) const {
        const Expression& node = policy.expressions[id];
        if (const auto* e = std::get_if<Not>(&node)) return condition(e->operand);
        if (const auto* e = std::get_if<Compare>(&node)) return compared(*e, opposite(policy, *e));
        if (const auto* e = std::get_if<OneOf>(&node))
            return list(*e, e->values.size() == 1 ? " is not " : " is none of ");
        if (const auto* e = std::get_if<Documented>(&node)) return value(e->attribute) + " is not documented";
        if (const auto* e = std::get_if<Occurred>(&node)) return occurred(*e, !e->negated);
        if (const auto* e = std::get_if<SomePart>(&node))
            return "there is no " + in_ticks(policy.part_kinds[e->part].name) + where(e->where);
        if (const auto* e = std::get_if<Always>(&node)) return e->value ? "never" : "always";
        if (const auto* e = std::get_if<And>(&node))
            return (e->operands.size() == 2 ? "not both: " : "not all of these: ") +
                   joined(e->operands, ", and ");
        if (const auto* e = std::get_if<Or>(&node))
            return "neither " + joined(e->operands, e->operands.size() == 2 ? " nor " : ", nor ");
        // A flag. One that is unset is not yes, and not no either.
        return value(id) + (std::holds_alternative<StateValue>(node) ? " is not yes" : " is no");
    }
    std::string operator()(const Compare& e) const { return compared(e, comparator_words(e.comparator)); }
    std::string compared(const Compare& e, std::string_view is) const {
        return value(e.left) + std::string(is) + beside(e.right, e.left);
    }
    std::string operator()(const OneOf& e) const { return list(e, " is "); }
    std::string operator()(const Documented& e) const { return value(e.attribute) + " is documented"; }
    std::string operator()(const Occurred& e) const { return occurred(e, e.negated); }
    std::string occurred(const Occurred& e, bool not_one) const {
        return std::string(not_one ? "there was no " : "there was a ") + events_in_words(policy, e.events) +
               ' ' + window_in_words(policy, e.window);
    }
    std::string operator()(const SomePart& e) const {
        return "there is a " + in_ticks(policy.part_kinds[e.part].name) + where(e.where);
    }
    std::string operator()(const Always& e) const { return e.value ? "always" : "never"; }

    std::string list(const OneOf& e, std::string_view is) const {
        std::string out = value(e.operand) + std::string(is);
        const std::string_view last = is == " is " ? " or " : " and ";
        for (std::size_t i = 0; i < e.values.size(); ++i)
            out += (i == 0                     ? ""
                    : i + 1 == e.values.size() ? std::string(last)
                                               : ", ") +
                   beside(e.values[i], e.operand);
        return out;
    }
    std::string where(ExpressionId id) const { return id == none ? "" : " of which " + bracketed(id); }
};

}  // namespace

std::string condition_in_words(const Policy& policy, ExpressionId id) {
    std::string words = std::visit(Words{policy}, policy.expressions[id]);
    // A flag by itself.
    return is_value(policy.expressions[id]) ? words + " is yes" : words;
}

std::string value_in_words(const Policy& policy, ExpressionId id) {
    return std::visit(Words{policy}, policy.expressions[id]);
}

bool is_every_one(const Events& events, std::size_t one) {
    return events[one].where == none &&
           std::any_of(events.begin(), events.end(), [](const Pattern& p) { return p.where != none; });
}

std::string events_in_words(const Policy& policy, const Events& events) {
    std::string out;
    for (std::size_t i = 0; i < events.size(); ++i) {
        if (i > 0) out += i + 1 == events.size() ? " or " : ", ";
        out += in_ticks(policy.event_kinds[events[i].event].name);
        if (events[i].where != none) out += " (where " + condition_in_words(policy, events[i].where) + ')';
        if (is_every_one(events, i)) out += " (any)";
    }
    return out;
}

std::string window_in_words(const Policy& policy, const Window& window) {
    std::string out;
    if (window.in_last) out = "in the " + in_words(*window.in_last) + " before";
    if (!window.since.empty())
        out += std::string(out.empty() ? "" : " and ") + "since the last " +
               events_in_words(policy, window.since) + " (since insertion, before there was one)";
    return out;
}

}  // namespace linelaw::compiler
