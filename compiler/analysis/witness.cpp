#include "compiler/analysis/witness.hpp"

namespace linelaw::compiler::analysis {

void show_at_event(Workspace& work, Finding& finding, const std::vector<runtime::ClauseId>& clauses,
                   runtime::EventKindId kind, Node where, const Box& box) {
    (void)clauses;
    (void)kind;
    (void)where;
    finding.witness.emplace();
    finding.witness->situation = work.situations.worded(box);
}

}  // namespace linelaw::compiler::analysis
