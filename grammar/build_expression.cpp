#include "grammar/build_expression.hpp"

#include <cstdlib>
#include <utility>

namespace linelaw::grammar {

namespace {

bool is_leap(int year) {
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

int days_of(int year, int month) {
    if (month == 2) return is_leap(year) ? 29 : 28;
    return month == 4 || month == 6 || month == 9 || month == 11 ? 30 : 31;
}

int digits_to_int(std::string_view digits) {
    int value = 0;
    for (const char c : digits) value = value * 10 + (c - '0');
    return value;
}

}  // namespace

// ---- walking
// -------------------------------------------------------------------------------------------------

std::string PartBuilder::words(NodeId id) const {
    std::string words;
    if (id == no_node) return words;
    for (const char c : content_.substr(nodes_[id].begin, nodes_[id].end - nodes_[id].begin)) {
        if (!is_space_byte(c)) {
            words += c;
        } else if (!words.empty() && words.back() != ' ') {
            words += ' ';
        }
    }
    return words;
}

NodeId PartBuilder::first(NodeId of) const {
    return of + 1 < nodes_[of].next ? of + 1 : no_node;
}

NodeId PartBuilder::after(NodeId of, NodeId part) const {
    return nodes_[part].next < nodes_[of].next ? nodes_[part].next : no_node;
}

NodeId PartBuilder::part(NodeId of, Kind kind) const {
    for (NodeId id = first(of); id != no_node; id = after(of, id)) {
        if (nodes_[id].kind == kind) return id;
    }
    return no_node;
}

std::vector<NodeId> PartBuilder::parts(NodeId of, Kind kind) const {
    std::vector<NodeId> found;
    for (NodeId id = first(of); id != no_node; id = after(of, id)) {
        if (nodes_[id].kind == kind) found.push_back(id);
    }
    return found;
}

void PartBuilder::say(std::string_view code, std::string message, NodeId id, std::string label) {
    diagnostics_.push_back(make_diagnostic(code, std::move(message), place(id), std::move(label)));
}

// ---- words and literals
// --------------------------------------------------------------------------------------

std::vector<Name> PartBuilder::names(NodeId of) const {
    std::vector<Name> names;
    for (const NodeId id : parts(of, Kind::name)) names.push_back(name(id));
    return names;
}

Text PartBuilder::text(NodeId id) const {
    Text text{{}, place(id)};
    if (id == no_node) return text;
    const std::string_view inside =
        content_.substr(nodes_[id].begin + 1, nodes_[id].end - nodes_[id].begin - 2);
    for (std::size_t i = 0; i < inside.size(); ++i) {
        if (is_space_byte(inside[i])) {
            if (!text.text.empty() && text.text.back() != ' ') text.text += ' ';
            continue;
        }
        if (inside[i] == '\\' && i + 1 < inside.size() && inside[i + 1] == '"') ++i;
        text.text += inside[i];
    }
    if (!text.text.empty() && text.text.back() == ' ') text.text.pop_back();
    return text;
}

Quantity PartBuilder::quantity(NodeId id) const {
    Quantity quantity{{}, place(id)};
    for (NodeId part = first(id); part != no_node; part = after(id, part)) {
        const NodeId unit = after(id, part);
        quantity.terms.push_back({number(part), name(unit)});
        part = unit;
    }
    return quantity;
}

Date PartBuilder::date(NodeId id) {
    const std::string written = words(id);
    const int year = digits_to_int(std::string_view(written).substr(0, 4));
    const int month = digits_to_int(std::string_view(written).substr(5, 2));
    const int day = digits_to_int(std::string_view(written).substr(8, 2));
    if (year == 0 || month < 1 || month > 12 || day < 1 || day > days_of(year, month)) {
        say("syntax.date", "`" + written + "` is no day of the calendar", id);
        return {1, 1, 1, place(id)};
    }
    return {year, static_cast<std::uint8_t>(month), static_cast<std::uint8_t>(day), place(id)};
}

TimeOfDay PartBuilder::time_of_day(NodeId id) {
    const std::string written = words(id);
    const std::size_t colon = written.find(':');
    const int hour = digits_to_int(std::string_view(written).substr(0, colon));
    const int minute = digits_to_int(std::string_view(written).substr(colon + 1));
    if (hour > 23 || minute > 59) {
        say("syntax.date", "`" + written + "` is no time of day, which goes from 00:00 to 23:59", id);
        diagnostics_.back().mends.push_back(
            {"write a time of day as `08:00`; midnight is `00:00`", {}, "", false});
        return {0, 0, place(id)};
    }
    return {static_cast<std::uint8_t>(hour), static_cast<std::uint8_t>(minute), place(id)};
}

Range PartBuilder::range(NodeId id) {
    const NodeId low = first(id);
    return {leaf(low), leaf(after(id, low)), place(id)};
}

// ---- events and windows
// --------------------------------------------------------------------------------------

EventPattern PartBuilder::event_pattern(NodeId id) {
    const NodeId event = first(id);
    EventPattern pattern{name(event), std::nullopt, place(id)};
    const NodeId where = after(id, event);
    if (where != no_node) pattern.where = expression(where);
    return pattern;
}

Events PartBuilder::events(NodeId id) {
    Events events;
    for (const NodeId pattern : parts(id, Kind::event_pattern)) events.push_back(event_pattern(pattern));
    return events;
}

Window PartBuilder::window(NodeId id) {
    Window window;
    window.place = place(id);
    if (const NodeId last = part(id, Kind::in_the_last); last != no_node)
        window.in_the_last = quantity_in(last);
    if (const NodeId since = part(id, Kind::since); since != no_node) {
        window.since = events_in(since);
        window.since_last = has(since, Kind::mark);
    }
    return window;
}

// ---- expressions and conditions
// ------------------------------------------------------------------------------

Comparator PartBuilder::comparator(NodeId id) const {
    const std::string written = words(id);
    if (written == "at least" || written == ">=") return Comparator::at_least;
    if (written == "at most" || written == "<=") return Comparator::at_most;
    if (written == "more than" || written == ">") return Comparator::more_than;
    if (written == "less than" || written == "<") return Comparator::less_than;
    return written == "is not" || written == "!=" ? Comparator::is_not : Comparator::is;
}

std::vector<Expression> PartBuilder::expressions(NodeId of) {
    std::vector<Expression> expressions;
    for (NodeId id = first(of); id != no_node; id = after(of, id)) {
        if (nodes_[id].kind != Kind::mark) expressions.push_back(expression(id));
    }
    return expressions;
}

Expression PartBuilder::joined(NodeId id) {
    std::vector<Expression> operands = expressions(id);
    if (operands.size() == 1) return std::move(operands.front());
    if (nodes_[id].kind == Kind::any_of) return {Or{std::move(operands)}, place(id)};
    return {And{std::move(operands)}, place(id)};
}

Expression PartBuilder::compared(Expression left, NodeId tail, Place where) {
    switch (nodes_[tail].kind) {
        case Kind::documented: {
            const bool negated = has(tail, Kind::mark);
            return {Documented{std::get<Reference>(left.node).name, negated}, where};
        }
        case Kind::one_of:
            return {OneOf{std::move(left), expressions(tail), has(tail, Kind::mark)}, where};
        case Kind::between: {
            std::vector<Expression> ends = expressions(tail);
            return {Between{std::move(left), std::move(ends[0]), std::move(ends[1])}, where};
        }
        default:
            break;
    }
    const NodeId sign = first(tail);
    return {Comparison{std::move(left), comparator(sign), place(sign), expression(after(tail, sign))}, where};
}

Expression PartBuilder::comparison(NodeId id) {
    const NodeId left = first(id);
    const NodeId tail = after(id, left);
    if (tail == no_node) return leaf(left);
    const NodeId last = after(id, tail);
    if (nodes_[tail].kind == Kind::window || last != no_node) {
        EventPattern event{name(left), std::nullopt, place(left)};
        if (last != no_node) {
            event.where = expression(tail);
            event.place.end = nodes_[tail].end;
        }
        return {Occurred{{std::move(event)}, window(last != no_node ? last : tail), false}, place(id)};
    }
    return compared(leaf(left), tail, place(id));
}

Expression PartBuilder::no_event(NodeId id) {
    const NodeId head = first(id);
    const NodeId end = part(id, Kind::window);
    if (nodes_[head].kind == Kind::events) return {Occurred{events(head), window(end), true}, place(id)};
    EventPattern event = event_pattern(head);
    if (end == no_node) return {SomePart{std::move(event.event), std::move(event.where), true}, place(id)};
    Events events{std::move(event)};
    for (const NodeId more : parts(id, Kind::name)) events.push_back({name(more), std::nullopt, place(more)});
    return {Occurred{std::move(events), window(end), true}, place(id)};
}

Expression PartBuilder::change(NodeId id) {
    const std::string word = words(first(id));
    Change change;
    change.kind = word == "rise" ? ChangeKind::rise : word == "fall" ? ChangeKind::fall : ChangeKind::change;
    change.attribute = name_in(id);
    if (const NodeId since = part(id, Kind::events); since != no_node) change.since_last = events(since);
    return {std::move(change), place(id)};
}

Expression PartBuilder::sum_of(NodeId id) {
    const NodeId what = part(id, Kind::name);
    const std::string written = words(what);
    const std::size_t dot = written.rfind('.');
    const Place at = place(what);
    if (dot == std::string::npos) {
        say("syntax.condition", "`sum of` needs an event and its attribute, such as `flush.volume`", what);
        return {SumOf{name(what), name(what), window(part(id, Kind::window))}, place(id)};
    }
    const auto split = static_cast<std::uint32_t>(at.begin + dot);
    return {SumOf{{written.substr(0, dot), {at.text, at.begin, split}},
                  {written.substr(dot + 1), {at.text, split + 1, at.end}},
                  window(part(id, Kind::window))},
            place(id)};
}

Expression PartBuilder::leaf(NodeId id) {
    switch (nodes_[id].kind) {
        case Kind::reference:
        case Kind::name:
            return {Reference{name(id)}, place(id)};
        case Kind::string:
            return {text(id), place(id)};
        case Kind::number:
            return {number(id), place(id)};
        case Kind::quantity:
            return {quantity(id), place(id)};
        case Kind::date:
            return {date(id), place(id)};
        case Kind::time_of_day:
            return {time_of_day(id), place(id)};
        case Kind::dwell:
            return {Dwell{}, place(id)};
        case Kind::time_since:
            return {TimeSince{events_in(id)}, place(id)};
        case Kind::count_of:
            return {CountOf{events_in(id), window(part(id, Kind::window))}, place(id)};
        case Kind::sum_of:
            return sum_of(id);
        case Kind::change:
            return change(id);
        case Kind::step_in:
            return {StepIn{name_in(id)}, place(id)};
        case Kind::step_time: {
            const NodeId from = first(id);
            return {StepTime{name(from), name(after(id, from))}, place(id)};
        }
        case Kind::multiple: {
            const NodeId factor = first(id);
            return {Multiple{number(factor), leaf(after(id, factor))}, place(id)};
        }
        case Kind::difference_of: {
            const NodeId left = first(id);
            return {DifferenceOf{leaf(left), leaf(after(id, left))}, place(id)};
        }
        default:
            std::abort();  // the rules let nothing else stand where a value stands
    }
}

Expression PartBuilder::expression(NodeId id) {
    if (id == no_node) return {};  // a fault cut it off; the item that it stands in is left out
    switch (nodes_[id].kind) {
        case Kind::any_of:
        case Kind::all_of:
            return joined(id);
        case Kind::negation:
            return {Not{expression(first(id))}, place(id)};
        case Kind::comparison:
            return comparison(id);
        case Kind::occurred:
            return {Occurred{events_in(id), window(part(id, Kind::window)), false}, place(id)};
        case Kind::no_event:
            return no_event(id);
        case Kind::some_part: {
            const NodeId what = first(id);
            SomePart part{name(what), std::nullopt, false};
            if (const NodeId where = after(id, what); where != no_node) part.where = expression(where);
            return {std::move(part), place(id)};
        }
        default:
            return leaf(id);
    }
}

}  // namespace linelaw::grammar
