// What every expression means (language.md §4.1, §4.2). See truth.hpp.
#include "runtime/engine/truth.hpp"

#include <algorithm>
#include <cstdlib>

namespace linelaw::runtime::engine {
namespace {

__extension__ using Int128 = __int128;  // both compilers have it

Truth doubt_of(Standing s) {
    return s == Standing::undocumented ? Truth::undocumented : Truth::unknown;
}
Standing standing_of(Truth doubt) {
    return doubt == Truth::undocumented ? Standing::undocumented : Standing::unknown;
}
bool usable(Standing s) {
    return s == Standing::known || s == Standing::unset;
}
Standing worse(Standing a, Standing b) {
    return std::max(a, b);  // known, unset, undocumented, unknown
}

// A clock has reached a bound (at least) or passed it (more than).
Truth by_clock(Comparator c, Truth reached, Truth passed) {
    switch (c) {
        case Comparator::at_least:
            return reached;
        case Comparator::at_most:
            return !passed;
        case Comparator::more_than:
            return passed;
        case Comparator::less_than:
            return !reached;
        case Comparator::is:
            return reached & !passed;
        case Comparator::is_not:
            break;
    }
    return !(reached & !passed);
}

constexpr std::int64_t day = 24 * microseconds_per_hour;
// By how much civil time may be longer than 24 h a day and 31 days a month: no zone ever moved its clocks by
// more, and clipping a month moves by three days at most.
constexpr std::int64_t civil_slack = 26 * microseconds_per_hour;

}  // namespace

std::int64_t longest(const Span& span) {
    if (!span.civil() && !span.calendar) return span.elapsed;
    return std::int64_t{span.months} * 31 * day + (span.days + (span.calendar ? 1 : 0)) * day + civil_slack +
           span.elapsed;
}

Place at_event(const History& history, std::uint32_t event, PartIndex scope) {
    const Group& group = history.group_of(event);
    return {at(group.at), group.first, group.last, event, scope};
}

Place just_before_event(const History& history, std::uint32_t event, PartIndex scope) {
    const Group& group = history.group_of(event);
    return {at(group.at), group.first, group.first, none, scope};
}

// ---- truths

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
    const auto is_clock = [](const Node& n) { return n.op == Op::dwell || n.op == Op::time_since; };
    if (l.op == Op::age) return compare_age(c, right.node);
    if (r.op == Op::age) return compare_age(mirrored(c), left.node);
    if (is_clock(l) && !is_clock(r)) return compare_clock(l, c, right.node);
    if (is_clock(r) && !is_clock(l)) return compare_clock(r, mirrored(c), left.node);
    if (l.is_text || r.is_text) return compare_texts(l, c, r);
    if (l.op == Op::count_of && r.op != Op::count_of) return compare_count(l, c, value(right.node));
    if (r.op == Op::count_of && l.op != Op::count_of) return compare_count(r, mirrored(c), value(left.node));
    std::int64_t left_denominator = 1;
    std::int64_t right_denominator = 1;
    const Reading lv = number(l, left_denominator);
    const Reading rv = number(r, right_denominator);
    const Standing standing = worse(lv.standing, rv.standing);
    if (!usable(standing)) return doubt_of(standing);
    if (standing == Standing::unset) return from_bool(c == Comparator::is_not);
    return from_bool(holds(Int128{lv.number} * right_denominator, c, Int128{rv.number} * left_denominator));
}

// A number that need not be whole: `N times A` keeps its denominator, so that no comparison rounds.
Reading Asking::number(const Node& n, std::int64_t& denominator) {
    if (n.op != Op::multiple) return value(static_cast<NodeId>(&n - plan_.nodes.data()));
    Reading r = number(plan_.nodes[n.a], denominator);
    if (r.standing != Standing::known) return r;
    r.number *= n.value;
    denominator *= static_cast<std::int64_t>(n.b);
    return r;
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
    Truth any = Truth::no;
    for (std::uint32_t i = 0; i < n.run.count && any != Truth::yes; ++i)
        any =
            any | compare_values(operand, Comparator::is, {plan_.operands[n.run.first + i], Standing::known});
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

// ---- clocks

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
    return by_clock(
        c, asks_reached ? reached({bounds.may_reach, bounds.reaches}, Truth::unknown) : Truth::unknown,
        asks_passed ? reached({bounds.may_pass, bounds.passes}, Truth::unknown) : Truth::unknown);
}

