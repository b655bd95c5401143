// What a file is that holds no records one a line, as far as its first bytes show it. Only a look: the file's
// lines are read and quarantined all the same.
#pragma once

#include <string_view>

namespace linelaw::runtime {

// In words that say how to mend it, such as "it is one list in brackets; …"; empty where it begins as records
// do. `begin` is the unpacked file's begin, at best its first lines.
std::string_view no_lines_of_records(std::string_view begin);

}  // namespace linelaw::runtime
