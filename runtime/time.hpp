// Instants, civil time and spans. An Instant is microseconds since 1970-01-01T00:00:00Z. Days and longer are
// civil time in a zone (language.md 4.1). Knows nothing of policies or records.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace linelaw::runtime {

using Instant = std::int64_t;  // microseconds since the epoch, UTC

constexpr std::int64_t microseconds_per_second = 1'000'000;
constexpr std::int64_t microseconds_per_minute = 60 * microseconds_per_second;
constexpr std::int64_t microseconds_per_hour = 60 * microseconds_per_minute;
constexpr std::int64_t microseconds_per_day = 24 * microseconds_per_hour;  // where no clock changes

// A place on the time line between instants: 2·t is the instant t, 2·t+1 is just after it. What an event
// changes holds from just after it; a clock that holds "up to t" ends just after t. One order serves both.
using Moment = std::int64_t;
constexpr Moment at(Instant t) {
    return 2 * t;
}
constexpr Moment just_after(Instant t) {
    return 2 * t + 1;
}
constexpr Moment just_before(Instant t) {
    return 2 * t - 1;
}
constexpr Instant instant_of(Moment m) {
    return m >> 1;
}  // floor, for negative instants too

struct CivilDate {
    std::int32_t year = 1970;
    std::uint8_t month = 1;
    std::uint8_t day = 1;
    auto operator<=>(const CivilDate&) const = default;
};

// A duration as the language writes it: months (years are 12), then days (weeks are 7), then elapsed time,
// added in that order. `calendar` counts `days` by calendar days: due at the midnight that ends the last of
// them.
struct Span {
    std::int32_t months = 0;
    std::int32_t days = 0;
    bool calendar = false;
    std::int64_t elapsed = 0;  // microseconds
    bool operator==(const Span&) const = default;
    bool civil() const { return months != 0 || days != 0; }
};

// A time zone of the IANA database. Cheap to copy; `find` reads the database and is not, so keep what it
// gave.
class Zone {
  public:
    static std::optional<Zone> find(std::string_view name);  // "America/Halifax"
    static Zone utc();
    // Of a name that was found before, as every policy's is when the policy is read.
    static Zone of(std::string_view name) { return find(name).value_or(utc()); }

    const std::string& name() const;
    CivilDate date_of(Instant t) const;
    std::int64_t time_of_day(Instant t) const;  // microseconds on the wall clock since its midnight
    // The first instant that bears this date (of a date that the zone skipped: the first after the skip).
    Instant begin_of(CivilDate date) const;
    // A local time that the clocks skip is the first instant after the skip; one that comes twice is the
    // second.
    Instant at(CivilDate date, std::int64_t time_of_day) const;
    // The same, of microseconds since 1970 on the wall clock.
    Instant at_local(std::int64_t local) const;
    // The same, for reading records: nothing where the local time is skipped or comes twice.
    std::optional<Instant> at_if_unique(CivilDate date, std::int64_t time_of_day) const;
    std::int64_t offset_at(Instant t) const;  // microseconds east of UTC
    // The first clock change after t, if any before year 2200.
    std::optional<Instant> next_change(Instant t) const;

  private:
    struct Table;  // transitions, read once by `find`
    explicit Zone(std::shared_ptr<const Table> table);
    std::shared_ptr<const Table> table_;
};

CivilDate add_days(CivilDate date, std::int32_t days);
CivilDate add_months(CivilDate date, std::int32_t months);  // clipped to the month's last day
std::int32_t days_between(CivilDate from, CivilDate to);
bool is_date(std::int32_t year, unsigned month, unsigned day);

// t + span in the zone. For calendar spans the midnight itself, which is already past the span. Ends at the
// last instant of the year 9999.
Instant add(Instant t, const Span& span, const Zone& zone);

// RFC 3339 with an offset. Nothing where it is not one, or names no instant (month 13, 24:00:00; second 60 is
// read as the next minute's first where UTC may have one, at 23:59). Fractions beyond microseconds are cut.
std::optional<Instant> read_instant(std::string_view text);
// A date-time without an offset, read in the zone; nothing where malformed. `ambiguous` is set where the
// clock change makes it two instants or none.
std::optional<Instant> read_local_instant(std::string_view text, const Zone& zone, bool& ambiguous);
std::optional<CivilDate> read_date(std::string_view text);  // 2026-03-01
std::string write_date(CivilDate date);
// Microseconds after midnight; "07:30", the seconds only where there are some.
std::string write_time_of_day(std::int64_t time_of_day);
// "2026-03-02T14:15:00Z"; the fraction only where there is one.
class InstantText {
  public:
    explicit InstantText(Instant t);
    std::string_view view() const { return {text_.data(), size_}; }

  private:
    std::array<char, 27> text_;
    std::size_t size_;
};
std::string write_instant(Instant t);
// "2026-03-02 10:15" on the zone's wall clock, for people; the seconds only where there are some.
std::string write_local(Instant t, const Zone& zone);

}  // namespace linelaw::runtime
