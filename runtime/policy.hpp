// The compiled policy: all that the engine needs and all that the analysis reasons about, with the same
// meaning for both. Plain data; ids are indexes into the tables of Policy. Knows nothing of text or trees,
// except the place of each item for messages. Its JSON form is written and read by policy_json.hpp.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::runtime {

constexpr std::uint32_t none = 0xFFFF'FFFF;

using SymbolId = std::uint32_t;      // Policy::symbols: every value of every `one of`, by name
using FieldId = std::uint32_t;       // Policy::fields: every name of an event's attribute
using EventKindId = std::uint32_t;   // Policy::event_kinds
using PartKindId = std::uint32_t;    // Policy::part_kinds
using StateId = std::uint32_t;       // Policy::states
using RoleId = std::uint32_t;        // Policy::roles
using TableId = std::uint32_t;       // Policy::tables
using ExpressionId = std::uint32_t;  // Policy::expressions
using ClauseId = std::uint32_t;      // Policy::clauses
using LadderId = std::uint32_t;      // Policy::ladders
using EditionId = std::uint32_t;     // Policy::editions

// An event kind with its `where`; `where` sees that event as the event at hand.
struct Pattern {
    EventKindId event = none;
    ExpressionId where = none;
};
using Events = std::vector<Pattern>;  // any of them

// ---- vocabulary
// ---------------------------------------------------------------------------------------------------

enum class TypeKind : std::uint8_t {
    flag,
    one_of,
    count,
    number,
    percent,
    age,
    length,
    duration,
    volume,
    rate,
    mass,
    temperature,
    concentration,
    time_of_day,
    text,
    key,
};

// What a number of the type measures; none for the types that are not numbers, too.
constexpr Dimension dimension_of(TypeKind kind) {
    switch (kind) {
        case TypeKind::percent:
            return Dimension::percent;
        case TypeKind::length:
            return Dimension::length;
        case TypeKind::duration:
            return Dimension::duration;
        case TypeKind::volume:
            return Dimension::volume;
        case TypeKind::rate:
            return Dimension::rate;
        case TypeKind::mass:
            return Dimension::mass;
        case TypeKind::temperature:
            return Dimension::temperature;
        case TypeKind::concentration:
            return Dimension::concentration;
        default:
            return Dimension::none;
    }
}

struct Type {
    TypeKind kind = TypeKind::flag;
    std::vector<SymbolId> values;  // of one_of, in the order declared
    std::int64_t low = 0;  // grains, both ends included; for count, number and every physical dimension
    std::int64_t high = 0;
    Span age_low;  // of age
    Span age_high;
    std::string unit;  // of bare numbers in records ("cm"); empty where the type has none
};

struct Attribute {
    std::string name;
    Type type;
    FieldId field = none;  // of an event's attribute
    FieldId comparable_by =
        none;  // two readings compare only where this other field of their events is the same
    std::vector<SymbolId> complications;  // values that must have a response
    bool complication = false;            // a flag that is itself one
};

// Built in, always present: insertion, removal, notification (field `notified`, one of the roles),
// acknowledgement (field `acknowledged_by`). Every kind has the field `charting_delay` (duration), which
// records do not bear: it is recorded_at less at.
struct EventKind {
    std::string name;
    std::string title;
    PartKindId of = none;  // an event of such a part
    bool also_after_removal = false;
    bool complication = false;
    std::vector<Attribute> attributes;  // an event's values stand in this order
    std::vector<std::string> steps;
    std::vector<std::uint32_t> slot_of_field;  // by FieldId: index into attributes, or none
};

constexpr std::int64_t most_parts_counted = 1000;
struct PartKind {
    std::string name;
    std::string title;
    PartKindId of = none;
    // Either numbered from 1 by a count of the line, of at most most_parts_counted …
    std::uint32_t count_slot = none;  // line attribute
    // … or from an event until an event that names it. The beginning event bears `attributes` as its own.
    std::vector<EventKindId> from;
    std::vector<EventKindId> until;
    std::vector<Attribute> attributes;  // slots of the part; each also a field of the beginning events
};

