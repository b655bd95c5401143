// Records judged by two policies, and what flips. Opportunities of the two are the same where their clause
// (or ladder and step, or bundle) has the same id, their part the same name, and they opened at the same
// instant.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/result.hpp"

namespace linelaw::compiler::cli {

struct FlipCase {
    std::string episode;  // pseudonymous key
    std::string item;
    std::string opened;
};
struct Flips {  // of one pair of outcomes
    std::uint64_t times = 0;
    std::uint64_t records = 0;
    std::vector<FlipCase> first;  // the first few
};

// What a policy asks of care in these records, of one kind, per 1,000 line-days: of the routine, the time
// that it applied over its limit, of the clause that asks for most in each record; of responses and calls,
// one a trigger.
struct WorkAsked {
    std::string what;  // "dressing change", "notify"
    double before = 0;
    double after = 0;
};

struct Replay {
    std::uint64_t records = 0;        // judged by both
    std::uint64_t unread = 0;         // that one of the policies cannot read
    std::uint64_t flipped = 0;        // records with any flip
    std::uint64_t cannot_tell = 0;    // records of which a flip hangs on what was not recorded
    std::uint64_t opportunities = 0;  // of both, each counted once
    double line_days = 0;
    // Old outcome to new; "" where the other policy asks nothing there.
    std::map<std::pair<std::string, std::string>, Flips> flips;
    std::vector<WorkAsked> work;
};

runtime::Result<Replay> replay(const runtime::Policy& before, const runtime::Policy& after,
                               const std::vector<std::string>& files);

}  // namespace linelaw::compiler::cli
