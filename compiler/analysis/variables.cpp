#include "compiler/analysis/variables.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>

#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::compiler::analysis {

namespace {

using runtime::TypeKind;
constexpr std::int64_t microseconds_per_day = 24 * runtime::microseconds_per_hour;

ValueCell plain(ValueCell::Kind kind) {
    ValueCell cell;
    cell.kind = kind;
    return cell;
}

ValueCell value_cell(std::int64_t value) {
    ValueCell cell = plain(ValueCell::Kind::value);
    cell.low = cell.high = value;
    return cell;
}

ValueCell range_cell(std::int64_t low, std::int64_t high) {
    ValueCell cell = plain(ValueCell::Kind::range);
    cell.low = low;
    cell.high = high;
    return cell;
}

// Every cut is a cell of its own, and so is what lies between two of them.
void add_ranges(Variable& variable, std::int64_t low, std::int64_t high) {
    std::int64_t from = low;
    for (const std::int64_t cut : variable.cuts) {
        if (cut < low || cut > high) continue;
        if (cut > from) variable.cells.push_back(range_cell(from, cut - 1));
        variable.cells.push_back(range_cell(cut, cut));
        from = cut + 1;
    }
    if (from <= high) variable.cells.push_back(range_cell(from, high));
}

// How many days after each of many births so many months are completed: every distinct answer once. One cycle
// of the calendar around the leap years that a century breaks holds every pattern of month lengths.
std::vector<std::vector<std::int32_t>> month_lengths(const std::vector<std::int32_t>& months) {
    std::set<std::vector<std::int32_t>> distinct;
    if (months.empty()) return {{}};
    const auto day_number = [](runtime::CivilDate d) {  // days since 0000-03-01, proleptic Gregorian
        const std::int64_t y = d.month <= 2 ? d.year - 1 : d.year;
        const std::int64_t m = (d.month + 9) % 12;
        return 365 * y + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + d.day - 1;
    };
    for (runtime::CivilDate birth{1892, 1, 1}; birth.year < 2108; birth = runtime::add_days(birth, 1)) {
        std::vector<std::int32_t> lengths;
        lengths.reserve(months.size());
        for (const std::int32_t m : months)
            lengths.push_back(
                static_cast<std::int32_t>(day_number(runtime::add_months(birth, m)) - day_number(birth)));
        distinct.insert(std::move(lengths));
    }
    return {distinct.begin(), distinct.end()};
}

std::string age_bound(std::int32_t count, bool months) {
    if (months && count % 12 == 0) return fmt::format("{} year{}", count / 12, count == 12 ? "" : "s");
    if (months) return fmt::format("{} month{}", count, count == 1 ? "" : "s");
    return fmt::format("{} day{}", count, count == 1 ? "" : "s");
}

// Rising bounds, each behind or ahead: {0, 0} is younger than all of them.
void add_ages(Variable& variable) {
    std::set<std::pair<std::uint32_t, std::uint32_t>> seen;
    const auto behind = [](const std::vector<std::int32_t>& bounds, std::int32_t day) {
        return static_cast<std::uint32_t>(std::upper_bound(bounds.begin(), bounds.end(), day) -
                                          bounds.begin());
    };
    const std::int32_t youngest = std::max(
        0, static_cast<std::int32_t>(variable.type.age_low.months * 28 + variable.type.age_low.days));
    const runtime::Span& oldest_span = variable.type.age_high;
    const std::int32_t oldest = oldest_span.civil() ? oldest_span.months * 31 + oldest_span.days : 200 * 366;
    const std::vector<std::vector<std::int32_t>> births = month_lengths(variable.months);
    for (const std::vector<std::int32_t>& lengths : births) {
        std::vector<std::int32_t> stops = variable.days;
        stops.insert(stops.end(), lengths.begin(), lengths.end());
        stops.push_back(youngest);
        for (const std::int32_t day : stops)
            if (day >= youngest && day <= oldest)
                seen.emplace(behind(variable.days, day), behind(lengths, day));
    }
    for (const auto& [days, months] : seen) {
        ValueCell cell = plain(ValueCell::Kind::age);
        cell.days_behind = days;
        cell.months_behind = months;
        if (days < variable.days.size() || months < variable.months.size()) {
            std::int32_t longest_stay = 0;  // of whoever enters it at its begin
            for (const std::vector<std::int32_t>& lengths : births) {
                const std::int32_t from = std::max({youngest, days > 0 ? variable.days[days - 1] : youngest,
                                                    months > 0 ? lengths[months - 1] : youngest});
                const std::int32_t to = std::min(days < variable.days.size() ? variable.days[days] : oldest,
                                                 months < variable.months.size() ? lengths[months] : oldest);
                longest_stay = std::max(longest_stay, to - from);
            }
            cell.stays = longest_stay * microseconds_per_day;
        }
        variable.cells.push_back(cell);
    }
}

bool flag_like(const Variable& v) {
    return v.type.kind == TypeKind::flag;
}

}  // namespace

