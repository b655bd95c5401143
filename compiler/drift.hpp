// Sentence and rule side by side: every number of the demand and its trigger must be said in the sentence,
// and every number that the sentence says must stand somewhere in the rule (language.md §5). Reads numbers in
// figures and in words; understands nothing else of English.
#pragma once

#include "compiler/names.hpp"

namespace linelaw::compiler {

void check_drift(Work& work);

}  // namespace linelaw::compiler
