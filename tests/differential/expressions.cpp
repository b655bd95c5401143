// Expressions: readings, clocks, counts, changes, steps (language.md §3 "Expressions").
#include <algorithm>
#include <stdexcept>

#include "tests/differential/values.hpp"
#include "tests/differential/windows.hpp"

namespace linelaw::literal {

using namespace grammar;
using Kind = Value::Kind;

namespace {

Value clock_over(const Anchors& anchors) {
    Value v;
    v.kind = Kind::clock;
    for (const Anchor& a : anchors.list) v.anchors.push_back(a.at);
    v.any_before = anchors.any_before;
    v.why = anchors.why;
    return v;
}

Value evaluate(const Dwell&, const Ask& ask) {
    Anchors anchors;
    anchors.why = Truth::unknown;
    anchors.list.push_back(
        {ask.record->inserted ? *ask.record->inserted : *ask.record->left_edge, Truth::yes});
    anchors.any_before = !ask.record->inserted;
    return clock_over(anchors);
}

Value evaluate(const TimeSince& x, const Ask& ask) {
    return clock_over(anchors_of(x.events, ask));
}

Value evaluate(const CountOf& x, const Ask& ask) {
    std::optional<Span> last;
    if (x.window.in_the_last) last = span_of(*x.window.in_the_last);
    const Anchors anchors = window_anchors(x.window, ask);
    std::optional<Count> total;
    std::optional<Truth> why;
    const auto add_reason = [&why](Truth t) { why = why ? worse(*why, t) : t; };
    for (const Anchor& a : anchors.list) {
        const Count c = count_of(x.events, last, ask, a.at);
        if (c.low != c.high || c.open_above) add_reason(c.why);
        if (total && (total->low != c.low || total->high != c.high)) add_reason(anchors.why);
        if (!total) total = c;
        total->low = std::min(total->low, c.low);
        total->high = std::max(total->high, c.high);
        total->open_above = total->open_above || c.open_above;
    }
    total->why = why.value_or(Truth::unknown);
    Value v = known(Ratio{total->low, 1});
    if (total->low == total->high && !total->open_above) return v;
    v.kind = Kind::range;
    v.high = Ratio{total->high, 1};
    v.open_above = total->open_above;
    v.why = total->why;
    return v;
}

// A sum is known where every event and every value in the window is.
Value evaluate(const SumOf& x, const Ask& ask) {
    Events events;
    events.push_back({x.event, std::nullopt, x.event.place});
    const Zone& zone = ask.book->zone;
    const Anchors anchors = window_anchors(x.window, ask);
    std::optional<Span> last;
    if (x.window.in_the_last) last = span_of(*x.window.in_the_last);
    std::optional<Value> out;
    for (const Anchor& a : anchors.list) {
        Value sum = known({0, 1});
        std::optional<Truth> why;
        if (count_of(events, last, ask, a.at).open_above) why = Truth::unknown;
        for (const Event& e : ask.record->events) {
            if (!sees(ask, e) || e.position.t < a.at) continue;
            if (last && !within(zone, e.position.t, ask.position.clock(), *last)) continue;
            const Truth match = matches(events, e, *ask.book, *ask.record, ask.part);
            if (match == Truth::no) continue;
            const Value v = attribute_of(e, x.attribute.text);
            if (!is_known(match)) why = why ? worse(*why, match) : match;
            if (is_unknown(v)) why = why ? worse(*why, why_unknown(v)) : why_unknown(v);
            if (v.kind == Kind::number) sum.number = sum.number + v.number;
        }
        if (why) sum = unknown_value(*why);
        if (out && !same_value(*out, sum)) return unknown_value(anchors.why);
        out = sum;
    }
    return *out;
}

Value subtract(const Value& a, const Value& b) {
    if (is_unknown(a) && is_unknown(b)) return unknown_value(worse(why_unknown(a), why_unknown(b)));
    if (is_unknown(a)) return a;
    if (is_unknown(b)) return b;
    if (a.kind == Kind::unset || b.kind == Kind::unset) return a.kind == Kind::unset ? a : b;
    return known(a.number - b.number);
}
Value absolute(Value v) {
    if (v.number.over < 0) v.number.over = -v.number.over;
    return v;
}

Value evaluate(const DifferenceOf& x, const Ask& ask) {
    return absolute(subtract(value_of(*x.left, ask), value_of(*x.right, ask)));
}

// §2 "`comparable by A`: two readings are compared only where their A is the same; else unknown".
Truth comparable(const Value& mine, const Value& theirs) {
    if (is_unknown(mine) && is_unknown(theirs)) return worse(why_unknown(mine), why_unknown(theirs));
    if (is_unknown(mine) || is_unknown(theirs)) return why_unknown(is_unknown(mine) ? mine : theirs);
    return mine.kind == theirs.kind && mine.word == theirs.word && compare(mine.number, theirs.number) == 0
               ? Truth::yes
               : Truth::unknown;
}

struct Baseline {
    Value reading;
    Value by;  // of `comparable by`
};

// §3 "The baseline of `since insertion` is line.A where the record gives it, else A at the insertion event".
Baseline insertion_baseline(const Name& attribute, const std::string& by, const Ask& ask) {
    const Event* insertion = nullptr;
    for (const Event& e : ask.record->events)
        if (e.kind->name == "insertion") insertion = &e;
    Baseline out;
    const auto line = [&](const std::string& name) {
        for (std::size_t i = 0; i < ask.book->line.size(); ++i)
            if (ask.book->line[i]->name.text == name) return ask.record->line[i];
        return Value{};
    };
    out.reading = line(attribute.text);
    out.by = line(by);
    if (insertion != nullptr && out.reading.kind == Kind::missing)
        out.reading = attribute_of(*insertion, attribute.text);
    if (insertion != nullptr && out.by.kind == Kind::missing) out.by = attribute_of(*insertion, by);
    return out;
}

// §4.8 "`since last EVENT` is the last that recorded A".
std::optional<Baseline> last_baseline(const Events& events, const Name& attribute, const std::string& by,
                                      const Ask& ask) {
    for (auto e = ask.record->events.rbegin(); e != ask.record->events.rend(); ++e) {
        if (!sees(ask, *e)) continue;
        const Truth match = matches(events, *e, *ask.book, *ask.record, ask.part);
        if (match == Truth::no) continue;
        const Value reading = attribute_of(*e, attribute.text);
        if (is_unknown(reading)) continue;
        if (!is_known(match)) return Baseline{unknown_value(match), {}};
        return Baseline{reading, attribute_of(*e, by)};
    }
    return std::nullopt;
}

Value evaluate(const Change& x, const Ask& ask) {
    const Value mine = attribute_of(*ask.hand, x.attribute.text);
    const int slot = ask.hand->kind->slot(x.attribute.text);
    const Attribute* declared = ask.hand->kind->attributes[static_cast<std::size_t>(slot)];
    const std::string by = declared->comparable_by ? declared->comparable_by->text : "";
    Baseline base;
    if (x.since_last) {
        const auto found = last_baseline(*x.since_last, x.attribute, by, ask);
        if (found)
            base = *found;
        else if (ask.record->left_edge)
            base.reading = unknown_value(Truth::unknown);
    } else {
        base = insertion_baseline(x.attribute, by, ask);
    }
    if (is_unknown(mine) || is_unknown(base.reading)) return subtract(mine, base.reading);
    if (!by.empty()) {
        const Truth same = comparable(attribute_of(*ask.hand, by), base.by);
        if (same != Truth::yes) return unknown_value(same);
    }
    Value v = subtract(mine, base.reading);
    if (x.kind == ChangeKind::change) return absolute(v);
    if (x.kind == ChangeKind::fall) v.number.over = -v.number.over;
    if (v.number.over < 0) v.number = {0, 1};
    return v;
}

const Mark* find_mark(const Event& e, const std::string& step) {
    for (const Mark& m : e.marks)
        if (m.step == step) return &m;
    return nullptr;
}

// A step that is not there, or whose time was set aside, is hidden where something was set aside, else
// missing.
bool is_hidden(const Event& e, const Mark* mark) {
    return mark != nullptr
               ? mark->time_hidden
               : std::any_of(e.marks.begin(), e.marks.end(), [](const Mark& m) { return m.step.empty(); });
}

// §4.8: from A's `to` (else its time) to B's time, first marks of each.
Value evaluate(const StepTime& x, const Ask& ask) {
    const Mark* from = find_mark(*ask.hand, x.from.text);
    const Mark* to = find_mark(*ask.hand, x.to.text);
    const auto start = from == nullptr ? std::nullopt
                       : from->to      ? from->to
                       : from->at      ? from->at
                                       : from->from;
    const auto end = to == nullptr ? std::nullopt : to->at ? to->at : to->from ? to->from : to->to;
    const bool start_hidden = is_hidden(*ask.hand, from);
    const bool end_hidden = is_hidden(*ask.hand, to);
    if (start_hidden || end_hidden) return unknown_value(Truth::unknown);
    if (!start || !end) return {};
    return known(ratio(*end - *start, one_second));
}

// §4.8 "`time in STEP` needs `from` and `to` in the record's step".
Value evaluate(const StepIn& x, const Ask& ask) {
    const Mark* mark = find_mark(*ask.hand, x.step.text);
    if (is_hidden(*ask.hand, mark)) return unknown_value(Truth::unknown);
    if (mark == nullptr || !mark->from || !mark->to) return {};
    return known(ratio(*mark->to - *mark->from, one_second));
}

Value evaluate(const Multiple& x, const Ask& ask) {
    Value v = value_of(*x.operand, ask);
    if (v.kind == Kind::number) v.number = v.number * *read_decimal(x.factor.text);
    return v;
}

Value evaluate(const Reference& x, const Ask& ask) {
    return named_value(x.name.text, ask);
}
Value evaluate(const Quantity& x, const Ask&) {
    return known(number_of(x));
}
Value evaluate(const Number& x, const Ask&) {
    return known(*read_decimal(x.text));
}
template <typename Other>
Value evaluate(const Other&, const Ask&) {
    throw std::runtime_error("not a value");
}

}  // namespace

Value value_of(const Expression& expression, const Ask& ask) {
    return std::visit([&ask](const auto& node) { return evaluate(node, ask); }, expression.node);
}

}  // namespace linelaw::literal
