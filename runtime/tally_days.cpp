#include "runtime/tally_days.hpp"

#include <date/date.h>

#include <algorithm>

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

std::int32_t month_number(DayNumber day) {
    const CivilDate date = date_of_day(day);
    return date.year * 12 + date.month - 1;
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

void PatientDays::add(std::uint64_t patient, Days days) {
    if (days.empty()) return;
    std::vector<Days>& kept = patients_[patient];
    // The intervals that the new one touches or overlaps become one with it.
    const auto begin =
        std::find_if(kept.begin(), kept.end(), [&](const Days& d) { return d.last + 1 >= days.first; });
    auto end = begin;
    for (; end != kept.end() && end->first <= days.last + 1; ++end) {
        days.first = std::min(days.first, end->first);
        days.last = std::max(days.last, end->last);
    }
    kept.insert(kept.erase(begin, end), days);
}

void PatientDays::add(const PatientDays& other) {
    for (const auto& [patient, intervals] : other.patients_) {
        for (const Days& days : intervals) add(patient, days);
    }
}

std::uint64_t PatientDays::count() const {
    std::uint64_t total = 0;
    for (const auto& [patient, intervals] : patients_) {
        for (const Days& days : intervals) total += static_cast<std::uint64_t>(days.last - days.first + 1);
    }
    return total;
}

std::map<std::int32_t, std::uint64_t> PatientDays::by_month() const {
    std::map<std::int32_t, std::uint64_t> months;
    for (const auto& [patient, intervals] : patients_) {
        for (const Days& days : intervals) {
            for (DayNumber day = days.first; day <= days.last; ++day) ++months[month_number(day)];
        }
    }
    return months;
}

}  // namespace linelaw::runtime
