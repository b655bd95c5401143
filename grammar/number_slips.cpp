#include "grammar/number_slips.hpp"

#include <algorithm>
#include <array>
#include <string>

#include "grammar/slip_words.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

using std::string;
using std::string_view;

namespace {

// None is safe to apply: with another unit a rule is another rule (minutes or metres, percent of what).
struct Rewording {
    string_view wrong;  // lower case
    string_view right;
};

constexpr auto unit_slips = std::to_array<Rewording>({
    {"sec", "s"},
    {"secs", "s"},
    {"second", "s"},
    {"seconds", "s"},
    {"mins", "min"},
    {"minute", "min"},
    {"minutes", "min"},
    {"m", "min"},
    {"hr", "h"},
    {"hrs", "h"},
    {"hour", "h"},
    {"hours", "h"},
    {"hs", "h"},
    {"d", "days"},
    {"dy", "days"},
    {"dys", "days"},
    {"dayss", "days"},
    {"calendar_days", "calendar days"},
    {"calendar-days", "calendar days"},
    {"wk", "weeks"},
    {"wks", "weeks"},
    {"w", "weeks"},
    {"mo", "months"},
    {"mos", "months"},
    {"mth", "months"},
    {"mths", "months"},
    {"yr", "years"},
    {"yrs", "years"},
    {"y", "years"},
    {"a", "years"},
    {"millimetre", "mm"},
    {"millimetres", "mm"},
    {"millimeter", "mm"},
    {"millimeters", "mm"},
    {"mms", "mm"},
    {"cms", "cm"},
    {"centimetre", "cm"},
    {"centimetres", "cm"},
    {"centimeter", "cm"},
    {"centimeters", "cm"},
    {"inches", "inch"},
    {"ins", "inch"},
    {"ml", "mL"},
    {"mls", "mL"},
    {"cc", "mL"},
    {"ccs", "mL"},
    {"millilitre", "mL"},
    {"millilitres", "mL"},
    {"milliliter", "mL"},
    {"milliliters", "mL"},
    {"l", "L"},
    {"litre", "L"},
    {"litres", "L"},
    {"liter", "L"},
    {"liters", "L"},
    {"ml/hr", "mL/h"},
    {"ml/hrs", "mL/h"},
    {"ml/hour", "mL/h"},
    {"ml/h", "mL/h"},
    {"cc/hr", "mL/h"},
    {"gram", "g"},
    {"grams", "g"},
    {"gm", "g"},
    {"gms", "g"},
    {"kgs", "kg"},
    {"kilogram", "kg"},
    {"kilograms", "kg"},
    {"percent", "%"},
    {"celsius", "degC"},
    {"c", "degC"},
    {"f", "degF"},
    {"cel", "degC"},
    {"\xC2\xB0"
     "c",
     "degC"},
    {"\xC2\xB0"
     "f",
     "degF"},
    {"iu/ml", "units/mL"},
    {"unit/ml", "units/mL"},
    {"u/ml", "units/mL"},
    {"fahrenheit", "degF"},
});

constexpr auto units_in_words = std::to_array<Rewording>({
    {"units per ml", "units/mL"},
    {"unit per ml", "units/mL"},
    {"iu per ml", "units/mL"},
    {"ml per hour", "mL/h"},
    {"ml per hr", "mL/h"},
    {"ml per h", "mL/h"},
});

// Units that the language has, but not in these letters.
Rewording right_unit(string_view written) {
    const string small = lower(written);
    for (const Rewording& one : unit_slips) {
        if (one.wrong == small) return one;
    }
    for (const string_view unit :
         {"s",  "min", "h",    "day", "days", "week", "weeks", "month", "months", "year", "years",
          "mm", "cm",  "inch", "mL",  "L",    "g",    "kg",    "mg",    "degC",   "degF", "units/mL"}) {
        if (lower(unit) == small) return {written, unit};
    }
    return {};
}

// The longest number that begins at `at`; empty if none does.
Place number_at(const TextView& view, std::uint32_t at) {
    Place number = view.place(at, at);
    while (is_number(view.slice(view.place(number.begin, number.end + 1))) && !view.at_end(number.end))
        ++number.end;
    return number;
}

// The number behind `-`, `–`, `—` or `to`, where `at` is behind another one; empty if there is none.
Place far_end(const TextView& view, std::uint32_t at) {
    at = view.after_blanks(at);
    std::uint32_t behind = at;
    for (const string_view dash : {"-", "\u2013", "\u2014"})
        if (view.slice(view.place(at, at + static_cast<std::uint32_t>(dash.size()))) == dash)
            behind += static_cast<std::uint32_t>(dash.size());
    if (behind == at) behind = std::max(at, view.phrase(at, "to"));
    if (behind == at) return {};
    return number_at(view, view.after_blanks(behind));
}

// `every 5-7 days`: as people write two limits in one.
std::optional<Diagnostic> range_slip(const TextView& view, Place number) {
    const Place last = far_end(view, number.end);
    if (last.begin == last.end) return std::nullopt;
    const std::uint32_t at = view.after_blanks(last.end);
    const auto unit_bytes =
        static_cast<std::uint32_t>(unit_length(view.slice(view.place(at, std::max(at, view.line_end(at))))));
    const Place unit = view.place(at, at + unit_bytes);
    const string from = string(view.slice(number)) + (unit_bytes == 0 ? "" : " ") + string(view.slice(unit));
    const string to = string(view.slice(last)) + (unit_bytes == 0 ? "" : " ") + string(view.slice(unit));
    Diagnostic diagnostic = make_diagnostic("syntax.quantity", "one number is asked for here, not a range",
                                            view.place(number.begin, unit_bytes == 0 ? last.end : unit.end),
                                            "from " + from + " to " + to);
    diagnostic.mends.push_back({"say each limit by itself, such as `at least every " + to +
                                    " no more often than every " + from + "` of times, or `at least " + from +
                                    "` and `at most " + to + "` of what is measured",
                                {},
                                "",
                                false});
    return diagnostic;
}

}  // namespace

