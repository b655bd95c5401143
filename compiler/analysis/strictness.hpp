// Which of two demands asks for more: what redundancy, divergence and the comparison of policies share.
#pragma once

#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

enum class Strictness : std::uint8_t { same, stricter, looser, incomparable, unrelated };
Strictness opposite(Strictness s);

// How the first clause's demand stands to the second's, wherever both apply: `stricter` where whoever keeps
// the first keeps the second. Unrelated where they do not speak of the same thing. Both clauses are of
// `work`'s policy; `kind` is the event at hand of demands at one. Of demands on values: in these situations.
Strictness compare_demands(Workspace& work, runtime::ClauseId first, runtime::ClauseId second,
                           runtime::EventKindId kind = runtime::none, Node where = always);
// The same of a part of the second's demand.
Strictness compare_demands(Workspace& work, runtime::ClauseId first, runtime::ClauseId second,
                           const runtime::Demand& part, runtime::EventKindId kind, Node where = always);
// The situations in which some values keep all of the first clauses' demands on values, and not all of the
// second's. The values that they ask about are no part of a situation; what a table is asked by is.
Node kept_and_not_kept(Workspace& work, const std::vector<runtime::ClauseId>& kept,
                       const std::vector<runtime::ClauseId>& not_kept, runtime::EventKindId kind);
// `at least every D no more often than every M` asks for two things, which two clauses may give.
std::vector<runtime::Demand> parts_of(const runtime::Demand& demand);

void find_dead(Workspace& work);       // clauses and exceptions
void find_redundant(Workspace& work);  // and diverging answers

}  // namespace linelaw::compiler::analysis
