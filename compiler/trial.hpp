// Two editions tried on small episodes about each clause that changed. An episode that the one counts against
// and the other does not shows that something was given up, or is asked anew; that none was found proves
// nothing.
#pragma once

#include <cstddef>

#include "compiler/analysis/analysis.hpp"

namespace linelaw::compiler {

struct TrialOptions {
    std::size_t episodes = 1500;      // about one clause, of each edition, at most
    std::size_t all = 40'000;         // of each edition, for all clauses together
    std::size_t judged = 20'000'000;  // clauses, episode by episode: of large policies fewer are tried
};

// Adds to the comparison the differences that it does not tell, by their clauses. Of those that it tells,
// takes out examples that the engines do not judge so, puts in those found, and marks what none shows.
// Deterministic.
void try_out(const Compilation& before, const Compilation& after, analysis::Comparison& comparison,
             const TrialOptions& options = {});

// Weighed (analysis::compare) and tried.
analysis::Comparison compared(const Compilation& before, const Compilation& after);

}  // namespace linelaw::compiler