bool Variable::numeric() const {
    switch (kind) {
        case VariableKind::step_time:
        case VariableKind::relation:
        case VariableKind::dwell:
        case VariableKind::newest:
            return true;
        case VariableKind::line:
        case VariableKind::patient:
        case VariableKind::part:
        case VariableKind::state:
        case VariableKind::baseline:
        case VariableKind::event:
            switch (type.kind) {
                case TypeKind::flag:
                case TypeKind::one_of:
                case TypeKind::age:
                case TypeKind::text:
                case TypeKind::key:
                    return false;
                default:
                    return true;
            }
        default:
            return false;
    }
}

bool Variable::between(std::size_t cell) const {
    const auto ordered = [&](std::size_t c) {
        return c < cells.size() &&
               (cells[c].kind == ValueCell::Kind::range || cells[c].kind == ValueCell::Kind::age);
    };
    return cell > 0 && ordered(cell - 1) && ordered(cell) && ordered(cell + 1);
}

void make_cells(Variable& variable, const runtime::Policy& policy) {
    variable.cells.clear();
    (void)policy;
    switch (variable.kind) {
        case VariableKind::age:
            add_ages(variable);
            break;
        case VariableKind::facility:
        case VariableKind::care_unit:
            for (const std::string& text : variable.texts) {
                variable.cells.push_back(plain(ValueCell::Kind::text));
                variable.cells.back().text = text;
            }
            variable.cells.push_back(plain(ValueCell::Kind::other_text));
            break;
        case VariableKind::some_part:
        case VariableKind::other:
            variable.cells = {value_cell(0), value_cell(1)};
            variable.can_be_undocumented = false;
            break;
        case VariableKind::relation:
            add_ranges(variable, lowest, highest);
            break;
        case VariableKind::step_time:
            add_ranges(variable, variable.step_from == variable.step_to ? 0 : lowest, highest);
            break;
        case VariableKind::dwell:
            add_ranges(variable, 0, highest);
            variable.can_be_undocumented = false;
            break;
        case VariableKind::newest:
            add_ranges(variable, 0, highest);
            variable.cells.push_back(plain(ValueCell::Kind::never_yet));
            variable.can_be_undocumented = false;
            break;
        default:
            if (flag_like(variable)) {
                variable.cells = {value_cell(0), value_cell(1)};
            } else if (variable.type.kind == TypeKind::one_of) {
                for (const runtime::SymbolId symbol : variable.type.values)
                    variable.cells.push_back(value_cell(symbol));
            } else if (variable.type.kind == TypeKind::text || variable.type.kind == TypeKind::key) {
                for (const std::string& text : variable.texts) {
                    variable.cells.push_back(plain(ValueCell::Kind::text));
                    variable.cells.back().text = text;
                }
                variable.cells.push_back(plain(ValueCell::Kind::other_text));
            } else if (variable.type.kind == TypeKind::time_of_day) {
                add_ranges(variable, 0, microseconds_per_day - 1);
            } else {
                const bool ranged = variable.type.low != 0 || variable.type.high != 0;
                add_ranges(variable, ranged ? variable.type.low : lowest,
                           ranged ? variable.type.high : highest);
            }
    }
    if (variable.can_be_unset) variable.cells.push_back(plain(ValueCell::Kind::unset));
    if (variable.can_be_undocumented) variable.cells.push_back(plain(ValueCell::Kind::undocumented));
}

