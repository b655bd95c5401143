// Random timed problems, small enough to be tried out in full.
#pragma once

#include <random>
#include <string>

#include "compiler/analysis/timed_game.hpp"

namespace linelaw::compiler::analysis {

TimedProblem random_problem(std::mt19937& random);
std::string as_text(const TimedProblem& problem);

// Whether both solvers and the brute answer agree; `tried` is false where the brute one gave up.
bool agree(const TimedProblem& problem, std::size_t limit, bool& tried, std::string& said);

}  // namespace linelaw::compiler::analysis
