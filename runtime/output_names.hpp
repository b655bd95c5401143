// The names of the files that an audit writes into its folder: so that no audit takes another's findings for
// records, and a folder holds the files of one run. Only names.
#pragma once

#include <string_view>

namespace linelaw::runtime {

// The folder within the output folder in which files stand until all of them are whole.
constexpr std::string_view unfinished_folder = "linelaw.unfinished";

// Whether a file with this name (its last part), packed or not, is one that an audit writes.
bool is_output_name(std::string_view name);

}  // namespace linelaw::runtime
