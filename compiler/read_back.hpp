// Each clause of a compiled policy in fixed plain English, with its traps in words: when late begins, what
// ends a duty, what does not count. Made from the compiled policy alone, so that a committee hears what will
// be run.
#pragma once

#include <string>

#include "compiler/compile.hpp"

namespace linelaw::compiler {

std::string read_back(const runtime::Policy& policy, const runtime::Clause& clause);
std::string read_back(const Compiled& compiled);  // every clause, a blank line between

}  // namespace linelaw::compiler
