#include "runtime/values.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <optional>
#include <random>
#include <set>
#include <string>

using namespace linelaw::runtime;

namespace {

std::int64_t grains(std::string_view decimal, std::string_view unit) {
    const auto value = grains_from_decimal(decimal, *find_unit(unit));
    REQUIRE(value);
    return *value;
}

std::optional<std::int64_t> grains_of(double number, const Unit& unit) {
    std::int64_t grains = 0;
    if (grains_from_number(number, unit, grains)) return grains;
    return std::nullopt;
}

}  // namespace

TEST_CASE("an inch is 2.54 cm exactly, and so not at most 2.5 cm") {
    // X709 of the trade's cases; the inch of 25.4 mm is the international yard and pound agreement of 1959.
    CHECK(grains("1.0", "inch") == grains("2.54", "cm"));
    CHECK(grains("1", "inch") > grains("2.5", "cm"));
    CHECK(grains("25.4", "mm") == grains("1", "inch"));
}

TEST_CASE("units of one dimension measure the same") {
    CHECK(grains("1", "L") == grains("1000", "mL"));
    CHECK(grains("1.5", "kg") == grains("1500", "g"));
    CHECK(grains("0.5", "g") == grains("500", "mg"));
    CHECK(grains("1", "h") == grains("60", "min"));
    CHECK(grains("90", "s") == grains("1.5", "min"));
}

TEST_CASE("temperatures convert exactly both ways") {
    // The freezing and boiling points of water, the point where the scales meet, and a fever limit.
    CHECK(grains("0", "degC") == grains("32", "degF"));
    CHECK(grains("100", "degC") == grains("212", "degF"));
    CHECK(grains("-40", "degC") == grains("-40", "degF"));
    CHECK(grains("38", "degC") == grains("100.4", "degF"));
    CHECK(grains("38.0", "degC") < grains("100.41", "degF"));
}

TEST_CASE("every unit has its own name, and its UCUM code finds it") {
    std::set<std::string_view> names;
    for (const Unit& unit : units()) {
        CHECK(names.insert(unit.name).second);
        CHECK(find_unit(unit.name) == &unit);
        if (!unit.ucum.empty()) CHECK(find_unit_by_ucum(unit.ucum) == &unit);
        CHECK(unit.dimension != Dimension::none);
    }
    // Codes as ucum.org lists them.
    CHECK(find_unit_by_ucum("[in_i]") == find_unit("inch"));
    CHECK(find_unit_by_ucum("Cel") == find_unit("degC"));
    CHECK(find_unit_by_ucum("[degF]") == find_unit("degF"));
    CHECK(find_unit_by_ucum("ml") == find_unit("mL"));
    CHECK(find_unit_by_ucum("[iU]/mL") == find_unit("units/mL"));
    CHECK(find_unit_by_ucum("[USP'U]/mL") == find_unit("units/mL"));
    CHECK(find_unit_by_ucum("CM") == nullptr);  // UCUM is case-sensitive
    CHECK(find_unit_by_ucum("") == nullptr);
    CHECK(find_unit("days") == nullptr);  // civil time, not a unit here
}

TEST_CASE("a decimal finer than its grain is refused, not rounded") {
    CHECK(grains("0.0001", "cm") == 1);
    CHECK_FALSE(grains_from_decimal("0.00001", *find_unit("cm")));
    CHECK(grains("0.00010000", "cm") == 1);  // zeros at the end say nothing
}

