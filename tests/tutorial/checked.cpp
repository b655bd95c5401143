#include "tests/tutorial/checked.hpp"

#include <algorithm>

#include "compiler/accepted.hpp"
#include "compiler/analysis/analysis.hpp"
#include "compiler/examples.hpp"
#include "grammar/render.hpp"

namespace linelaw::tests {

Checked checked(const std::string& path) {
    Checked out;
    auto& compilation = out.compilation;
    compilation = compiler::compile(std::string(LINELAW_SOURCE_DIR) + '/' + path);
    if (compilation.compiled) {
        auto analysis = compiler::analysis::analyse(compilation);
        for (auto& diagnostic : analysis.diagnostics)
            compilation.diagnostics.push_back(std::move(diagnostic));
        for (const auto& not_exact : analysis.not_exact)
            out.not_exact.push_back(compilation.compiled->policy.clauses[not_exact.clause].id);
        for (const auto& baseline : compilation.compiled->measured_against)
            for (auto& diagnostic :
                 compiler::analysis::measure_against(compilation, compiler::compile(baseline)))
                compilation.diagnostics.push_back(std::move(diagnostic));
        compiler::accept_findings(compilation, {}, true);
        for (const auto& result : compiler::run_examples(*compilation.compiled).results)
            for (const auto& failed : result.failed) out.failed.push_back(failed.message);
    }
    for (const auto& diagnostic : compilation.diagnostics)
        if (diagnostic.severity != grammar::Severity::note) out.codes.push_back(diagnostic.code);
    std::sort(out.codes.begin(), out.codes.end());
    out.said = grammar::render_text(compilation.sources, compilation.diagnostics, {});
    return out;
}

}  // namespace linelaw::tests
