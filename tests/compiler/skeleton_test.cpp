// A policy to begin with: whole, laid out, and with every blank named.
#include "compiler/skeleton.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <set>

#include "compiler/analysis/analysis.hpp"
#include "grammar/format.hpp"
#include "grammar/parse.hpp"
#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;

namespace {

std::string skeleton_of(const std::string& vocabulary) {
    grammar::Sources sources;
    compiler::Report report(sources);
    const auto layers = compiler::read_layers(
        "v.linelaw", [&](const std::string&) { return vocabulary; }, sources, report);
    REQUIRE_FALSE(report.has_errors());
    return compiler::skeleton(layers, "line-care.linelaw");
}
std::string standard() {
    return skeleton_of(text_of_file("policies/line-care.linelaw"));
}

std::set<std::string> messages(const std::vector<grammar::Diagnostic>& diagnostics, const std::string& code) {
    std::set<std::string> all;
    for (const auto& d : diagnostics)
        if (d.code == code) all.insert(d.message);
    return all;
}

}  // namespace

TEST_CASE(
    "The skeleton of the standard vocabulary compiles, is in canonical layout, and answers every question") {
    const auto text = standard();
    const auto compilation = compile_files({{"policy.linelaw", text}});
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    CHECK(compilation.compiled->policy.clauses.size() == compilation.compiled->questions.size());
    CHECK(grammar::format(compilation.sources, 0, [&] {
              grammar::Sources sources;
              return grammar::parse(sources, sources.add({"p", text})).tree;
          }()) == text);
    const auto analysis = compiler::analysis::analyse(compilation);
    CHECK(messages(analysis.diagnostics, "gap.question").empty());
}

TEST_CASE("Every blank of the skeleton is named, and each stops the policy") {
    const auto compilation = compile_files({{"policy.linelaw", standard()}});
    REQUIRE(compilation.compiled);
    const auto blanks = messages(compilation.diagnostics, "gap.blank");
    CHECK(blanks.count("the title of the policy is still to be written") == 1);
    CHECK(blanks.count("the owner of the policy is still to be written") == 1);
    CHECK(blanks.size() == 2 + 3 * compilation.compiled->questions.size());
    for (const auto& question : compilation.compiled->questions) {
        CHECK(blanks.count("the sentence of `" + question.id + "` is still to be written") == 1);
        CHECK(blanks.count("why `" + question.id +
                           "` leaves its question to judgement is still to be written") == 1);
        CHECK(blanks.count("the reason of `" + question.id + "` is still to be written") == 1);
    }
    for (const auto& d : compilation.diagnostics)
        if (d.code == "gap.blank") CHECK(d.severity == grammar::Severity::against);
    for (const std::string code : {"missing.review", "missing.zone", "missing.undocumented"})
        CHECK(messages(compilation.diagnostics, code).size() == 1);
}

TEST_CASE("The skeleton holds no number that a clause could ask for") {
    const auto text = standard();
    for (std::size_t at = 0; at < text.size(); at = text.find('\n', at) + 1) {
        const auto line = text.substr(at, text.find('\n', at) - at);
        if (line.find("must") != std::string::npos)
            CHECK(line.find_first_of("0123456789") == std::string::npos);
        if (text.find('\n', at) == std::string::npos) break;
    }
}

TEST_CASE("A vocabulary without a question gives a header alone") {
    const auto text = skeleton_of("vocabulary v\n  edition 1\nevent flush \"Flush\"\n");
    CHECK(text.find("clause") == text.rfind("clauses can be read aloud"));
    CHECK(text.find("policy \"…\"") != std::string::npos);
}

TEST_CASE("The page of a blank shows one, and its mend none") {
    const std::string page = text_of_file("docs/diagnostics/gap.blank.md");
    const auto block = [&](std::size_t from) {
        const auto at = page.find("```linelaw\n", from) + 11;
        return page.substr(at, page.find("```", at) - at);
    };
    CHECK(messages(compile_body(block(0)).diagnostics, "gap.blank").size() == 2);
    CHECK(messages(compile_body(block(page.find("## Its mend"))).diagnostics, "gap.blank").empty());
}
