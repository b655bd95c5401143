// Cells of RFC 4180.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "runtime/result.hpp"

namespace linelaw::runtime {

// Appends a cell and what ends it. A text that a spreadsheet would take for a formula gets an apostrophe in
// front.
void put_cell(std::string& out, std::string_view text, bool last = false);

// Rows of cells; an apostrophe that put_cell set in front of a formula stays. An error where a quotation mark
// is not closed.
Result<std::vector<std::vector<std::string>>> read_csv(std::string_view text);

}  // namespace linelaw::runtime
