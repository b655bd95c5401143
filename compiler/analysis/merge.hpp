// Two policies as one, so that their clauses can be asked about the same situations: names of the second are
// found in the first's vocabulary.
#pragma once

#include <string>
#include <vector>

#include "compiler/compile.hpp"

namespace linelaw::compiler::analysis {

struct Merged {
    Compiled compiled;  // the first policy, with the second's clauses after its own
    runtime::ClauseId first_of_second = 0;
    std::vector<std::string> left_out;  // clauses of the second that use words the first's vocabulary lacks
    std::vector<runtime::Shift> shifts_of_second;
};
Merged merge(const Compiled& first, const Compiled& second);

}  // namespace linelaw::compiler::analysis
