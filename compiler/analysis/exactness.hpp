// Which clauses are analysed exactly, and the others with why: what lies outside the fragment (language.md
// §5), what the games do not follow, and what outgrew its limit.
#pragma once

#include <string>
#include <vector>

#include "compiler/analysis/timed_relevance.hpp"

namespace linelaw::compiler::analysis {

// Known once the rules are drafted and grouped: for which clauses it does not matter whose part an event is,
// and whether anything could stand in the way of a ladder's calls.
void note_for_exactness(Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance,
                        const Drafts& kept, const std::vector<Drafts>& groups);
// Empty where the clause lies in the fragment.
std::string outside_fragment(Workspace& work, runtime::ClauseId clause);
// Fills the result's lists.
void sort_by_exactness(Workspace& work);

}  // namespace linelaw::compiler::analysis
