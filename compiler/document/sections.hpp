// The parts of the document, one function a part; each gives Markdown without the part's own heading, empty
// where it has nothing to say.
#pragma once

#include <string>

#include "compiler/analysis/analysis.hpp"
#include "compiler/compile.hpp"
#include "compiler/document/phases.hpp"

namespace linelaw::compiler::document {

// The heading of a clause, and a link to it by its id.
std::string clause_heading(const runtime::Clause& clause);
std::string clause_link(const runtime::Clause& clause);
std::string clause_links(const Compiled& compiled, const std::vector<std::string>& ids);

std::string clauses(const Compiled& compiled, const std::vector<Phase>& phases);
std::string escalations(const runtime::Policy& policy);
std::string look_up_tables(const Compilation& compilation);
std::string look_up_table(const Compilation& compilation, const grammar::TableItem& item);
std::string bundles(const Compiled& compiled);
std::string answers(const Compiled& compiled, const analysis::Analysis& analysis);
std::string sources(const runtime::Policy& policy);
std::string trace(const Compiled& compiled);  // clause, source, examples
std::string departures(const Compiled& compiled);
std::string changes(const Compilation& before, const Compilation& after);
std::string day(const runtime::CivilDate& date);  // "1 March 2026"
// Of the demo's policies the first is one page.
struct Checklists {
    std::string bedside;
    std::string other_events;
};
Checklists checklists(const Compilation& compilation);

// "2 h and a grace of 30 min", "each shift": the time of a demand that has one, else empty.
std::string pace(const runtime::Demand& demand);

}  // namespace linelaw::compiler::document
