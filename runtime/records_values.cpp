#include "runtime/records_values.hpp"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <limits>

namespace linelaw::runtime::records {
namespace {

constexpr std::string_view no_instant =
    "is no instant; write it as in 2026-03-02T10:15:00-04:00 (RFC 3339), or without the offset for the "
    "policy's "
    "own zone";
constexpr std::string_view not_one_instant =
    "has no offset and falls where the clocks change, so that it is two instants or none; write it with its "
    "offset, as in 2026-03-02T10:15:00-04:00";

struct AgeUnitNames {
    AgeUnit unit;
    std::string_view ucum;
    std::string_view one;
    std::string_view many;
};
constexpr std::array<AgeUnitNames, 4> age_units = {{{AgeUnit::years, "a", "year", "years"},
                                                    {AgeUnit::months, "mo", "month", "months"},
                                                    {AgeUnit::weeks, "wk", "week", "weeks"},
                                                    {AgeUnit::days, "d", "day", "days"}}};

}  // namespace

std::string expected(const Policy& policy, const Type& type) {
    switch (type.kind) {
        case TypeKind::flag:
            return "true or false";
        case TypeKind::one_of: {
            std::string list;
            for (SymbolId symbol : type.values) list += (list.empty() ? "" : ", ") + policy.symbols[symbol];
            return "one of " + list;
        }
        case TypeKind::count:
            return fmt::format("a whole number from {} to {}", type.low, type.high);
        case TypeKind::number:
            return fmt::format("a number from {} to {}", write_decimal(type.low, number_unit),
                               write_decimal(type.high, number_unit));
        case TypeKind::age:
            return R"(an age in completed years, or {"value": …, "unit": …} in a, mo, wk or d)";
        case TypeKind::time_of_day:
            return "a time of day such as \"07:30\"";
        case TypeKind::text:
        case TypeKind::key:
            return "a text";
        default:
            break;
    }
    const Unit* unit = find_unit(type.kind == TypeKind::percent ? "%" : type.unit);
    return fmt::format(R"(a number from {} to {} in {}, or {{"value": …, "unit": …}})",
                       write_decimal(type.low, *unit), write_decimal(type.high, *unit), unit->name);
}

void Values::refuse(const ValuePlan& plan, const char* code, std::string_view what, std::uint64_t offset,
                    Value& out) {
    out.state = Known::set_aside;
    walk_.set_aside(
        code, offset,
        fmt::format("`{}` {}; it must be {}", plan.name, what, expected(plan_.policy, *plan.type)));
}

bool Values::wrong_type(const ValuePlan& plan, Value& out) {
    refuse(plan, "value.type", "is of another type", walk_.offset(), out);
    return walk_.ignore();
}

bool Values::read(const ValuePlan& plan, Value& out) {
    if (walk_.at_null()) return walk_.null_value();
    switch (plan.type->kind) {
        case TypeKind::flag:
            return walk_.at_flag() ? flag(plan, out) : wrong_type(plan, out);
        case TypeKind::one_of:
            return walk_.at_text() ? symbol(plan, out) : wrong_type(plan, out);
        case TypeKind::time_of_day:
            return walk_.at_text() ? time_of_day(plan, out) : wrong_type(plan, out);
        case TypeKind::text:
        case TypeKind::key:
            return walk_.at_text() ? text(plan, out) : wrong_type(plan, out);
        default:
            if (walk_.at_number()) return number(plan, out);
            return walk_.at_object() ? number_with_unit(plan, out) : wrong_type(plan, out);
    }
}

bool Values::flag(const ValuePlan&, Value& out) {
    bool flag = false;
    if (!walk_.flag(flag)) return false;
    out = {flag ? 1 : 0, Known::known};
    return true;
}

bool Values::symbol(const ValuePlan& plan, Value& out) {
    const std::uint64_t offset = walk_.offset();
    std::string_view text;
    if (!walk_.text_value(text)) return false;
    const SymbolId symbol = plan.symbols.find(text);
    if (symbol == none)
        refuse(plan, "value.list", "is not in the list", offset, out);
    else
        out = {symbol, Known::known};
    return true;
}

void Values::keep_in_range(double number, const Unit& unit, const ValuePlan& plan, std::uint64_t offset,
                           Value& out) {
    if (plan.type->kind == TypeKind::count && number != std::floor(number))
        return refuse(plan, "value.type", "is not a whole number", offset, out);
    std::int64_t grains = 0;
    if (!grains_from_number(number, unit, grains) || grains < plan.type->low || grains > plan.type->high)
        return refuse(plan, "value.range", "is out of range", offset, out);
    out = {grains, Known::known};
}

bool Values::number(const ValuePlan& plan, Value& out) {
    const std::uint64_t offset = walk_.offset();
    double number = 0;
    if (!walk_.number(number)) return false;
    keep_in_range(number, *plan.unit, plan, offset, out);
    return true;
}

bool Values::with_unit(std::string_view name, WithUnit& out) {
    const std::uint64_t mark = walk_.new_object();
    return walk_.each_key(plan_.value_keys, [&](std::string_view key, std::uint32_t known) {
        if (known == none) {
            walk_.unknown_key(name, key);
            return walk_.ignore();
        }
        if (!walk_.once(mark, known)) return false;
        if (known == key_value && walk_.at_number()) {
            out.has_number = true;
            return walk_.number(out.number);
        }
        if (known == key_unit && walk_.at_text()) {
            out.has_unit = true;
            return walk_.text_value(out.unit);
        }
        return walk_.ignore();
    });
}

bool Values::number_with_unit(const ValuePlan& plan, Value& out) {
    const std::uint64_t offset = walk_.offset();
    WithUnit given;
    if (!with_unit(plan.name, given)) return false;
    if (!given.has_number || !given.has_unit) {
        refuse(plan, "value.type", "lacks a number as `value` or a text as `unit`", offset, out);
        return true;
    }
    const Unit* unit = find_unit_by_ucum(given.unit);
    if (unit == nullptr) unit = find_unit(given.unit);
    if (unit == nullptr && given.unit == "1" && plan.unit->dimension == Dimension::none) unit = plan.unit;
    if (unit == nullptr)
        refuse(plan, "value.unit", "has a unit that is not known here", offset, out);
    else if (unit->dimension != plan.unit->dimension)
        refuse(plan, "value.unit", "has a unit of another dimension", offset, out);
    else
        keep_in_range(given.number, *unit, plan, offset, out);
    return true;
}

bool Values::time_of_day(const ValuePlan& plan, Value& out) {
    const std::uint64_t offset = walk_.offset();
    std::string_view text;
    if (!walk_.text_value(text)) return false;
    if (const auto time = read_time_of_day(text))
        out = {*time, Known::known};
    else
        refuse(plan, "value.type", "is no time of day", offset, out);
    return true;
}

bool Values::text(const ValuePlan&, Value& out) {
    std::string_view text;
    if (!walk_.text_value(text)) return false;
    out = {texts_.intern(text), Known::known};
    return true;
}

bool Values::age(Age& out) {
    const ValuePlan& plan = plan_.patient[plan_.age_slot];
    const std::uint64_t offset = walk_.offset();
    if (walk_.at_null()) return walk_.null_value();
    Value refused;
    WithUnit given;
    const AgeUnitNames* unit = age_units.data();
    if (walk_.at_number()) {
        if (!walk_.number(given.number)) return false;
    } else if (walk_.at_object()) {
        if (!with_unit(plan.name, given)) return false;
        unit = nullptr;
        for (const AgeUnitNames& names : age_units)
            if (given.unit == names.ucum || given.unit == names.one || given.unit == names.many)
                unit = &names;
        if (!given.has_number || !given.has_unit) unit = nullptr;
    } else if (!walk_.ignore()) {
        return false;
    } else {
        unit = nullptr;
    }
    constexpr double oldest = 1e6;  // far above any range in any unit, and inside what a count holds
    if (unit == nullptr) {
        refuse(plan, "value.type", "is no age", offset, refused);
    } else if (given.number != std::floor(given.number)) {
        refuse(plan, "value.type", "is not in completed units", offset, refused);
    } else if (given.number < 0 || given.number > oldest) {
        refuse(plan, "value.range", "is out of range", offset, refused);
    } else {
        out = {Age::Given::completed, {}, unit->unit, static_cast<std::int32_t>(given.number)};
        return true;
    }
    out.given = Age::Given::set_aside;
    return true;
}

bool Values::given_text(Given& given, std::string_view& text) {
    given = Given::nothing;
    if (walk_.at_null()) return walk_.null_value();
    given = walk_.at_text() ? Given::text : Given::other;
    return given == Given::text ? walk_.text_value(text) : walk_.ignore();
}

bool Values::birth_date(std::optional<CivilDate>& out, bool& was_set_aside) {
    const std::uint64_t offset = walk_.offset();
    Given given{};
    std::string_view text;
    if (!given_text(given, text)) return false;
    if (given == Given::text) out = read_date(text);
    was_set_aside = given != Given::nothing && !out;
    if (was_set_aside)
        walk_.set_aside("value.type", offset, "`birth_date` is no date; write it as 2026-03-02");
    return true;
}

// Nothing and no fault where the value is null.
bool Values::given_instant(std::optional<Instant>& out, std::string_view& fault) {
    Given given{};
    std::string_view text;
    if (!given_text(given, text)) return false;
    if (given == Given::nothing) return true;
    fault = no_instant;
    if (given == Given::other) return true;
    Instant instant = 0;
    if (instants_.read(text, instant)) {
        out = instant;
        return true;
    }
    bool ambiguous = false;
    out = read_local_instant(text, plan_.zone, ambiguous);
    if (ambiguous) fault = not_one_instant;
    return true;
}

bool Values::instant(std::optional<Instant>& out) {
    const std::uint64_t offset = walk_.offset();
    std::string_view fault;
    if (!given_instant(out, fault)) return false;
    if (out || fault.empty()) return true;
    return walk_.spoil("record.instant", offset, fmt::format("the instant {}", fault));
}

bool Values::instant_or_set_aside(std::string_view name, std::optional<Instant>& out, bool& was_set_aside) {
    const std::uint64_t offset = walk_.offset();
    std::string_view fault;
    if (!given_instant(out, fault)) return false;
    if (out || fault.empty()) return true;
    was_set_aside = true;
    walk_.set_aside("value.instant", offset, fmt::format("`{}` {}", name, fault));
    return true;
}

bool Values::plain_text(std::string_view name, std::string& out) {
    const std::uint64_t offset = walk_.offset();
    Given given{};
    std::string_view text;
    if (!given_text(given, text)) return false;
    if (given == Given::text) out.assign(text);
    if (given == Given::other)
        walk_.set_aside("value.type", offset,
                        fmt::format("`{}` is of another type; it must be a text", name));
    return true;
}

// The digits of a whole number stand for themselves; 2.0 and 2e0 are as good as 2.
bool Values::number_as_name(std::uint32_t& out, std::string_view& fault) {
    const char* const begin = walk_.text().data() + walk_.offset();
    double number = 0;
    if (!walk_.number(number)) return false;
    std::uint64_t whole = 0;
    const auto [end, error] = std::from_chars(begin, begin + Walk::room_behind, whole);
    const bool as_digits = *end != '.' && *end != 'e' && *end != 'E';
    constexpr double exact = 9'007'199'254'740'992.0;  // whole numbers up to here are exact
    if (number < 0) {
        fault = "is a number below zero";
    } else if (as_digits && error == std::errc()) {
        out = texts_.intern({begin, static_cast<std::size_t>(end - begin)});
    } else if (number != std::floor(number)) {
        fault = "is a fraction";
    } else if (number >= exact) {
        fault = "is a number too large to be kept exactly";
    } else {
        std::array<char, name_room> digits{};
        const char* const last =
            std::to_chars(digits.data(), digits.data() + digits.size(), static_cast<std::uint64_t>(number))
                .ptr;
        out = texts_.intern({digits.data(), static_cast<std::size_t>(last - digits.data())});
    }
    return true;
}

bool Values::name(std::string_view what, std::uint32_t& out) {
    const std::uint64_t offset = walk_.offset();
    if (walk_.at_null()) return walk_.null_value();
    std::string_view fault = "is of another type";
    if (walk_.at_text()) {
        std::string_view text;
        if (!walk_.text_value(text)) return false;
        fault = text.empty() ? "is an empty text" : "";
        if (!text.empty()) out = texts_.intern(text);
    } else if (walk_.at_number()) {
        fault = "";
        if (!number_as_name(out, fault)) return false;
    } else if (!walk_.ignore()) {
        return false;
    }
    if (!fault.empty())
        walk_.set_aside("value.type", offset,
                        fmt::format("`{}` {}; it must be a text, or a whole number from 0 to {}", what, fault,
                                    std::numeric_limits<std::uint64_t>::max()));
    return true;
}

}  // namespace linelaw::runtime::records
