// Small things that make a policy hard to keep: what nothing uses, what is missing, what is past. Warnings
// and notes; never errors. Runs after everything has been lowered, so that every use has been seen.
#pragma once

#include "compiler/names.hpp"

namespace linelaw::compiler {

void check_hygiene(Work& work);

// Warns of a day of review that is past on `today`; apart from check_hygiene because compilation has no
// clock.
void check_review(const Compilation& compilation, runtime::CivilDate today,
                  std::vector<grammar::Diagnostic>& diagnostics);

}  // namespace linelaw::compiler