// Whether all events of the run are events of the `for each` part: then its life stands for the line's.
bool Asking::own_events(Run events) const {
    if (place_.scope == none) return false;
    const PartKindId kind = history_.parts()[place_.scope].kind;
    return std::all_of(plan_.begin(events), plan_.end(events),
                       [&](PatternId p) { return plan_.part_of_kind[plan_.patterns[p].kind] == kind; });
}

// The event that began the part whose own events these are: before it there were none.
std::uint32_t Asking::own_begin(Run events) const {
    return own_events(events) ? history_.parts()[place_.scope].begun_by : none;
}

// Whether some of the events may lie before what is in view, where only the insertion is known.
bool Asking::may_be_unseen(Run events) const {
    if (!history_.edge() || own_begin(events) != none) return false;
    return !history_.insertion_known() ||
           std::any_of(plan_.begin(events), plan_.end(events),
                       [&](PatternId p) { return plan_.patterns[p].kind != plan_.policy.insertion; });
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
        std::int64_t denominator = 1;
        const Reading r = number(bound, denominator);
        if (!usable(r.standing)) return doubt_of(r.standing);
        if (r.standing == Standing::unset) return from_bool(c == Comparator::is_not);
        // A bound between two microseconds is reached at the later and passed there too.
        const std::int64_t whole = r.number / denominator;
        const bool between = r.number % denominator != 0;
        const std::int64_t up = whole + (between && r.number > 0 ? 1 : 0);
        return by_clock(
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
    return by_clock(c, asks_reached ? reached(bounds(reach), from.doubt) : Truth::unknown,
                    asks_passed ? reached(bounds(pass), from.doubt) : Truth::unknown);
}

Reading Asking::clock_reading(const Node& clock) {
    const Anchor from = anchor(clock);
    if (!from.exact()) return {0, standing_of(from.doubt)};
    return {instant_of(place_.moment) - from.latest, Standing::known};
}

// ---- windows

template <typename Visit>
void Asking::newest_first(Run events, Visit visit) const {
    for (const PatternId* p = plan_.begin(events); p != plan_.end(events); ++p) {
        const std::vector<Match>& log = history_.log(*p);
        auto match = std::lower_bound(log.begin(), log.end(), place_.seen,
                                      [](const Match& m, std::uint32_t e) { return m.event < e; });
        while (match != log.begin()) {
            --match;
            if (match->event == place_.event) continue;
            const Truth truth = history_.in_scope(*p, *match, place_.scope);
            if (truth != Truth::no && !visit(match->event, truth)) break;
        }
    }
}

Asking::Start Asking::start_of(const WindowPlan& window) {
    Start start;
    if (window.since.count == 0) {
        start.before_edge = true;
        return start;
    }
    std::uint32_t certain = none;
    std::uint32_t possible = none;
    newest_first(window.since, [&](std::uint32_t event, Truth truth) {
        if (truth == Truth::yes) {
            if (certain == none || event > certain) certain = event;
            return false;
        }
        if (possible == none || event > possible) possible = event;
        start.doubt = start.doubt | truth;
        return true;
    });
    const auto& events = history_.episode().events;
    if (certain == none) certain = own_begin(window.since);
    if (certain != none) start.possible = start.certain = history_.before(events[certain].at);
    start.before_edge = history_.edge() && (certain == none || certain < history_.start_index());
    if (start.before_edge && may_be_unseen(window.since)) {  // then the insertion may lie before the start
        start.certain = history_.start_index();
        start.doubt = start.doubt | Truth::unknown;
        if (possible == none || possible < start.certain) return start;
    }
    if (possible != none && (certain == none || possible > certain))
        start.certain = history_.before(events[possible].at);
    else
        start.doubt = Truth::no;
    return start;
}

Moment Asking::leaves_at(Instant s, const Span& span) const {
    return at(add(s, span, plan_.zone)) + (span.calendar ? 0 : 1);
}

bool Asking::certainly_left(Instant s, const Span& span) const {
    return at(s + longest(span)) + 1 < place_.moment;
}

bool Asking::window_before_edge(Run run, const WindowPlan& window, const Start& start) {
    const std::optional<Instant>& edge = history_.edge();
    if (!edge || !start.before_edge || !may_be_unseen(run)) return false;
    if (!window.has_last) return true;
    const Moment clear = at(add(*edge, window.last, plan_.zone));
    wake_at(clear);
    return place_.moment < clear;
}

// `no EVENTS in the last D` is false until the line, or the part, has been in for D.
Truth Asking::in_for(Run events, const Span& last) {
    const std::uint32_t begun_by = own_begin(events);
    const bool begin_known = begun_by != none || history_.insertion_known();
    const Instant begin = begun_by != none             ? history_.episode().events[begun_by].at
                          : history_.insertion_known() ? history_.insertion()
                                                       : *history_.edge();
    const Moment long_enough = at(add(begin, last, plan_.zone));
    wake_at(long_enough);
    if (place_.moment >= long_enough) return Truth::yes;
    return begin_known ? Truth::no : Truth::unknown;
}

Truth Asking::occurred(Run run, const WindowPlan& window, bool negated) {
    const Truth long_enough = negated && window.has_last ? in_for(run, window.last) : Truth::yes;
    if (long_enough == Truth::no) return Truth::no;
    const Start start = start_of(window);
    const auto& events = history_.episode().events;
    Truth found = Truth::no;
    newest_first(run, [&](std::uint32_t event, Truth truth) {
        if (event < start.possible) return false;
        if (event < start.certain) truth = truth & start.doubt;
        if (window.has_last) {
            if (certainly_left(events[event].at, window.last)) return false;
            const Moment end = leaves_at(events[event].at, window.last);
            if (place_.moment >= end) return true;  // civil time: an earlier event may leave later
            wake_at(end);
        }
        found = found | truth;
        return found != Truth::yes;
    });
    if (found != Truth::yes && window_before_edge(run, window, start)) found = found | Truth::unknown;
    return negated ? (!found) & long_enough : found;
}

Asking::Range Asking::count(const Node& n) {
    const WindowPlan& window = plan_.windows[n.a];
    const Start start = start_of(window);
    const auto& events = history_.episode().events;
    Range range;
    for (std::uint32_t i = 0; i < n.run.count; ++i) {
        const PatternId own = plan_.pattern_lists[n.run.first + i];
        newest_first({n.run.first + i, 1}, [&](std::uint32_t event, Truth truth) {
            if (event < start.possible) return false;
            if (window.has_last) {
                if (certainly_left(events[event].at, window.last)) return false;
                const Moment end = leaves_at(events[event].at, window.last);
                if (place_.moment >= end) return true;
                wake_at(end);
            }
            for (std::uint32_t j = 0; j < n.run.count; ++j) {  // an event that two patterns match counts once
                const PatternId other = plan_.pattern_lists[n.run.first + j];
                if (other == own || plan_.patterns[other].kind != plan_.patterns[own].kind) continue;
                const Truth also = history_.matches(other, event, place_.scope);
                if (j < i && also != Truth::no) return true;
                truth = truth | also;
            }
            if (event < start.certain) truth = truth & start.doubt;
            ++range.high;
            if (truth == Truth::yes)
                ++range.low;
            else
                range.doubt = range.doubt | truth;
            return true;
        });
    }
    if (window_before_edge(n.run, window, start)) {
        range.high = std::numeric_limits<std::int64_t>::max();
        range.doubt = Truth::unknown;
    }
    return range;
}

Reading Asking::sum(const Node& n) {
    const WindowPlan& window = plan_.windows[n.a];
    const Start start = start_of(window);
    const auto& events = history_.episode().events;
    Reading sum{0, Standing::known};
    newest_first(n.run, [&](std::uint32_t event, Truth truth) {
        if (event < start.possible) return false;
        if (window.has_last) {
            if (certainly_left(events[event].at, window.last)) return false;
            const Moment end = leaves_at(events[event].at, window.last);
            if (place_.moment >= end) return true;
            wake_at(end);
        }
        if (event < start.certain) truth = truth & start.doubt;
        const Reading r = event_reading(event, n.b);
        sum.number += r.number;
        sum.standing = worse(sum.standing, r.standing);
        if (truth != Truth::yes) sum.standing = worse(sum.standing, standing_of(truth));
        return true;
    });
    if (window_before_edge(n.run, window, start)) sum.standing = Standing::unknown;
    return sum;
}

// ---- values

Reading Asking::value(NodeId id) {
    const Node& n = plan_.nodes[id];
    const Episode& episode = history_.episode();
    switch (n.op) {
        case Op::constant:
            return {n.value, Standing::known};
        case Op::unset:
            return {0, Standing::unset};
        case Op::span_constant: {  // of elapsed time, beside a duration
            const Span& span = plan_.spans[n.a];
            return {span.elapsed, span.civil() || span.calendar ? Standing::unknown : Standing::known};
        }
        case Op::text_constant:
        case Op::age_constant:
        case Op::age:
        case Op::facility:
        case Op::care_unit:
            return {0, Standing::unknown};  // these are compared, and are no numbers
        case Op::event_attribute:
            return place_.event == none ? Reading{0, Standing::unknown} : event_reading(place_.event, n.a);
        case Op::charting_delay: {
            if (place_.event == none) return {0, Standing::unknown};
            const Event& event = episode.events[place_.event];
            const Reading filled = event_reading(place_.event, n.a);  // by the record's reader
            if (event.recorded_at_set_aside) return {0, Standing::unknown};
            if (filled.standing != Standing::undocumented || !event.recorded_at) return filled;
            return {*event.recorded_at - event.at, Standing::known};
        }
        case Op::part_attribute:
            return part_reading(n);
        case Op::line_attribute:
            return reading_of(episode.line[n.a]);
        case Op::patient_attribute:
            return reading_of(episode.patient[n.a]);
        case Op::state: {
            const PartKindId of = plan_.policy.states[n.a].of;
            return history_.state(n.a, of == none ? none : part_at_hand(of), place_.before);
        }
        case Op::dwell:
        case Op::time_since:
            return clock_reading(n);
        case Op::count_of: {
            const Range range = count(n);
            if (range.low == range.high) return {range.low, Standing::known};
            return {0, standing_of(range.doubt)};
        }
        case Op::sum_of:
            return sum(n);
        case Op::difference: {
            const Reading l = value(n.a);
            const Reading r = value(n.b);
            return {std::abs(l.number - r.number), worse(l.standing, r.standing)};
        }
        case Op::change:
            return change(n);
        case Op::step_time:
            return step_time(n);
        case Op::step_in:
            return step_in(n);
        case Op::multiple: {
            std::int64_t denominator = 1;
            const Reading r = number(n, denominator);
            return {r.number / denominator, r.standing};
        }
        case Op::table: {
            const Operand chosen = resolve(id);
            return chosen.failed != Standing::known ? Reading{0, chosen.failed} : value(chosen.node);
        }
        default: {  // a truth where a value is asked for: a flag
            const Truth t = truth(id);
            if (known(t)) return {t == Truth::yes ? 1 : 0, Standing::known};
            return {0, standing_of(t)};
        }
    }
}

Reading Asking::event_reading(std::uint32_t event, FieldId field) const {
    const Event& e = history_.episode().events[event];
    const std::uint32_t slot = plan_.slot(e.kind, field);
    return slot == none ? Reading{} : reading_of(history_.episode().value(e, slot));
}

PartIndex Asking::part_at_hand(PartKindId kind) const {
    if (place_.scope != none) {
        const PartIndex found = history_.ancestor(place_.scope, kind);
        if (found != none) return found;
    }
    return place_.event == none ? none : history_.ancestor(history_.part_of(place_.event), kind);
}

Reading Asking::part_reading(const Node& n) const {
    const PartIndex part = part_at_hand(n.a);
    if (part == none) return {0, Standing::unknown};
    const std::uint32_t begun_by = history_.parts()[part].begun_by;
    if (begun_by == none) return {};
    return event_reading(begun_by, plan_.policy.part_kinds[n.a].attributes[n.b].field);
}

// ---- readings at an event

Asking::Baseline Asking::baseline(const Node& n, FieldId comparable_by) {
    const auto at_event = [&](std::uint32_t event) {
        return Baseline{event_reading(event, n.a),
                        comparable_by == none ? Reading{} : event_reading(event, comparable_by)};
    };
    if (n.run.count == 0) {  // since insertion
        const auto& insertions = history_.events_of(plan_.policy.insertion);
        Baseline from = insertions.empty() ? Baseline{} : at_event(insertions.front());
        if (n.b == none) return from;
        const Reading line = reading_of(history_.episode().line[n.b]);
        if (line.standing != Standing::known) {
            if (from.reading.standing == Standing::undocumented) from.reading.standing = line.standing;
            return from;
        }
        from.reading = line;
        if (comparable_by != none)
            for (std::size_t slot = 0; slot < plan_.policy.line.size(); ++slot)
                if (plan_.policy.line[slot].name == plan_.policy.fields[comparable_by] &&
                    history_.episode().line[slot].state != Known::undocumented)
                    from.companion = reading_of(history_.episode().line[slot]);
        return from;
    }
    std::uint32_t newest = none;
    Truth match = Truth::no;
    newest_first(n.run, [&](std::uint32_t event, Truth truth) {
        if (event_reading(event, n.a).standing != Standing::known) return true;
        if (newest == none || event > newest) {
            newest = event;
            match = truth;
        } else if (event == newest) {
            match = match | truth;
        }
        return false;
    });
    if (newest == none) return {{0, history_.edge() ? Standing::unknown : Standing::undocumented}, {}};
    Baseline from = at_event(newest);
    if (match != Truth::yes) from.reading.standing = standing_of(match);
    return from;
}

Reading Asking::change(const Node& n) {
    if (place_.event == none) return {0, Standing::unknown};
    const EventKind& kind = plan_.policy.event_kinds[history_.episode().events[place_.event].kind];
    const std::uint32_t slot = plan_.slot(history_.episode().events[place_.event].kind, n.a);
    if (slot == none) return {};
    const FieldId comparable_by = kind.attributes[slot].comparable_by;
    const Reading now = event_reading(place_.event, n.a);
    const Baseline from = baseline(n, comparable_by);
    Standing standing = worse(now.standing, from.reading.standing);
    if (standing == Standing::known && comparable_by != none) {
        const Reading companion = event_reading(place_.event, comparable_by);
        standing = worse(standing, worse(companion.standing, from.companion.standing));
        if (companion.standing == Standing::known && from.companion.standing == Standing::known &&
            companion.number != from.companion.number)
            standing = Standing::unknown;
    }
    if (standing != Standing::known) return {0, standing};
    const std::int64_t rise = now.number - from.reading.number;
    switch (static_cast<ChangeKind>(n.value)) {
        case ChangeKind::rise:
            return {std::max<std::int64_t>(rise, 0), standing};
        case ChangeKind::fall:
            return {std::max<std::int64_t>(-rise, 0), standing};
        case ChangeKind::change:
            break;
    }
    return {std::abs(rise), standing};
}

namespace {

const StepMark* first_mark(const Episode& episode, const Event& event, std::uint32_t step) {
    if (step == none) return nullptr;
    for (std::uint32_t i = 0; i < event.step_count; ++i)
        if (episode.steps[event.steps + i].step == step) return &episode.steps[event.steps + i];
    return nullptr;
}

std::optional<Instant> time_of(const StepMark& mark) {
    return mark.at ? mark.at : mark.from ? mark.from : mark.to;
}

// Why a step's time is not to be had: missing, or set aside.
Reading without_step(const Episode& episode, const Event& event, const StepMark* mark) {
    bool set_aside = mark != nullptr && mark->time_set_aside;
    for (std::uint32_t i = 0; i < event.step_count && mark == nullptr; ++i)
        set_aside = set_aside || episode.steps[event.steps + i].step == none;
    return {0, set_aside ? Standing::unknown : Standing::undocumented};
}

}  // namespace

Reading Asking::step_time(const Node& n) {
    if (place_.event == none) return {0, Standing::unknown};
    const Episode& episode = history_.episode();
    const Event& event = episode.events[place_.event];
    const auto& numbers = plan_.step_numbers[event.kind];
    const StepMark* from = first_mark(episode, event, numbers[n.a]);
    const StepMark* to = first_mark(episode, event, numbers[n.b]);
    std::optional<Instant> begin;
    std::optional<Instant> end;
    if (from != nullptr && !from->time_set_aside) begin = from->to ? from->to : time_of(*from);
    if (to != nullptr && !to->time_set_aside) end = time_of(*to);
    if (begin && end) return {*end - *begin, Standing::known};
    Reading missing{0, Standing::known};
    if (!begin) missing = without_step(episode, event, from);
    if (!end) missing.standing = worse(missing.standing, without_step(episode, event, to).standing);
    return missing;
}

Reading Asking::step_in(const Node& n) {
    if (place_.event == none) return {0, Standing::unknown};
    const Episode& episode = history_.episode();
    const Event& event = episode.events[place_.event];
    const StepMark* mark = first_mark(episode, event, plan_.step_numbers[event.kind][n.a]);
    if (mark == nullptr || mark->time_set_aside || !mark->from || !mark->to)
        return without_step(episode, event, mark);
    return {*mark->to - *mark->from, Standing::known};
}

// ---- tables

Truth Asking::cell(NodeId input, const Cell& c) {
    const auto is = [&](Comparator comparator, ExpressionId v) { return compare(input, comparator, v); };
    switch (c.kind) {
        case Cell::Kind::any:
            return Truth::yes;
        case Cell::Kind::compare:
            return is(c.comparator, c.values[0]);
        case Cell::Kind::range:
            return is(Comparator::at_least, c.values[0]) & is(Comparator::at_most, c.values[1]);
        case Cell::Kind::one_of:
            break;
    }
    Truth any = Truth::no;
    for (ExpressionId v : c.values) any = any | is(Comparator::is, v);
    return any;
}

bool Asking::same_constant(NodeId left, NodeId right) const {
    const Node& l = plan_.nodes[left];
    const Node& r = plan_.nodes[right];
    if (l.op != r.op || l.value != r.value) return false;
    if (l.op == Op::span_constant) return plan_.spans[l.a] == plan_.spans[r.a];
    if (l.op == Op::text_constant) return plan_.texts[l.a] == plan_.texts[r.a];
    return l.a == r.a;
}

// A table's value is one of its constants; everything else stands for itself. Known where every row that may
// fit gives the same.
Asking::Operand Asking::resolve(NodeId id) {
    const Node& n = plan_.nodes[id];
    if (n.op != Op::table) return {id, Standing::known};
    const Table& table = plan_.policy.tables[n.a];
    NodeId given = none;
    bool certain = false;
    bool differ = false;
    Truth doubt = Truth::no;
    for (const Row& row : table.rows) {
        Truth fits = Truth::yes;
        for (std::size_t i = 0; i < row.given.size() && fits != Truth::no; ++i)
            fits = fits & cell(plan_.operands[n.run.first + i], row.given[i]);
        if (fits == Truth::no) continue;
        const NodeId answer = row.gives[n.b];
        if (given == none) given = answer;
        if (!same_constant(answer, given)) differ = true;
        if (fits == Truth::yes) certain = true;
        if (fits != Truth::yes) doubt = doubt == Truth::no ? fits : unknown_of(doubt, fits);
        if (fits == Truth::yes && table.first_row_wins) break;
    }
    if (given != none && !differ) return {given, Standing::known};
    if (given == none || (certain && doubt == Truth::no)) return {id, Standing::unknown};
    return {id, standing_of(doubt)};
}

}  // namespace linelaw::runtime::engine
