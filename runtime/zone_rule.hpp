// The rule by which a zone's clocks change for ever after: the POSIX string at the end of a zone file
// ("AST4ADT,M3.2.0,M11.1.0"), which date/tz leaves out. Internal to time.cpp.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "runtime/time.hpp"

namespace linelaw::runtime {

struct OffsetChange {
    Instant begin = 0;        // from here on …
    std::int64_t offset = 0;  // … the clocks are this many microseconds east of UTC
};

// The changes of the years first to last, in order; empty for a rule without changes. Nothing where the text
// is no such rule.
std::optional<std::vector<OffsetChange>> changes_by_rule(std::string_view rule, std::int32_t first_year,
                                                         std::int32_t last_year);

}  // namespace linelaw::runtime
