// Asking a condition about a moment of a history: three-valued truth, and the next moment at which the clock
// alone may change the answer. A pure function of the history. The meaning of every expression stands in
// truth*.cpp and nowhere else.
#pragma once

#include <algorithm>
#include <cstdint>
#include <limits>
#include <string_view>

#include "runtime/engine/history.hpp"

namespace linelaw::runtime::engine {

__extension__ using Int128 = __int128;  // both compilers have it

constexpr Moment never = std::numeric_limits<Moment>::max();

inline Truth doubt_of(Standing s) {
    return s == Standing::undocumented ? Truth::undocumented : Truth::unknown;
}
inline Standing standing_of(Truth doubt) {
    return doubt == Truth::undocumented ? Standing::undocumented : Standing::unknown;
}
inline bool usable(Standing s) {
    return s == Standing::known || s == Standing::unset;
}
inline Standing worse(Standing a, Standing b) {
    return std::max(a, b);  // known, unset, undocumented, unknown
}

// When and where a condition is asked. At a moment, no event is at hand and only what came before it is seen;
// at an event, windows, clocks and counts see the other events of its instant too, states do not.
struct Place {
    Moment moment = 0;           // what clocks say
    std::uint32_t before = 0;    // states and parts: events before this one have happened
    std::uint32_t seen = 0;      // windows and clocks: events before this one are seen
    std::uint32_t event = none;  // at hand
    PartIndex scope = none;      // the part of a `for each`
};

inline Place at_event(const History& history, std::uint32_t event, PartIndex scope) {
    const Group& group = history.group_of(event);
    return {at(group.at), group.first, group.last, event, scope};
}
// Just before what the event changes: how `for` and `while` are asked at it.
inline Place just_before_event(const History& history, std::uint32_t event, PartIndex scope) {
    const Group& group = history.group_of(event);
    return {at(group.at), group.first, group.first, none, scope};
}

// No instant plus the span lies farther from it, or nearer.
std::int64_t longest(const Span& span);
std::int64_t shortest(const Span& span);

class Asking {
  public:
    Asking(const History& history, const Place& place)
        : history_(history), plan_(history.plan()), place_(place) {}

    Truth truth(NodeId node);
    // Whether one of the events lies in the window; negated: `no EVENTS …`.
    Truth occurred(Run events, const WindowPlan& window, bool negated);
    // The first moment after the place's at which the clock alone may change what was asked so far.
    Moment wake() const { return wake_; }

  private:
    struct Range {  // the values that a count may have
        std::int64_t low = 0;
        std::int64_t high = 0;
        Truth doubt = Truth::no;  // why it is not one value
    };
    struct Bounds {  // a clock's bound: not reached before `may`, reached from `sure` on
        Moment may = 0;
        Moment sure = 0;
    };
    // Where a clock starts: one instant, or somewhere between two.
    struct Anchor {
        Instant earliest = 0;
        Instant latest = 0;
        bool any_time_before = false;  // earliest is unknown
        Truth doubt = Truth::no;       // why it is not one instant
        bool exact() const { return doubt == Truth::no; }
    };
    struct Operand {  // a value, with the constant that it came from where a table gave it
        NodeId node = none;
        Standing failed = Standing::known;  // of a table that gave nothing
    };
    struct Start {                   // of a window, by `since`
        std::uint32_t certain = 0;   // events from here on are inside
        std::uint32_t possible = 0;  // events from here on may be
        Truth doubt = Truth::no;     // why they may not be
        bool before_edge = false;
    };

    // Most are constants and what the event at hand says.
    Reading value(NodeId node) {
        const Node& n = plan_.nodes[node];
        if (n.op == Op::constant) return {n.value, Standing::known};
        if (n.op != Op::event_attribute) return other_value(node);
        return place_.event == none ? Reading{0, Standing::unknown} : event_reading(place_.event, n.a);
    }
    Reading other_value(NodeId node);
    struct Fraction {  // of a number that need not be whole
        Int128 numerator = 0;
        std::int64_t denominator = 1;
        Standing standing = Standing::undocumented;
    };
    Fraction fraction(const Node& n);
    // Without its rest; what is beyond any time or amount is the greatest there is.
    static std::int64_t whole_of(const Fraction& fraction);
    Truth compare(NodeId left, Comparator comparator, NodeId right);
    Standing doubt_about(const Operand& operand);
    Truth compare_values(Operand left, Comparator comparator, Operand right);
    Truth compare_texts(const Node& left, Comparator comparator, const Node& right);
    Truth compare_clock(const Node& clock, Comparator comparator, NodeId bound);
    Truth compare_age(Comparator comparator, NodeId bound);
    Truth compare_count(const Node& count, Comparator comparator, Reading bound);
    Truth reached(Bounds bounds, Truth doubt);
    Operand resolve(NodeId node) {
        return plan_.nodes[node].op == Op::table ? resolve_table(node) : Operand{node, Standing::known};
    }
    Operand resolve_table(NodeId node);
    Anchor anchor(const Node& clock);
    Reading clock_reading(const Node& clock);
    Truth one_of(const Node& n);
    Truth documented(const Node& n);
    Truth some_part(const Node& n);
    Range count(const Node& n);
    Reading sum(const Node& n);
    Reading change(const Node& n);
    struct Baseline {
        Reading reading;
        Reading companion;  // of the attribute that it must be comparable by
    };
    Baseline baseline(const Node& n, FieldId comparable_by);
    Reading step_time(const Node& n);
    Reading step_in(const Node& n);
    Truth cell(NodeId input, const Cell& cell);
    bool same_constant(NodeId left, NodeId right) const;
    Reading event_reading(std::uint32_t event, FieldId field) const {
        const Event& e = history_.episode().events[event];
        const std::uint32_t slot = plan_.slot(e.kind, field);
        return slot == none ? Reading{} : reading_of(history_.episode().value(e, slot));
    }
    Reading part_reading(const Node& n) const;
    PartIndex part_at_hand(PartKindId kind) const;
    struct Text {
        std::string_view text;
        Standing standing = Standing::known;
    };
    Text text(const Node& n);

    // Events of the run before `seen`, without the one at hand and what certainly does not match, newest
    // first, pattern by pattern. `visit(event, truth)` answers whether to go on with that pattern.
    template <typename Visit>
    void newest_first(Run events, Visit visit) const;
    Start start_of(const WindowPlan& window);
    // The first moment at which an event at s has left `in the last`.
    Moment leaves_at(Instant s, const Span& span) const;
    // Whether an event at s may still be inside `in the last` now; without touching the calendar.
    bool certainly_left(Instant s, const Span& span) const;
    // Whether an event at s lies in `in the last` now; `over`: nor does any before it. (In civil time an
    // earlier event may leave later, so that `no` says nothing of those.) Wakes when it leaves.
    enum class Inside : std::uint8_t { yes, no, over };
    Inside inside(const WindowPlan& window, Instant s);
    bool window_before_edge(Run events, const WindowPlan& window, const Start& start);
    std::uint32_t own_begin(Run events) const;
    bool may_be_unseen(Run events) const;
    Truth in_for(Run events, const Span& last);
    bool own_events(Run events) const;
    void wake_at(Moment m) {
        if (m > place_.moment && m < wake_) wake_ = m;
    }

    const History& history_;
    const Plan& plan_;
    Place place_;
    Moment wake_ = never;
};

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

}  // namespace linelaw::runtime::engine
