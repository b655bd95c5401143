// One meeting of drafted rules as a timed game: which events there are, told apart as far as the rules tell
// them, and each rule over them.
#pragma once

#include "compiler/analysis/timed_game.hpp"
#include "compiler/analysis/timed_split.hpp"

namespace linelaw::compiler::analysis {

// One letter of a situation: an event of a kind, told apart by which tracks pick it.
struct LetterMeaning {
    runtime::EventKindId kind = runtime::none;
    Node attributes = always;  // of the event, in this situation
};

// A timed problem that some situations share.
struct Case {
    TimedProblem problem;
    std::vector<LetterMeaning> letters;
    std::vector<std::size_t> draft_of_rule;
    std::int64_t unit = 1;              // microseconds
    std::optional<std::int64_t> stays;  // nobody is of this age for so long, in units
    Node where = never;
    std::vector<std::uint32_t> point;  // the situation that the letters are told apart in
};

// Nothing where the drafts cannot clash; `too_many_letters` where a game cannot tell so many events apart.
std::optional<Case> make_case(Workspace& work, const std::vector<Draft>& drafts, const Meeting& meeting,
                              bool& too_many_letters);
// Equal for equal games of the same drafts.
std::string signature(const Case& one);
// Wherever these clauses of the case meet with the same meaning, its other clauses or not.
Node wide_region(Workspace& work, const std::vector<Draft>& drafts, const Case& one,
                 const std::set<runtime::ClauseId>& clauses);

// The rest of a condition at one point of everything that stays.
Node at_point(const Workspace& work, Node node, const std::vector<std::uint32_t>& point);

}  // namespace linelaw::compiler::analysis
