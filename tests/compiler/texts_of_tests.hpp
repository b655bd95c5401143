// Policies as tests write them: a body of items, with the header and the standard vocabulary put round it.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "compiler/compile.hpp"

namespace linelaw::tests {

// Files that a test gives by name; `line-care.linelaw` is the standard vocabulary unless given.
using Files = std::map<std::string, std::string>;

// Compiles `files["policy.linelaw"]`.
compiler::Compilation compile_files(const Files& files);
// The same of `body` under a header that leaves nothing to be warned of. The header is `header_lines` lines.
compiler::Compilation compile_body(const std::string& body);
extern const std::string header;

// "name.unknown" …, in order.
std::vector<std::string> codes_of(const compiler::Compilation& compilation);
// Without notes: an unused attribute of the standard vocabulary is none of a test's business.
std::vector<std::string> findings_of(const compiler::Compilation& compilation);
// Everything that was said, for a failing test.
std::string said(const compiler::Compilation& compilation);

std::string text_of_file(const std::string& path);  // below the project's folder

}  // namespace linelaw::tests
