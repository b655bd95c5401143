// A policy made ready to run: expressions as flat nodes, event patterns numbered, and for every condition the
// kinds of event that may change it. Built once an engine; read-only afterwards. Knows nothing of episodes.
#pragma once

#include <cstdint>
#include <limits>
#include <map>
#include <string>
#include <type_traits>
#include <variant>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/time.hpp"

namespace linelaw::runtime::engine {

using NodeId = std::uint32_t;     // Plan::nodes; the same number as the ExpressionId that it was made from
using PatternId = std::uint32_t;  // Plan::patterns; a pattern's `where` rests on lower numbers only
using WindowId = std::uint32_t;   // Plan::windows

// A run of consecutive entries of one of the plan's pools.
struct Run {
    std::uint32_t first = 0;
    std::uint32_t count = 0;
};

enum class Op : std::uint8_t {
    constant,
    text_constant,
    span_constant,
    age_constant,
    unset,
    event_attribute,
    charting_delay,
    part_attribute,
    line_attribute,
    patient_attribute,
    age,
    state,
    facility,
    care_unit,
    dwell,
    time_since,
    count_of,
    sum_of,
    difference,
    change,
    step_time,
    step_in,
    multiple,
    table,
    all,
    any,
    negation,
    compare,
    one_of,
    documented,
    occurred,
    some_part,
    always,
};

// One expression. What a, b and value mean stands beside each use in truth*.cpp; `run` are operands
// (Plan::operands) or patterns (Plan::pattern_lists).
struct Node {
    Op op = Op::always;
    Comparator comparator = Comparator::is;
    bool negated = false;
    bool is_static = false;  // rests on attributes of line and patient alone: the same all episode long
    bool is_text = false;    // a text or a key: compared by its characters
    bool is_plain = false;   // a constant or a value kept somewhere: compared as the number that it is
    std::uint32_t a = none;
    std::uint32_t b = none;
    Run run;
    std::int64_t value = 0;
};

struct PatternPlan {
    EventKindId kind = none;
    NodeId where = none;
    // Its truth may differ inside `for each`: it reads windows over events of parts, or, though no event of a
    // part itself, the part at hand.
    bool depends_on_scope = false;
};

struct WindowPlan {
    bool has_last = false;
    Span last;
    Run since;  // patterns
};

// The kinds of event that may change a condition, and whether it changes with the clock too.
struct Rests {
    std::vector<EventKindId> kinds;  // ascending
    bool on_clock = false;
    bool in_wheres = false;  // also what a `where` rests on beside its event
    bool constant() const { return kinds.empty() && !on_clock; }
};

// The place of a form among those of Demand.
template <typename Form, typename Forms>
struct PlaceAmong;
template <typename Form, typename... Forms>
struct PlaceAmong<Form, std::variant<Forms...>> {
    static constexpr std::uint8_t value = [] {
        std::uint8_t place = 0;
        static_cast<void>(((std::is_same_v<Form, Forms> || (++place, false)) || ...));
        return place;
    }();
};

// What judging reads of every clause that an event reaches, in one cache line: of thousands of clauses few
// are near at hand, and bringing one costs more than judging it. All else about a clause is read where its
// form needs it.
struct alignas(64) ClauseBrief {
    Run trigger;                     // patterns of at, after, before
    Run events;                      // patterns that the demand awaits, forbids or counts
    Run exceptions;                  // Plan::exceptions
    NodeId condition = none;         // of a demand that a condition holds
    std::uint32_t stretches = none;  // the same number: applies over the same stretches; none: like no other
    PartKindId for_each = none;
    EditionId edition = none;
    LadderId otherwise_escalate = none;
    LadderId then_escalate = none;
    TriggerKind triggered = TriggerKind::stretch;
    std::uint8_t form = 0;  // of the demand
    UndocumentedCounts undocumented = UndocumentedCounts::not_assessable;
    bool even_after_removal = false;
    bool applies_always = false;  // to the line: nothing limits or overrides it
    bool ends_with_line = false;  // every awaited event needs the line
    bool ends_with_part = false;  // every awaited event is one of the `for each` part's
    bool carried_on = false;      // the next edition has a clause that carries it on

