#include "tests/compiler/analysis/texts.hpp"

#include <catch2/catch.hpp>
#include <optional>

namespace linelaw::compiler::analysis {

Compilation compiled(const std::string& policy_text, const std::string& vocabulary_text) {
    Compilation compilation = from_texts(policy_text, vocabulary_text);
    for (const grammar::Diagnostic& d : compilation.diagnostics)
        if (d.severity == grammar::Severity::error) {
            const grammar::Place place = d.labels.front().place;
            const auto at = compilation.sources.locate(place.text, place.begin);
            FAIL(d.code << " line " << at.line << ": " << d.message << "\n"
                        << compilation.sources.line(place.text, at.line));
        }
    REQUIRE(compilation.compiled);
    return compilation;
}

Analysis analysed(const std::string& policy_text, const std::string& vocabulary_text) {
    return analyse(compiled(policy_text, vocabulary_text));
}

std::vector<std::string> messages(const Analysis& analysis, const std::string& code) {
    std::vector<std::string> found;
    for (const grammar::Diagnostic& d : analysis.diagnostics)
        if (d.code == code || d.code.substr(0, d.code.find('.')) == code) found.push_back(d.message);
    return found;
}

std::string everything(const Analysis& analysis) {
    std::string text;
    for (const grammar::Diagnostic& d : analysis.diagnostics) text += d.code + ": " + d.message + "\n";
    for (const std::string& line : analysis.not_done) text += line + "\n";
    return text;
}

namespace {

const grammar::Diagnostic& nth(const Analysis& analysis, const std::string& code, std::size_t which) {
    for (const grammar::Diagnostic& d : analysis.diagnostics)
        if (d.code == code && which-- == 0) return d;
    FAIL("no " << code << " in\n" << everything(analysis));
    return analysis.diagnostics.front();
}

}  // namespace

std::vector<std::string> named(const Analysis& analysis, const std::string& code, std::size_t which) {
    std::vector<std::string> names;
    for (const grammar::Label& label : nth(analysis, code, which).labels) names.push_back(label.text);
    return names;
}

std::string situation(const Analysis& analysis, const std::string& code, const std::string& name,
                      std::size_t which) {
    const grammar::Diagnostic& d = nth(analysis, code, which);
    REQUIRE(d.witness);
    for (const auto& [key, value] : d.witness->situation)
        if (key == name) return value;
    return "";
}

}  // namespace linelaw::compiler::analysis
