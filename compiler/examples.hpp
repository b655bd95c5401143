// A policy's examples run as what they are: records, judged by the reader and the engine that judge every
// other record. Says which expectations failed and which clauses no example pins down.
#pragma once

#include <string>
#include <vector>

#include "compiler/compile.hpp"

namespace linelaw::compiler {

struct FailedExpectation {
    grammar::Place place;
    std::string message;  // "expected `dressing.gauze` late, found met once"
};
struct ExampleResult {
    std::string title;
    grammar::Place place;
    std::vector<FailedExpectation> failed;
};
struct ExampleReport {
    std::vector<ExampleResult> results;  // in the order of the policy
    // Clauses that no example shows kept, and that none shows broken; those left to judgement are in neither.
    std::vector<std::string> never_met;
    std::vector<std::string> never_against;
};
ExampleReport run_examples(const Compiled& compiled);

}  // namespace linelaw::compiler
