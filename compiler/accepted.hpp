// Findings that a policy or the caller lets stand: they stay visible, as notes with the reason, and no longer
// count against the policy. Errors cannot be accepted.
#pragma once

#include <string>
#include <vector>

#include "compiler/compile.hpp"

namespace linelaw::compiler {

// `accept CODE for ID, … because` stands for a finding of that code that speaks of every one of those ids; a
// code of the caller's for every finding of it. Where `complete`, an `accept` that met nothing is said to be
// unused. Changes the diagnostics in place.
void accept_findings(Compilation& compilation, const std::vector<std::string>& codes, bool complete);

}  // namespace linelaw::compiler
