// Changes of the clocks while a policy is in force: what counts days is shorter or longer across one, and
// what counts hours is not.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "runtime/policy.hpp"

namespace linelaw::compiler::analysis {

struct ClockChange {
    runtime::Instant at = 0;
    std::int64_t local = 0;    // on the wall clock just before, in microseconds since 1970
    std::int64_t shorter = 0;  // so much shorter is the day; less than 0 where it is longer
};

// The first of each length. A policy without a last day is looked at for two years.
std::vector<ClockChange> clock_changes(const runtime::Policy& policy);
std::string date_of(const ClockChange& change);  // "2026-03-08"

}  // namespace linelaw::compiler::analysis
