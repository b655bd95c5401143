// Quantities, units and three-valued truth. Every number is an integer count of its dimension's grain, so
// that no comparison ever rounds: 2.54 cm is not "at most 2.5 cm", and 1 inch is 2.54 cm exactly. Knows
// nothing of policies, records or time zones.
#pragma once

#include <cmath>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace linelaw::runtime {

// What a number measures, with the grain it is counted in.
enum class Dimension : std::uint8_t {
    none,           // 1 for a count, 1e-6 for a `number` (Type says which)
    percent,        // 1e-6 %
    length,         // micrometre
    duration,       // microsecond
    volume,         // nanolitre
    rate,           // nanolitre an hour
    mass,           // microgram
    temperature,    // 1/9 of a microdegree Celsius: whole for both degC and degF, with six decimals
    concentration,  // 1e-6 units/mL
};

// A unit of the language. value_in_grains = number * grains_per_unit + offset_in_grains.
struct Unit {
    std::string_view name;  // as the language writes it: "cm", "degF", "units/mL"
    std::string_view ucum;  // the UCUM code (ucum.org), empty where UCUM has none
    Dimension dimension = Dimension::none;
    std::int64_t grains_per_unit = 1;
    std::int64_t offset_in_grains = 0;
};
// Units of physical dimensions and `s min h`. Days and longer are spans of civil time (time.hpp), not units
// here.
const std::vector<Unit>& units();
const Unit* find_unit(std::string_view name);  // "cm"; nullptr if unknown
// Also other UCUM spellings of them ("ml", "[iU]/mL").
const Unit* find_unit_by_ucum(std::string_view code);
// How bare numbers of these two types are counted; not among units(), since the language writes no unit.
constexpr Unit count_unit{"", "1", Dimension::none, 1, 0};
constexpr Unit number_unit{"", "1", Dimension::none, 1'000'000, 0};

// A decimal text ("38.3", "-0.5") as grains; nothing where it is no decimal, has more digits than the grain
// holds, or overflows. Exact.
std::optional<std::int64_t> grains_from_decimal(std::string_view text, const Unit& unit);
// A number of a record as grains, to the nearest grain; false where it is not finite or overflows. Not an
// optional, which is slow to take right after it was made, and this is asked of each number.
bool grains_from_any_number(double number, const Unit& unit, std::int64_t& grains);
// The same. Of most numbers it is plain in `double` which whole number is the nearest: then its small error
// does not matter.
inline bool grains_from_number(double number, const Unit& unit, std::int64_t& grains) {
    const double nearly = number * static_cast<double>(unit.grains_per_unit);
    if (!(std::abs(nearly) < 1e9)) return grains_from_any_number(number, unit, grains);
    const auto below = static_cast<std::int64_t>(nearly < 0 ? nearly - 1 : nearly);
    const double above_it = nearly - static_cast<double>(below);
    if (above_it > 0.499'999 && above_it < 0.500'001) return grains_from_any_number(number, unit, grains);
    grains = below + (above_it > 0.5 ? 1 : 0) + unit.offset_in_grains;
    return true;
}

// Grains as a decimal in the unit, for people: exact where six decimals hold it, else to the nearest.
std::string write_decimal(std::int64_t grains, const Unit& unit);

// How far from 0 the ends of a declared range may lie, in grains (of a duration, 126 years): what a policy
// takes times or away from one another stays within 64 bits.
constexpr std::int64_t widest_range = 4'000'000'000'000'000;

// The comparisons of the language, for the compiled policy and the analysis alike.
enum class Comparator : std::uint8_t { at_least, at_most, more_than, less_than, is, is_not };

// The same comparison with its sides changed over.
constexpr Comparator mirrored(Comparator comparator) {
    switch (comparator) {
        case Comparator::at_least:
            return Comparator::at_most;
        case Comparator::at_most:
            return Comparator::at_least;
        case Comparator::more_than:
            return Comparator::less_than;
        case Comparator::less_than:
            return Comparator::more_than;
        case Comparator::is:
        case Comparator::is_not:
            break;
    }
    return comparator;
}

// Whether something that only grows stands so to a bound, of which is known whether it is reached (at least)
// and whether it is passed (more than): bool, or another truth.
template <typename Truth>
constexpr Truth holds_of_bound(Comparator comparator, Truth reached, Truth passed) {
    switch (comparator) {
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

// Whether two numbers stand so to each other: the one place where a comparison's word gets its meaning.
template <typename Left, typename Right>
constexpr bool holds(Left left, Comparator comparator, Right right) {
    switch (comparator) {
        case Comparator::at_least:
            return left >= right;
        case Comparator::at_most:
            return left <= right;
        case Comparator::more_than:
            return left > right;
        case Comparator::less_than:
            return left < right;
        case Comparator::is:
            return left == right;
        case Comparator::is_not:
            break;
    }
    return left != right;
}

// Strong Kleene truth with the reason for not knowing kept: only a *missing* value may count as not met.
enum class Truth : std::uint8_t {
    no,
    yes,
    undocumented,  // unknown, and every value that it hangs on is missing
    unknown,  // unknown for another reason (set aside, left edge, rest of an age's unit …), perhaps among
              // others
};
constexpr bool known(Truth t) {
    return t == Truth::no || t == Truth::yes;
}
constexpr Truth from_bool(bool b) {
    return b ? Truth::yes : Truth::no;
}
constexpr Truth unknown_of(Truth a, Truth b) {  // of two operands, at least one unknown
    return a == Truth::unknown || b == Truth::unknown ? Truth::unknown : Truth::undocumented;
}
constexpr Truth operator!(Truth t) {
    return t == Truth::no ? Truth::yes : t == Truth::yes ? Truth::no : t;
}
constexpr Truth operator&(Truth a, Truth b) {
    if (a == Truth::no || b == Truth::no) return Truth::no;
    if (a == Truth::yes && b == Truth::yes) return Truth::yes;
    return unknown_of(a, b);
}
constexpr Truth operator|(Truth a, Truth b) {
    return !((!a) & (!b));
}

// One recorded value. `number` is: grains; 0 or 1 for a flag; a SymbolId for `one of`; microseconds after
// midnight for a time of day; an index into the episode's texts for text and keys.
enum class Known : std::uint8_t { undocumented, set_aside, known };
struct Value {
    std::int64_t number = 0;
    Known state = Known::undocumented;
};

}  // namespace linelaw::runtime
