// Which of two demands asks for more: what redundancy, divergence and the comparison of policies share.
#pragma once

#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

enum class Strictness : std::uint8_t { same, stricter, looser, incomparable, unrelated };
Strictness opposite(Strictness s);

// How the first clause's demand stands to the second's, wherever both apply: `stricter` where whoever keeps
// the first keeps the second. Unrelated where they do not speak of the same thing. Both clauses are of
// `work`'s policy; `kind` is the event at hand of demands at one.
Strictness compare_demands(Workspace& work, runtime::ClauseId first, runtime::ClauseId second,
                           runtime::EventKindId kind = runtime::none);
// The same of a part of the second's demand.
Strictness compare_demands(Workspace& work, runtime::ClauseId first, runtime::ClauseId second,
                           const runtime::Demand& part, runtime::EventKindId kind);
// `at least every D no more often than every M` asks for two things, which two clauses may give.
std::vector<runtime::Demand> parts_of(const runtime::Demand& demand);

void find_dead(Workspace& work);       // clauses and exceptions
void find_redundant(Workspace& work);  // and diverging answers

}  // namespace linelaw::compiler::analysis
