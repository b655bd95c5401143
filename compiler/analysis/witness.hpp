// Witnesses: an episode that shows a finding, judged by the runtime before anybody sees it.
#pragma once

#include <vector>

#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

// Gives the finding the situation `box` and an episode with one event of this kind, in which the runtime
// finds one of the clauses broken. `where` is every situation of the finding, `box` one of its widest parts.
void show_at_event(Workspace& work, Finding& finding, const std::vector<runtime::ClauseId>& clauses,
                   runtime::EventKindId kind, Node where, const Box& box);

}  // namespace linelaw::compiler::analysis
