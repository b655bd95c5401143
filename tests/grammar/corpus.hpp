// Texts that several tests read: the blocks of the reference, the policies of the project, and short texts.
#pragma once

#include <string>
#include <vector>

#include "grammar/parse.hpp"

namespace linelaw::grammar::testing {

struct Block {
    std::size_t line = 0;  // in docs/language.md
    std::string content;   // with a header, if it had none
};
// The indented blocks of docs/language.md that are texts of the language.
std::vector<Block> reference_blocks();
// Every *.linelaw under policies/.
std::vector<SourceText> project_texts();
// Every *.linelaw of tests/grammar/FOLDER, in the order of their names.
std::vector<SourceText> test_texts(const std::string& folder);

// What the reader of a test needs of a parse.
struct Read {
    Sources sources;
    Parsed parsed;
};
Read read(const std::string& content);
// The dump of the only item of `content`, read under a policy's head. Fails the test on any diagnostic.
std::string item(const std::string& content);

}  // namespace linelaw::grammar::testing
