#include "compiler/load.hpp"

#include "runtime/policy_json.hpp"

namespace linelaw::compiler {

namespace {

bool looks_compiled(const std::string& content) {
    const auto first = content.find_first_not_of(" \t\r\n");
    return first != std::string::npos && content[first] == '{';
}

}  // namespace

Loaded load_policy(const std::string& path, const FileReader& reader) {
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
    if (loaded.compilation.compiled) loaded.policy = loaded.compilation.compiled->policy;
    return loaded;
}

std::string what_was_said(const Loaded& loaded, const grammar::RenderOptions& options) {
    if (loaded.error) return loaded.error->message + '\n';
    return grammar::render_text(loaded.compilation.sources, loaded.compilation.diagnostics, options);
}

}  // namespace linelaw::compiler
