// POSIX TZ strings, as IEEE 1003.1 (chapter 8, "TZ") and RFC 8536 (hours up to 167, negative too) give them.
#include "runtime/zone_rule.hpp"

#include <date/date.h>

#include <algorithm>

#include "runtime/ascii.hpp"

namespace linelaw::runtime {
namespace {

// The text still to be read; each part takes itself off the front.
struct Reader {
    std::string_view rest;

    bool take(char c) {
        if (rest.empty() || rest.front() != c) return false;
        rest.remove_prefix(1);
        return true;
    }
    std::optional<std::int64_t> number() {
        std::int64_t value = 0;
        std::size_t i = 0;
        for (; i < rest.size() && i < 4 && ascii::is_digit(rest[i]); ++i)
            value = value * 10 + (rest[i] - '0');
        if (i == 0) return std::nullopt;
        rest.remove_prefix(i);
        return value;
    }
    // [+-]hh[:mm[:ss]] in microseconds.
    std::optional<std::int64_t> clock() {
        const bool negative = take('-');
        if (!negative) take('+');
        std::int64_t seconds = 0;
        for (std::int64_t unit : {3600, 60, 1}) {
            if (unit != 3600 && !take(':')) break;
            const auto part = number();
            if (!part) return std::nullopt;
            seconds += *part * unit;
        }
        return (negative ? -seconds : seconds) * microseconds_per_second;
    }
    // EST or <+0530>
    bool name() {
        if (take('<')) {
            const std::size_t end = rest.find('>');
            if (end == std::string_view::npos) return false;
            rest.remove_prefix(end + 1);
            return true;
        }
        std::size_t i = 0;
        while (i < rest.size() && !ascii::is_digit(rest[i]) && rest[i] != '+' && rest[i] != '-' &&
               rest[i] != ',')
            ++i;
        rest.remove_prefix(i);
        return i >= 3;
    }
};

// A day of the year (M3.2.0, J60 or 59) and a wall-clock time on it.
struct ChangeDay {
    enum class Form { weekday, without_leap_day, with_leap_day } form = Form::weekday;
    unsigned month = 1, week = 1, weekday = 0;
    int day = 0;
    std::int64_t time = 2 * microseconds_per_hour;

    std::int64_t local_instant(std::int32_t y) const {
        return on(y).time_since_epoch().count() * microseconds_per_day + time;
    }

  private:
    date::sys_days on(std::int32_t y) const {
        const date::year year{y};
        if (form == Form::weekday) {
            const date::weekday day_of_week{weekday};
            if (week == 5) return year / date::month{month} / day_of_week[date::last];
            return year / date::month{month} / day_of_week[week];
        }
        const int leap = form == Form::without_leap_day && year.is_leap() && day >= 60 ? 1 : 0;
        const int before = form == Form::without_leap_day ? day - 1 + leap : day;
        return date::sys_days{year / 1 / 1} + date::days{before};
    }
};

std::optional<ChangeDay> read_change_day(Reader& in) {
    ChangeDay out;
    if (in.take('M')) {
        const auto month = in.number();
        const auto week = in.take('.') ? in.number() : std::nullopt;
        const auto weekday = in.take('.') ? in.number() : std::nullopt;
        if (!month || !week || !weekday || *month < 1 || *month > 12 || *week < 1 || *week > 5 ||
            *weekday > 6)
            return std::nullopt;
        out.month = static_cast<unsigned>(*month);
        out.week = static_cast<unsigned>(*week);
        out.weekday = static_cast<unsigned>(*weekday);
    } else {
        const bool without = in.take('J');
        out.form = without ? ChangeDay::Form::without_leap_day : ChangeDay::Form::with_leap_day;
        const auto day = in.number();
        if (!day || *day > 365 || (without && *day < 1)) return std::nullopt;
        out.day = static_cast<int>(*day);
    }
    if (in.take('/')) {
        const auto time = in.clock();
        if (!time) return std::nullopt;
        out.time = *time;
    }
    return out;
}

}  // namespace

std::optional<std::vector<OffsetChange>> changes_by_rule(std::string_view rule, std::int32_t first_year,
                                                         std::int32_t last_year) {
    Reader in{rule};
    if (!in.name()) return std::nullopt;
    const auto west = in.clock();  // POSIX counts west of Greenwich
    if (!west) return std::nullopt;
    const std::int64_t standard = -*west;
    std::vector<OffsetChange> changes;
    if (in.rest.empty()) return changes;

    if (!in.name()) return std::nullopt;
    std::int64_t summer = standard + microseconds_per_hour;
    if (!in.rest.empty() && in.rest.front() != ',') {
        const auto summer_west = in.clock();
        if (!summer_west) return std::nullopt;
        summer = -*summer_west;
    }
    const auto begin = in.take(',') ? read_change_day(in) : std::nullopt;
    const auto end = in.take(',') ? read_change_day(in) : std::nullopt;
    if (!begin || !end || !in.rest.empty()) return std::nullopt;

    for (std::int32_t year = first_year; year <= last_year; ++year) {
        changes.push_back({begin->local_instant(year) - standard, summer});
        changes.push_back({end->local_instant(year) - summer, standard});
    }
    std::sort(changes.begin(), changes.end(),
              [](const OffsetChange& a, const OffsetChange& b) { return a.begin < b.begin; });
    return changes;
}

}  // namespace linelaw::runtime
