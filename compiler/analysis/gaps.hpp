// Gaps: what every policy must say and this one does not. Each in the widest situations that show it.
#pragma once

#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

void find_question_gaps(Workspace& work);
void find_response_gaps(Workspace& work);       // a complication with no clause after it
void find_documentation_gaps(Workspace& work);  // rests on what nobody is asked to chart
void find_shift_gaps(Workspace& work);          // hours of the day in no shift
void find_boundary_gaps(Workspace& work);       // more than 2 cm, less than 2 cm

// What a question covers, and where a clause answers it: shared with the tables of `check` and with
// comparisons.
struct Scope {
    Node covered = never;
    runtime::EventKindId kind = runtime::none;  // of the event at hand, where the question speaks of one
};
std::vector<Scope> scopes_of(Workspace& work, const Question& question);
// Where the clause answers the question (`.no`: where it surely does not); kind as in the scope.
Meaning answers(Workspace& work, runtime::ClauseId clause, const Question& question,
                runtime::EventKindId kind);
Node set_aside_where(Workspace& work, const Question& question, runtime::EventKindId kind);

}  // namespace linelaw::compiler::analysis
