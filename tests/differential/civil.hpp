// Civil time of the literal evaluator (language.md §4.1), straight on the date and tz library. Shares nothing
// with runtime/time.
#pragma once

#include <date/date.h>
#include <date/tz.h>

#include <cstdint>
#include <string>
#include <string_view>

namespace linelaw::literal {

using Instant = std::int64_t;  // microseconds since 1970-01-01T00:00:00Z
constexpr Instant one_second = 1'000'000;
constexpr Instant one_minute = 60 * one_second;
constexpr Instant one_hour = 3600 * one_second;

// Months, then days, then elapsed time, added in that order; `calendar` counts `days` to a midnight.
struct Span {
    int months = 0;
    int days = 0;
    bool calendar = false;
    Instant elapsed = 0;
    bool zero() const { return months == 0 && days == 0 && elapsed == 0; }
};

class Zone {
  public:
    explicit Zone(std::string_view name) : zone_(date::locate_zone(std::string(name))) {}

    date::local_days date_of(Instant t) const;
    Instant wall_clock(Instant t) const;  // since the date's midnight on the clock
    // §4.1 "a local time that the clocks skip is the first instant after the skip, one that comes twice is
    // the second".
    Instant at(date::local_days day, Instant wall_clock) const;
    // §4.1 "a calendar day begins at the first instant that bears its date".
    Instant begin_of(date::local_days day) const;
    Instant add(Instant t, const Span& span) const;

  private:
    date::local_time<std::chrono::microseconds> local(Instant t) const;
    const date::time_zone* zone_;
};

// §4.1 "months and years clipped to the month's last day".
date::local_days add_months(date::local_days day, int months);

}  // namespace linelaw::literal
