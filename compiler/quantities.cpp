#include "compiler/quantities.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdlib>

namespace linelaw::compiler {

using grammar::Quantity;
using grammar::QuantityTerm;
using runtime::AgeUnit;
using runtime::Dimension;
using runtime::Span;

namespace {

struct TimeUnit {
    std::string_view name;
    std::string_view plural;
    std::int32_t months;
    std::int32_t days;
    bool calendar;
};
constexpr std::array<TimeUnit, 5> civil_units = {{{"day", "days", 0, 1, false},
                                                  {"calendar day", "calendar days", 0, 1, true},
                                                  {"week", "weeks", 0, 7, false},
                                                  {"month", "months", 1, 0, false},
                                                  {"year", "years", 12, 0, false}}};

const TimeUnit* civil_unit(std::string_view name) {
    for (const auto& unit : civil_units)
        if (name == unit.name || name == unit.plural) return &unit;
    return nullptr;
}

bool is_whole(std::string_view text) {
    return text.find_first_not_of("0123456789") == std::string_view::npos;
}
std::optional<std::int32_t> whole(std::string_view text) {
    std::int32_t value = 0;
    const auto [end, fault] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (fault != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

// A thousand years, as the reader of compiled policies has it: far past any policy, and far inside what
// instants hold.
constexpr std::int64_t most_months = 12'000;
constexpr std::int64_t most_days = 365'243;
constexpr std::int64_t longest_elapsed = most_days * runtime::microseconds_per_day;

bool too_long(const QuantityTerm& term, Report& report) {
    report.add(
        "unit.precision",
        in_ticks(term.number.text + ' ' + term.unit.text) + " makes a time of more than a thousand years",
        term.number.place, "longer than any policy can mean");
    return false;
}

bool add_civil(const QuantityTerm& term, const TimeUnit& unit, Amount& amount, Report& report) {
    const auto count = whole(term.number.text);
    if (!count) {
        if (is_whole(term.number.text)) return too_long(term, report);
        auto& d = report.add("unit.precision",
                             "days and longer are counted in whole numbers, not " +
                                 in_ticks(term.number.text + ' ' + term.unit.text),
                             term.number.place, "not a whole number of days");
        advise(d, "write hours: a day and a half is `36 h`");
        return false;
    }
    const std::int64_t months = amount.span.months + std::int64_t{*count} * unit.months;
    const std::int64_t days = amount.span.days + std::int64_t{*count} * unit.days;
    if (months > most_months || days > most_days) return too_long(term, report);
    amount.span.months = static_cast<std::int32_t>(months);
    amount.span.days = static_cast<std::int32_t>(days);
    amount.span.calendar = amount.span.calendar || unit.calendar;
    return true;
}

void unknown_unit(const QuantityTerm& term, Report& report) {
    auto& d = report.add("syntax.quantity", "there is no unit " + in_ticks(term.unit.text), term.unit.place,
                         "not a unit");
    offer_near(d, term.unit.text, term.unit.place, unit_names(), Offered::value);
    d.notes.push_back("units are written as in `7 days`, `30 s`, `2 cm`, `10 mL`, `38.3 degC`, `0.5 %`");
}

bool add_physical(const QuantityTerm& term, const runtime::Unit& unit, Amount& amount, Report& report) {
    const auto grains = runtime::grains_from_decimal(term.number.text, unit);
    const auto whole_of_it = grains ? sum(amount.grains, *grains) : std::nullopt;
    const auto difference =
        grains ? sum(amount.as_difference, *grains - unit.offset_in_grains) : std::nullopt;
    if (!whole_of_it || !difference) {
        report.add("unit.precision",
                   in_ticks(term.number.text + ' ' + term.unit.text) + " has more digits than a " +
                       in_ticks(std::string(unit.name)) + " is kept with",
                   term.number.place, "too many digits, or too large");
        return false;
    }
    if (amount.time && *whole_of_it > longest_elapsed) return too_long(term, report);
    amount.grains = *whole_of_it;
    amount.as_difference = *difference;
    return true;
}

}  // namespace

std::optional<std::int64_t> sum(std::int64_t a, std::int64_t b) {
    std::int64_t both = 0;
    if (__builtin_add_overflow(a, b, &both)) return std::nullopt;
    return both;
}

std::optional<Amount> read_amount(const Quantity& quantity, Report& report) {
    Amount amount;
    bool good = true;
    bool first = true;
    std::optional<bool> calendar;
    for (const auto& term : quantity.terms) {
        const TimeUnit* civil = civil_unit(term.unit.text);
        const runtime::Unit* unit = civil == nullptr ? runtime::find_unit(term.unit.text) : nullptr;
        if (civil == nullptr && unit == nullptr) {
            unknown_unit(term, report);
            return std::nullopt;
        }
        const bool time = civil != nullptr || unit->dimension == Dimension::duration;
        const Dimension dimension = time ? Dimension::duration : unit->dimension;
        const bool is_calendar = civil != nullptr && civil->calendar;
        if (!first && (dimension != amount.dimension || dimension == Dimension::temperature ||
                       calendar.value_or(is_calendar) != is_calendar)) {
            auto& d = report.add("unit.mixed", report.quote(quantity.place) + " adds up what cannot be added",
                                 quantity.terms.front().unit.place, "this unit");
            d.labels.push_back({term.unit.place, "and this one"});
            return std::nullopt;
        }
        if (first) amount.unit = civil != nullptr ? std::string(civil->plural) : std::string(unit->name);
        amount.dimension = dimension;
        amount.time = time;
        calendar = is_calendar;
        first = false;
        good = (civil != nullptr ? add_civil(term, *civil, amount, report)
                                 : add_physical(term, *unit, amount, report)) &&
               good;
    }
    if (!good) return std::nullopt;
    if (amount.time) amount.span.elapsed = amount.grains;
    if (amount.time && quantity.terms.size() == 1)
        if (const auto unit = age_unit(quantity.terms.front().unit.text))
            amount.age = runtime::AgeConstant{*whole(quantity.terms.front().number.text), *unit};
    return amount;
}

std::optional<Span> read_span(const Quantity& quantity, std::string_view word, Report& report) {
    const auto amount = read_amount(quantity, report);
    if (!amount) return std::nullopt;
    const std::string takes = in_ticks(word) + " takes a time";
    if (!amount->time) {
        const std::string what(in_words(amount->dimension));
        auto& d = report.add("unit.mixed", takes + ", and " + report.quote(quantity.place) + " is " + what,
                             quantity.place, what);
        advise(d, "write a time such as `7 days` or `2 h`");
        return std::nullopt;
    }
    const Span& span = amount->span;
    if (span.months == 0 && span.days == 0 && span.elapsed <= 0) {
        report.add("range.zero", takes + " longer than nothing", quantity.place, "no time at all");
        return std::nullopt;
    }
    return span;
}

std::optional<std::uint32_t> read_times(const grammar::Number& number, Report& report) {
    const auto value = whole(number.text);
    if (!value || *value < 1 || *value > 1'000'000) {
        report.add("range.zero", "a number of times is a whole number, 1 or more", number.place,
                   "not a number of times");
        return std::nullopt;
    }
    return static_cast<std::uint32_t>(*value);
}

std::string_view in_words(Dimension dimension) {
    switch (dimension) {
        case Dimension::none:
            return "a number";
        case Dimension::percent:
            return "a percentage";
        case Dimension::length:
            return "a length";
        case Dimension::duration:
            return "a duration";
        case Dimension::volume:
            return "a volume";
        case Dimension::rate:
            return "a flow rate";
        case Dimension::mass:
            return "a mass";
        case Dimension::temperature:
            return "a temperature";
        case Dimension::concentration:
            return "a concentration";
    }
    return "a number";
}

namespace {

void append(std::string& out, std::int64_t count, std::string_view one, std::string_view many) {
    if (count == 0) return;
    if (!out.empty()) out += ' ';
    out += std::to_string(count) + ' ' + std::string(count == 1 ? one : many);
}

}  // namespace

std::string in_words(const Span& span) {
    std::string out;
    append(out, span.months / 12, "year", "years");
    append(out, span.months % 12, "month", "months");
    if (span.calendar)
        append(out, span.days, "calendar day", "calendar days");
    else
        append(out, span.days, "day", "days");
    const std::int64_t hours = span.elapsed / runtime::microseconds_per_hour;
    const std::int64_t minutes = span.elapsed / runtime::microseconds_per_minute % 60;
    append(out, hours, "h", "h");
    append(out, minutes, "min", "min");
    const std::int64_t rest = span.elapsed % runtime::microseconds_per_minute;
    if (rest != 0) {
        if (!out.empty()) out += ' ';
        out += in_words(rest, *runtime::find_unit("s"));
    }
    return out.empty() ? "0 h" : out;
}

std::string in_words(const runtime::AgeConstant& age) {
    static constexpr std::array<std::string_view, 4> one = {"day", "week", "month", "year"};
    static constexpr std::array<std::string_view, 4> many = {"days", "weeks", "months", "years"};
    const auto unit = static_cast<std::size_t>(age.unit);
    return std::to_string(age.count) + ' ' + std::string(age.count == 1 ? one.at(unit) : many.at(unit));
}

std::string in_words(std::int64_t grains, const runtime::Unit& unit) {
    std::int64_t rest = grains - unit.offset_in_grains;
    std::string out = rest < 0 ? "-" : "";
    rest = std::abs(rest);
    out += std::to_string(rest / unit.grains_per_unit);
    rest %= unit.grains_per_unit;
    std::string digits;
    for (int i = 0; i < 6 && rest != 0; ++i) {
        rest *= 10;
        digits += static_cast<char>('0' + rest / unit.grains_per_unit);
        rest %= unit.grains_per_unit;
    }
    if (!digits.empty()) out += '.' + digits;
    return out + ' ' + std::string(unit.name);
}

Span span_of(const runtime::AgeConstant& age) {
    switch (age.unit) {
        case AgeUnit::days:
            return {0, age.count, false, 0};
        case AgeUnit::weeks:
            return {0, age.count * 7, false, 0};
        case AgeUnit::months:
            return {age.count, 0, false, 0};
        case AgeUnit::years:
            break;
    }
    return {age.count * 12, 0, false, 0};
}

std::pair<std::int64_t, std::int64_t> days_in(const Span& age) {
    const std::int64_t months = age.months;
    return {months * 365 / 12 - 2 + age.days, months * 366 / 12 + 3 + age.days};
}

std::optional<AgeUnit> age_unit(std::string_view unit) {
    if (unit == "day" || unit == "days") return AgeUnit::days;
    if (unit == "week" || unit == "weeks") return AgeUnit::weeks;
    if (unit == "month" || unit == "months") return AgeUnit::months;
    if (unit == "year" || unit == "years") return AgeUnit::years;
    return std::nullopt;
}

std::vector<std::string> unit_names() {
    std::vector<std::string> names;
    for (const auto& unit : runtime::units()) names.emplace_back(unit.name);
    for (const auto& unit : civil_units) names.emplace_back(unit.plural);
    return names;
}

}  // namespace linelaw::compiler
