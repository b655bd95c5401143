// Tree to canonical text: comments kept, idempotent, and parse(format(tree)) is the same tree.
#pragma once

#include <string>

#include "grammar/source.hpp"
#include "grammar/tree.hpp"

namespace linelaw::grammar {

// `tree` must be the tree of text number `text` in `sources` (comments are placed by their offsets), and
// whole.
std::string format(const Sources& sources, std::uint32_t text, const Tree& tree);

// Parts of a tree in the policy's own words, for messages and for the document: `dressing is one of a, b`.
std::string to_text(const Expression& expression);
std::string to_text(const Events& events);
std::string to_text(const Quantity& quantity);
std::string to_text(const Demand& demand);

}  // namespace linelaw::grammar
