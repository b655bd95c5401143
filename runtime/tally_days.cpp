#include "runtime/tally_days.hpp"

#include <date/date.h>

#include <algorithm>
#include <deque>
#include <span>
#include <tuple>
#include <utility>

#include "runtime/sorted_tail.hpp"

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

using Interval = PatientDays::Interval;

bool comes_before(const Interval& a, const Interval& b) {
    return std::tie(a.patient, a.days.first) < std::tie(b.patient, b.days.first);
}

// Of intervals in order those that touch or overlap become one.
void join(std::vector<Interval>& all) {
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
    constexpr std::size_t few = 1024;
    if (is_due_for_order(added_.size(), in_order_ + few)) put_in_order();
}

void PatientDays::add(const PatientDays& other) {
    const std::vector<Interval> others = other.intervals();
    added_.insert(added_.end(), others.begin(), others.end());
    if (is_due_for_order(added_.size(), in_order_)) put_in_order();
}

void PatientDays::put_in_order() {
    if (in_order_ == added_.size()) return;
    merge_tail(added_, in_order_, comes_before);
    join(added_);
    in_order_ = added_.size();
}

std::vector<PatientDays::Interval> PatientDays::intervals() const {
    PatientDays all = *this;
    all.put_in_order();
    return std::move(all.added_);
}

std::uint64_t PatientDays::count() const {
    return count_together({this});
}

// The least of what is left of each comes next, so that nothing is copied that is in order.
std::uint64_t PatientDays::count_together(const std::vector<const PatientDays*>& many) {
    using Rest = std::span<const Interval>;
    std::deque<std::vector<Interval>> put_in_order;
    std::vector<Rest> rests;
    for (const PatientDays* one : many) {
        const bool in_order = one->in_order_ == one->added_.size();
        const Rest all = in_order ? one->added_ : put_in_order.emplace_back(one->intervals());
        if (!all.empty()) rests.push_back(all);
    }
    const auto later = [](const Rest& a, const Rest& b) { return comes_before(b.front(), a.front()); };
    std::make_heap(rests.begin(), rests.end(), later);
    std::uint64_t total = 0;
    Interval counted;  // up to its last day
    while (!rests.empty()) {
        std::pop_heap(rests.begin(), rests.end(), later);
        const Interval next = rests.back().front();
        rests.back() = rests.back().subspan(1);
        if (rests.back().empty())
            rests.pop_back();
        else
            std::push_heap(rests.begin(), rests.end(), later);
        const bool same = total > 0 && next.patient == counted.patient;
        const DayNumber from = same ? std::max(next.days.first, counted.days.last + 1) : next.days.first;
        if (next.days.last < from) continue;
        total += static_cast<std::uint64_t>(next.days.last - from + 1);
        counted = next;
    }
    return total;
}

}  // namespace linelaw::runtime
