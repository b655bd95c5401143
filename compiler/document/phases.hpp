// Which clauses belong together at the bedside: the insertion, each kind of routine care, what is done when
// something is wrong, the removal, and what is charted. Found from what a clause is judged at and what it
// asks for.
#pragma once

#include <string>
#include <vector>

#include "compiler/compile.hpp"

namespace linelaw::compiler::document {

struct Phase {
    std::string title;  // "Insertion", "Routine care: dressing change"
    std::vector<runtime::ClauseId> clauses;
};
// Every clause in exactly one phase; phases without clauses are left out.
std::vector<Phase> phases(const Compiled& compiled);

// The events that a demand asks for or forbids; none for demands of values, steps and charting.
runtime::Events demanded(const runtime::Clause& clause);
// Whether it asks for nothing but charting.
bool only_charts(const runtime::Policy& policy, const runtime::Clause& clause);
// Whether it speaks after something went wrong.
bool responds(const runtime::Policy& policy, const runtime::Clause& clause);

}  // namespace linelaw::compiler::document
