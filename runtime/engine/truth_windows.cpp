// Windows in a condition: what occurred, how often, and sums (language.md §4.2).
#include <algorithm>

#include "runtime/engine/truth.hpp"

namespace linelaw::runtime::engine {
namespace {

// By how much civil time may be longer than 24 h a day and 31 days a month: no zone ever moved its clocks by
// more, and clipping a month moves by three days at most.
constexpr std::int64_t civil_slack = 26 * microseconds_per_hour;

}  // namespace

std::int64_t longest(const Span& span) {
    if (!span.civil() && !span.calendar) return span.elapsed;
    return (std::int64_t{span.months} * 31 + span.days + (span.calendar ? 1 : 0)) * microseconds_per_day +
           civil_slack + span.elapsed;
}

std::int64_t shortest(const Span& span) {
    if (!span.civil() && !span.calendar) return span.elapsed;
    return (std::int64_t{span.months} * 28 + span.days) * microseconds_per_day - civil_slack + span.elapsed;
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

Asking::Inside Asking::inside(const WindowPlan& window, Instant s) {
    if (!window.has_last) return Inside::yes;
    if (certainly_left(s, window.last)) return Inside::over;
    const Moment end = leaves_at(s, window.last);
    if (place_.moment >= end) return Inside::no;
    wake_at(end);
    return Inside::yes;
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
        const Inside in = inside(window, events[event].at);
        if (in != Inside::yes) return in == Inside::no;
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
            const Inside in = inside(window, events[event].at);
            if (in != Inside::yes) return in == Inside::no;
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
        const Inside in = inside(window, events[event].at);
        if (in != Inside::yes) return in == Inside::no;
        if (event < start.certain) truth = truth & start.doubt;
        const Reading r = event_reading(event, n.b);
        if (__builtin_add_overflow(sum.number, r.number, &sum.number))
            sum.number = r.number < 0 ? std::numeric_limits<std::int64_t>::min()
                                      : std::numeric_limits<std::int64_t>::max();
        sum.standing = worse(sum.standing, r.standing);
        if (truth != Truth::yes) sum.standing = worse(sum.standing, standing_of(truth));
        return true;
    });
    if (window_before_edge(n.run, window, start)) sum.standing = Standing::unknown;
    return sum;
}

}  // namespace linelaw::runtime::engine
