// Conditions as canonical text, and the one walk over an expression's parts.
#include <fmt/format.h>

#include <algorithm>

#include "compiler/analysis/situation.hpp"

namespace linelaw::compiler::analysis {

namespace {

using namespace runtime;  // the alternatives of an expression, all of them

void walk_events(const Policy& policy, const Events& events,
                 const std::function<void(ExpressionId, EventKindId)>& visit) {
    for (const Pattern& pattern : events)
        if (pattern.where != none) walk(policy, pattern.where, pattern.event, visit);
}

struct Children {
    const Policy& policy;
    EventKindId at_hand;
    const std::function<void(ExpressionId, EventKindId)>& visit;

    void go(ExpressionId id) const { walk(policy, id, at_hand, visit); }
    void all(const std::vector<ExpressionId>& ids) const {
        for (const ExpressionId id : ids) go(id);
    }
    void window(const Window& w) const { walk_events(policy, w.since, visit); }

    template <typename T>
    void operator()(const T&) const {}
    void operator()(const TimeSince& e) const { walk_events(policy, e.events, visit); }
    void operator()(const CountOf& e) const {
        walk_events(policy, e.events, visit);
        window(e.window);
    }
    void operator()(const SumOf& e) const { window(e.window); }
    void operator()(const DifferenceOf& e) const {
        go(e.left);
        go(e.right);
    }
    void operator()(const Change& e) const { walk_events(policy, e.since_last, visit); }
    void operator()(const Multiple& e) const { go(e.operand); }
    void operator()(const TableValue& e) const { all(e.inputs); }
    void operator()(const And& e) const { all(e.operands); }
    void operator()(const Or& e) const { all(e.operands); }
    void operator()(const Not& e) const { go(e.operand); }
    void operator()(const Compare& e) const {
        go(e.left);
        go(e.right);
    }
    void operator()(const OneOf& e) const {
        go(e.operand);
        all(e.values);
    }
    void operator()(const Documented& e) const { go(e.attribute); }
    void operator()(const Occurred& e) const {
        walk_events(policy, e.events, visit);
        window(e.window);
    }
    void operator()(const SomePart& e) const {
        if (e.where != none) go(e.where);
    }
};

std::string span_key(const Span& s) {
    return fmt::format("{}m{}{}{}", s.months, s.days, s.calendar ? "c" : "d", s.elapsed);
}

struct Keys {
    const Situations& situations;
    EventKindId at_hand;

    std::string k(ExpressionId id) const { return situations.key(id, at_hand); }
    std::string all(const std::vector<ExpressionId>& ids) const {
        std::string text;
        for (const ExpressionId id : ids) text += k(id) + " ";
        return text;
    }
    // In whatever order they are written.
    std::string any_order(const std::vector<ExpressionId>& ids) const {
        std::vector<std::string> keys;
        keys.reserve(ids.size());
        for (const ExpressionId id : ids) keys.push_back(k(id));
        std::sort(keys.begin(), keys.end());
        return join(keys, " ", " ");
    }
    std::string window(const Window& w) const {
        return (w.in_last ? "in " + span_key(*w.in_last) : "") +
               (w.since.empty() ? "" : " since " + situations.key(w.since));
    }

    std::string operator()(const Constant& e) const { return std::to_string(e.value); }
    std::string operator()(const TextConstant& e) const { return '"' + e.text + '"'; }
    std::string operator()(const SpanConstant& e) const { return span_key(e.span); }
    std::string operator()(const AgeConstant& e) const {
        return fmt::format("age {} {}", e.count, static_cast<int>(e.unit));
    }
    std::string operator()(const Unset&) const { return "unset"; }
    std::string operator()(const EventAttribute& e) const {
        return fmt::format("event {} {}", at_hand, e.field);
    }
    std::string operator()(const PartAttribute& e) const { return fmt::format("part {} {}", e.part, e.slot); }
    std::string operator()(const LineAttribute& e) const { return fmt::format("line {}", e.slot); }
    std::string operator()(const PatientAttribute& e) const { return fmt::format("patient {}", e.slot); }
    std::string operator()(const StateValue& e) const { return fmt::format("state {}", e.state); }
    std::string operator()(const Facility&) const { return "facility"; }
    std::string operator()(const CareUnit&) const { return "care_unit"; }
    std::string operator()(const Dwell&) const { return "dwell"; }
    std::string operator()(const TimeSince& e) const { return "since(" + situations.key(e.events) + ")"; }
    std::string operator()(const CountOf& e) const {
        return "count(" + situations.key(e.events) + " " + window(e.window) + ")";
    }
    std::string operator()(const SumOf& e) const {
        return fmt::format("sum({} {} {})", e.event, e.field, window(e.window));
    }
    std::string operator()(const DifferenceOf& e) const {
        return "diff(" + k(e.left) + " " + k(e.right) + ")";
    }
    std::string operator()(const Change& e) const {
        return fmt::format("change({} {} {} {} {})", static_cast<int>(e.kind), at_hand, e.field, e.line_slot,
                           situations.key(e.since_last));
    }
    std::string operator()(const StepTime& e) const {
        return fmt::format("steps {} {} {}", at_hand, e.from, e.to);
    }
    std::string operator()(const StepIn& e) const { return fmt::format("step {} {}", at_hand, e.step); }
    std::string operator()(const Multiple& e) const {
        return fmt::format("times({}/{} {})", e.numerator, e.denominator, k(e.operand));
    }
    std::string operator()(const TableValue& e) const {
        return fmt::format("table({} {} {})", e.table, e.column, all(e.inputs));
    }
    std::string operator()(const And& e) const { return "and(" + any_order(e.operands) + ")"; }
    std::string operator()(const Or& e) const { return "or(" + any_order(e.operands) + ")"; }
    std::string operator()(const Not& e) const { return "not(" + k(e.operand) + ")"; }
    std::string operator()(const Compare& e) const {
        return fmt::format("cmp({} {} {})", static_cast<int>(e.comparator), k(e.left), k(e.right));
    }
    std::string operator()(const OneOf& e) const {
        return "in(" + k(e.operand) + ": " + any_order(e.values) + ")";
    }
    std::string operator()(const Documented& e) const { return "documented(" + k(e.attribute) + ")"; }
    std::string operator()(const Occurred& e) const {
        return fmt::format("occurred({} {} {})", e.negated, situations.key(e.events), window(e.window));
    }
    std::string operator()(const SomePart& e) const {
        return fmt::format("some({} {})", e.part, e.where == none ? "" : k(e.where));
    }
    std::string operator()(const Always& e) const { return e.value ? "always" : "never"; }
};

}  // namespace

void walk(const Policy& policy, ExpressionId id, EventKindId at_hand,
          const std::function<void(ExpressionId, EventKindId)>& visit) {
    if (id == none) return;
    visit(id, at_hand);
    std::visit(Children{policy, at_hand, visit}, policy.expressions[id]);
}

std::string Situations::key(ExpressionId id, EventKindId at_hand) const {
    if (id == none) return "";
    return std::visit(Keys{*this, at_hand}, policy_.expressions[id]);
}

std::string Situations::key(const Events& events) const {
    std::vector<std::string> parts;
    parts.reserve(events.size());
    for (const Pattern& pattern : events)
        parts.push_back(fmt::format("{}[{}]", pattern.event, key(pattern.where, pattern.event)));
    std::sort(parts.begin(), parts.end());
    return join(parts, "|", "|");
}

}  // namespace linelaw::compiler::analysis
