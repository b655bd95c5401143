// Variables and their cells in the words of the language, for people.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>

#include "compiler/analysis/variables.hpp"
#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::compiler::analysis {

using runtime::TypeKind;

std::string join(const std::vector<std::string>& parts, const std::string& comma, const std::string& last) {
    std::string text;
    for (std::size_t i = 0; i < parts.size(); ++i) {
        if (i > 0) text += i + 1 == parts.size() ? last : comma;
        text += parts[i];
    }
    return text;
}

namespace {

std::string decimal(std::int64_t grains, std::int64_t per_unit) {
    const bool negative = grains < 0;
    std::int64_t rest = negative ? -grains : grains;
    std::string text = std::to_string(rest / per_unit);
    rest %= per_unit;
    if (rest != 0) {
        text += '.';
        for (int digits = 0; rest != 0 && digits < 9; ++digits) {
            rest *= 10;
            text += static_cast<char>('0' + rest / per_unit);
            rest %= per_unit;
        }
    }
    return negative ? "-" + text : text;
}

std::int64_t grains_of_bare(TypeKind kind) {
    return kind == TypeKind::number || kind == TypeKind::percent || kind == TypeKind::concentration
               ? 1'000'000
               : 1;
}

}  // namespace

std::string duration_words(std::int64_t us) {
    if (us == 0) return "0 s";
    if (us < 0) return "-" + duration_words(-us);
    struct Part {
        std::int64_t size;
        const char* name;
    };
    constexpr std::array<Part, 3> parts{{{runtime::microseconds_per_hour, "h"},
                                         {runtime::microseconds_per_minute, "min"},
                                         {runtime::microseconds_per_second, "s"}}};
    std::vector<std::string> words;
    if (us % runtime::microseconds_per_day == 0 && us >= 2 * runtime::microseconds_per_day) {
        return fmt::format("{} days", us / runtime::microseconds_per_day);
    }
    for (const Part& part : parts) {
        if (part.size == runtime::microseconds_per_second) {
            if (us != 0) words.push_back(decimal(us, part.size) + " s");
        } else if (us >= part.size) {
            words.push_back(fmt::format("{} {}", us / part.size, part.name));
            us %= part.size;
        }
    }
    return join(words, " ", " ");
}

std::string quantity_words(std::int64_t grains, const runtime::Type& type) {
    if (type.kind == TypeKind::time_of_day) return runtime::write_time_of_day(grains);
    if (const runtime::Unit* unit = type.unit.empty() ? nullptr : runtime::find_unit(type.unit))
        return decimal(grains - unit->offset_in_grains, unit->grains_per_unit) + " " +
               std::string(unit->name);
    if (type.kind == TypeKind::duration) return duration_words(grains);
    return decimal(grains, grains_of_bare(type.kind)) + (type.kind == TypeKind::percent ? " %" : "");
}