struct StateSource {
    EventKindId event = none;
    FieldId field = none;
};
enum class Initially : std::uint8_t { unset, patient, line };
struct State {
    std::string name;
    Type type;                         // a flag for from … until
    PartKindId of = none;              // kept for each such part where its sources are events of a part
    std::vector<StateSource> sources;  // of values
    Events from;                       // of a flag: on …
    Events until;                      // … and off; off before the first
    Initially initially = Initially::unset;
    std::uint32_t initial_slot = none;
};

struct Shift {
    std::string name;
    std::int64_t from = 0;  // microseconds after midnight, wall clock
    std::int64_t to = 0;    // at or before `from`: on the next date
    EditionId edition = none;
};

// ---- expressions
// --------------------------------------------------------------------------------------------------

// Events of before now that count: not earlier than now - in_last, and not earlier than the newest `since`
// event (from insertion, where there was none). At least one of the two is given.
struct Window {
    std::optional<Span> in_last;
    Events since;
};

// Values. A flag's value stands as a truth by itself.
struct Constant {
    std::int64_t value = 0;
};  // grains, flag, SymbolId, time of day
struct TextConstant {
    std::string text;
};  // compared with texts, facility and care_unit only
struct SpanConstant {
    Span span;
};  // compared with dwell and time since only
enum class AgeUnit : std::uint8_t { days, weeks, months, years };
// Compared with ages only, in completed units: 17 years and 364 days is `at most 17 years`. Kept with its
// unit because 30 months is at most 2 years, but not at most 24 months.
struct AgeConstant {
    std::int32_t count = 0;
    AgeUnit unit = AgeUnit::years;
};
struct Unset {};  // reserved for questions; equals an unset state
struct EventAttribute {
    FieldId field = none;
};  // of the event at hand
struct PartAttribute {
    PartKindId part = none;
    std::uint32_t slot = none;
};  // of the part at hand or its parent
struct LineAttribute {
    std::uint32_t slot = none;
};
struct PatientAttribute {
    std::uint32_t slot = none;
};  // an age among them
struct StateValue {
    StateId state = none;
};  // just before now, without the event at hand
struct Facility {};
struct CareUnit {};
struct Dwell {};  // since insertion
struct TimeSince {
    Events events;
};  // since the newest; since insertion before any
struct CountOf {
    Events events;
    Window window;
};
struct SumOf {
    EventKindId event = none;
    FieldId field = none;
    Window window;
};
struct DifferenceOf {
    ExpressionId left = none;
    ExpressionId right = none;
};                                                            // absolute
enum class ChangeKind : std::uint8_t { change, rise, fall };  // absolute; signed and never below zero
struct Change {                                               // of the event at hand's reading
    ChangeKind kind = ChangeKind::change;
    FieldId field = none;
    Events since_last;               // empty: since insertion
    std::uint32_t line_slot = none;  // line.A, the baseline where the record gives it
};
struct StepTime {
    std::string from;
    std::string to;
};  // of the event at hand
struct StepIn {
    std::string step;
};
constexpr std::int64_t largest_factor = 1'000'000'000;  // of a multiple's multiple, of both together
struct Multiple {
    std::int64_t numerator = 1;  // from 1 to largest_factor, as is the denominator
    std::int64_t denominator = 1;
    ExpressionId operand = none;
};
struct TableValue {
    TableId table = none;
    std::uint32_t column = 0;
    std::vector<ExpressionId> inputs;
};
// Truths.
struct And {
    std::vector<ExpressionId> operands;
};
struct Or {
    std::vector<ExpressionId> operands;
};
struct Not {
    ExpressionId operand = none;
};
struct Compare {
    Comparator comparator = Comparator::is;
    ExpressionId left = none;
    ExpressionId right = none;
};
struct OneOf {
    ExpressionId operand = none;
    std::vector<ExpressionId> values;
};  // constants
struct Documented {
    ExpressionId attribute = none;
};  // an attribute of any owner, or a state
struct Occurred {
    Events events;
    Window window;
    bool negated = false;
};  // negated is not Not: see 4.1
struct SomePart {
    PartKindId part = none;
    ExpressionId where = none;
};
struct Always {
    bool value = true;
};

