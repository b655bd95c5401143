#include "texts_of_tests.hpp"

#include "grammar/render.hpp"

namespace linelaw::tests {

const std::string header =
    "policy \"Quillhaven Regional: a test\"\n"
    "  edition 1\n"
    "  in force from 2026-03-01 until 2027-02-28\n"
    "  review by 2027-01-15\n"
    "  time zone America/Halifax\n"
    "  uses vocabulary \"line-care.linelaw\"\n"
    "  undocumented counts as not assessable\n";

std::string text_of_file(const std::string& path) {
    return compiler::read_file(std::string(LINELAW_SOURCE_DIR) + '/' + path).value_or("");
}

compiler::Compilation compile_files(const Files& files) {
    static const std::string vocabulary = text_of_file("policies/line-care.linelaw");
    return compiler::compile("policy.linelaw", [&](const std::string& path) -> std::optional<std::string> {
        if (const auto it = files.find(path); it != files.end()) return it->second;
        if (path == "line-care.linelaw") return vocabulary;
        return std::nullopt;
    });
}

compiler::Compilation compile_body(const std::string& body) {
    return compile_files({{"policy.linelaw", header + body}});
}

std::vector<std::string> codes_of(const compiler::Compilation& compilation) {
    std::vector<std::string> codes;
    for (const auto& diagnostic : compilation.diagnostics) codes.push_back(diagnostic.code);
    return codes;
}

std::vector<std::string> findings_of(const compiler::Compilation& compilation) {
    std::vector<std::string> codes;
    for (const auto& diagnostic : compilation.diagnostics)
        if (diagnostic.severity != grammar::Severity::note) codes.push_back(diagnostic.code);
    return codes;
}

std::string said(const compiler::Compilation& compilation) {
    return grammar::render_text(compilation.sources, compilation.diagnostics);
}

}  // namespace linelaw::tests
