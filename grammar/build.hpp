// The scan's flat constructs to the tree. Says what only a whole construct can show to be wrong: a line given
// twice, a line that is missing, a date that no calendar has, a row with too few cells.
#pragma once

#include <string_view>
#include <vector>

#include "grammar/diagnostic.hpp"
#include "grammar/nodes.hpp"
#include "grammar/tree.hpp"

namespace linelaw::grammar {

// Items that contain a fault or a skipped stretch are left out. Appends to `diagnostics`.
Tree build(std::string_view content, std::uint32_t text, const Scan& scan,
           std::vector<Diagnostic>& diagnostics);

}  // namespace linelaw::grammar
