#include "compiler/load.hpp"

#include <algorithm>

#include "compiler/accepted.hpp"
#include "compiler/analysis/analysis.hpp"
#include "runtime/policy_json.hpp"

namespace linelaw::compiler {

namespace {

bool stops(const grammar::Diagnostic& diagnostic) {
    return diagnostic.severity == grammar::Severity::error ||
           diagnostic.severity == grammar::Severity::against;
}

}  // namespace

Loaded load_policy(const std::string& path, const std::vector<std::string>& accept) {
    Loaded loaded;
    auto read = content_of(path, longest_text);
    if (!read) {
        loaded.error = read.error();
        return loaded;
    }
    const std::optional<std::string> content = std::move(*read);
    if (grammar::is_json(*content)) {
        if (content->find("\"linelaw/") == std::string::npos) {
            loaded.error = {"policy.json", path +
                                               " is JSON and no compiled policy; the policy comes first, and "
                                               "the records after it"};
            return loaded;
        }
        auto policy = runtime::read_policy(*content);
        if (policy)
            loaded.policy = std::move(*policy);
        else
            loaded.error = {policy.error().code, path + ": " + policy.error().message};
        return loaded;
    }
    // Standard input can be read only once.
    const FileReader again = [&](const std::string& file) {
        return file == path ? content : read_file(file);
    };
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
