// Witnesses: an episode that shows a finding, judged by the runtime before anybody sees it, and printed so
// that it can be pasted into the policy as an `example`.
#pragma once

#include <optional>
#include <vector>

#include "compiler/analysis/narrator.hpp"

namespace linelaw::compiler::analysis {

// Gives the finding the situation `box` and the story as an episode in which the runtime finds one of the
// clauses broken. A story that the runtime does not judge so turns the finding into `internal.witness`. False
// where an exception excuses what is broken: then it is no finding, and the clauses are not analysed exactly.
bool show_story(Workspace& work, Finding& finding, const std::vector<runtime::ClauseId>& clauses,
                const Box& box, const Story& story);

// A story that breaks `broken` and keeps `kept`, as the runtime judges it; nothing where it does not.
std::optional<grammar::Witness> story_between(Workspace& work, runtime::ClauseId broken,
                                              const std::vector<runtime::ClauseId>& kept, const Box& box,
                                              const Story& story);

// As show_story, for demands at one event of this kind; `where` is every situation of the finding, the
// event's attributes among them, and `box` one of its widest parts.
bool show_at_event(Workspace& work, Finding& finding, const std::vector<runtime::ClauseId>& clauses,
                   runtime::EventKindId kind, Node where, const Box& box);

}  // namespace linelaw::compiler::analysis
