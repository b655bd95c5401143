#include "compiler/analysis/analysis.hpp"

#include <algorithm>

#include "compiler/analysis/conflicts.hpp"
#include "compiler/analysis/exactness.hpp"
#include "compiler/analysis/gaps.hpp"
#include "compiler/analysis/questions.hpp"
#include "compiler/analysis/strictness.hpp"
#include "compiler/analysis/timed.hpp"
#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

namespace {

// Every analysis by itself: one that outgrows its limit is named and leaves the others be, but no clause
// counts as analysed exactly then.
void run(Workspace& work, const char* what, void (*find)(Workspace&)) {
    try {
        work.diagrams.allow(work.limits.diagram_work);
        find(work);
    } catch (const DiagramsExhausted&) {
        work.skipped(std::string(what) +
                     " were not analysed to the end: the policy has too many combinations for the limit set");
        work.give_up_all(std::string(what) + " were not analysed to the end");
    }
}

}  // namespace

Analysis analyse(const Compilation& compilation, const Limits& limits) {
    Analysis analysis;
    try {
        Workspace work(compilation, limits, analysis);
        for (const std::string& part : work.situations.inexact())
            work.skipped("not analysed exactly: " + part);
        run(work, "questions", find_question_gaps);
        run(work, "complications", find_response_gaps);
        run(work, "documentation", find_documentation_gaps);
        run(work, "shifts", find_shift_gaps);
        run(work, "boundaries", find_boundary_gaps);
        run(work, "tables", find_table_faults);
        run(work, "values", find_value_conflicts);
        run(work, "orders of steps", find_order_conflicts);
        run(work, "timed conflicts", find_timed_conflicts);
        run(work, "dead clauses and exceptions", find_dead);
        run(work, "redundant clauses and diverging answers", find_redundant);
        run(work, "answers", tabulate_questions);
        sort_by_exactness(work);
    } catch (const DiagramsExhausted&) {
        analysis.not_done.emplace_back(
            "not analysed: the policy's conditions have too many combinations for the limit set");
        analysis.exact.clear();
        analysis.not_exact.clear();
        for (runtime::ClauseId c = 0; c < compilation.compiled->policy.clauses.size(); ++c)
            analysis.not_exact.push_back({c, "nothing of the policy was analysed"});
    }
    return analysis;
}

}  // namespace linelaw::compiler::analysis
