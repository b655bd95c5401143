#include "tests/differential/exact.hpp"

#include <map>
#include <string>

namespace linelaw::literal {

Ratio ratio(Whole over, Whole under) {
    if (under < 0) {
        over = -over;
        under = -under;
    }
    Whole a = over < 0 ? -over : over;
    Whole b = under;
    while (b != 0) {
        const Whole rest = a % b;
        a = b;
        b = rest;
    }
    return a > 1 ? Ratio{over / a, under / a} : Ratio{over, under};
}

Ratio operator+(Ratio a, Ratio b) {
    return ratio(a.over * b.under + b.over * a.under, a.under * b.under);
}
Ratio operator-(Ratio a, Ratio b) {
    return a + Ratio{-b.over, b.under};
}
Ratio operator*(Ratio a, Ratio b) {
    return ratio(a.over * b.over, a.under * b.under);
}
int compare(Ratio a, Ratio b) {
    const Whole left = a.over * b.under;
    const Whole right = b.over * a.under;
    return left < right ? -1 : left > right ? 1 : 0;
}

std::optional<Ratio> read_decimal(std::string_view text) {
    Ratio out;
    bool negative = false;
    bool digits = false;
    bool fraction = false;
    std::size_t i = 0;
    if (i < text.size() && text[i] == '-') {
        negative = true;
        ++i;
    }
    for (; i < text.size() && text[i] != 'e' && text[i] != 'E'; ++i) {
        if (text[i] == '.' && !fraction) {
            fraction = true;
            continue;
        }
        if (text[i] < '0' || text[i] > '9') return std::nullopt;
        digits = true;
        out.over = out.over * 10 + (text[i] - '0');
        if (fraction) out.under *= 10;
    }
    if (!digits) return std::nullopt;
    if (i < text.size()) {  // an exponent
        const int power = std::stoi(std::string(text.substr(i + 1)));
        for (int k = 0; k < (power < 0 ? -power : power); ++k) (power < 0 ? out.under : out.over) *= 10;
    }
    return ratio(negative ? -out.over : out.over, out.under);
}

// §1 units. 1 inch = 0.0254 m (international inch, 1959); degF = degC * 9/5 + 32; UCUM codes from ucum.org.
std::optional<Scale> scale_of(std::string_view unit) {
    static const std::map<std::string_view, Scale> scales = {
        {"", {"", {1, 1}, {0, 1}}},
        {"1", {"", {1, 1}, {0, 1}}},
        {"s", {"duration", {1, 1}, {0, 1}}},
        {"min", {"duration", {60, 1}, {0, 1}}},
        {"h", {"duration", {3600, 1}, {0, 1}}},
        {"mm", {"length", {1, 1000}, {0, 1}}},
        {"cm", {"length", {1, 100}, {0, 1}}},
        {"inch", {"length", {254, 10000}, {0, 1}}},
        {"[in_i]", {"length", {254, 10000}, {0, 1}}},
        {"mL", {"volume", {1, 1000}, {0, 1}}},
        {"L", {"volume", {1, 1}, {0, 1}}},
        {"mL/h", {"rate", {1, 1000}, {0, 1}}},
        {"g", {"mass", {1, 1000}, {0, 1}}},
        {"kg", {"mass", {1, 1}, {0, 1}}},
        {"degC", {"temperature", {1, 1}, {0, 1}}},
        {"Cel", {"temperature", {1, 1}, {0, 1}}},
        {"degF", {"temperature", {5, 9}, {-160, 9}}},
        {"[degF]", {"temperature", {5, 9}, {-160, 9}}},
        {"units/mL", {"concentration", {1, 1}, {0, 1}}},
        {"%", {"percent", {1, 1}, {0, 1}}},
    };
    const auto found = scales.find(unit);
    if (found == scales.end()) return std::nullopt;
    return found->second;
}

}  // namespace linelaw::literal
