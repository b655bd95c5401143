// What an expression yields, and which two may be compared. Every mix of dimensions, every comparison without
// sense and every value out of range is said here, with both places. Knows shapes, not names.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/names.hpp"
#include "compiler/quantities.hpp"
#include "grammar/tree.hpp"

namespace linelaw::compiler {

struct Shape {
    enum class Kind {
        broken,  // an error was reported; nothing more is said of it
        truth,   // a condition
        flag,    // a value that stands as a condition too
        one_of,
        number,  // grains of `dimension`
        age,
        clock,  // dwell, time since: compared with a span
        time_of_day,
        text,
        key,
        place,  // facility, care_unit: compared with texts
    } kind = Kind::broken;
    runtime::Dimension dimension = runtime::Dimension::none;
    bool whole = false;                     // a count; else of dimension none a `number`
    bool difference = false;                // of two readings: a unit's offset does not apply
    std::vector<runtime::SymbolId> values;  // of one_of
    std::optional<std::pair<std::int64_t, std::int64_t>> range;  // grains, both ends included
    std::optional<std::pair<runtime::Span, runtime::Span>> ages;
    std::string unit;         // of bare numbers in records, for messages
    std::string name;         // what the policy calls it, for messages; may be empty
    grammar::Place declared;  // of its range or list
    bool has_place = false;
};

Shape shape_of(const runtime::Type& type);

// "a length", "a flag", "one of a list", "a condition".
std::string in_words(const Shape& shape);

// A literal: a quantity, a number, a text, a time of day. A name may be one too, where a list is at hand.
bool is_literal(const grammar::Expression& expression);

// The constant that `literal` means beside a value of this shape; nothing, and a diagnostic, where it means
// none. `beside` is the place of the value, for the second label.
std::optional<runtime::Expression> read_constant(const grammar::Expression& literal, const Shape& shape,
                                                 grammar::Place beside, Work& work);

// Whether two values may be compared by this comparator; a diagnostic where not.
bool check_comparable(const Shape& left, grammar::Place left_place, const Shape& right,
                      grammar::Place right_place, Work& work);
// Whether values of this shape have an order; a diagnostic where not.
bool check_ordered(const Shape& shape, grammar::Comparator comparator, grammar::Place comparator_place,
                   grammar::Place value_place, Work& work);

}  // namespace linelaw::compiler
