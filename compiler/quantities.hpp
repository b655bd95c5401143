// Quantities as written to numbers that are compared: grains of a dimension, spans of time, ages. Exact;
// what cannot be read exactly is an error at its own place. Knows units, not attributes.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <utility>

#include "compiler/report.hpp"
#include "grammar/tree.hpp"
#include "runtime/policy.hpp"

namespace linelaw::compiler {

// Nothing where 64 bits do not hold it.
std::optional<std::int64_t> sum(std::int64_t a, std::int64_t b);

// One quantity, its units known.
struct Amount {
    bool time = false;  // of `s min h` and days and longer; else `grains` of `dimension`
    runtime::Dimension dimension = runtime::Dimension::none;
    std::int64_t grains = 0;         // of a span without days or longer: its microseconds
    std::int64_t as_difference = 0;  // the same without the unit's offset: 1 degF apart is 5/9 of a degree
    runtime::Span span;              // of time
    std::optional<runtime::AgeConstant> age;  // of time in one unit of days or longer
    std::string unit;                         // of the first term, as the language names it
};

// Nothing, and a diagnostic, for an unknown unit, units that do not add up, or too many digits.
std::optional<Amount> read_amount(const grammar::Quantity& quantity, Report& report);

// A span of time that is longer than nothing; `word` is what it stands after: "every", "grace".
std::optional<runtime::Span> read_span(const grammar::Quantity& quantity, std::string_view word,
                                       Report& report);

// A whole number, at least 1.
std::optional<std::uint32_t> read_times(const grammar::Number& number, Report& report);

// "a length", "a duration" …; of Dimension::none "a number".
std::string_view in_words(runtime::Dimension dimension);

// "7 days", "1 h 30 min": for messages and for reading back.
std::string in_words(const runtime::Span& span);
std::string in_words(const runtime::AgeConstant& age);
// A number of grains in the unit, without needless zeros: "38.3 degC"; exact where the unit divides it.
std::string in_words(std::int64_t grains, const runtime::Unit& unit);

runtime::Span span_of(const runtime::AgeConstant& age);
// Days at least and at most in an age, for comparing ages given in different units.
std::pair<std::int64_t, std::int64_t> days_in(const runtime::Span& age);

std::optional<runtime::AgeUnit> age_unit(std::string_view unit);
std::vector<std::string> unit_names();

}  // namespace linelaw::compiler
