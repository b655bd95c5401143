// Exact conversion between decimals, units and grains. What a grain is, values.hpp says.
#include "runtime/values.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "runtime/ascii.hpp"

namespace linelaw::runtime {
namespace {

constexpr std::int64_t micro = 1'000'000;

// UCUM has no code for plain "units": those of a pharmacopoeia and of the WHO are both read as them
// (find_unit_by_ucum), and none is written.
const std::vector<Unit>& table() {
    static const std::vector<Unit> all = {
        {"mm", "mm", Dimension::length, 1'000, 0},
        {"cm", "cm", Dimension::length, 10'000, 0},
        {"inch", "[in_i]", Dimension::length, 25'400, 0},
        {"s", "s", Dimension::duration, micro, 0},
        {"min", "min", Dimension::duration, 60 * micro, 0},
        {"h", "h", Dimension::duration, 3'600 * micro, 0},
        {"mL", "mL", Dimension::volume, micro, 0},
        {"L", "L", Dimension::volume, 1'000 * micro, 0},
        {"mL/h", "mL/h", Dimension::rate, micro, 0},
        {"mg", "mg", Dimension::mass, 1'000, 0},
        {"g", "g", Dimension::mass, micro, 0},
        {"kg", "kg", Dimension::mass, 1'000 * micro, 0},
        {"degC", "Cel", Dimension::temperature, 9 * micro, 0},
        // C = (F - 32) * 5 / 9, in ninths of a microdegree Celsius.
        {"degF", "[degF]", Dimension::temperature, 5 * micro, -160 * micro},
        {"units/mL", "", Dimension::concentration, micro, 0},
        {"%", "%", Dimension::percent, micro, 0},
    };
    return all;
}

// Further UCUM spellings of the same units: UCUM allows the litre as l and L.
struct Spelling {
    std::string_view ucum;
    std::string_view name;
};
constexpr std::array<Spelling, 7> further_ucum = {{{"ml", "mL"},
                                                   {"l", "L"},
                                                   {"ml/h", "mL/h"},
                                                   {"[USP'U]/mL", "units/mL"},
                                                   {"[iU]/mL", "units/mL"},
                                                   {"[IU]/mL", "units/mL"},
                                                   {"[USP'U]/ml", "units/mL"}}};

__extension__ using Wide = __int128;

// number * scale + offset, where it fits.
std::optional<std::int64_t> narrow(Wide grains) {
    if (grains < std::numeric_limits<std::int64_t>::min() ||
        grains > std::numeric_limits<std::int64_t>::max())
        return std::nullopt;
    return static_cast<std::int64_t>(grains);
}

}  // namespace

const std::vector<Unit>& units() {
    return table();
}

const Unit* find_unit(std::string_view name) {
    for (const Unit& unit : table())
        if (unit.name == name) return &unit;
    return nullptr;
}

const Unit* find_unit_by_ucum(std::string_view code) {
    if (code.empty()) return nullptr;
    for (const Unit& unit : table())
        if (unit.ucum == code) return &unit;
    for (const Spelling& spelling : further_ucum)
        if (spelling.ucum == code) return find_unit(spelling.name);
    return nullptr;
}

std::optional<std::int64_t> grains_from_decimal(std::string_view text, const Unit& unit) {
    const bool negative = !text.empty() && text.front() == '-';
    if (negative) text.remove_prefix(1);
    const std::size_t point = std::min(text.find('.'), text.size());
    std::string_view whole = text.substr(0, point);
    std::string_view fraction = point == text.size() ? std::string_view{} : text.substr(point + 1);
    if (whole.empty() || (point != text.size() && fraction.empty())) return std::nullopt;
    if (!std::all_of(whole.begin(), whole.end(), ascii::is_digit) ||
        !std::all_of(fraction.begin(), fraction.end(), ascii::is_digit))
        return std::nullopt;
    while (!fraction.empty() && fraction.back() == '0') fraction.remove_suffix(1);
    while (whole.size() > 1 && whole.front() == '0') whole.remove_prefix(1);
    if (whole.size() + fraction.size() > 19) return std::nullopt;  // more than any grain holds

    Wide digits = 0;
    Wide divisor = 1;
    for (char c : whole) digits = digits * 10 + (c - '0');
    for (char c : fraction) {
        digits = digits * 10 + (c - '0');
        divisor *= 10;
    }
    const Wide scaled = digits * unit.grains_per_unit;
    if (scaled % divisor != 0) return std::nullopt;
    return narrow((negative ? -scaled : scaled) / divisor + unit.offset_in_grains);
}

bool grains_from_any_number(double number, const Unit& unit, std::int64_t& grains) {
    if (!std::isfinite(number)) return false;
    constexpr double exact = 9'007'199'254'740'992.0;  // whole numbers up to here are exact
    if (std::abs(number) < exact) {
        const auto whole = static_cast<std::int64_t>(number);
        if (static_cast<double>(whole) == number) {  // then it needs none of the slow `long double`
            const auto fits = narrow(static_cast<Wide>(whole) * unit.grains_per_unit + unit.offset_in_grains);
            grains = fits.value_or(0);
            return fits.has_value();
        }
    }
    const long double rounded = std::round(static_cast<long double>(number) * unit.grains_per_unit) +
                                static_cast<long double>(unit.offset_in_grains);
    constexpr long double bound = 9.2e18L;  // a little inside what 64 bits hold
    if (rounded < -bound || rounded > bound) return false;
    grains = static_cast<std::int64_t>(rounded);
    return true;
}

std::string write_decimal(std::int64_t grains, const Unit& unit) {
    Wide millionths = static_cast<Wide>(grains - unit.offset_in_grains) * micro;
    const bool negative = millionths < 0;
    if (negative) millionths = -millionths;
    millionths = (millionths + unit.grains_per_unit / 2) / unit.grains_per_unit;
    std::string fraction = std::to_string(static_cast<std::int64_t>(millionths % micro));
    fraction.insert(0, 6 - fraction.size(), '0');
    while (!fraction.empty() && fraction.back() == '0') fraction.pop_back();
    std::string out = negative && millionths != 0 ? "-" : "";
    out += std::to_string(static_cast<std::int64_t>(millionths / micro));
    return fraction.empty() ? out : out + '.' + fraction;
}

}  // namespace linelaw::runtime
