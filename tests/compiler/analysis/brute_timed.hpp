// A second, slow answer to timed problems: time in small equal steps, the whole recent history kept, every
// play tried. Shares no code with the solver but the problem's description.
#pragma once

#include <cstddef>

#include "compiler/analysis/timed_game.hpp"

namespace linelaw::compiler::analysis {

// `steps` to a unit. Nothing where there are more positions than the limit.
std::optional<Verdict> brute(const TimedProblem& problem, int steps, std::size_t limit);

}  // namespace linelaw::compiler::analysis
