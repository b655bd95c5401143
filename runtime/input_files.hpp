// Which files records are read from: those that were given, and those in folders by their names. Nothing is
// left out unsaid but what is hidden. Reads no file.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "runtime/result.hpp"

namespace linelaw::runtime {

struct InputFiles {
    std::vector<std::string> files;  // in order; "-" standard input
    std::vector<std::string> empty;  // of these, those without a byte
    // Found in the folders and not read:
    std::vector<std::string> other_names;  // not named as records are
    std::vector<std::string> of_audits;    // written by an audit
    std::vector<std::string> no_files;     // links to nothing or to a folder, pipes
    // Reached a second time, by another path or by the same; read once.
    std::vector<std::string> again;
};

// The files that `paths` name, in order: a file itself; a folder every *.ndjson, *.jsonl and *.json in it and
// below (.gz and .zst too; capitals or not), by name, but for names that begin with a dot; "-" standard
// input. An error where a path is not there or a folder has no such file.
Result<InputFiles> expand_inputs(const std::vector<std::string>& paths);

}  // namespace linelaw::runtime