// ---- words
// ----------------------------------------------------------------------------------------------------

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
    if (us % microseconds_per_day == 0 && us >= 2 * microseconds_per_day) {
        return fmt::format("{} days", us / microseconds_per_day);
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

std::string span_words(const runtime::Span& span) {
    std::vector<std::string> parts;
    const auto counted = [&](std::int64_t n, const char* one, const char* many) {
        parts.push_back(fmt::format("{} {}", n, n == 1 ? one : many));
    };
    if (span.months != 0 && span.months % 12 == 0)
        counted(span.months / 12, "year", "years");
    else if (span.months != 0)
        counted(span.months, "month", "months");
    if (span.days != 0) {
        if (span.calendar)
            counted(span.days, "calendar day", "calendar days");
        else
            counted(span.days, "day", "days");
    }
    if (span.elapsed != 0 || parts.empty()) {
        // Elapsed time is never spoken of in days: across a clock change they differ.
        if (span.elapsed % microseconds_per_day == 0 && span.elapsed != 0)
            parts.push_back(fmt::format("{} h", span.elapsed / runtime::microseconds_per_hour));
        else
            parts.push_back(duration_words(span.elapsed));
    }
    return join(parts, " ", " ");
}

std::string time_of_day_words(std::int64_t us) {
    const std::int64_t minutes = us / runtime::microseconds_per_minute;
    return fmt::format("{:02}:{:02}", minutes / 60, minutes % 60);
}

std::string quantity_words(std::int64_t grains, const runtime::Type& type) {
    if (type.kind == TypeKind::time_of_day) return time_of_day_words(grains);
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

// Of a bound in days and one in months the one that the other follows from goes unsaid; where the length of
// the months decides, both stand.
std::vector<std::string> age_bounds(bool days_there, std::int32_t days, bool months_there,
                                    std::int32_t months, bool from_below) {
    if (days_there && months_there) {
        runtime::Span span;
        span.months = months;
        const bool days_first = days * microseconds_per_day <= shortest(span);
        const bool months_first = longest(span) <= days * microseconds_per_day;
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

}  // namespace

namespace {

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

}  // namespace

namespace {

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
                parts.push_back(flag_like(variable) || variable.kind == VariableKind::some_part ||
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
    if (text == "yes") return variable.name;
    if (text == "no") return "not " + variable.name;
    for (const char* start : {"from ", "over "})
        if (text.rfind(start, 0) == 0) return variable.name + " " + text;
    for (const char* start : {"at least ", "at most ", "more than ", "less than "})
        if (text.rfind(start, 0) == 0) return variable.name + " " + text;
    return variable.name + " is " + text;
}

std::int64_t shortest(const runtime::Span& span) {
    const std::int64_t year_days = std::int64_t{span.months / 12} * 365;
    const std::int64_t month_days = std::int64_t{span.months % 12} * 30 - (span.months % 12 != 0 ? 2 : 0);
    return (year_days + month_days + span.days) * microseconds_per_day + span.elapsed;
}

std::int64_t longest(const runtime::Span& span) {
    const std::int64_t year_days = std::int64_t{span.months / 12} * 366;
    const std::int64_t month_days = std::int64_t{span.months % 12} * 31;
    return (year_days + month_days + span.days) * microseconds_per_day + span.elapsed;
}

}  // namespace linelaw::compiler::analysis
