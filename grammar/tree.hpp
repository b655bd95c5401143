// The syntax tree: what was written, with the place of each part, and nothing that is only true after names
// are known. Plain structs; every node that a message may speak of has its Place. `a.b.c` is one Reference:
// whether it is an attribute, a state, a term or a table's column is for the compiler to find out.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "grammar/source.hpp"

namespace linelaw::grammar {

// A value on the heap that copies like a value; lets a variant hold itself.
template <typename T>
class Box {
  public:
    Box() : value_(std::make_unique<T>()) {}
    Box(T value) : value_(std::make_unique<T>(std::move(value))) {}  // NOLINT: converting on purpose
    Box(const Box& other) : value_(std::make_unique<T>(*other.value_)) {}
    Box(Box&&) noexcept = default;
    Box& operator=(const Box& other) {
        if (this != &other) value_ = std::make_unique<T>(*other.value_);
        return *this;
    }
    Box& operator=(Box&&) noexcept = default;
    ~Box() = default;
    T& operator*() { return *value_; }
    const T& operator*() const { return *value_; }
    T* operator->() { return value_.get(); }
    const T* operator->() const { return value_.get(); }

  private:
    std::unique_ptr<T> value_;
};

struct Expression;

// ---- words and literals
// -------------------------------------------------------------------------------------------

struct Name {  // a name or an id: `dressing_change`, `dressing.transparent`
    std::string text;
    Place place;
};

struct Text {  // a string, runs of white space folded to one space, escapes undone
    std::string text;
    Place place;
};

struct Number {  // as written: "38.3"; kept as text so that nothing is rounded before its unit is known
    std::string text;
    Place place;
};

struct QuantityTerm {  // `7 days`: unit as written, one space where it has two words ("calendar days")
    Number number;
    Name unit;
};

struct Quantity {  // `1 h 30 min`
    std::vector<QuantityTerm> terms;
    Place place;
};

struct Date {  // 2026-03-01; checked to be a date of the calendar by the parser
    std::int32_t year = 0;
    std::uint8_t month = 0;
    std::uint8_t day = 0;
    Place place;
};

struct TimeOfDay {  // 07:00
    std::uint8_t hour = 0;
    std::uint8_t minute = 0;
    Place place;
};

// ---- events and windows
// -------------------------------------------------------------------------------------------

struct EventPattern {  // `site_assessment where dressing_condition is damp`
    Name event;
    std::optional<Box<Expression>> where;
    Place place;
};
using Events = std::vector<EventPattern>;  // joined by `or` (in conditions: `any of A, B`)

struct Window {  // at least one of the two
    std::optional<Quantity> in_the_last;
    std::optional<Events> since;  // `since last flush`
    bool since_last = false;      // the word `last` was written
    Place place;
};

// ---- expressions and conditions
// -----------------------------------------------------------------------------------

enum class Comparator { at_least, at_most, more_than, less_than, is, is_not };

struct And {
    std::vector<Expression> operands;
};
struct Or {
    std::vector<Expression> operands;
};
struct Not {
    Box<Expression> operand;
};
struct Comparison {
    Box<Expression> left;
    Comparator comparator = Comparator::is;
    Place comparator_place;
    Box<Expression> right;
};
struct OneOf {
    Box<Expression> left;
    std::vector<Expression> values;
    bool negated = false;
};
struct Between {
    Box<Expression> left;
    Box<Expression> low;
    Box<Expression> high;
};
struct Documented {
    Name attribute;
    bool negated = false;
};  // `A is documented`; attribute may be `event.A`
struct Occurred {
    Events events;
    Window window;
    bool negated = false;
};  // negated: `no EVENTS in the last D`
struct SomePart {
    Name part;
    std::optional<Box<Expression>> where;
    bool negated = false;
};  // negated: `no PART`

struct Reference {
    Name name;
};  // `dressing`, `event.reason`, `adult`, `antiseptic_use.dry_time`
struct Dwell {};
struct TimeSince {
    Events events;
};
struct CountOf {
    Events events;
    Window window;
};
struct SumOf {
    Name event;
    Name attribute;
    Window window;
};
struct DifferenceOf {
    Box<Expression> left;
    Box<Expression> right;
};
enum class ChangeKind { change, rise, fall };
struct Change {
    ChangeKind kind = ChangeKind::change;
    Name attribute;
    std::optional<Events> since_last;
};  // none: since insertion
struct StepTime {
    Name from;
    Name to;
};
struct StepIn {
    Name step;
};
struct Multiple {
    Number factor;
    Box<Expression> operand;
};  // `N times A`

// Like ClauseItem and what holds whole policies, it is made, copied and destroyed by functions that stand in
// one .cpp: written out in each file that copies it, a variant of so many costs more than the rest of the
// file.
struct Expression {
    using Node = std::variant<Reference, Quantity, Number, Text, Date, TimeOfDay, And, Or, Not, Comparison,
                              OneOf, Between, Documented, Occurred, SomePart, Dwell, TimeSince, CountOf,
                              SumOf, DifferenceOf, Change, StepTime, StepIn, Multiple>;
    Expression();
    Expression(Node is, Place at);
    Expression(const Expression&);
    Expression(Expression&&) noexcept;
    Expression& operator=(const Expression&);
    Expression& operator=(Expression&&) noexcept;
    ~Expression();

