// Random timed problems, small enough to be tried out in full.
#pragma once

#include <random>
#include <string>
#include <vector>

#include "compiler/analysis/timed_game.hpp"

namespace linelaw::compiler::analysis {

// A demand and a restriction that are likely to meet, and perhaps a third rule of either sort.
TimedProblem random_problem(std::mt19937& random);
std::string as_text(const TimedProblem& problem);
std::vector<std::string> constructs(const TimedProblem& problem);  // that stand in it

// Whether both solvers and the brute answer agree.
struct Agreement {
    bool same = true;
    Verdict verdict = Verdict::keeps;
    bool by_zones = false;  // false where the solver, or the brute one, gave up
    bool by_brute = false;
    std::string said;
};
Agreement agree(const TimedProblem& problem, std::size_t limit);

}  // namespace linelaw::compiler::analysis