TEST_CASE("what is no decimal is refused") {
    const Unit& cm = *find_unit("cm");
    for (std::string_view text :
         {"", "-", ".5", "5.", "+5", "1e3", "1,5", " 1", "1 ", "0x1", "--1", "1.2.3", "nan"})
        CHECK_FALSE(grains_from_decimal(text, cm));
    CHECK(grains_from_decimal("-0.5", cm) == -5'000);
    CHECK(grains_from_decimal("007", cm) == 70'000);
    CHECK(grains_from_decimal("-0", cm) == 0);
}

TEST_CASE("a number too large for its grain is refused") {
    CHECK(grains_from_decimal("9223372036854775807", count_unit) == std::numeric_limits<std::int64_t>::max());
    CHECK_FALSE(grains_from_decimal("9223372036854775808", count_unit));
    CHECK_FALSE(grains_from_decimal("99999999999999999999999999", count_unit));
    CHECK_FALSE(grains_from_decimal("9223372036854775807", *find_unit("kg")));
    CHECK_FALSE(grains_of(1e300, *find_unit("cm")));
    CHECK_FALSE(grains_of(std::numeric_limits<double>::infinity(), *find_unit("cm")));
    CHECK_FALSE(grains_of(std::numeric_limits<double>::quiet_NaN(), *find_unit("cm")));
}

TEST_CASE("a record's number goes to the nearest grain") {
    CHECK(grains_of(13.1, *find_unit("cm")) == grains("13.1", "cm"));
    CHECK(grains_of(5.1, *find_unit("inch")) == grains("5.1", "inch"));
    CHECK(grains_of(0.1 + 0.2, number_unit) == 300'000);
    CHECK(grains_of(100.4, *find_unit("degF")) == grains("38", "degC"));
    for (int tenths = -400; tenths <= 1200; ++tenths) {
        const std::string text = (tenths < 0 ? "-" : "") + std::to_string(std::abs(tenths) / 10) + "." +
                                 std::to_string(std::abs(tenths) % 10);
        for (const Unit& unit : units())
            CHECK(grains_of(tenths / 10.0, unit) == grains_from_decimal(text, unit));
    }
}

TEST_CASE("a number goes to the nearest grain of what the binary number is, half a grain away from zero") {
    // Reckoned in whole numbers: a number is a whole one of `parts` times two to a power.
    __extension__ using Wide = __int128;
    const auto nearest = [](double number, const Unit& unit) {
        int exponent = 0;
        constexpr int parts = 40;
        const auto whole = static_cast<std::int64_t>(std::ldexp(std::frexp(number, &exponent), parts));
        const int below = parts - exponent;
        REQUIRE((std::ldexp(static_cast<double>(whole), -below) == number && below > 1 && below < 120));
        const Wide twice = Wide{whole} * unit.grains_per_unit * 2;
        const Wide half_up = twice + (number < 0 ? -(Wide{1} << below) : Wide{1} << below);
        return static_cast<std::int64_t>(half_up / (Wide{1} << (below + 1))) + unit.offset_in_grains;
    };
    std::mt19937 random(20261129);
    for (int i = 0; i < 20'000; ++i)
        for (const Unit& unit : units()) {
            // Close to half a grain, and anywhere. Few binary digits, that the whole numbers hold it.
            const double grain = 1.0 / static_cast<double>(unit.grains_per_unit);
            const double wanted = i % 2 == 0 ? (static_cast<double>(random() % 2000) - 1000 + 0.5) * grain
                                             : (static_cast<double>(random()) - 2e9) * 1e-6;
            const auto number = static_cast<double>(static_cast<float>(wanted));
            if (std::abs(number) < 1e-9) continue;
            INFO(number << ' ' << unit.name);
            CHECK(grains_of(number, unit) == nearest(number, unit));
        }
}

TEST_CASE("grains are written as the decimal that they were read from") {
    for (const Unit& unit : units())
        for (const char* text : {"0", "1", "-1", "0.5", "-0.25", "13.1", "1234.01", "-40"})
            CHECK(write_decimal(grains(text, unit.name), unit) == text);
    CHECK(write_decimal(1, *find_unit("kg")) == "0");
    CHECK(write_decimal(-1, *find_unit("kg")) == "0");
    CHECK(write_decimal(grains("10", "cm"), *find_unit("inch")) == "3.937008");
    CHECK(write_decimal(7, count_unit) == "7");
    CHECK(write_decimal(2'500'000, number_unit) == "2.5");
}

TEST_CASE("an unknown that rests on a missing value and on another unknown is the other kind") {
    CHECK((Truth::undocumented & Truth::unknown) == Truth::unknown);
    CHECK((Truth::undocumented | Truth::unknown) == Truth::unknown);
    CHECK((Truth::undocumented & Truth::yes) == Truth::undocumented);
    CHECK((Truth::undocumented | Truth::no) == Truth::undocumented);
    CHECK((Truth::unknown & Truth::no) == Truth::no);
    CHECK((Truth::unknown | Truth::yes) == Truth::yes);
    CHECK((!Truth::undocumented) == Truth::undocumented);
}
