// What the rules hand to the tree builder: the constructs that they recognised, flat and in the order of the
// text, and the faults that they met. Internal to grammar/; knows neither PEGTL nor the tree.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "grammar/tree.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

// One for each construct that the tree needs to see, in the order of the reference's chapters.
enum class Kind : std::uint8_t {
    // words and literals
    name,
    string,
    number,
    unit,
    quantity,
    date,
    time_of_day,
    zone,
    mark,
    // events and windows
    event_pattern,
    events,
    window,
    in_the_last,
    since,
    // expressions and conditions
    any_of,
    all_of,
    negation,
    comparison,
    comparator,
    compare,
    one_of,
    between,
    documented,
    occurred,
    some_part,
    no_event,
    reference,
    dwell,
    time_since,
    count_of,
    sum_of,
    difference_of,
    change,
    step_time,
    step_in,
    multiple,
    // vocabulary
    vocabulary_header,
    edition_line,
    extends_line,
    patient_block,
    line_block,
    attribute,
    type,
    values,
    range,
    type_unit,
    comparable,
    complication,
    part_item,
    of_part,
    part_count,
    part_life,
    event_item,
    after_removal,
    steps,
    state_item,
    state_sources,
    initially,
    role_item,
    never_item,
    because,
    question_item,
    how_often,
    attribute_at,
    response_to,
    answered_by,
    escalation_of,
    axes,
    axis,
    for_line,
    // policy
    policy_header,
    in_force,
    in_force_until,
    review,
    owner,
    governs,
    time_zone,
    uses,
    builds_on,
    measured,
    undocumented,
    source_item,
    source_by,
    source_year,
    shift_item,
    term_item,
    table_item,
    first_row_wins,
    table_given,
    table_gives,
    table_row,
    row_gives,
    cell,
    any_cell,
    // clauses
    clause_item,
    for_each_line,
    while_line,
    even_after_removal,
    at_line,
    after_line,
    before_line,
    once_line,
    except_line,
    otherwise_line,
    then_line,
    overrides_line,
    priority_line,
    source_line,
    category,
    reason_line,
    advice_line,
    departs_line,
    undocumented_line,
    must_line,
    should_line,
    leaves_line,
    // demands
    at_least_every,
    counted_anew,
    no_more_often,
    shortest,
    unless,
    grace,
    each_period,
    times,
    within,
    until_shift,
    either_side,
    have_had,
    holds,
    document,
    follow_steps,
    in_order,
    forbid,
    at_most_times,
    // ladders, bundles, layers, examples
    escalation_item,
    ladder_step,
    if_not_acknowledged,
    ladder_hold,
    bundle_item,
    bundle_each,
    set_aside,
    accept_item,
    drop_item,
    replace_item,
    example_item,
    on_line,
    example_line,
    example_patient,
    assignment,
    example_event,
    example_step,
    step_at,
    step_from_to,
    observed_from,
    observed_until,
    moment,
    expectation,
    expectation_step,
    outcome,
};

// A construct that covers the bytes [begin, end); its parts are the nodes that follow it, up to `next`.
struct Node {
    Kind kind = Kind::mark;
    std::uint32_t begin = 0;
    std::uint32_t end = 0;
    std::uint32_t next = 0;
};

// Which page of the diagnostics a fault belongs to.
enum class FaultCode : std::uint8_t {
    item,      // a line that begins no item
    line,      // a line that the item does not take
    leftover,  // words after the end of a line
    name,
    string,
    quantity,
    date,
    type,
    condition,
    events,
    demand,
    nesting,
    expected,  // any other point where something is missing
    spelling,  // a misspelt reserved word; the parser went on as if it were right
};

// A point where the text cannot be read on. `expected` is the concept that should stand there, in words.
struct Fault {
    FaultCode code = FaultCode::expected;
    std::string_view expected;
    std::uint32_t at = 0;
    Block block = Block::none;
};

struct Scan {
    std::vector<Node> nodes;  // in pre-order
    std::vector<Fault> faults;
    std::vector<Comment> comments;
    std::vector<Place> broken;  // stretches that were skipped after a fault; what contains one is left out
};

}  // namespace linelaw::grammar
