// Civil time on the IANA database, and RFC 3339. A zone is one sorted table of the instants at which its
// offset changes; a conversion goes on from the one that holds as its slot of time begins. date/tz reads the
// database; the rule that holds after a zone's last listed change, which that library leaves out, is added
// here (zone_rule.hpp), so that clocks go on changing until 2200.
#include "runtime/time.hpp"

#include <date/tz.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <fstream>
#include <limits>
#include <vector>

#include "runtime/zone_rule.hpp"

namespace linelaw::runtime {
namespace {

constexpr std::int64_t first_day = -719'528;  // 0000-01-01
constexpr std::int64_t last_day = 2'932'896;  // 9999-12-31
constexpr Instant last_instant = (last_day + 1) * microseconds_per_day - 1;
constexpr Instant first_instant = first_day * microseconds_per_day;
constexpr std::int64_t widest_offset = 26 * microseconds_per_hour;  // no zone ever was farther from UTC

constexpr std::int64_t floor_div(std::int64_t a, std::int64_t b) {
    return a / b - (a % b < 0 ? 1 : 0);
}

std::int64_t days_of(CivilDate d) {
    return date::sys_days{date::year{d.year} / d.month / d.day}.time_since_epoch().count();
}

CivilDate date_of_days(std::int64_t days) {
    days = std::clamp(days, first_day, last_day);
    const date::year_month_day ymd{date::sys_days{date::days{static_cast<int>(days)}}};
    return {static_cast<int>(ymd.year()), static_cast<std::uint8_t>(static_cast<unsigned>(ymd.month())),
            static_cast<std::uint8_t>(static_cast<unsigned>(ymd.day()))};
}

// The last line of the zone's file; empty where there is no such file.
std::string last_line_of(const std::string& zone) {
    for (const char* folder : {"/usr/share/zoneinfo/", "/usr/share/lib/zoneinfo/", "/usr/lib/zoneinfo/"}) {
        std::ifstream file(folder + zone, std::ios::binary);
        if (!file) continue;
        std::string line;
        std::string last;
        while (std::getline(file, line)) last = line;
        return last;
    }
    return {};
}

constexpr std::int32_t last_year_of_changes = 2199;

std::vector<OffsetChange> listed_changes(const date::time_zone& zone) {
    const date::sys_seconds until{date::sys_days{date::year{last_year_of_changes} / 12 / 31}};
    std::vector<OffsetChange> changes;
    for (date::sys_seconds t{date::sys_days{date::year{1} / 1 / 1}}; t < until;) {
        const date::sys_info info = zone.get_info(t);
        const std::int64_t offset = info.offset.count() * microseconds_per_second;
        if (changes.empty() || changes.back().offset != offset)
            changes.push_back({t.time_since_epoch().count() * microseconds_per_second, offset});
        if (info.end <= t) break;
        t = info.end;
    }
    changes.front().begin = std::numeric_limits<Instant>::min();
    return changes;
}

std::vector<OffsetChange> all_changes(const date::time_zone& zone) {
    std::vector<OffsetChange> changes = listed_changes(zone);
    const Instant last = changes.back().begin;
    const std::int32_t year =
        changes.size() > 1 ? date_of_days(floor_div(last, microseconds_per_day)).year : 1970;
    for (const OffsetChange& change : changes_by_rule(last_line_of(zone.name()), year, last_year_of_changes)
                                          .value_or(std::vector<OffsetChange>{}))
        if (change.begin > last && change.offset != changes.back().offset) changes.push_back(change);
    return changes;
}

// ---- RFC 3339 by hand: on the hot path, twenty times faster than a stream.

bool two(const char* p, unsigned& out) {
    const unsigned a = static_cast<unsigned char>(p[0]) - '0';
    const unsigned b = static_cast<unsigned char>(p[1]) - '0';
    out = a * 10 + b;
    return a < 10 && b < 10;
}

struct DateAndTime {
    std::int64_t days = 0;
    std::int64_t time_of_day = 0;  // microseconds; of second 60 the next minute's first
    bool second_60 = false;
    std::string_view rest;  // the offset
};

bool read_date_at(const char* p, CivilDate& out) {
    unsigned century = 0, year = 0, month = 0, day = 0;
    if (!two(p, century) || !two(p + 2, year) || p[4] != '-' || !two(p + 5, month) || p[7] != '-' ||
        !two(p + 8, day))
        return false;
    out.year = static_cast<std::int32_t>(century * 100 + year);
    out.month = static_cast<std::uint8_t>(month);
    out.day = static_cast<std::uint8_t>(day);
    return is_date(out.year, month, day);
}

// Takes a fraction (".25") off the front of `rest`.
bool read_fraction(std::string_view& rest, std::int64_t& microseconds) {
    microseconds = 0;
    if (rest.empty() || rest.front() != '.') return true;
    std::size_t i = 1;
    std::int64_t unit = 100'000;
    for (; i < rest.size() && rest[i] >= '0' && rest[i] <= '9'; ++i, unit /= 10)
        microseconds += (rest[i] - '0') * unit;
    rest.remove_prefix(i);
    return i > 1;
}

bool read_date_and_time(std::string_view text, DateAndTime& out) {
    if (text.size() < 19) return false;
    const char* p = text.data();
    CivilDate date;
    unsigned hour = 0, minute = 0, second = 0;
    const char separator = p[10];
    if (!read_date_at(p, date) || (separator != 'T' && separator != 't' && separator != ' ') ||
        !two(p + 11, hour) || p[13] != ':' || !two(p + 14, minute) || p[16] != ':' || !two(p + 17, second))
        return false;
    if (hour > 23 || minute > 59 || second > 60) return false;
    out.rest = text.substr(19);
    std::int64_t fraction = 0;
    if (!read_fraction(out.rest, fraction)) return false;
    out.second_60 = second == 60;
    if (out.second_60) fraction = 0;
    out.days = days_of(date);
    out.time_of_day =
        (std::int64_t{hour} * 3600 + std::int64_t{minute} * 60 + second) * microseconds_per_second + fraction;
    return true;
}

// "Z" or "+hh:mm", whole.
bool read_offset(std::string_view text, std::int64_t& offset) {
    offset = 0;
    if (text.size() == 1) return text[0] == 'Z' || text[0] == 'z';
    unsigned hours = 0, minutes = 0;
    if (text.size() != 6 || (text[0] != '+' && text[0] != '-') || !two(text.data() + 1, hours) ||
        text[3] != ':' || !two(text.data() + 4, minutes) || hours > 23 || minutes > 59)
        return false;
    offset = (hours * 60 + minutes) * microseconds_per_minute;
    if (text[0] == '-') offset = -offset;
    return true;
}

}  // namespace

struct Zone::Table {
    std::string name;
    std::vector<OffsetChange> changes;  // the first begins before all time; neighbours differ in offset
    // Which of them holds as each slot of time begins, from 1900 on: quicker than a search each time.
    std::vector<std::size_t> slots;
    static constexpr int slot_bits = 43;  // of microseconds: 102 days
    static constexpr Instant first_slot = -25'567 * microseconds_per_day;

