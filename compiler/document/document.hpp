// The policy as a readable document, for the people who sign it and those who work by it: Markdown, and the
// same as one HTML page that needs no network. Made from the compiled policy and what the analysis said of
// it; nothing is added that the policy does not say, but for the cautions.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/analysis/analysis.hpp"
#include "compiler/compile.hpp"

namespace linelaw::compiler::document {

// One part of the document, with a heading of the second level at its beginning.
struct Section {
    std::string
        id;  // "clauses", "checklist" …: what the page's style speaks of; empty for the document's head
    std::string markdown;
};

struct Document {
    std::string title;
    std::vector<Section> sections;
    std::size_t open = 0;  // conflicts, gaps and warnings that nobody accepted: not ready to sign
};

// `compilation.compiled` must be there, with the diagnostics of the analysis among its own and accepted ones
// made notes; so must `before`'s, where an older edition is given.
Document document(const Compilation& compilation, const analysis::Analysis& analysis,
                  const Compilation* before = nullptr);

std::string as_markdown(const Document& document);
std::string as_html(const Document& document);

}  // namespace linelaw::compiler::document