using Expression =
    std::variant<Constant, TextConstant, SpanConstant, AgeConstant, Unset, EventAttribute, PartAttribute,
                 LineAttribute, PatientAttribute, StateValue, Facility, CareUnit, Dwell, TimeSince, CountOf,
                 SumOf, DifferenceOf, Change, StepTime, StepIn, Multiple, TableValue, And, Or, Not, Compare,
                 OneOf, Documented, Occurred, SomePart, Always>;

struct Cell {
    enum class Kind : std::uint8_t { any, compare, range, one_of } kind = Kind::any;
    Comparator comparator = Comparator::is;  // of compare
    std::vector<ExpressionId> values;  // constants: one for compare, low and high for range, any for one_of
};
struct Row {
    std::vector<Cell> given;          // one an input
    std::vector<ExpressionId> gives;  // constants, one a column
};
struct Table {
    std::string name;
    std::vector<std::string> inputs;  // as written, for messages
    std::vector<std::string> columns;
    std::vector<Row> rows;
    bool first_row_wins = false;
};

// ---- clauses
// ------------------------------------------------------------------------------------------------------

enum class Priority : std::uint8_t { critical, major, minor, advisory };
constexpr std::array<std::string_view, 4> priority_names = {"critical", "major", "minor", "advisory"};
constexpr std::string_view priority_name(Priority priority) {
    return priority_names[static_cast<std::size_t>(priority)];
}
enum class UndocumentedCounts : std::uint8_t { not_met, not_assessable };
enum class Period : std::uint8_t { calendar_day, shift };
enum class Until : std::uint8_t { same_shift, next_shift, same_calendar_day };

// Demands (language.md, "Demands"). `unless` is asked at the event that would be early.
struct AtLeastEvery {
    Events events;
    Span every;
    bool counted_anew = false;
    std::optional<Span> shortest;
    ExpressionId unless = none;
    Span grace;
};
struct NoMoreOftenThan {
    Events events;
    Span shortest;
    ExpressionId unless = none;
};
struct EachPeriod {
    Events events;
    std::uint32_t times = 1;
    Period period = Period::calendar_day;
};
struct Within {
    Events events;
    std::variant<Span, Until> within;
    Span grace;
};
struct WithinEitherSide {
    Events events;
    Span within;
};
struct HaveHad {
    Events events;
    Window window;
    bool anywhen = true;
};  // anywhen: no window was written
struct Holds {
    ExpressionId condition = none;
};
struct Document {
    std::vector<FieldId> fields;
};
struct FollowSteps {
    std::vector<std::string> steps;
    bool in_order = false;
};
struct Forbid {
    Events events;
};
struct AtMostTimes {
    Events events;
    std::uint32_t times = 0;
    Span in;
};
struct LeavesToJudgement {
    std::string question;
};
struct NoDemand {};  // only `then escalate`
using Demand = std::variant<NoDemand, AtLeastEvery, NoMoreOftenThan, EachPeriod, Within, WithinEitherSide,
                            HaveHad, Holds, Document, FollowSteps, Forbid, AtMostTimes, LeavesToJudgement>;

// What makes the clause speak. Stretch: none was written; the demand itself is over stretches of time.
enum class TriggerKind : std::uint8_t { stretch, at, after, before, once };
constexpr bool at_events(TriggerKind kind) {
    return kind == TriggerKind::at || kind == TriggerKind::after || kind == TriggerKind::before;
}
struct Trigger {
    TriggerKind kind = TriggerKind::stretch;
    Events events;  // at, after, before
    ExpressionId once = none;
};

struct Exception {
    ExpressionId condition = none;
    std::string because;
};
struct SourceRef {
    std::string source;
    std::string where;
    std::string category;
};
struct Departure {
    std::string source;
    std::string because;
};
struct TextPlace {
    std::string file;  // as seen from the policy's own folder
    std::uint32_t line = 0;
    std::uint32_t column = 0;
};

