// Situations told apart as far as drafted rules tell them: where which of them apply, and what is left of
// their conditions once everything but events and clocks is known.
#pragma once

#include <map>

#include "compiler/analysis/timed_relevance.hpp"

namespace linelaw::compiler::analysis {

// Some situations in which the same drafts can clash in the same way.
struct Meeting {
    Node where = never;           // of what stays: no events, no clocks
    Drafts drafts;                // rising
    std::map<Node, Node> rest;    // of each of their conditions
    std::vector<bool> looked_at;  // variables that their conditions look at
};

// Every condition of a draft: where it applies, what its tracks pick, what its clocks run from.
std::vector<Node> conditions_of(const Draft& draft);

// Variables from here on belong to events and clocks.
std::uint32_t first_moving(const Situations& situations);

struct Meetings {
    std::vector<Meeting> all;
    Drafts left_out;  // of which there were more than are worth telling apart; all others are complete
};
Meetings tell_apart(Workspace& work, const std::vector<Draft>& drafts, const Relevance& relevance,
                    const Drafts& group);

}  // namespace linelaw::compiler::analysis
