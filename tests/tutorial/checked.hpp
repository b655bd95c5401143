// A policy of the pages, checked as `linelaw check` and `linelaw test` do it.
#pragma once

#include <string>
#include <vector>

#include "compiler/compile.hpp"

namespace linelaw::tests {

struct Checked {
    compiler::Compilation compilation;
    std::vector<std::string> codes;      // of everything but notes, sorted
    std::string said;                    // all of it, for a failing test
    std::vector<std::string> not_exact;  // clauses that were not analysed exactly
    std::vector<std::string> failed;     // what came of examples, where it was not what they expect
};
// `path` is below the project's folder.
Checked checked(const std::string& path);

}  // namespace linelaw::tests
