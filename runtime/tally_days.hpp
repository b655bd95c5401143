// Line-days, in two readings that people call by one name: the calendar days on which a line was in place,
// each line for itself; and the patients with at least one line, counted at one time of every day.
// docs/audit-method.md says which figure uses which. Whole numbers only.
#pragma once

#include <cstdint>
#include <map>
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
CivilDate next_month(CivilDate date);      // its first day; of the last one too
std::int32_t month_number(DayNumber day);  // year * 12 + month - 1
// The calendar days of the zone that [from, until) touches; at least the first.
Days calendar_days(Instant from, Instant until, const Zone& zone);
// The days on which the line was in place at this time of the day.
Days days_at(Instant from, Instant until, std::int64_t time_of_day, const Zone& zone);

// Days of each patient at which at least one line was in place, so that two lines in one patient give one
// day. Patients are known by a hash of their pseudonymous key; days are kept as intervals that neither touch
// nor overlap.
class PatientDays {
  public:
    void add(std::uint64_t patient, Days days);
    void add(const PatientDays& other);
    std::uint64_t count() const;
    std::map<std::int32_t, std::uint64_t> by_month() const;  // year * 12 + month - 1
    const std::map<std::uint64_t, std::vector<Days>>& patients() const { return patients_; }
    bool operator==(const PatientDays&) const = default;

  private:
    std::map<std::uint64_t, std::vector<Days>> patients_;
};

}  // namespace linelaw::runtime
