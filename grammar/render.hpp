// Diagnostics for people and for programs: the place underlined, the policy's own words, what is wrong, the
// smallest situation that shows it, and how to mend it. The only code that makes lines and columns.
#pragma once

#include <string>
#include <vector>

#include "grammar/diagnostic.hpp"
#include "grammar/source.hpp"

namespace linelaw::grammar {

struct RenderOptions {
    bool color = false;
    std::size_t width = 100;  // of the text around the excerpts; excerpts are never wrapped
};

std::string render_text(const Sources& sources, const Diagnostic& diagnostic,
                        const RenderOptions& options = {});
std::string render_text(const Sources& sources, const std::vector<Diagnostic>& diagnostics,
                        const RenderOptions& options = {});

}  // namespace linelaw::grammar
