// Cells of RFC 4180.
#pragma once

#include <string>
#include <string_view>

namespace linelaw::runtime {

// Appends a cell and what ends it. A text that a spreadsheet would take for a formula gets an apostrophe in
// front.
void put_cell(std::string& out, std::string_view text, bool last = false);

}  // namespace linelaw::runtime
