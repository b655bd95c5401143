// Parts of a tree in the policy's own words, on one line. What is written here is read back as the same tree,
// so a parenthesis stands wherever the rules would join words in another way.
#include <string>
#include <string_view>
#include <utility>

#include "grammar/format.hpp"
#include "grammar/to_text.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

namespace {

template <typename... Ts>
struct overloaded : Ts... {
    using Ts::operator()...;
};
template <typename... Ts>
overloaded(Ts...) -> overloaded<Ts...>;

template <typename T>
bool is(const Expression& expression) {
    return std::holds_alternative<T>(expression.node);
}

// The part that the text ends with.
const Expression& last_part(const Expression& expression) {
    return std::visit(overloaded{
                          [](const Not& e) -> const Expression& { return last_part(*e.operand); },
                          [](const And& e) -> const Expression& { return last_part(e.operands.back()); },
                          [](const Comparison& e) -> const Expression& { return last_part(*e.right); },
                          [](const Between& e) -> const Expression& { return last_part(*e.high); },
                          [](const OneOf& e) -> const Expression& { return last_part(e.values.back()); },
                          [](const DifferenceOf& e) -> const Expression& { return last_part(*e.right); },
                          [](const Multiple& e) -> const Expression& { return last_part(*e.operand); },
                          [&](const auto&) -> const Expression& { return expression; },
                      },
                      expression.node);
}

const Window* last_window(const Expression& expression) {
    const Expression& last = last_part(expression);
    if (const auto* occurred = std::get_if<Occurred>(&last.node)) return &occurred->window;
    if (const auto* count = std::get_if<CountOf>(&last.node)) return &count->window;
    if (const auto* sum = std::get_if<SumOf>(&last.node)) return &sum->window;
    return nullptr;
}

// The events that the text ends with, which an `or` would go on with; none if it ends otherwise.
const Events* last_events(const Expression& expression) {
    const Expression& last = last_part(expression);
    if (const Window* window = last_window(last)) return window->since ? &*window->since : nullptr;
    if (const auto* time = std::get_if<TimeSince>(&last.node)) return &time->events;
    const auto* change = std::get_if<Change>(&last.node);
    return change != nullptr && change->since_last ? &*change->since_last : nullptr;
}

bool ends_with_events(const Expression& expression) {
    return last_events(expression) != nullptr;
}

// Whether the text ends with `no PART`: names that an `or` joins, and a window after them, would make it
// events.
bool ends_with_no_part(const Expression& expression) {
    const auto* part = std::get_if<SomePart>(&last_part(expression).node);
    return part != nullptr && part->negated;
}

std::string in_parentheses(const std::string& text) {
    return "(" + text + ")";
}

// `where` at a line of a clause takes a whole condition, but an `or` may end it.
std::string outer_where(const Expression& condition) {
    const std::string text = to_text(condition);
    return is<Or>(condition) || ends_with_events(condition) ? in_parentheses(text) : text;
}

// `where` inside a condition takes one comparison. A list of values stands bare only where no comma can
// follow.
std::string inner_where(const Expression& condition, bool bare_list) {
    const bool one = is<Comparison>(condition) || is<Between>(condition) || is<Documented>(condition) ||
                     (is<OneOf>(condition) && bare_list);
    const std::string text = to_text(condition);
    const bool open = last_window(condition) != nullptr || ends_with_events(condition);
    return one && !open ? text : in_parentheses(text);
}

std::string inner_event(const EventPattern& event, bool bare_list) {
    return event.where ? event.event.text + " where " + inner_where(**event.where, bare_list)
                       : event.event.text;
}

std::string inner_events(const Events& events, std::string_view between, bool bare_list = false) {
    std::string text;
    for (const EventPattern& event : events) {
        if (!text.empty()) text += between;
        text += inner_event(event, bare_list);
    }
    return text;
}

std::string operand(const Expression& expression, bool parentheses) {
    const std::string text = to_text(expression);
    return parentheses ? in_parentheses(text) : text;
}

std::string or_text(const Or& node) {
    std::string text;
    for (std::size_t i = 0; i < node.operands.size(); ++i) {
        const Expression& one = node.operands[i];
        const bool is_last = i + 1 == node.operands.size();
        if (!text.empty()) text += " or ";
        text += operand(one, is<Or>(one) || (!is_last && (ends_with_events(one) || ends_with_no_part(one))));
    }
    return text;
}

std::string and_text(const And& node) {
    std::string text;
    for (const Expression& one : node.operands) {
        if (!text.empty()) text += " and ";
        const Events* events = &one == &node.operands.back() ? nullptr : last_events(one);
        text += operand(one, is<Or>(one) || is<And>(one) || (events != nullptr && events->size() > 1));
    }
    return text;
}

std::string listed(const std::vector<Expression>& values) {
    std::string text;
    for (const Expression& value : values) {
        if (!text.empty()) text += ", ";
        text += to_text(value);
    }
    return text;
}

std::string occurred_text(const Occurred& node) {
    const std::string window = ' ' + to_text(node.window);
    const bool several = node.events.size() > 1;
    if (!node.negated) {
        return (several ? "any of " + inner_events(node.events, ", ") : inner_events(node.events, "")) +
               window;
    }
    bool bare = true;
    for (std::size_t i = 1; i < node.events.size(); ++i) bare = bare && !node.events[i].where;
    return bare ? "no " + inner_events(node.events, " or ", true) + window
                : "no any of " + inner_events(node.events, ", ") + window;
}

std::string part_text(const SomePart& node) {
    std::string text = (node.negated ? "no " : "any ") + node.part.text;
    if (node.where) text += " where " + inner_where(**node.where, false);
    return text;
}

std::string change_text(const Change& node) {
    std::string text = node.kind == ChangeKind::change ? "change in "
                       : node.kind == ChangeKind::rise ? "rise in "
                                                       : "fall in ";
    text += node.attribute.text;
    return text +
           (node.since_last ? " since last " + inner_events(*node.since_last, " or ") : " since insertion");
}

std::string padded(int number, std::size_t width) {
    std::string digits = std::to_string(number);
    return digits.size() < width ? std::string(width - digits.size(), '0') + digits : digits;
}

}  // namespace

