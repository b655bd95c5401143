// What two editions of a policy write otherwise, item by item and line by line, each in its own words. Looks
// at the text alone: what a change does to care is the analysis's to say.
#pragma once

#include <string>
#include <vector>

#include "compiler/compile.hpp"

namespace linelaw::compiler {

// One line, row, step or attribute. Of an item that only one edition has, one stands for all.
struct Rewritten {
    std::string kind;    // "clause", "escalation", "table", "head" …
    std::string item;    // its id or name; empty where it has none
    std::string part;    // "priority", "must", "step 2", "row"; "whole" where only one edition has the item
    std::string before;  // empty: not written there
    std::string now;
};

// In the order of the newer text, what it left out after that. Neither the title and edition, which head
// every comparison, nor the names of files nor examples, which ask for nothing. Empty where policies were
// merged.
std::vector<Rewritten> written_otherwise(const Compilation& before, const Compilation& now);

// "clause `dressing.damp`", "escalation `catheter_moved`, step 2", "head".
std::string place_in_words(const Rewritten& written);

}  // namespace linelaw::compiler