// Like Policy, it is made, copied and destroyed by functions that stand in one .cpp: written out in each file
// that copies it, the variants within cost more than the rest of the file.
struct Clause {
    Clause();
    Clause(const Clause&);
    Clause(Clause&&) noexcept;
    Clause& operator=(const Clause&);
    Clause& operator=(Clause&&) noexcept;
    ~Clause();

    std::string id;
    std::string sentence;
    bool should = false;
    Priority priority = Priority::major;
    PartKindId for_each = none;
    ExpressionId for_each_where =
        none;                         // asked when the part begins, and as its attributes and states change
    ExpressionId applies_for = none;  // `for` lines joined by and; none: always
    ExpressionId applies_while = none;
    bool even_after_removal = false;
    Trigger trigger;
    Demand demand;
    std::vector<Exception> exceptions;
    LadderId otherwise_escalate = none;
    LadderId then_escalate = none;
    std::vector<ClauseId> overrides;
    UndocumentedCounts undocumented = UndocumentedCounts::not_assessable;
    std::vector<SourceRef> sources;
    std::vector<Departure> departures;
    std::string reason;
    std::string advice;
    TextPlace place;
    EditionId edition = none;
};

struct LadderStep {
    std::vector<RoleId> roles;
    Span within;
    Span if_not_acknowledged_within;  // zero on the first step
};
struct LadderHold {
    Events events;
    Events until;
};
struct Ladder {
    std::string id;
    std::string sentence;
    std::vector<LadderStep> steps;
    std::vector<LadderHold> holds;
    TextPlace place;
    EditionId edition = none;
};

enum class BundleEach : std::uint8_t { calendar_day, shift, line, event };
struct Bundle {
    std::string id;
    std::string title;
    std::vector<ClauseId> of;
    BundleEach each = BundleEach::line;
    Events events;
    TextPlace place;
    EditionId edition = none;
};

struct Source {
    std::string name;
    std::string title;
    std::string by;
    std::string year;
    EditionId edition = none;
};

// One of several policies, or editions of one, that judge together (joined.hpp). What is theirs bears their
// place in the list; in a policy that stands alone the list is empty, and nothing bears one.
struct Edition {
    std::string title;
    std::string edition;
    std::string content_hash;
    std::string owner;
    std::optional<CivilDate> in_force_from;
    std::optional<CivilDate> in_force_until;
    std::optional<CivilDate> review_by;
    ExpressionId governs = none;
};

struct Policy {
    Policy();
    Policy(const Policy&);
    Policy(Policy&&) noexcept;
    Policy& operator=(const Policy&);
    Policy& operator=(Policy&&) noexcept;
    ~Policy();

    std::string title;
    std::string edition;
    std::optional<CivilDate> in_force_from;
    std::optional<CivilDate> in_force_until;
    std::optional<CivilDate> review_by;
    std::string owner;
    std::string time_zone = "UTC";
    ExpressionId governs = none;  // over facility, care_unit, patient attributes and states
    std::string vocabulary;
    std::string vocabulary_edition;
    std::string content_hash;  // of the JSON form without this field; set by policy_json

    std::vector<std::string> symbols;
    std::vector<std::string> fields;
    std::vector<Attribute> patient;
    std::vector<Attribute> line;
    std::vector<EventKind> event_kinds;
    std::vector<PartKind> part_kinds;
    std::vector<State> states;
    std::vector<std::string> roles;
    std::vector<Shift> shifts;
    std::vector<Table> tables;
    std::vector<Expression> expressions;
    std::vector<Source> sources;
    std::vector<Clause> clauses;
    std::vector<Ladder> ladders;
    std::vector<Bundle> bundles;
    std::vector<Edition> editions;  // of a joined policy; each title's in the order of their days

    EventKindId insertion = none;
    EventKindId removal = none;
    EventKindId notification = none;
    EventKindId acknowledgement = none;
    FieldId notified = none;
    FieldId acknowledged_by = none;
    FieldId charting_delay = none;
};

}  // namespace linelaw::runtime