std::string to_text(Comparator comparator) {
    switch (comparator) {
        case Comparator::at_least:
            return "at least";
        case Comparator::at_most:
            return "at most";
        case Comparator::more_than:
            return "more than";
        case Comparator::less_than:
            return "less than";
        case Comparator::is_not:
            return "is not";
        case Comparator::is:
            break;
    }
    return "is";
}

std::string to_text(const Text& text) {
    std::string quoted = "\"";
    for (const char c : text.text) {
        if (c == '"') quoted += '\\';
        quoted += c;
    }
    if (quoted.back() == '\\') quoted += ' ';  // else it would escape the mark that ends the string
    return quoted + '"';
}

std::string to_text(const Date& date) {
    return padded(date.year, 4) + '-' + padded(date.month, 2) + '-' + padded(date.day, 2);
}

std::string to_text(const TimeOfDay& time) {
    return padded(time.hour, 2) + ':' + padded(time.minute, 2);
}

std::string to_text(const Quantity& quantity) {
    std::string text;
    for (const QuantityTerm& term : quantity.terms) {
        if (!text.empty()) text += ' ';
        text += term.number.text + ' ' + canonical_unit(term.number.text, term.unit.text);
    }
    return text;
}

std::string to_text(const Range& range) {
    return to_text(range.low) + " .. " + to_text(range.high);
}

std::string to_text(const Window& window) {
    std::string text;
    if (window.in_the_last) text = "in the last " + to_text(*window.in_the_last);
    if (window.since) {
        if (!text.empty()) text += ' ';
        text += (window.since_last ? "since last " : "since ") + inner_events(*window.since, " or ");
    }
    return text;
}

std::string to_text(const Events& events) {
    std::string text;
    for (const EventPattern& event : events) {
        if (!text.empty()) text += " or ";
        text += event.event.text;
        if (event.where) text += " where " + outer_where(**event.where);
    }
    return text;
}

