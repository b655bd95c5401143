// Comparisons and tables (language.md §3, §4.1, §4.2).
#include <algorithm>

#include "tests/differential/values.hpp"
#include "tests/differential/windows.hpp"

namespace linelaw::literal {

using namespace grammar;
using Kind = Value::Kind;

namespace {

Truth with_order(int order, Comparator c) {
    switch (c) {
        case Comparator::at_least:
            return truth(order >= 0);
        case Comparator::at_most:
            return truth(order <= 0);
        case Comparator::more_than:
            return truth(order > 0);
        case Comparator::less_than:
            return truth(order < 0);
        case Comparator::is:
            return truth(order == 0);
        case Comparator::is_not:
            return truth(order != 0);
    }
    return Truth::no;
}

// From "at least" and "more than" the six comparisons follow.
template <typename AtLeast, typename MoreThan>
Truth from_two(Comparator c, const AtLeast& at_least, const MoreThan& more_than) {
    switch (c) {
        case Comparator::at_least:
            return at_least();
        case Comparator::less_than:
            return negate(at_least());
        case Comparator::more_than:
            return more_than();
        case Comparator::at_most:
            return negate(more_than());
        case Comparator::is:
            return both(at_least(), negate(more_than()));
        case Comparator::is_not:
            return negate(both(at_least(), negate(more_than())));
    }
    return Truth::no;
}

// §4.8 "`dwell` and `time since` are compared with days by adding the days to their anchor".
Truth compare_clock(const Value& clock, Comparator c, const Span& span, const Ask& ask) {
    const Instant now = ask.position.clock();
    Anchors anchors;
    for (const Instant a : clock.anchors) anchors.list.push_back({a, Truth::yes});
    anchors.any_before = clock.any_before;
    anchors.why = clock.why;
    const auto order = [&](Instant anchor) {
        if (anchor == -far_future) return 1;
        const Instant bound = ask.book->zone.add(anchor, span);
        return now < bound ? -1 : now > bound || span.calendar ? 1 : 0;
    };
    return from_two(
        c, [&] { return where_all_agree(anchors, [&](Instant a) { return truth(order(a) >= 0); }); },
        [&] { return where_all_agree(anchors, [&](Instant a) { return truth(order(a) > 0); }); });
}

date::local_days age_bound(date::local_days born, int count, const std::string& unit) {
    if (unit.rfind("year", 0) == 0) return add_months(born, 12 * count);
    if (unit.rfind("month", 0) == 0) return add_months(born, count);
    return born + date::days(unit.rfind("week", 0) == 0 ? 7 * count : count);
}

// §4.1 "Ages are compared in completed units of the constant", at the date of the moment.
Truth compare_age(const Value& age, Comparator c, const Quantity& q, const Ask& ask) {
    const date::local_days today = ask.book->zone.date_of(ask.position.clock());
    const int count = static_cast<int>(read_decimal(q.terms.front().number.text)->over);
    const std::string& unit = q.terms.front().unit.text;
    const auto completed = [&](int n) {
        const bool first = age.born_any_before || today >= age_bound(age.born_first, n, unit);
        const bool last = today >= age_bound(age.born_last, n, unit);
        return first == last ? truth(first) : Truth::unknown;
    };
    return from_two(
        c, [&] { return completed(count); }, [&] { return completed(count + 1); });
}

Truth compare_range(const Value& left, Comparator c, const Ratio& right) {
    const Truth low = with_order(compare(left.number, right), c);
    if (c == Comparator::is || c == Comparator::is_not) {
        const bool above = compare(left.number, right) > 0;
        const bool below = !left.open_above && compare(left.high, right) < 0;
        return above || below ? truth(c == Comparator::is_not) : left.why;
    }
    const Truth high = left.open_above ? truth(c == Comparator::at_least || c == Comparator::more_than)
                                       : with_order(compare(left.high, right), c);
    return low == high ? low : left.why;
}

Truth compare_values(const Value& left, Comparator c, const Value& right) {
    if (is_unknown(left) && is_unknown(right)) return worse(why_unknown(left), why_unknown(right));
    if (is_unknown(left)) return why_unknown(left);
    if (is_unknown(right)) return why_unknown(right);
    // §2 "no comparison with it holds but `is not`".
    if (left.kind == Kind::unset || right.kind == Kind::unset) return truth(c == Comparator::is_not);
    if (left.kind == Kind::word) return truth((left.word == right.word) == (c == Comparator::is));
    if (left.kind == Kind::range) return compare_range(left, c, right.number);
    return with_order(compare(left.number, right.number), c);
}

// The right side of a comparison: "a value of `one of` wins over an attribute's name".
Value right_value(const Expression& right, const Type* left_type, const Ask& ask) {
    const auto* reference = std::get_if<Reference>(&right.node);
    if (reference != nullptr && left_type != nullptr)
        for (const Name& v : left_type->values)
            if (v.text == reference->name.text) return word(v.text);
    // A value of another event's list (`where` of several events, `unless event.A`) is none of this one's.
    if (reference != nullptr && left_type != nullptr && !left_type->values.empty() &&
        resolve(reference->name.text, ask).what == Named::What::nothing)
        return word(reference->name.text);
    if (const auto* text = std::get_if<Text>(&right.node)) return word(text->text);
    return value_of(right, ask);
}

const Type* type_of(const Expression& e, const Ask& ask) {
    const auto* reference = std::get_if<Reference>(&e.node);
    if (reference == nullptr) return nullptr;
    const Named named = resolve(reference->name.text, ask);
    return named.type;
}

}  // namespace

// A bare number against an attribute with a unit is in that unit.
Truth compare_expressions(const Expression& left, Comparator c, const Expression& right, const Ask& ask) {
    const auto* name = std::get_if<Reference>(&left.node);
    if (ask.hand == nullptr && name != nullptr && name->name.text.rfind("event.", 0) == 0)
        return Truth::unknown;
    const Value l = value_of(left, ask);
    if (const auto* q = std::get_if<Quantity>(&right.node)) {
        if (l.kind == Kind::clock) return compare_clock(l, c, span_of(*q), ask);
        if (l.kind == Kind::age) return compare_age(l, c, *q, ask);
        if (is_unknown(l)) return why_unknown(l);
    }
    return compare_values(l, c, right_value(right, type_of(left, ask), ask));
}

namespace {

Truth fits(const Cell& cell, const Value& input, const Name& name, const Ask& ask) {
    const Expression left{Reference{name}, name.place};
    const auto compare_to = [&](Comparator c, const Expression& right) {
        if (input.kind == Kind::age && std::holds_alternative<Quantity>(right.node))
            return compare_age(input, c, std::get<Quantity>(right.node), ask);
        if (is_unknown(input)) return why_unknown(input);
        return compare_values(input, c, right_value(right, type_of(left, ask), ask));
    };
    if (const auto* x = std::get_if<CompareCell>(&cell.node)) return compare_to(x->comparator, *x->value);
    if (const auto* x = std::get_if<RangeCell>(&cell.node))
        return both(compare_to(Comparator::at_least, x->range.low),
                    compare_to(Comparator::at_most, x->range.high));
    if (const auto* x = std::get_if<OneOfCell>(&cell.node)) {
        Truth out = Truth::no;
        for (const Expression& v : x->values) out = either(out, compare_to(Comparator::is, v));
        return out;
    }
    return Truth::yes;
}

}  // namespace

bool same_value(const Value& a, const Value& b) {
    return a.kind == b.kind && a.word == b.word && compare(a.number, b.number) == 0;
}

// §4.8 "A table without a fitting row is unknown; an unknown input where every possible row agrees is known".
Value table_value(const Named& named, const Ask& ask) {
    std::vector<Value> inputs;
    for (const Name& given : named.table->given) inputs.push_back(named_value(given.text, ask));
    std::optional<Value> answer;
    std::optional<Truth> why;
    bool differ = false;
    bool certain = false;
    for (const TableRow& row : named.table->rows) {
        Truth fit = Truth::yes;
        for (std::size_t i = 0; i < row.given.size(); ++i)
            fit = both(fit, fits(row.given[i], inputs[i], named.table->given[i], ask));
        if (fit == Truth::no) continue;
        if (!is_known(fit)) why = why ? worse(*why, fit) : fit;
        const Expression& gives = row.gives[named.column];
        Value given;
        if (const auto* reference = std::get_if<Reference>(&gives.node))
            given = word(reference->name.text);
        else
            given = value_of(gives, ask);
        if (answer && !same_value(*answer, given)) differ = true;
        if (!answer) answer = given;
        certain = certain || fit == Truth::yes;
        if (fit == Truth::yes && named.table->first_row_wins) break;
    }
    if (!answer) return unknown_value(Truth::unknown);
    return differ ? unknown_value(why.value_or(Truth::unknown)) : *answer;
}

}  // namespace linelaw::literal
