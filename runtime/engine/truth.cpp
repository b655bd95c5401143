// What a condition means: truths and comparisons (language.md §4.1). See truth.hpp; clocks, windows, values
// and readings have files of their own.
#include "runtime/engine/truth.hpp"

#include <algorithm>

namespace linelaw::runtime::engine {
namespace {

template <typename Number>
Truth compare_numbers(Number l, Comparator c, Number r, Standing standing) {
    if (!usable(standing)) return doubt_of(standing);
    if (standing == Standing::unset) return from_bool(c == Comparator::is_not);
    return from_bool(holds(l, c, r));
}
Truth compare_readings(Reading l, Comparator c, Reading r) {
    return compare_numbers(l.number, c, r.number, worse(l.standing, r.standing));
}

}  // namespace

Truth Asking::truth(NodeId id) {
    const Node& n = plan_.nodes[id];
    switch (n.op) {
        case Op::always:
            return from_bool(n.value != 0);
        case Op::all: {
            Truth all = Truth::yes;
            for (std::uint32_t i = 0; i < n.run.count && all != Truth::no; ++i)
                all = all & truth(plan_.operands[n.run.first + i]);
            return all;
        }
        case Op::any: {
            Truth any = Truth::no;
            for (std::uint32_t i = 0; i < n.run.count && any != Truth::yes; ++i)
                any = any | truth(plan_.operands[n.run.first + i]);
            return any;
        }
        case Op::negation:
            return !truth(n.a);
        case Op::compare:
            return compare(n.a, n.comparator, n.b);
        case Op::one_of:
            return one_of(n);
        case Op::documented:
            return documented(n);
        case Op::occurred:
            return occurred(n.run, plan_.windows[n.a], n.negated);
        case Op::some_part:
            return some_part(n);
        default:
            break;
    }
    const Reading flag = value(id);  // a flag stands as a truth by itself; unset is not set
    if (!usable(flag.standing)) return doubt_of(flag.standing);
    return from_bool(flag.standing == Standing::known && flag.number != 0);
}

Truth Asking::compare(NodeId left, Comparator comparator, NodeId right) {
    if (plan_.nodes[left].is_plain && plan_.nodes[right].is_plain)
        return compare_readings(value(left), comparator, value(right));
    return compare_values(resolve(left), comparator, resolve(right));
}

// Where a table beside it fails, a value that is set aside must still be seen: it outweighs one that is
// missing.
Standing Asking::doubt_about(const Operand& operand) {
    if (operand.failed != Standing::known) return operand.failed;
    const Node& n = plan_.nodes[operand.node];
    if (n.op == Op::age || n.op == Op::dwell || n.op == Op::time_since || n.op == Op::count_of || n.is_text)
        return Standing::known;
    const Standing standing = value(operand.node).standing;
    return usable(standing) ? Standing::known : standing;
}

Truth Asking::compare_values(Operand left, Comparator c, Operand right) {
    if (left.failed != Standing::known || right.failed != Standing::known)
        return doubt_of(worse(doubt_about(left), doubt_about(right)));
    const Node& l = plan_.nodes[left.node];
    const Node& r = plan_.nodes[right.node];
    if (l.is_plain && r.is_plain) return compare_readings(value(left.node), c, value(right.node));
    const auto is_clock = [](const Node& n) { return n.op == Op::dwell || n.op == Op::time_since; };
    if (l.op == Op::age) return compare_age(c, right.node);
    if (r.op == Op::age) return compare_age(mirrored(c), left.node);
    if (is_clock(l) && !is_clock(r)) return compare_clock(l, c, right.node);
    if (is_clock(r) && !is_clock(l)) return compare_clock(r, mirrored(c), left.node);
    if (l.is_text || r.is_text) return compare_texts(l, c, r);
    if (l.op == Op::count_of && r.op != Op::count_of) return compare_count(l, c, value(right.node));
    if (r.op == Op::count_of && l.op != Op::count_of) return compare_count(r, mirrored(c), value(left.node));
    const Fraction lf = fraction(l);
    const Fraction rf = fraction(r);
    // Each multiplied by the denominator of the other.
    return compare_numbers(lf.numerator * rf.denominator, c, rf.numerator * lf.denominator,
                           worse(lf.standing, rf.standing));
}

// `N times A` keeps its denominator, so that no comparison rounds; of a multiple's multiple, too. The two
// numbers of all factors together are at most largest_factor, so that nothing overflows.
Asking::Fraction Asking::fraction(const Node& n) {
    if (n.op != Op::multiple) {
        const Reading r = value(static_cast<NodeId>(&n - plan_.nodes.data()));
        return {r.number, 1, r.standing};
    }
    Fraction f = fraction(plan_.nodes[n.a]);
    if (f.standing != Standing::known) return f;
    f.numerator *= n.value;
    f.denominator *= static_cast<std::int64_t>(n.b);
    return f;
}

std::int64_t Asking::whole_of(const Fraction& fraction) {
    constexpr Int128 greatest = Int128{1'000'000} * microseconds_per_day;
    return static_cast<std::int64_t>(
        std::clamp(fraction.numerator / fraction.denominator, -greatest, greatest));
}

Truth Asking::compare_count(const Node& node, Comparator c, Reading bound) {
    if (!usable(bound.standing)) return doubt_of(bound.standing);
    if (bound.standing == Standing::unset) return from_bool(c == Comparator::is_not);
    const Range range = count(node);
    const bool low = holds(range.low, c, bound.number);
    const bool high = holds(range.high, c, bound.number);
    const bool between = bound.number > range.low && bound.number < range.high;
    const bool by_equality = c == Comparator::is || c == Comparator::is_not;
    if (low == high && !(by_equality && between)) return from_bool(low);
    return range.doubt;
}

Asking::Text Asking::text(const Node& n) {
    const Episode& episode = history_.episode();
    if (n.op == Op::text_constant) return {plan_.texts[n.a], Standing::known};
    if (n.op == Op::facility || n.op == Op::care_unit) {
        const std::string& t = n.op == Op::facility ? episode.facility : episode.care_unit;
        return {t, t.empty() ? Standing::undocumented : Standing::known};
    }
    const Reading r = value(static_cast<NodeId>(&n - plan_.nodes.data()));
    if (r.standing != Standing::known) return {{}, r.standing};
    return {episode.texts[static_cast<std::size_t>(r.number)], Standing::known};
}

Truth Asking::compare_texts(const Node& left, Comparator c, const Node& right) {
    const Text l = text(left);
    const Text r = text(right);
    const Standing standing = worse(l.standing, r.standing);
    if (!usable(standing)) return doubt_of(standing);
    if (standing == Standing::unset) return from_bool(c == Comparator::is_not);
    return from_bool((l.text == r.text) == (c == Comparator::is));
}

Truth Asking::one_of(const Node& n) {
    const Operand operand = resolve(n.a);
    if (operand.failed != Standing::known) return doubt_of(operand.failed);
    const bool plain = plan_.nodes[operand.node].is_plain;
    const Reading reading = plain ? value(operand.node) : Reading{};  // once for all that it may be
    Truth any = Truth::no;
    for (std::uint32_t i = 0; i < n.run.count && any != Truth::yes; ++i) {
        const NodeId other = plan_.operands[n.run.first + i];
        any = any | (plain && plan_.nodes[other].is_plain
                         ? compare_readings(reading, Comparator::is, value(other))
                         : compare_values(operand, Comparator::is, {other, Standing::known}));
    }
    return any;
}

Truth Asking::documented(const Node& n) {
    const Node& what = plan_.nodes[n.a];
    Standing standing = Standing::known;
    if (what.op == Op::age) {
        const Age::Given given = history_.episode().age.given;
        standing = given == Age::Given::undocumented ? Standing::undocumented
                   : given == Age::Given::set_aside  ? Standing::unknown
                                                     : Standing::known;
    } else {
        standing = what.is_text ? text(what).standing : value(n.a).standing;
    }
    if (standing == Standing::unknown) return Truth::unknown;
    return from_bool(standing != Standing::undocumented);
}

Truth Asking::some_part(const Node& n) {
    Truth any = history_.count_known(n.a) ? Truth::no : history_.count_unknown_because(n.a);
    const bool may_be_out_of_view = history_.edge() && plan_.policy.part_kinds[n.a].count_slot == none;
    if (may_be_out_of_view) any = any | Truth::unknown;
    for (PartIndex p = 0; p < history_.parts().size() && any != Truth::yes; ++p) {
        if (history_.parts()[p].kind != n.a) continue;
        const Truth alive = history_.alive(p, place_.before);
        if (alive == Truth::no) continue;
        Place place = place_;
        place.scope = p;
        Asking inside(history_, place);
        any = any | (alive & (n.b == none ? Truth::yes : inside.truth(n.b)));
        wake_at(inside.wake());
    }
    return any;
}

}  // namespace linelaw::runtime::engine
