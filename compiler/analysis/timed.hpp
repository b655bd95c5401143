// Timed conflicts and corners: clauses drafted as rules, situations told apart where any of them applies
// otherwise, and for each the joint timed problem solved. Every minimal set is named once, with the widest
// situation and a history.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "compiler/analysis/timed_game.hpp"
#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

void find_timed_conflicts(Workspace& work);

// Events of some kinds under conditions: what `EVENTS where COND` picks out, kind by kind.
using Track = std::map<runtime::EventKindId, Node>;

// A clock of the history that a condition looks at: which events of each kind it surely runs from, and which
// it surely does not.
struct DraftClock {
    std::uint32_t variable = runtime::none;
    std::map<runtime::EventKindId, Meaning> runs_from;
    bool from_start = false;  // from the insertion, or from the begin of its part, too
};

// One rule of a clause before its situation is known. Times in microseconds, a day of 24 h.
struct Draft {
    enum class Form : std::uint8_t {
        deadline,
        gap,
        response,
        until,
        had,
        forbidden,
        at_most,
        each,
        hold
    } form = Form::deadline;
    runtime::ClauseId clause = runtime::none;
    bool should = false;
    bool of_values = false;  // forbids the events that break a demand on their values
    Node applies = never;
    Node early = always;             // of gap: where what comes too early is not excused, asked at that event
    Track events;                    // answers, events, held, before
    Track triggers;                  // triggers, starts
    Track others;                    // exempt, releases
    std::vector<DraftClock> clocks;  // that `applies` looks at
    std::int64_t span = 0;           // limit, shortest, window
    bool civil = false;     // of a limit or a shortest interval: it counts days, by the clocks on the wall
    bool forever = false;   // of had: no window
    bool at_start = false;  // triggered by the insertion, or by the part's begin
    bool by_guard = false;  // `once`, with the condition in `applies`
    bool either_side = false;
    std::uint32_t times = 1;
    bool next = false;                                           // of until
    std::vector<std::pair<std::int64_t, std::int64_t>> periods;  // within a day
};

// Every rule that the policy's clauses make; what has no timed side makes none.
std::vector<Draft> draft_rules(Workspace& work);

}  // namespace linelaw::compiler::analysis
