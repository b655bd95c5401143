// The variables of a situation: what a condition of the policy can look at, each with its cells, and how a
// choice of cells reads in the policy's own words. Knows nothing of diagrams or clauses.
#pragma once

#include <cstdint>
#include <limits>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "compiler/analysis/diagram.hpp"
#include "runtime/policy.hpp"

namespace linelaw::compiler::analysis {

constexpr std::int64_t lowest = std::numeric_limits<std::int64_t>::min() / 4;
constexpr std::int64_t highest = std::numeric_limits<std::int64_t>::max() / 4;

enum class VariableKind : std::uint8_t {
    facility,
    care_unit,
    line,
    patient,
    part,
    state,
    age,        // of the patient, in completed units
    some_part,  // whether any such part is there
    other,      // a condition outside the fragment, true or false as it likes
    baseline,   // what a change is counted from, where the line itself does not say
    event,      // an attribute of an event of one kind
    step_time,  // between or in the steps of an event of one kind, microseconds
    relation,   // one number less another
    dwell,      // clocks of the history, microseconds; a day is 24 h
    newest,     // how long ago the newest of some events came
};

// One cell: a value, or numbers that every condition treats alike.
struct ValueCell {
    enum class Kind : std::uint8_t {
        value,
        text,
        other_text,
        range,
        age,
        never_yet,
        unset,
        undocumented
    } kind = Kind::range;
    std::int64_t low = 0;  // of range: both ends included; of value: symbol, flag
    std::int64_t high = 0;
    std::string text;  // of text, and of age in words
    // Of age: which bounds are behind, counted in the variable's two lists.
    std::uint32_t days_behind = 0;
    std::uint32_t months_behind = 0;
    std::int64_t stays = highest;  // of age: nobody stays in it for so long, in microseconds
};

struct Variable {
    VariableKind kind = VariableKind::other;
    std::string name;  // "line.kind", "dressing_change.antiseptic", "dressing"
    runtime::Type type;
    runtime::EventKindId event = runtime::none;
    runtime::PartKindId part = runtime::none;
    runtime::StateId state = runtime::none;
    runtime::FieldId field = runtime::none;
    std::uint32_t slot = runtime::none;
    std::uint32_t left = runtime::none;  // of relation: variables; the value is left less right
    std::uint32_t right = runtime::none;
    std::string step_from;  // of step_time: from the end of this step
    std::string step_to;    // to the begin of this one; the time in a step where they are the same
    runtime::ExpressionId expression = runtime::none;  // of some_part: its `where`; of other: itself
    runtime::Events events;                            // of newest; of baseline: since the last of these
    bool can_be_unset = false;
    bool can_be_undocumented = true;
    bool same_readings = true;  // of relation: known wherever both numbers are

    std::set<std::int64_t> cuts;  // constants that it is compared with, each its own cell
    std::set<std::string> texts;
    std::vector<std::int32_t> days;  // of age: bounds in days and in months, rising
    std::vector<std::int32_t> months;

    std::vector<ValueCell> cells;
    bool numeric() const;
    bool between(std::size_t cell) const;  // a number or an age, with one on either side
    bool clock() const { return kind == VariableKind::dwell || kind == VariableKind::newest; }
    bool of_an_event() const { return kind >= VariableKind::other && !clock(); }  // it may differ at each
};

// Makes the cells from type, cuts and texts. Ages take only the combinations that some birth date gives.
void make_cells(Variable& variable, const runtime::Policy& policy);

// The cells as a value text: "picc", "one of picc, midline", "from 2 cm to under 4 cm", "undocumented".
std::string words(const Variable& variable, const CellSet& cells, const runtime::Policy& policy);
// With the name, as a condition reads: "line.kind is picc", "external_length from 2 cm to under 4 cm".
std::string sentence(const Variable& variable, const CellSet& cells, const runtime::Policy& policy);

// Numbers in the words of the language.
std::string quantity_words(std::int64_t grains, const runtime::Type& type);
std::string duration_words(std::int64_t microseconds);
std::string join(const std::vector<std::string>& parts, const std::string& comma, const std::string& last);

// A span as microseconds with a day of 24 h; the shortest and the longest that months allow.
std::int64_t shortest(const runtime::Span& span);
std::int64_t longest(const runtime::Span& span);

}  // namespace linelaw::compiler::analysis
