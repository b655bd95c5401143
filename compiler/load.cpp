#include "compiler/load.hpp"

#include <algorithm>

#include "compiler/accepted.hpp"
#include "compiler/analysis/analysis.hpp"
#include "runtime/policy_json.hpp"

namespace linelaw::compiler {

namespace {

bool looks_compiled(const std::string& content) {
    const auto first = content.find_first_not_of(" \t\r\n");
    return first != std::string::npos && content[first] == '{';
}

bool stops(const grammar::Diagnostic& diagnostic) {
    return diagnostic.severity == grammar::Severity::error ||
           diagnostic.severity == grammar::Severity::against;
}

}  // namespace

Loaded load_policy(const std::string& path, const std::vector<std::string>& accept,
                   const FileReader& reader) {
    Loaded loaded;
    auto content = reader(path);
    if (!content) {
        loaded.error = {"file.read", "the file `" + path + "` cannot be read"};
        return loaded;
    }
    if (looks_compiled(*content)) {
        auto policy = runtime::read_policy(*content);
        if (policy)
            loaded.policy = std::move(*policy);
        else
            loaded.error = {policy.error().code, path + ": " + policy.error().message};
        return loaded;
    }
    // Standard input can be read only once.
    const FileReader again = [&](const std::string& file) { return file == path ? content : reader(file); };
    loaded.compilation = compile(path, again);
    auto& compilation = loaded.compilation;
    if (!compilation.compiled) return loaded;
    if (compilation.compiled->policy.title.empty()) {
        loaded.error = {"policy.vocabulary", path + ": a vocabulary is run with the policies that use it"};
        return loaded;
    }
    for (auto& diagnostic : analysis::analyse(compilation).diagnostics)
        compilation.diagnostics.push_back(std::move(diagnostic));
    accept_findings(compilation, accept, false);
    if (std::none_of(compilation.diagnostics.begin(), compilation.diagnostics.end(), stops))
        loaded.policy = compilation.compiled->policy;
    return loaded;
}

std::string what_was_said(const Loaded& loaded, const grammar::RenderOptions& options) {
    if (loaded.error) return loaded.error->message + '\n';
    std::vector<grammar::Diagnostic> stopping;
    std::copy_if(loaded.compilation.diagnostics.begin(), loaded.compilation.diagnostics.end(),
                 std::back_inserter(stopping), stops);
    return grammar::render_text(loaded.compilation.sources, stopping, options);
}

}  // namespace linelaw::compiler
