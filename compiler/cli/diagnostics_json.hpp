// Diagnostics for programs: the JSON of docs/records.md, and SARIF 2.1.0 with the policy as the artifact.
#pragma once

#include <string>
#include <vector>

#include "grammar/diagnostic.hpp"
#include "grammar/source.hpp"

namespace linelaw::compiler::cli {

// What was said of one policy; the diagnostics' places are in its own sources.
struct SaidOfPolicy {
    const grammar::Sources* sources = nullptr;
    const std::vector<grammar::Diagnostic>* diagnostics = nullptr;
};

// `not_done`: one line for each analysis that was not carried out; kept in the output, since silence would be
// a lie.
std::string diagnostics_json(const std::vector<SaidOfPolicy>& said, const std::vector<std::string>& not_done);
std::string diagnostics_sarif(const std::vector<SaidOfPolicy>& said,
                              const std::vector<std::string>& not_done);

std::string_view severity_name(grammar::Severity severity);  // "error", "against", "warning", "note"

}  // namespace linelaw::compiler::cli
