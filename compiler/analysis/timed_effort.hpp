// How hard a policy's timed problems are tried. Internal to the timed conflicts.
#pragma once

#include <algorithm>
#include <map>
#include <string>

#include "compiler/analysis/timed_smaller.hpp"
#include "runtime/time.hpp"

namespace linelaw::compiler::analysis {

// A policy may have many problems that are each too large, or too many together. The first few are tried
// hard, the next a little, and then no more: by counting, so that one policy always gets one answer. Equal
// problems are solved once.
class Effort {
  public:
    explicit Effort(std::size_t most) : most_(most) {}

    TimedAnswer solved(TimedProblem problem, std::int64_t unit) {
        unit *= coarsen(problem);
        const auto [place, fresh] = known_.try_emplace(std::to_string(unit) + ' ' + content_of(problem));
        TimedAnswer& answer = place->second;
        if (!fresh) return answer;
        answer.verdict = Verdict::exhausted;
        const std::size_t limit = spent_ > 3 * most_ ? 0
                                  : gave_up_ < 2     ? most_
                                  : gave_up_ < 20    ? std::min(most_, little)
                                                     : 0;
        if (limit > 0) answer = solve(problem, limit, unit, runtime::microseconds_per_minute);
        if (answer.verdict == Verdict::exhausted) ++gave_up_;
        spent_ += at_least + (answer.verdict == Verdict::exhausted ? limit : answer.states);
        return answer;
    }

  private:
    static constexpr std::size_t little = 5000;    // positions
    static constexpr std::size_t at_least = 1000;  // that a game counts for
    std::size_t most_;
    std::size_t gave_up_ = 0;
    std::size_t spent_ = 0;  // positions of all games
    std::map<std::string, TimedAnswer> known_;
};

}  // namespace linelaw::compiler::analysis