    Table(std::string name_, std::vector<OffsetChange> changes_)
        : name(std::move(name_)), changes(std::move(changes_)), slots{0} {
        slots[0] = index_at(first_slot);
        for (Instant t = first_slot; t < changes.back().begin;) {
            t += Instant{1} << slot_bits;
            slots.push_back(index_at(t));
        }
    }
    std::size_t index_at(Instant t) const {
        const auto slot = t < first_slot ? 0 : static_cast<std::size_t>((t - first_slot) >> slot_bits);
        std::size_t i = t < first_slot ? 0 : slots[std::min(slot, slots.size() - 1)];
        while (i + 1 < changes.size() && changes[i + 1].begin <= t) ++i;
        return i;
    }
    Instant end_of(std::size_t i) const {
        return i + 1 < changes.size() ? changes[i + 1].begin : std::numeric_limits<Instant>::max();
    }
};

Zone::Zone(std::shared_ptr<const Table> table) : table_(std::move(table)) {}

Zone Zone::utc() {
    return Zone(
        std::make_shared<Table>("UTC", std::vector<OffsetChange>{{std::numeric_limits<Instant>::min(), 0}}));
}

std::optional<Zone> Zone::find(std::string_view name) {
    if (name == "UTC") return utc();
    try {
        const date::time_zone* zone = date::locate_zone(std::string(name));
        return Zone(std::make_shared<Table>(std::string(name), all_changes(*zone)));
    } catch (const std::exception&) {  // unknown to the database, or no database
        return std::nullopt;
    }
}

const std::string& Zone::name() const {
    return table_->name;
}

std::int64_t Zone::offset_at(Instant t) const {
    return table_->changes[table_->index_at(t)].offset;
}

CivilDate Zone::date_of(Instant t) const {
    return date_of_days(floor_div(t + offset_at(t), microseconds_per_day));
}

std::int64_t Zone::time_of_day(Instant t) const {
    const std::int64_t local = t + offset_at(t);
    return local - floor_div(local, microseconds_per_day) * microseconds_per_day;
}

Instant Zone::begin_of(CivilDate date) const {
    const std::int64_t midnight = days_of(date) * microseconds_per_day;
    // Forward from a day before: the first instant that bears the date, or a later one where all of it is
    // skipped.
    for (std::size_t i = table_->index_at(midnight - widest_offset);; ++i) {
        const OffsetChange& change = table_->changes[i];
        const Instant first = std::max(change.begin, midnight - change.offset);
        if (first < table_->end_of(i)) return first;
    }
}

Instant Zone::at(CivilDate date, std::int64_t time_of_day) const {
    return at_local(days_of(date) * microseconds_per_day + time_of_day);
}

Instant Zone::at_local(std::int64_t local) const {
    std::optional<Instant> last;
    std::optional<Instant> after_skip;
    for (std::size_t i = table_->index_at(local - widest_offset); i < table_->changes.size(); ++i) {
        const OffsetChange& change = table_->changes[i];
        if (change.begin > local + widest_offset) break;
        const Instant t = local - change.offset;
        if (t >= change.begin && t < table_->end_of(i)) last = t;
        if (t < change.begin && !after_skip) after_skip = change.begin;
    }
    return last ? *last : after_skip.value();
}

std::optional<Instant> Zone::at_if_unique(CivilDate date, std::int64_t time_of_day) const {
    const std::int64_t local = days_of(date) * microseconds_per_day + time_of_day;
    std::optional<Instant> only;
    for (std::size_t i = table_->index_at(local - widest_offset); i < table_->changes.size(); ++i) {
        const OffsetChange& change = table_->changes[i];
        if (change.begin > local + widest_offset) break;
        const Instant t = local - change.offset;
        if (t < change.begin || t >= table_->end_of(i)) continue;
        if (only) return std::nullopt;
        only = t;
    }
    return only;
}

std::optional<Instant> Zone::next_change(Instant t) const {
    const std::size_t next = table_->index_at(t) + 1;
    if (next >= table_->changes.size()) return std::nullopt;
    return table_->changes[next].begin;
}

bool is_date(std::int32_t year, unsigned month, unsigned day) {
    return year >= 0 && year <= 9999 && month <= 12 && day <= 31 && (date::year{year} / month / day).ok();
}

CivilDate add_days(CivilDate date, std::int32_t days) {
    return date_of_days(days_of(date) + days);
}

std::int32_t days_between(CivilDate from, CivilDate to) {
    return static_cast<std::int32_t>(days_of(to) - days_of(from));
}

CivilDate add_months(CivilDate date, std::int32_t months) {
    const std::int64_t month0 = static_cast<std::int64_t>(date.year) * 12 + (date.month - 1) + months;
    if (month0 < 0) return date_of_days(first_day);
    if (month0 >= 120'000) return date_of_days(last_day);
    const date::year year{static_cast<int>(month0 / 12)};
    const date::month month{static_cast<unsigned>(month0 % 12) + 1};
    const auto length = static_cast<unsigned>((year / month / date::last).day());
    return {static_cast<int>(year), static_cast<std::uint8_t>(static_cast<unsigned>(month)),
            static_cast<std::uint8_t>(std::min<unsigned>(date.day, length))};
}

Instant add(Instant t, const Span& span, const Zone& zone) {
    if (span.days != 0 && span.months == 0 && !span.calendar) {  // the same time of day, so many dates later
        const std::int64_t local = t + zone.offset_at(t);
        const std::int64_t today = floor_div(local, microseconds_per_day);
        const std::int64_t date =
            std::clamp(std::clamp(today, first_day, last_day) + span.days, first_day, last_day);
        t = zone.at_local(local + (date - today) * microseconds_per_day);
    } else if (span.civil() || span.calendar) {
        const CivilDate date = add_days(add_months(zone.date_of(t), span.months), span.days);
        t = span.calendar ? zone.begin_of(add_days(date, 1)) : zone.at(date, zone.time_of_day(t));
    }
    if (span.elapsed > 0 && t > last_instant - span.elapsed) return last_instant;
    if (span.elapsed < 0 && t < first_instant - span.elapsed) return first_instant;
    return std::clamp(t + span.elapsed, first_instant, last_instant);
}

std::optional<Instant> read_instant(std::string_view text) {
    DateAndTime local;
    std::int64_t offset = 0;
    if (!read_date_and_time(text, local) || !read_offset(local.rest, offset)) return std::nullopt;
    const Instant t = local.days * microseconds_per_day + local.time_of_day - offset;
    if (local.second_60 && t % microseconds_per_day != 0) return std::nullopt;
    return t;
}

std::optional<Instant> read_local_instant(std::string_view text, const Zone& zone, bool& ambiguous) {
    ambiguous = false;
    DateAndTime local;
    if (!read_date_and_time(text, local) || !local.rest.empty() || local.second_60) return std::nullopt;
    const auto t = zone.at_if_unique(date_of_days(local.days), local.time_of_day);
    ambiguous = !t;
    return t;
}

std::optional<CivilDate> read_date(std::string_view text) {
    CivilDate date;
    if (text.size() != 10 || !read_date_at(text.data(), date)) return std::nullopt;
    return date;
}

std::string write_date(CivilDate date) {
    std::array<char, 48> buffer{};
    std::snprintf(buffer.data(), buffer.size(), "%04d-%02u-%02u", date.year, date.month, date.day);
    return buffer.data();
}

namespace {

// As two digits.
void write_two(char* at, int number) {
    at[0] = static_cast<char>('0' + number / 10);
    at[1] = static_cast<char>('0' + number % 10);
}

struct Clock {
    int hour, minute, second, microsecond;
};
Clock clock_of(std::int64_t time_of_day) {
    const auto seconds = static_cast<int>(time_of_day / microseconds_per_second);
    return {seconds / 3600, seconds / 60 % 60, seconds % 60,
            static_cast<int>(time_of_day % microseconds_per_second)};
}

}  // namespace

InstantText::InstantText(Instant t) : text_{"0000-00-00T00:00:00.000000"}, size_(19) {
    const std::int64_t days = floor_div(t, microseconds_per_day);
    const CivilDate d = date_of_days(days);  // never outside 0000 to 9999
    const Clock c = clock_of(t - days * microseconds_per_day);
    const auto put = [this](std::size_t at, int two) { write_two(text_.data() + at, two); };
    put(0, d.year / 100);
    put(2, d.year % 100);
    put(5, d.month);
    put(8, d.day);
    put(11, c.hour);
    put(14, c.minute);
    put(17, c.second);
    if (c.microsecond != 0) {
        put(20, c.microsecond / 10'000);
        put(22, c.microsecond / 100 % 100);
        put(24, c.microsecond % 100);
        size_ = 26;
        while (text_[size_ - 1] == '0') --size_;
    }
    text_[size_++] = 'Z';
}

std::string write_instant(Instant t) {
    return std::string(InstantText(t).view());
}

std::string write_time_of_day(std::int64_t time_of_day) {
    const Clock c = clock_of(time_of_day);
    std::string out = c.second == 0 ? "00:00" : "00:00:00";
    write_two(out.data(), c.hour);
    write_two(out.data() + 3, c.minute);
    if (c.second != 0) write_two(out.data() + 6, c.second);
    return out;
}

std::string write_local(Instant t, const Zone& zone) {
    return write_date(zone.date_of(t)) + " " + write_time_of_day(zone.time_of_day(t));
}

}  // namespace linelaw::runtime
