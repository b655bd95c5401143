// Of each change of the text: whether the comparison of two policies has weighed it. What it has not is told
// to whoever reads the comparison, and nothing that rests on it is called the same.
#pragma once

#include "compiler/analysis/analysis.hpp"

namespace linelaw::compiler::analysis {

// Fills `changes`, and marks the answers that the weighing called the same although a change touches them.
void tell_changes(const Compilation& before, const Compilation& after, Comparison& comparison);

}  // namespace linelaw::compiler::analysis
