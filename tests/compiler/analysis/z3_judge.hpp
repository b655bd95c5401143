// What the analysis says of a drawn policy, claim by claim before an SMT solver.
#pragma once

#include <string>
#include <vector>

#include "compiler/analysis/analysis.hpp"
#include "tests/compiler/analysis/z3_policies.hpp"

namespace linelaw::compiler::analysis {

struct Z3Verdicts {
    std::size_t compared = 0;  // claims that the solver decided
    std::size_t gaps = 0;      // found
    std::size_t conflicts = 0;
    std::vector<std::string> differ;
};
Z3Verdicts judged_by_z3(const DrawnPolicy& drawn, const Analysis& analysis);

}  // namespace linelaw::compiler::analysis
