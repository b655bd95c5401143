// What an opportunity hung on, as the record has it: the attributes, states and steps that its clause reads,
// each with its place in the record. Reading only: no condition is evaluated here.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"

namespace linelaw::runtime {

struct Input {
    std::string name;            // as the policy calls it: dry_time, line.kind, state.dressing
    std::string pointer;         // JSON pointer into the record; empty where nothing in it sets the value
    const Type* type = nullptr;  // nullptr for an age given as a birth date and for steps
    Value value;
    std::string text;       // what stands for the value where it is no quantity: an age, a list of steps
    bool demanded = false;  // read by the demand itself, not only by what says whether the clause applies
};

// In the order in which the clause reads them, each once. Of a ladder or a bundle: none.
std::vector<Input> inputs_of(const Words& words, const Episode& episode, const Opportunity& opportunity);

// The JSON pointer of an event; of one made from the line's keys, that key's.
std::string pointer_of(const Policy& policy, const Event& event);

// The event at hand of a clause that is judged at its events, else none.
std::uint32_t event_at_hand(const Policy& policy, const Opportunity& opportunity);

}  // namespace linelaw::runtime