    template <typename Form>
    bool demands() const {
        return form == PlaceAmong<Form, Demand>::value;
    }
    bool at_events() const { return runtime::at_events(triggered); }
};
static_assert(sizeof(ClauseBrief) == 64);

struct ClausePlan {
    std::vector<NodeId> applies;  // for each … where, for, while: all of them, what never changes first
    std::vector<ClauseId> overriders;  // clauses that override this one
    Rests applies_rests;
    Rests once_rests;
    std::vector<EventKindId> once_kinds;  // events that may turn it true, by a `where` too; ascending
    NodeId unless = none;
    WindowId window = none;            // of have had; none: any time before
    std::vector<std::uint32_t> steps;  // of follow steps: Plan::step_names
    ClauseId carries_on = none;  // the clause of the same id in the edition that ends as this one's begins
};

struct ExceptionPlan {
    NodeId condition = none;
    Rests rests;
};

// When an edition judges: its days, as instants, and what it governs.
struct EditionPlan {
    EditionId first = none;  // of those of its title, which are one policy
    Instant from = std::numeric_limits<Instant>::min() / 4;
    Instant until = std::numeric_limits<Instant>::max() / 4;  // it no longer does
    NodeId governs = none;
    Rests rests;
};

// Clauses that time alone may open, for the same line and patient as far as that never changes.
struct Audience {
    std::vector<NodeId> conditions;
    std::vector<ClauseId> clauses;
};

struct LadderPlan {
    std::vector<Run> hold_events;  // by hold
    std::vector<Run> hold_until;
    LadderId line = none;  // the first of the ladders, each carrying the one before on, to which it belongs
};

struct Plan {
    explicit Plan(const Policy& policy);

    const Policy& policy;
    Zone zone;
    std::vector<Node> nodes;  // by ExpressionId
    std::vector<NodeId> operands;
    std::vector<PatternId> pattern_lists;
    std::vector<PatternPlan> patterns;
    std::vector<WindowPlan> windows;
    std::vector<Span> spans;
    std::vector<std::string> texts;
    // By event kind.
    std::vector<std::vector<PatternId>> patterns_of_kind;  // ascending
    std::vector<PartKindId> part_of_kind;  // the part that the event is one of, or begins or ends
    std::vector<std::uint8_t> begins_part;
    std::vector<std::uint8_t> ends_part;
    struct Setting {  // that an event of the kind sets a state
        StateId state = none;
        enum class How : std::uint8_t { value, on, off } how = How::value;
        std::uint32_t slot = none;  // value: of the event's attribute
        PatternId pattern = none;   // on, off
    };
    std::vector<std::vector<Setting>> settings_of_kind;
    std::vector<ClauseBrief> briefs;  // by ClauseId
    std::vector<Demand> demands;      // likewise; beside one another, as the policy's clauses are not
    std::vector<ClausePlan> clauses;  // by ClauseId
    std::vector<ExceptionPlan> exceptions;
    std::vector<EditionPlan> editions;
    // A clause is judged for an episode only where something there may open it: time, or an event.
    std::vector<Audience> audiences;
    std::vector<std::vector<ClauseId>> clauses_of_kind;  // by event kind: opened by such events alone
    std::vector<std::vector<ClauseId>> shared_clauses;   // by event kind: opened by these and others
    std::vector<std::vector<ClauseId>> clauses_of_part;  // by part kind: `for each` of them
    std::uint32_t stretches = 0;                         // of ClauseBrief::stretches, how many there are
    std::vector<LadderPlan> ladders;
    std::vector<Run> bundle_events;
    std::vector<SymbolId> symbol_of_role;
    std::vector<std::string> step_names;  // that the policy mentions
    // By event kind, then by step name: its number among the kind's steps, or none.
    std::vector<std::vector<std::uint32_t>> step_numbers;

    const PatternId* begin(Run run) const { return pattern_lists.data() + run.first; }
    const PatternId* end(Run run) const { return pattern_lists.data() + run.first + run.count; }
    std::uint32_t slot(EventKindId kind, FieldId field) const {
        return field < fields_ ? slots_[kind * fields_ + field] : none;
    }
    Rests rests_of(NodeId node, bool in_wheres = false) const;

  private:
    void lower(ExpressionId id);
    Run list(const Events& events);  // the same events, the same run
    PatternId pattern(const Pattern& p);
    WindowId window(const Window& w);
    std::uint32_t step_name(const std::string& name);
    void index_kinds();
    void plan_editions();
    void plan_clause(ClauseId id);
    void carry_on();
    void reach_clauses();
    void take_apart(NodeId condition, std::vector<NodeId>& conditions) const;
    void add_rests(NodeId node, Rests& rests) const;
    void add_rests(Run patterns, Rests& rests) const;
    void add_pattern(EventKindId kind, ExpressionId where, Rests& rests) const;
    void add_applies_rests(ClauseId id, Rests& rests, std::uint32_t depth) const;
    bool reads_part_events(NodeId node) const;
    bool reads_part(NodeId node) const;
    std::size_t fields_ = 0;
    std::vector<std::uint32_t> slots_;  // EventKind::slot_of_field, kind by kind
    std::vector<std::uint8_t> lowered_;
    std::map<std::vector<PatternId>, Run> lists_;
};

}  // namespace linelaw::runtime::engine
