// What one policy is made of: its text, the vocabulary that it uses (with what that extends), the policies
// that it builds on, with `replace` and `drop` carried out. Knows files and items, not what names mean.
#pragma once

#include <deque>
#include <map>
#include <string>
#include <vector>

#include "compiler/compile.hpp"
#include "compiler/report.hpp"

namespace linelaw::compiler {

struct Dropped {
    std::string id;
    grammar::Place place;
};

struct Layers {
    bool is_policy = false;        // else a vocabulary alone
    bool complete = true;          // false where a text could not be read: nothing can be said of its names
    bool whole = true;             // false where an item had a syntax error and was left out
    grammar::PolicyHeader header;  // of the newest layer; what it leaves unsaid is its base's (§3)
    grammar::VocabularyHeader vocabulary;
    // Vocabulary first, then base policies without their examples, then the policy's own. They point into
    // `trees`.
    std::vector<const grammar::Item*> items;
    std::vector<Dropped> dropped;
    std::vector<std::string> measured_against;  // files, as the reader finds them
    // By its path, what each text is called from the policy's own folder: the same from wherever it is read.
    std::map<std::string, std::string> called;
    std::deque<grammar::Tree> trees;
};

Layers read_layers(const std::string& path, const FileReader& reader, grammar::Sources& sources,
                   Report& report);

// The id of a clause, table, term, escalation, question …; nullptr where the item has none.
const grammar::Name* name_of(const grammar::Item& item);
// "clause", "table" …, for messages.
std::string_view kind_of(const grammar::Item& item);

}  // namespace linelaw::compiler