    Node node;
    Place place;
};

// ---- vocabulary
// ---------------------------------------------------------------------------------------------------

enum class TypeKind {
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
    time,
    text,
    key,
};

struct Range {
    Expression low;  // Quantity or Number
    Expression high;
    Place place;
};

struct Type {
    TypeKind kind = TypeKind::flag;
    std::vector<Name> values;  // of `one of`
    std::optional<Range> range;
    std::optional<Name> unit;  // after `in`
    Place place;
};

struct Attribute {
    Name name;
    Type type;
    std::optional<Name> comparable_by;
    bool complication = false;              // bare `complication`: a flag that is itself one
    std::vector<Name> complication_values;  // `complication damp, loose, soiled`
    Place place;
};

struct PatientBlock {
    std::vector<Attribute> attributes;
    Place place;
};
struct LineBlock {
    std::vector<Attribute> attributes;
    Place place;
};

struct PartItem {
    Name name;
    Text title;
    std::optional<Name> of;
    std::optional<Name> count;  // `line.lumens of them`
    Events from;                // else these two
    Events until;
    std::vector<Attribute> attributes;
    Place place;
};

struct EventItem {
    Name name;
    Text title;
    std::optional<Name> of;  // a part
    bool also_after_removal = false;
    bool complication = false;
    std::vector<Attribute> attributes;
    std::vector<Name> steps;
    Place place;
};

struct StateItem {
    Name name;
    std::vector<Name> sources;  // `insertion.dressing`
    Events from;                // a flag between two events, where `sources` is empty
    Events until;
    std::optional<Name> initially;
    Place place;
};

struct RoleItem {
    std::vector<Name> names;
    Place place;
};
struct NeverItem {
    Expression condition;
    std::optional<Text> because;
    Place place;
};

struct HowOften {
    Events events;
};  // about EVENT how often
struct AttributeAt {
    Name attribute;
    Name event;
};  // about ATTRIBUTE at EVENT
struct ResponseTo {
    Events events;
    Events by;  // none: whatever answers
};              // about response to EVENTS [by EVENTS]
struct EscalationOf {
    Name escalation;
};  // about escalation ID
struct QuestionAxis {
    Name name;
    bool or_unset = false;
};
struct QuestionItem {
    Name name;
    Text title;
    std::variant<HowOften, AttributeAt, ResponseTo, EscalationOf> about;
    std::vector<QuestionAxis> every;  // for every combination of …
    std::optional<Expression> for_condition;
    Place place;
};

// ---- policy
// -------------------------------------------------------------------------------------------------------

enum class UndocumentedCounts { not_met, not_assessable };

struct SourceItem {
    Name name;
    Text title;
    std::optional<Text> by;
    std::optional<Number> year;
    Place place;
};

struct ShiftItem {
    Name name;
    TimeOfDay from;
    TimeOfDay to;
    Place place;
};
struct TermItem {
    Name name;
    Expression condition;
    Place place;
};

struct AnyCell {};
struct CompareCell {
    Comparator comparator = Comparator::is;
    Box<Expression> value;
};
struct RangeCell {
    Range range;
};
struct OneOfCell {
    std::vector<Expression> values;
};
struct Cell {  // a value, a comparison, a range, `one of …` or `any`
    std::variant<AnyCell, CompareCell, RangeCell, OneOfCell> node;
    Place place;
};
struct TableRow {
    std::vector<Cell> given;
    std::vector<Expression> gives;
    Place place;
};
struct TableItem {
    Name name;
    bool first_row_wins = false;
    std::vector<Name> given;  // references, as `patient.age`
    std::vector<Name> gives;
    std::vector<TableRow> rows;
    Place place;
};

// Demands.
struct AtLeastEvery {
    Events events;
    Quantity every;
    bool counted_anew = false;
    std::optional<Quantity> shortest;  // no more often than every M
    std::optional<Box<Expression>> unless;
    std::optional<Quantity> grace;
};
struct NoMoreOftenThan {
    Events events;
    Quantity shortest;
    std::optional<Box<Expression>> unless;
};
enum class Period { calendar_day, shift };
struct EachPeriod {
    Events events;
    std::optional<Number> times;
    Period period = Period::calendar_day;
};
enum class Until { same_shift, next_shift, same_calendar_day };
struct Within {
    Events events;
    std::variant<Quantity, Until> within;
    std::optional<Quantity> grace;
};
struct WithinEitherSide {
    Events events;
    Quantity within;
};
struct HaveHad {
    Events events;
    std::optional<Window> window;
};
struct Holds {
    Expression condition;
};  // COND, not COND
struct Document {
    std::vector<Name> attributes;
};
struct FollowSteps {
    std::vector<Name> steps;
    bool in_order = false;
};
struct Forbid {
    Events events;
};  // not EVENTS [where COND]
struct AtMostTimes {
    Events events;
    Number times;
    Quantity in;
};
struct LeavesToJudgement {
    Name question;
    std::optional<Text> because;
};
using DemandNode = std::variant<AtLeastEvery, NoMoreOftenThan, EachPeriod, Within, WithinEitherSide, HaveHad,
                                Holds, Document, FollowSteps, Forbid, AtMostTimes, LeavesToJudgement>;
struct Demand {
    bool should = false;
    DemandNode node;
    Place place;  // after `must` or `should`
};

// Lines of a clause, kept in the order written so that the formatter and messages can speak of each.
struct ForLine {
    Expression condition;
};
struct ForEachLine {
    Name part;
    std::optional<Expression> where;
};
struct WhileLine {
    Expression condition;
};
struct EvenAfterRemoval {};
struct AtLine {
    Events events;
};
struct AfterLine {
    Events events;
};
struct BeforeLine {
    Events events;
};
struct OnceLine {
    Expression condition;
};
struct ExceptLine {
    Expression condition;
    std::optional<Text> because;
};
struct OtherwiseEscalate {
    Name escalation;
};
struct ThenEscalate {
    Name escalation;
};
struct OverridesLine {
    std::vector<Name> clauses;
};
struct PriorityLine {
    Name priority;
};
struct SourceLine {
    Name source;
    std::optional<Text> where;
    std::optional<Text> category;
};
struct ReasonLine {
    Text text;
};
struct AdviceLine {
    Text text;
};
struct DepartsLine {
    Name source;
    Text because;
};
struct UndocumentedLine {
    UndocumentedCounts counts = UndocumentedCounts::not_assessable;
};
struct ClauseLine {
    std::variant<ForLine, ForEachLine, WhileLine, EvenAfterRemoval, AtLine, AfterLine, BeforeLine, OnceLine,
                 Demand, ExceptLine, OtherwiseEscalate, ThenEscalate, OverridesLine, PriorityLine, SourceLine,
                 ReasonLine, AdviceLine, DepartsLine, UndocumentedLine>
        node;
    Place place;
};
struct ClauseItem {
    ClauseItem();
    ClauseItem(const ClauseItem&);
    ClauseItem(ClauseItem&&) noexcept;
    ClauseItem& operator=(const ClauseItem&);
    ClauseItem& operator=(ClauseItem&&) noexcept;
    ~ClauseItem();

