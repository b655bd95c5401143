// Exact numbers and units of the literal evaluator: ratios of whole numbers in base units, so that nothing is
// ever rounded. Shares nothing with runtime/values.
#pragma once

#include <optional>
#include <string_view>

namespace linelaw::literal {

__extension__ typedef __int128 Whole;  // NOLINT(modernize-use-using): only so may it be named

// A ratio in lowest terms, denominator above zero.
struct Ratio {
    Whole over = 0;
    Whole under = 1;
};
Ratio ratio(Whole over, Whole under);
Ratio operator+(Ratio a, Ratio b);
Ratio operator-(Ratio a, Ratio b);
Ratio operator*(Ratio a, Ratio b);
int compare(Ratio a, Ratio b);  // below, at or above zero

// "38.3", "-0.5", "1e-05".
std::optional<Ratio> read_decimal(std::string_view text);

// A unit of the language or of UCUM: value in base units = number * times + plus. Base units: metre, second,
// litre, litre an hour, kilogram, degree Celsius, unit a millilitre, per cent. `what` names the dimension.
struct Scale {
    std::string_view what;
    Ratio times;
    Ratio plus;
};
std::optional<Scale> scale_of(std::string_view unit);

}  // namespace linelaw::literal
