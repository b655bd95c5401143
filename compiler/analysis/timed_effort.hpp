// How hard a policy's timed problems are tried. Internal to the timed conflicts.
#pragma once

#include <algorithm>
#include <map>
#include <string>

#include "compiler/analysis/timed_smaller.hpp"
#include "runtime/time.hpp"

namespace linelaw::compiler::analysis {

// A policy may have many problems that are each too large, or too many together. The first few are tried
// hard, the others a little as long as that is not too much together: by counting, so that one policy always
// gets one answer. Equal problems are solved once.
class Effort {
  public:
    explicit Effort(std::size_t most) : most_(most) {}

    TimedAnswer solved(TimedProblem problem, std::int64_t unit) {
        if (problem.rules.empty()) return {};
        unit *= coarsen(problem);
        const auto [place, fresh] = known_.try_emplace(std::to_string(unit) + ' ' + content_of(problem));
        TimedAnswer& answer = place->second;
        if (!fresh) return answer;
        answer.verdict = Verdict::exhausted;
        const bool hard = gave_up_ < 2 && spent_ <= 3 * most_;
        const std::size_t limit = hard ? most_ : spent_a_little_ <= 3 * most_ ? std::min(most_, little) : 0;
        if (limit > 0) answer = solve(problem, limit, unit, runtime::microseconds_per_minute);
        if (hard && answer.verdict == Verdict::exhausted) ++gave_up_;
        (hard ? spent_ : spent_a_little_) +=
            at_least + (answer.verdict == Verdict::exhausted ? limit : answer.states);
        return answer;
    }

  private:
    static constexpr std::size_t little = 5000;    // positions
    static constexpr std::size_t at_least = 1000;  // that a game counts for
    std::size_t most_;
    std::size_t gave_up_ = 0;
    std::size_t spent_ = 0;  // positions of all games that were tried hard
    std::size_t spent_a_little_ = 0;
    std::map<std::string, TimedAnswer> known_;
};

}  // namespace linelaw::compiler::analysis