std::string to_text(const Expression& expression) {
    return std::visit(
        overloaded{
            [](const Reference& e) { return e.name.text; },
            [](const Quantity& e) { return to_text(e); },
            [](const Number& e) { return e.text; },
            [](const Text& e) { return to_text(e); },
            [](const Date& e) { return to_text(e); },
            [](const TimeOfDay& e) { return to_text(e); },
            [](const And& e) { return and_text(e); },
            [](const Or& e) { return or_text(e); },
            [](const Not& e) {
                return "not " + operand(*e.operand, is<Or>(*e.operand) || is<And>(*e.operand));
            },
            [](const Comparison& e) {
                return to_text(*e.left) + ' ' + to_text(e.comparator) + ' ' + to_text(*e.right);
            },
            [](const OneOf& e) {
                return to_text(*e.left) + (e.negated ? " is not one of " : " is one of ") + listed(e.values);
            },
            [](const Between& e) {
                return to_text(*e.left) + " between " + to_text(*e.low) + " and " + to_text(*e.high);
            },
            [](const Documented& e) {
                return e.attribute.text + (e.negated ? " is not documented" : " is documented");
            },
            [](const Occurred& e) { return occurred_text(e); },
            [](const SomePart& e) { return part_text(e); },
            [](const Dwell&) { return std::string("dwell"); },
            [](const TimeSince& e) { return "time since " + inner_events(e.events, " or "); },
            [](const CountOf& e) {
                return "count of " + inner_events(e.events, " or ") + ' ' + to_text(e.window);
            },
            [](const SumOf& e) {
                return "sum of " + e.event.text + '.' + e.attribute.text + ' ' + to_text(e.window);
            },
            [](const DifferenceOf& e) {
                return "difference of " + to_text(*e.left) + " and " + to_text(*e.right);
            },
            [](const Change& e) { return change_text(e); },
            [](const StepTime& e) { return "time from " + e.from.text + " to " + e.to.text; },
            [](const StepIn& e) { return "time in " + e.step.text; },
            [](const Multiple& e) { return e.factor.text + " times " + to_text(*e.operand); },
        },
        expression.node);
}

std::string to_text(const std::vector<Name>& names, std::string_view between) {
    std::string text;
    for (const Name& name : names) {
        if (!text.empty()) text += between;
        text += name.text;
    }
    return text;
}

// ---- demands
// -------------------------------------------------------------------------------------------------

namespace {

std::string at_least_every(const AtLeastEvery& d) {
    std::string text = to_text(d.events) + " at least every " + to_text(d.every);
    if (d.counted_anew) text += " counted anew";
    if (d.shortest) text += " no more often than every " + to_text(*d.shortest);
    if (d.unless) text += " unless " + to_text(**d.unless);
    if (d.grace) text += " grace " + to_text(*d.grace);
    return text;
}

std::string within(const Within& d) {
    std::string text = to_text(d.events) + " within ";
    text +=
        std::visit(overloaded{[](const Quantity& q) { return to_text(q); },
                              [](Until until) {
                                  return std::string(until == Until::same_shift   ? "the same shift"
                                                     : until == Until::next_shift ? "the next shift"
                                                                                  : "the same calendar day");
                              }},
                   d.within);
    if (d.grace) text += " grace " + to_text(*d.grace);
    return text;
}

// `not NAME` alone, or with further names joined by `or`, would be read as events that must not happen.
std::string holds(const Holds& d) {
    const Expression& condition = d.condition;
    const auto bare_negation = [](const Expression& e) {
        return is<Not>(e) && is<Reference>(*std::get<Not>(e.node).operand);
    };
    if (bare_negation(condition))
        return "not " + in_parentheses(to_text(*std::get<Not>(condition.node).operand));
    if (is<Or>(condition) && bare_negation(std::get<Or>(condition.node).operands.front())) {
        const std::string text = to_text(condition);
        const std::string first = to_text(std::get<Or>(condition.node).operands.front());
        return in_parentheses(first) + text.substr(first.size());
    }
    return to_text(condition);
}

}  // namespace

std::string to_text(const Demand& demand) {
    return std::visit(
        overloaded{
            [](const AtLeastEvery& d) { return at_least_every(d); },
            [](const NoMoreOftenThan& d) {
                return to_text(d.events) + " no more often than every " + to_text(d.shortest) +
                       (d.unless ? " unless " + to_text(**d.unless) : "");
            },
            [](const EachPeriod& d) {
                return to_text(d.events) + (d.times ? " at least " + d.times->text + " times" : "") +
                       (d.period == Period::shift ? " each shift" : " each calendar day");
            },
            [](const Within& d) { return within(d); },
            [](const WithinEitherSide& d) {
                return to_text(d.events) + " within " + to_text(d.within) + " either side";
            },
            [](const HaveHad& d) {
                return "have had " + inner_events(d.events, " or ") +
                       (d.window ? ' ' + to_text(*d.window) : "");
            },
            [](const Holds& d) { return holds(d); },
            [](const Document& d) { return "document " + to_text(d.attributes, ", "); },
            [](const FollowSteps& d) {
                return "follow steps " + to_text(d.steps, ", ") + (d.in_order ? " in order" : "");
            },
            [](const Forbid& d) { return "not " + to_text(d.events); },
            [](const AtMostTimes& d) {
                return to_text(d.events) + " at most " + d.times.text + " times in " + to_text(d.in);
            },
            [](const LeavesToJudgement& d) {
                return d.question.text + " to judgement" +
                       (d.because ? " because " + to_text(*d.because) : "");
            },
        },
        demand.node);
}

}  // namespace linelaw::grammar