std::optional<Diagnostic> unit_slip(const TextView& view, const Fault& fault) {
    // Where the number stands: at the fault (a quantity was expected), or just before it.
    Place number = number_at(view, fault.at);
    std::uint32_t at = view.after_blanks(number.end);
    if (number.begin == number.end) {
        number = view.token_before(fault.at);
        at = fault.at;
        const bool unit_alone = fault.expected.find("unit of bare numbers") != string_view::npos;
        if (!unit_alone && !is_number(view.slice(number))) return std::nullopt;
    } else if (fault.code != FaultCode::quantity && fault.code != FaultCode::type) {
        return std::nullopt;
    } else if (auto range = range_slip(view, number); range && fault.code == FaultCode::quantity) {
        return range;
    }
    for (const Rewording& one : units_in_words) {
        const Place words = view.place(at, view.phrase(at, one.wrong));
        if (words.end > words.begin)
            return slip("syntax.quantity",
                        "the unit " + quoted(view.slice(words)) + " is written " + quoted(one.right), words,
                        "", write(one.right, words, false));
    }
    const Place word = view.wide_word(at);
    const string_view written = view.slice(word);
    if (const Rewording one = right_unit(written); !one.right.empty() && !view.is_line_start(at)) {
        return slip("syntax.quantity", "the unit " + quoted(written) + " is written " + quoted(one.right),
                    word, "", write(one.right, word, false));
    }
    if (fault.code != FaultCode::quantity || number.begin != fault.at) return std::nullopt;
    const bool another_word = !written.empty() && !view.is_line_start(at) && !is_operator_word(written) &&
                              !is_head_word(written) && !is_number(written) && unit_length(written) == 0;
    const string after = string(view.slice(number));
    if (another_word) {
        Diagnostic diagnostic =
            make_diagnostic("syntax.quantity", quoted(written) + " is no unit of the language", word,
                            "expected a unit such as `days` or `h` after `" + after + "`");
        return diagnostic;
    }
    Diagnostic diagnostic = make_diagnostic("syntax.quantity", "the number " + quoted(after) + " has no unit",
                                            number, "expected a unit such as `days` or `h` after it");
    diagnostic.mends.push_back(
        {"say which unit is meant, such as `" + after + " days` or `" + after + " h`", {}, "", false});
    return diagnostic;
}

// `2,5 cm`: where a comma stands for the point. `1,000` may be a thousand, and is told as such.
std::optional<Diagnostic> decimal_comma_slip(const TextView& view, const Fault& fault) {
    const auto figures_from = [&](std::uint32_t at) {
        while (view.byte(at) >= '0' && view.byte(at) <= '9') ++at;
        return at;
    };
    const bool at_comma = view.byte(fault.at) == ',';
    const Place whole = at_comma ? view.token_before(fault.at) : view.place(fault.at, figures_from(fault.at));
    if (view.byte(whole.end) != ',' || !is_number(view.slice(whole)) || (at_comma && whole.end != fault.at))
        return std::nullopt;
    const Place all = view.place(whole.begin, figures_from(whole.end + 1));
    const std::uint32_t places = all.end - whole.end - 1;
    if (places == 0 || places == 3) return std::nullopt;
    const string figures =
        string(view.slice(whole)) + '.' + string(view.slice(view.place(whole.end + 1, all.end)));
    return slip("syntax.quantity", "a decimal is written with a point: " + quoted(figures), all, "",
                write(figures, all, false));
}

// `six times` and `1,000`: numbers are written in figures, without a comma. Where a comma stands for the
// point, `1,000` is one: never safe.
std::optional<Diagnostic> figure_slip(const TextView& view, const Fault& fault) {
    static constexpr auto words =
        std::to_array<string_view>({"zero", "one", "two", "three", "four", "five", "six", "seven", "eight",
                                    "nine", "ten", "eleven", "twelve"});
    const Place before = view.token_before(fault.at);
    const auto digits = [&](std::uint32_t at, std::uint32_t wanted) {
        std::uint32_t end = at;
        while (view.byte(end) >= '0' && view.byte(end) <= '9') ++end;
        return wanted == 0 ? end - at : (end - at == wanted ? wanted : 0);
    };
    const bool comma = view.byte(fault.at) == ',' && before.end == fault.at &&
                       is_number(view.slice(before)) && digits(fault.at + 1, 3) == 3;
    if (comma) {
        const Place all = view.place(before.begin, fault.at + 4);
        const string figures =
            string(view.slice(before)) + string(view.slice({all.text, all.end - 3, all.end}));
        return slip("syntax.quantity", "a number is written without a comma: " + quoted(figures), all, "",
                    write(figures, all, false));
    }
    const Place here = view.token(fault.at);
    const bool counted = view.slice(here) == "times" || unit_length(view.slice(here)) != 0 ||
                         !right_unit(view.slice(here)).right.empty();
    const bool wanted =
        fault.code == FaultCode::quantity || fault.expected.find("number") != string_view::npos;
    for (std::size_t n = 0; n < words.size(); ++n) {
        const bool is_here = wanted && view.slice(here) == words[n];
        if (!is_here && !(counted && view.slice(before) == words[n])) continue;
        const string figure = std::to_string(n);
        const Place place = is_here ? here : before;
        return slip(fault.code == FaultCode::expected ? "syntax.expected" : "syntax.quantity",
                    "a number is written in figures: " + quoted(figure), place, "",
                    write(figure, place, true));
    }
    return std::nullopt;
}

}  // namespace linelaw::grammar
