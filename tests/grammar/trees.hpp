// Random trees of the whole language, from a seed: only what the grammar can write, with no thought of its
// sense.
#pragma once

#include <cstdint>

#include "grammar/tree.hpp"

namespace linelaw::grammar::testing {

Tree random_tree(std::uint64_t seed);

}  // namespace linelaw::grammar::testing
