// Line-days, in two readings that people call by one name: the calendar days on which a line was in place,
// each line for itself; and the patients with at least one line, counted at one time of every day.
// docs/audit-method.md says which figure uses which. Whole numbers only.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "runtime/time.hpp"

namespace linelaw::runtime {

// Calendar days as numbers since 1970-01-01.
using DayNumber = std::int32_t;
struct Days {
    DayNumber first = 0;
    DayNumber last = -1;  // both ends included
    bool empty() const { return last < first; }
    bool operator==(const Days&) const = default;
};
DayNumber day_number(CivilDate date);
CivilDate date_of_day(DayNumber day);
CivilDate next_month(CivilDate date);  // its first day; of the last one too
// The calendar days of the zone that [from, until) touches; at least the first.
Days calendar_days(Instant from, Instant until, const Zone& zone);
// The days on which the line was in place at this time of the day.
Days days_at(Instant from, Instant until, std::int64_t time_of_day, const Zone& zone);

// Days of each patient at which at least one line was in place, so that two lines in one patient give one
// day. Patients are known by a hash of their pseudonymous key. Sixteen bytes a patient, and as much again
// until what was added is put in order.
class PatientDays {
  public:
    struct Interval {
        std::uint64_t patient = 0;
        Days days;
        bool operator==(const Interval&) const = default;
    };
    void add(std::uint64_t patient, Days days);
    void add(const PatientDays& other);
    // What is asked for below comes at once where nothing was added since.
    void put_in_order();
    std::uint64_t count() const;
    // By patient, then by day; a patient's intervals neither touch nor overlap.
    std::vector<Interval> intervals() const;
    bool operator==(const PatientDays& other) const { return intervals() == other.intervals(); }
    // Of all together: a patient of several of them counts once a day.
    static std::uint64_t count_together(const std::vector<const PatientDays*>& many);

  private:
    std::vector<Interval> added_;
    std::size_t in_order_ = 0;  // so many of them, from the first on
};

}  // namespace linelaw::runtime
