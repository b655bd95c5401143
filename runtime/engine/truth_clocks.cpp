// Clocks in a condition: ages, dwell, time since an event (language.md §4.1).
#include <algorithm>

#include "runtime/engine/truth.hpp"

namespace linelaw::runtime::engine {

// Whether a bound is reached now; the moments at which that may change are noted.
Truth Asking::reached(Bounds bounds, Truth doubt) {
    wake_at(bounds.may);
    wake_at(bounds.sure);
    if (place_.moment >= std::max(bounds.may, bounds.sure)) return Truth::yes;
    if (place_.moment < std::min(bounds.may, bounds.sure)) return Truth::no;
    return doubt;
}

Truth Asking::compare_age(Comparator c, NodeId bound) {
    if (!history_.births().known)
        return history_.episode().age.given == Age::Given::set_aside ? Truth::unknown : Truth::undocumented;
    if (plan_.nodes[bound].op != Op::age_constant) return Truth::unknown;
    const History::AgeBounds& bounds = history_.age_bounds(bound);
    const bool asks_reached = c != Comparator::at_most && c != Comparator::more_than;
    const bool asks_passed = c != Comparator::at_least && c != Comparator::less_than;
    return holds_of_bound(
        c, asks_reached ? reached({bounds.may_reach, bounds.reaches}, Truth::unknown) : Truth::unknown,
        asks_passed ? reached({bounds.may_pass, bounds.passes}, Truth::unknown) : Truth::unknown);
}

Asking::Anchor Asking::anchor(const Node& clock) {
    const auto exactly = [](Instant t) { return Anchor{t, t, false, Truth::no}; };
    const auto& events = history_.episode().events;
    const bool is_dwell = clock.op == Op::dwell;
    if (is_dwell && history_.insertion_known()) return exactly(history_.insertion());
    std::uint32_t certain = none;
    std::uint32_t possible = none;
    Truth doubt = Truth::no;
    if (!is_dwell)
        newest_first(clock.run, [&](std::uint32_t event, Truth truth) {
            if (truth == Truth::yes) {
                if (certain == none || event > certain) certain = event;
                return false;
            }
            if (possible == none || event > possible) possible = event;
            doubt = doubt | truth;
            return true;
        });
    if (certain == none && !is_dwell) certain = own_begin(clock.run);
    Anchor from;
    if (certain != none) from = exactly(events[certain].at);
    if (certain == none && history_.insertion_known()) from = exactly(history_.insertion());
    const bool unseen = is_dwell || may_be_unseen(clock.run);
    if (unseen && (certain == none || certain < history_.start_index())) {
        from.latest = *history_.edge();
        from.any_time_before = certain == none && !history_.insertion_known();
        if (from.any_time_before) from.earliest = from.latest;
        from.doubt = Truth::unknown;
    }
    if (possible != none && (certain == none || possible > certain)) {
        from.latest = std::max(from.latest, events[possible].at);
        from.doubt = from.doubt | doubt;
    }
    return from;
}

Truth Asking::compare_clock(const Node& clock, Comparator c, NodeId bound_id) {
    const Anchor from = anchor(clock);
    const Node& bound = plan_.nodes[bound_id];
    const auto bounds = [&](auto moment) {
        Bounds b{moment(from.earliest), moment(from.latest)};
        if (from.any_time_before) b.may = std::numeric_limits<Moment>::min();
        return b;
    };
    if (bound.op != Op::span_constant) {
        const Fraction r = fraction(bound);
        if (!usable(r.standing)) return doubt_of(r.standing);
        if (r.standing == Standing::unset) return from_bool(c == Comparator::is_not);
        // A bound between two microseconds is reached at the later and passed there too.
        const bool between = r.numerator % r.denominator != 0;
        const std::int64_t up = whole_of(r) + (between && r.numerator > 0 ? 1 : 0);
        return holds_of_bound(
            c, reached(bounds([&](Instant t) { return at(t + up); }), from.doubt),
            reached(bounds([&](Instant t) { return at(t + up) + (between ? 0 : 1); }), from.doubt));
    }
    const Span& span = plan_.spans[bound.a];
    // Counted in calendar days, N of them are complete when the Nth date after the start's own begins, and
    // more than N when it has ended.
    Span complete = span;
    if (span.calendar) --complete.days;
    const auto reach = [&](Instant t) { return at(add(t, complete, plan_.zone)); };
    const auto pass = [&](Instant t) { return at(add(t, span, plan_.zone)) + (span.calendar ? 0 : 1); };
    const bool asks_reached = c != Comparator::at_most && c != Comparator::more_than;
    const bool asks_passed = c != Comparator::at_least && c != Comparator::less_than;
    return holds_of_bound(c, asks_reached ? reached(bounds(reach), from.doubt) : Truth::unknown,
                          asks_passed ? reached(bounds(pass), from.doubt) : Truth::unknown);
}

Reading Asking::clock_reading(const Node& clock) {
    const Anchor from = anchor(clock);
    if (!from.exact()) return {0, standing_of(from.doubt)};
    return {instant_of(place_.moment) - from.latest, Standing::known};
}

}  // namespace linelaw::runtime::engine
