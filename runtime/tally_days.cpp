#include "runtime/tally_days.hpp"

#include <date/date.h>

#include <algorithm>
#include <tuple>

namespace linelaw::runtime {

CivilDate date_of_day(DayNumber day) {
    const date::year_month_day ymd{date::sys_days{date::days{day}}};
    return {static_cast<int>(ymd.year()), static_cast<std::uint8_t>(static_cast<unsigned>(ymd.month())),
            static_cast<std::uint8_t>(static_cast<unsigned>(ymd.day()))};
}

DayNumber day_number(CivilDate date) {
    return date::sys_days{date::year{date.year} / date.month / date.day}.time_since_epoch().count();
}

CivilDate next_month(CivilDate date) {
    const bool december = date.month == 12;
    return {date.year + (december ? 1 : 0), static_cast<std::uint8_t>(december ? 1 : date.month + 1), 1};
}

Days calendar_days(Instant from, Instant until, const Zone& zone) {
    const DayNumber first = day_number(zone.date_of(from));
    // A line out at midnight was not in place on the day that then begins.
    const DayNumber last = until > from ? day_number(zone.date_of(until - 1)) : first;
    return {first, std::max(first, last)};
}

Days days_at(Instant from, Instant until, std::int64_t time_of_day, const Zone& zone) {
    Days days = calendar_days(from, until, zone);
    if (zone.at(date_of_day(days.first), time_of_day) < from) ++days.first;
    if (!days.empty() && zone.at(date_of_day(days.last), time_of_day) >= until) --days.last;
    return days;
}

namespace {

// By patient, then by day, and those that touch or overlap become one.
void put_in_order(std::vector<PatientDays::Interval>& all) {
    using Interval = PatientDays::Interval;
    std::sort(all.begin(), all.end(), [](const Interval& a, const Interval& b) {
        return std::tie(a.patient, a.days.first) < std::tie(b.patient, b.days.first);
    });
    std::size_t kept = 0;
    for (const Interval& next : all) {
        if (kept > 0 && all[kept - 1].patient == next.patient &&
            next.days.first <= all[kept - 1].days.last + 1) {
            DayNumber& last = all[kept - 1].days.last;
            last = std::max(last, next.days.last);
        } else {
            all[kept++] = next;
        }
    }
    all.resize(kept);
}

}  // namespace

void PatientDays::add(std::uint64_t patient, Days days) {
    if (days.empty()) return;
    added_.push_back({patient, days});
    put_in_order_now_and_then();
}

void PatientDays::add(const PatientDays& other) {
    added_.insert(added_.end(), other.added_.begin(), other.added_.end());
    put_in_order_now_and_then();
}

// Each time that they are twice as many, so that it costs little and they take little room.
void PatientDays::put_in_order_now_and_then() {
    constexpr std::size_t few = 1024;
    if (added_.size() < 2 * in_order_ + few) return;
    put_in_order(added_);
    in_order_ = added_.size();
}

std::vector<PatientDays::Interval> PatientDays::intervals() const {
    std::vector<Interval> all = added_;
    put_in_order(all);
    return all;
}

std::uint64_t PatientDays::count() const {
    std::uint64_t total = 0;
    for (const auto& [patient, days] : intervals())
        total += static_cast<std::uint64_t>(days.last - days.first + 1);
    return total;
}

}  // namespace linelaw::runtime
