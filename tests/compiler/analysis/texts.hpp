// Policies as texts, analysed; what tests say about the findings.
#pragma once

#include <string>
#include <vector>

#include "compiler/analysis/analysis.hpp"
#include "compiler/compile.hpp"

namespace linelaw::compiler::analysis {

// A small vocabulary that most tests share; a test adds items of its own by `extra`.
std::string vocabulary(const std::string& extra = "");
// A policy's head and these items.
std::string policy(const std::string& items);

Compilation from_texts(const std::string& policy_text, const std::string& vocabulary_text = vocabulary());
// Fails the test where the texts do not compile.
Compilation compiled(const std::string& policy_text, const std::string& vocabulary_text = vocabulary());
Analysis analysed(const std::string& policy_text, const std::string& vocabulary_text = vocabulary());

// The messages of the findings of one code, or of one family ("gap").
std::vector<std::string> messages(const Analysis& analysis, const std::string& code);
// "code: message" of everything found, for a look when a test fails.
std::string everything(const Analysis& analysis);
// What the first finding of the code names: its labels' texts, in order.
std::vector<std::string> named(const Analysis& analysis, const std::string& code, std::size_t which = 0);
std::string situation(const Analysis& analysis, const std::string& code, const std::string& name,
                      std::size_t which = 0);

}  // namespace linelaw::compiler::analysis