namespace {

std::string number_words(const Variable& variable, std::int64_t value) {
    if (variable.kind == VariableKind::dwell || variable.kind == VariableKind::newest ||
        variable.kind == VariableKind::step_time)
        return duration_words(value);
    return quantity_words(value, variable.type);
}

// What lies between two cuts reads by its cuts: more than 2 cm, not at least 2.0001 cm.
std::string range_words(const Variable& v, std::int64_t low, std::int64_t high, bool first, bool last) {
    const bool counted = v.type.kind == TypeKind::count && v.kind != VariableKind::relation;
    const bool low_open = !first && v.cuts.count(low - 1) != 0 && v.cuts.count(low) == 0 && !counted;
    const bool high_open = !last && v.cuts.count(high + 1) != 0 && v.cuts.count(high) == 0 && !counted;
    std::string from = first ? "" : number_words(v, low_open ? low - 1 : low);
    const std::string to = last ? "" : number_words(v, high_open ? high + 1 : high);
    if (first && last) return "any value";
    if (first) return (high_open ? "less than " : "at most ") + to;
    if (last) return (low_open ? "more than " : "at least ") + from;
    if (low == high) return from;
    return (low_open ? "over " : "from ") + from + (high_open ? " to under " : " to ") + to;
}

std::string age_bound(std::int32_t count, bool months) {
    if (months && count % 12 == 0) return fmt::format("{} year{}", count / 12, count == 12 ? "" : "s");
    if (months) return fmt::format("{} month{}", count, count == 1 ? "" : "s");
    return fmt::format("{} day{}", count, count == 1 ? "" : "s");
}

// Of a bound in days and one in months the one that the other follows from goes unsaid; where the length of
// the months decides, both stand.
std::vector<std::string> age_bounds(bool days_there, std::int32_t days, bool months_there,
                                    std::int32_t months, bool from_below) {
    if (days_there && months_there) {
        runtime::Span span;
        span.months = months;
        const bool days_first = days * runtime::microseconds_per_day <= shortest(span);
        const bool months_first = longest(span) <= days * runtime::microseconds_per_day;
        days_there = !(from_below ? days_first : months_first);
        months_there = !(from_below ? months_first : days_first);
    }
    std::vector<std::string> words;
    if (days_there) words.push_back(age_bound(days, false));
    if (months_there) words.push_back(age_bound(months, true));
    return words;
}

std::string age_words(const Variable& v, std::size_t from, std::size_t to) {
    const ValueCell& low = v.cells[from];
    const ValueCell& high = v.cells[to];
    const auto bound = [](const std::vector<std::int32_t>& bounds, std::size_t i) {
        return i < bounds.size() ? bounds[i] : 0;
    };
    const std::vector<std::string> at_least =
        age_bounds(low.days_behind > 0, bound(v.days, low.days_behind - 1), low.months_behind > 0,
                   bound(v.months, low.months_behind - 1), true);
    const std::vector<std::string> under =
        age_bounds(high.days_behind < v.days.size(), bound(v.days, high.days_behind),
                   high.months_behind < v.months.size(), bound(v.months, high.months_behind), false);
    if (at_least.empty() && under.empty()) return "any value";
    if (at_least.empty()) return "less than " + join(under, " and ", " and ");
    if (under.empty()) return "at least " + join(at_least, " and ", " and ");
    return "at least " + join(at_least, " and ", " and ") + " and less than " + join(under, " and ", " and ");
}

// Ages in days and in months have no one order: from the cell `from` on, the last of the run to `to` up to
// which every age between the two ends, and no other, is in it. (89 days can be three months, and 90 days
// two.)
std::size_t end_of_ages(const Variable& v, std::size_t from, std::size_t to) {
    const auto one_range = [&](std::size_t end) {
        const ValueCell& low = v.cells[from];
        const ValueCell& high = v.cells[end];
        for (std::size_t i = 0; i < v.cells.size(); ++i) {
            const ValueCell& cell = v.cells[i];
            if (cell.kind != ValueCell::Kind::age) continue;
            const bool between =
                low.days_behind <= cell.days_behind && cell.days_behind <= high.days_behind &&
                low.months_behind <= cell.months_behind && cell.months_behind <= high.months_behind;
            if (between != (from <= i && i <= end)) return false;
        }
        return true;
    };
    while (to > from && !one_range(to)) --to;
    return to;
}

// A change is counted without its direction: cells that are the same either way are told by how far.
std::optional<std::string> either_way(const Variable& v, const CellSet& cells) {
    if (v.kind != VariableKind::relation) return std::nullopt;
    std::size_t count = v.cells.size();
    while (count > 0 && v.cells[count - 1].kind != ValueCell::Kind::range) --count;
    for (std::size_t c = count; c < v.cells.size(); ++c)
        if (cells.has(c)) return std::nullopt;  // undocumented
    for (std::size_t c = 0; c < count; ++c) {
        const ValueCell& mirror = v.cells[count - 1 - c];
        const bool opposite =
            v.cells[c].low == lowest ? mirror.high == highest : v.cells[c].low == -mirror.high;
        if (!opposite || cells.has(c) != cells.has(count - 1 - c)) return std::nullopt;
    }
    std::vector<std::string> parts;
    for (std::size_t c = count / 2; c < count; ++c) {  // from 0, which is the middle cell, up
        if (!cells.has(c)) continue;
        std::size_t end = c;
        while (end + 1 < count && cells.has(end + 1)) ++end;
        parts.push_back(range_words(v, v.cells[c].low, v.cells[end].high, c == count / 2, end + 1 == count));
        c = end;
    }
    const bool nothing_but_0 = parts.size() == 1 && cells.has(count / 2) && !cells.has(count / 2 + 1);
    if (parts.empty() || nothing_but_0 || cells.count() == count) return std::nullopt;
    return join(parts, ", ", " or ") + " either way";
}

}  // namespace

std::string words(const Variable& variable, const CellSet& cells, const runtime::Policy& policy) {
    if (std::optional<std::string> both_ways = either_way(variable, cells)) return *both_ways;
    std::vector<std::string> parts;
    std::size_t ordered = 0;  // ranges and ages come first and in order
    while (ordered < variable.cells.size() && (variable.cells[ordered].kind == ValueCell::Kind::range ||
                                               variable.cells[ordered].kind == ValueCell::Kind::age))
        ++ordered;
    for (std::size_t c = 0; c < variable.cells.size(); ++c) {
        if (!cells.has(c)) continue;
        const ValueCell& cell = variable.cells[c];
        std::size_t end = c;
        if (c < ordered)
            while (end + 1 < ordered && cells.has(end + 1)) ++end;
        switch (cell.kind) {
            case ValueCell::Kind::range:
                parts.push_back(
                    range_words(variable, cell.low, variable.cells[end].high, c == 0, end + 1 == ordered));
                break;
            case ValueCell::Kind::age:
                end = end_of_ages(variable, c, end);
                parts.push_back(age_words(variable, c, end));
                break;
            case ValueCell::Kind::value:
                parts.push_back(variable.type.kind == TypeKind::flag ||
                                        variable.kind == VariableKind::some_part ||
                                        variable.kind == VariableKind::other
                                    ? (cell.low != 0 ? "yes" : "no")
                                    : policy.symbols[static_cast<std::size_t>(cell.low)]);
                break;
            case ValueCell::Kind::text:
                parts.push_back('"' + cell.text + '"');
                break;
            case ValueCell::Kind::other_text:
                parts.emplace_back("any other");
                break;
            case ValueCell::Kind::never_yet:
                parts.emplace_back("never yet");
                break;
            case ValueCell::Kind::unset:
                parts.emplace_back("unset");
                break;
            case ValueCell::Kind::undocumented:
                parts.emplace_back("undocumented");
                break;
        }
        c = end;
    }
    if (parts.size() == 1) return parts[0];
    return ordered == 0 ? "one of " + join(parts, ", ", ", ") : join(parts, ", ", " or ");
}

std::string sentence(const Variable& variable, const CellSet& cells, const runtime::Policy& policy) {
    const std::string text = words(variable, cells, policy);
    if (variable.kind == VariableKind::some_part || variable.kind == VariableKind::other)
        return (text == "no" ? "not " : "") + variable.name;
    for (const char* start : {"from ", "over "})
        if (text.rfind(start, 0) == 0) return variable.name + " " + text;
    for (const char* start : {"at least ", "at most ", "more than ", "less than "})
        if (text.rfind(start, 0) == 0) return variable.name + " " + text;
    return variable.name + " is " + text;
}

}  // namespace linelaw::compiler::analysis
