#include "policies/demo/generator/clock.hpp"

#include <date/tz.h>
#include <fmt/format.h>

namespace linelaw::demo {
namespace {

const date::time_zone& zone() {
    static const date::time_zone* found = date::locate_zone("America/Halifax");
    return *found;
}

date::sys_seconds sys(Time t) {
    return date::sys_seconds{std::chrono::seconds{t}};
}

Time resolve(date::local_seconds wall) {
    const date::local_info info = zone().get_info(wall);
    if (info.result == date::local_info::nonexistent) return info.first.end.time_since_epoch().count();
    const auto& span = info.result == date::local_info::ambiguous ? info.second : info.first;
    return (wall.time_since_epoch() - span.offset).count();
}

struct Parts {
    date::local_days date;
    std::chrono::seconds of_day;
};
Parts parts(Time t) {
    const date::local_seconds wall = zone().to_local(sys(t));
    const auto day = date::floor<date::days>(wall);
    return {day, wall - day};
}

}  // namespace

Local local(Time t) {
    const Parts p = parts(t);
    const date::year_month_day ymd{p.date};
    const auto minute_of_day = static_cast<int>(p.of_day.count() / 60);
    return {int{ymd.year()}, static_cast<int>(unsigned{ymd.month()}), static_cast<int>(unsigned{ymd.day()}),
            minute_of_day / 60, minute_of_day % 60};
}

Time instant(const Local& wall) {
    const date::local_days first{date::year{wall.year} / wall.month / 1};
    const auto day = first + date::days{wall.day - 1};
    return resolve(day + std::chrono::hours{wall.hour} + std::chrono::minutes{wall.minute});
}

Time add_days(Time t, int days) {
    const Parts p = parts(t);
    return resolve(p.date + date::days{days} + p.of_day);
}

Time add_months(Time t, int months) {
    const Parts p = parts(t);
    date::year_month_day ymd{p.date};
    ymd += date::months{months};
    if (!ymd.ok()) ymd = ymd.year() / ymd.month() / date::last;
    return resolve(date::local_days{ymd} + p.of_day);
}

Time midnight(Time t) {
    return resolve(parts(t).date + std::chrono::seconds{0});
}

std::string write(Time t, Writing writing) {
    if (writing == Writing::utc) return date::format("%FT%TZ", sys(t));
    const date::local_seconds wall = zone().to_local(sys(t));
    if (writing == Writing::without_offset && zone().get_info(wall).result == date::local_info::unique) {
        return date::format("%FT%T", wall);
    }
    const auto offset = zone().get_info(sys(t)).offset.count() / 60;
    return fmt::format("{}{}{:02}:{:02}", date::format("%FT%T", wall), offset < 0 ? '-' : '+',
                       std::abs(offset) / 60, std::abs(offset) % 60);
}

std::string write_date(Time t) {
    const Local l = local(t);
    return fmt::format("{:04}-{:02}-{:02}", l.year, l.month, l.day);
}

}  // namespace linelaw::demo
