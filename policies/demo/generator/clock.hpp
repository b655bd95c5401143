// Instants and the wall clock of the demo's facility. Charts are kept to the minute. This is the generator's
// own reckoning (on date/tz): the engine that it tests has another, and neither may borrow from the other.
#pragma once

#include <cstdint>
#include <string>

namespace linelaw::demo {

using Time = std::int64_t;  // seconds since the epoch, UTC

constexpr Time minutes(std::int64_t n) {
    return n * 60;
}
constexpr Time hours(std::int64_t n) {
    return n * 3600;
}

struct Local {  // what the clock on the wall shows
    int year = 0;
    int month = 0;
    int day = 0;
    int hour = 0;
    int minute = 0;
};

Local local(Time t);
// A wall-clock time as an instant: one that the clocks skip is the first instant after the skip, one that
// comes twice is the second. Days past the month's end roll over.
Time instant(const Local& wall);
// The same wall-clock time so many dates later (negative: earlier).
Time add_days(Time t, int days);
Time add_months(Time t, int months);  // clipped to the month's last day
// The first instant of t's date.
Time midnight(Time t);

enum class Writing { utc, offset, without_offset };
// RFC 3339. `without_offset` falls back on `offset` where the wall clock shows that time twice.
std::string write(Time t, Writing writing);
std::string write_date(Time t);

}  // namespace linelaw::demo
