// Every question's situations by answer: what `check --answers` shows as tables.
#pragma once

#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

// After the conflicts are found, so that they can be marked.
void tabulate_questions(Workspace& work);

}  // namespace linelaw::compiler::analysis