    Name id;
    std::optional<Text> sentence;  // absent is an error that the compiler reports, with the clause kept
    std::vector<ClauseLine> lines;
    Place place;
};

struct LadderStep {
    std::vector<Name> roles;  // first notify provider (joined by `or`)
    Quantity within;
    std::optional<Quantity> if_not_acknowledged_within;  // never on the first
    Place place;
};
struct LadderHold {
    Events events;
    Events until;
    Place place;
};  // no new E until F
struct EscalationItem {
    Name id;
    Text sentence;
    std::vector<LadderStep> steps;
    std::vector<LadderHold> holds;
    Place place;
};

struct EachCalendarDay {};
struct EachShift {};
struct EachLine {};
struct EachEvent {
    Events events;
};  // insertion among them
struct BundleItem {
    Name id;
    Text title;
    std::vector<Name> of;
    std::variant<EachCalendarDay, EachShift, EachLine, EachEvent> each;
    Place each_place;
    Place place;
};

struct SetAsideQuestion {
    Name question;
    std::optional<Expression> for_condition;
    Text because;
    Place place;
};
struct AcceptItem {
    Name code;
    std::vector<Name> ids;
    Text because;
    Place place;
};
struct DropClause {
    Name id;
    Text because;
    Place place;
};

// Examples.
struct Assignment {
    Name attribute;
    std::vector<Expression> value;
    Place place;
};  // `kind picc`, `steps (a, b at 08:00)`
struct ExampleStep {
    Name step;
    std::optional<TimeOfDay> at;
    std::optional<TimeOfDay> from;
    std::optional<TimeOfDay> to;
};
struct ExampleEvent {
    std::int32_t day = 0;
    TimeOfDay at;
    Name event;
    std::vector<Assignment> attributes;
    std::vector<ExampleStep> steps;
    Place place;
};
struct ExampleUntil {
    std::int32_t day = 0;
    TimeOfDay at;
};
struct Expectation {             // expect dressing.gauze late 2 times
    Name id;                     // a clause, a bundle, or an escalation
    std::optional<Number> step;  // of an escalation: expect catheter_migration step 2 met
    Name outcome;                // as written, one space between words: "no longer due"
    std::optional<Number> times;
    Place place;
};
struct ExampleItem {
    Text title;
    std::optional<Date> on;
    std::vector<Assignment> line;
    std::vector<Assignment> patient;
    std::vector<ExampleEvent> events;
    std::optional<ExampleUntil> from;  // observed from
    std::optional<ExampleUntil> until;
    std::vector<Expectation> expectations;
    Place place;
};

struct Item;
struct ReplaceItem {
    Box<Item> with;
};  // replace clause ID …, replace table NAME …

struct Item {
    std::variant<PatientBlock, LineBlock, PartItem, EventItem, StateItem, RoleItem, NeverItem, QuestionItem,
                 SourceItem, ShiftItem, TermItem, TableItem, ClauseItem, EscalationItem, BundleItem,
                 SetAsideQuestion, AcceptItem, DropClause, ExampleItem, ReplaceItem>
        node;
    Place place;
};

struct Governs {
    Expression condition;
    Place place;
};
struct PolicyHeader {
    Text title;
    std::optional<Number> edition;
    std::optional<Date> in_force_from;
    std::optional<Date> in_force_until;
    std::optional<Date> review_by;
    std::optional<Text> owner;
    std::optional<Governs> governs;
    std::optional<Name> time_zone;        // America/Halifax, as written
    std::optional<Text> uses_vocabulary;  // a path beside this file
    std::optional<Text> builds_on;
    std::vector<Text> measured_against;
    std::optional<UndocumentedCounts> undocumented;
    Place undocumented_place;
    Place place;
};
struct VocabularyHeader {
    Name name;
    std::optional<Number> edition;
    std::vector<Text> extends;
    Place place;
};

struct Comment {
    std::string text;
    Place place;
};  // without the `#`, trailing spaces cut

// One text as a tree. Exactly one header where the text has one; none where it failed.
struct Tree {
    std::variant<std::monostate, PolicyHeader, VocabularyHeader> header;
    std::vector<Item> items;
    std::vector<Comment> comments;  // in order, for the formatter
};

}  // namespace linelaw::grammar
