// The variables of situations, and what their cells are.
#include "compiler/analysis/variables.hpp"

#include <algorithm>

#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::compiler::analysis {

namespace {

using runtime::TypeKind;

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
            cell.stays = longest_stay * runtime::microseconds_per_day;
        }
        variable.cells.push_back(cell);
    }
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
            if (variable.type.kind == TypeKind::flag) {
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
                add_ranges(variable, 0, runtime::microseconds_per_day - 1);
            } else {
                const bool ranged = variable.type.low != 0 || variable.type.high != 0;
                add_ranges(variable, ranged ? variable.type.low : lowest,
                           ranged ? variable.type.high : highest);
            }
    }
    if (variable.can_be_unset) variable.cells.push_back(plain(ValueCell::Kind::unset));
    if (variable.can_be_undocumented) variable.cells.push_back(plain(ValueCell::Kind::undocumented));
}

std::int64_t shortest(const runtime::Span& span) {
    const std::int64_t year_days = std::int64_t{span.months / 12} * 365;
    const std::int64_t month_days = std::int64_t{span.months % 12} * 30 - (span.months % 12 != 0 ? 2 : 0);
    return (year_days + month_days + span.days) * runtime::microseconds_per_day + span.elapsed;
}

std::int64_t longest(const runtime::Span& span) {
    const std::int64_t year_days = std::int64_t{span.months / 12} * 366;
    const std::int64_t month_days = std::int64_t{span.months % 12} * 31;
    return (year_days + month_days + span.days) * runtime::microseconds_per_day + span.elapsed;
}

}  // namespace linelaw::compiler::analysis
