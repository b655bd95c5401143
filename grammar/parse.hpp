// Text to tree. The only entrance to the PEGTL grammar, which lives in parse.cpp and is shown by no header.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "grammar/diagnostic.hpp"
#include "grammar/source.hpp"
#include "grammar/tree.hpp"

namespace linelaw::grammar {

struct Parsed {
    Tree tree;                            // what could be read; an item with an error is left out
    std::vector<Diagnostic> diagnostics;  // every independent syntax error, in the order of the text
};

// Levels that a condition may nest: they are read by recursion, here and in every later stage.
inline constexpr std::uint32_t deepest_nesting = 200;

// Parses the text numbered `text`. Never throws on bad input; deeper nesting is a diagnostic.
// Time is linear in the text.
Parsed parse(const Sources& sources, std::uint32_t text);

// The tree as one S-expression without places: equal for equal trees, and short enough to read in a test.
std::string dump(const Tree& tree);

}  // namespace linelaw::grammar
