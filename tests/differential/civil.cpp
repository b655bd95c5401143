#include "tests/differential/civil.hpp"

namespace linelaw::literal {

using std::chrono::microseconds;

date::local_time<microseconds> Zone::local(Instant t) const {
    return zone_->to_local(date::sys_time<microseconds>(microseconds(t)));
}

date::local_days Zone::date_of(Instant t) const {
    return date::floor<date::days>(local(t));
}

Instant Zone::wall_clock(Instant t) const {
    const auto time = local(t);
    return (time - date::floor<date::days>(time)).count();
}

Instant Zone::at(date::local_days day, Instant wall_clock) const {
    const auto wanted = day + microseconds(wall_clock);
    const auto info = zone_->get_info(date::floor<std::chrono::seconds>(wanted));
    if (info.result == date::local_info::nonexistent)
        return microseconds(info.first.end.time_since_epoch()).count();
    const auto offset = info.result == date::local_info::ambiguous ? info.second.offset : info.first.offset;
    return (wanted.time_since_epoch() - microseconds(offset)).count();
}

Instant Zone::begin_of(date::local_days day) const {
    const auto info = zone_->get_info(date::local_seconds(day));
    if (info.result == date::local_info::nonexistent)
        return microseconds(info.first.end.time_since_epoch()).count();
    return microseconds(date::local_seconds(day).time_since_epoch() - info.first.offset).count();
}

Instant Zone::add(Instant t, const Span& span) const {
    if (span.months == 0 && span.days == 0) return t + span.elapsed;
    const date::local_days day = add_months(date_of(t), span.months) + date::days(span.days);
    // §4.1 "due at the midnight that ends the Nth date after the start's own".
    if (span.calendar) return begin_of(day + date::days(1));
    return at(day, wall_clock(t)) + span.elapsed;
}

date::local_days add_months(date::local_days day, int months) {
    if (months == 0) return day;
    const date::year_month_day start{day};
    const auto month = date::year_month{start.year(), start.month()} + date::months(months);
    const date::year_month_day last{month.year() / month.month() / date::last};
    return date::local_days{month.year() / month.month() / std::min(start.day(), last.day())};
}

}  // namespace linelaw::literal
