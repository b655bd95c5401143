// What a condition compares, as variables and constants; a variable is declared where it is first met.
#include "compiler/analysis/operand.hpp"

#include <fmt/format.h>

#include <cassert>

namespace linelaw::compiler::analysis {

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

std::uint32_t Situations::declare_attribute(EventKindId kind, runtime::FieldId field) {
    Declared declared = of_event(policy_, kind, field);
    return declare(declared.key, std::move(declared.variable));
}

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

}  // namespace linelaw::compiler::analysis
