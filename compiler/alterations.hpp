// The policy with one small change, as a slip of the pen or a careless revision would make it: a bound moved
// by one step, a condition left out, another role called. Changes are made in the text, so that what is
// compiled and judged afterwards is a policy that somebody could have written. Knows nothing of examples.
#pragma once

#include <string>
#include <vector>

#include "compiler/layers.hpp"

namespace linelaw::compiler {

struct Alteration {
    grammar::Place edit;      // what is replaced; always of text 0, the policy's own
    std::string replacement;  // empty: left out
    grammar::Place shown;     // the words that change, for underlining
    std::string words;        // "`grace 12 h` becomes `grace 13 h`", "`while inpatient` is left out"
    std::string item;         // the clause, term, table or ladder that it stands in
};

// In the order of the text. Only of items that stand in the policy's own text: a layer below has examples of
// its own. Whether the changed text still compiles is not looked at.
std::vector<Alteration> alterations_of(const Layers& layers);

// The text with the change made.
std::string altered(const std::string& content, const Alteration& alteration);

// The clauses that an item speaks in, in the order of the policy: a clause itself; of a term or a table the
// clauses that rest on it, through other terms too; of a ladder those that start it.
std::vector<std::string> clauses_resting_on(const Layers& layers, const std::string& item);

}  // namespace linelaw::compiler
