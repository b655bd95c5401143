// Several policies as one, and where the published guidelines disagree.
#include <catch2/catch.hpp>

#include "tests/compiler/analysis/texts.hpp"

using namespace linelaw::compiler::analysis;
using linelaw::compiler::Compilation;

namespace {

std::string clause(const std::string& id, const std::string& lines) {
    return "clause " + id + "\n  \"Test.\"\n  " + lines + "\n  reason \"test\"\n";
}

Compilation guideline(const std::string& name) {
    Compilation c = linelaw::compiler::compile(LINELAW_SOURCE_DIR "/policies/baseline/" + name + ".linelaw");
    REQUIRE(c.compiled);
    return c;
}

// What names are in the findings of one code, one text a finding.
std::vector<std::string> findings(const Compilation& a, const Compilation& b, const std::string& code) {
    const Together both = together({&a, &b});
    CHECK(both.left_out.empty());
    return messages(analyse(both.compilation), code);
}
bool any_has(const std::vector<std::string>& all, const std::string& one, const std::string& other) {
    for (const std::string& text : all)
        if (text.find(one) != std::string::npos && text.find(other) != std::string::npos) return true;
    return false;
}

}  // namespace

TEST_CASE("clauses of two policies conflict as those of one do, each named with its policy") {
    const Compilation a = compiled(policy(clause("often", "must review at least every 24 h")));
    const Compilation b = compiled(policy(clause("rare", "must review no more often than every 48 h")));
    CHECK(messages(analyse(a), "conflict").empty());
    CHECK(messages(analyse(b), "conflict").empty());
    const Together both = together({&a, &b});
    CHECK(both.left_out.empty());
    const Analysis analysis = analyse(both.compilation);
    INFO(everything(analysis));
    REQUIRE(messages(analysis, "conflict").size() == 1);
    const std::vector<std::string> names = named(analysis, "conflict.interval");
    REQUIRE(names.size() == 2);
    CHECK(names[0].find(": often`") != std::string::npos);
    CHECK(names[1].find(": rare`") != std::string::npos);
    CHECK(messages(analysis, "internal").empty());
    // The example can be pasted into the first one, and says what the other expects.
    REQUIRE(analysis.diagnostics.front().witness);
    const std::string example = analysis.diagnostics.front().witness->example;
    INFO(example);
    CHECK(compiled(policy(clause("often", "must review at least every 24 h")) + example)
              .compiled->examples.size() == 1);
    CHECK(example.find(": expect  rare early") != std::string::npos);
}

// HICPAC 2011 changes continuous sets no more often than every 96 h and speaks of blood and lipids apart;
// INS 2021 and epic3 2014 (IVAD 35–37) change sets of parenteral nutrition and lipids every 24 h.
TEST_CASE("two guidelines ask for nutrition sets daily that a third forbids to change before 96 h") {
    const Compilation hicpac = guideline("hicpac");
    CHECK(any_has(findings(hicpac, guideline("ins"), "conflict"), "hicpac: set.continuous",
                  "ins: set.nutrition"));
    CHECK(any_has(findings(hicpac, guideline("epic3"), "conflict"), "hicpac: set.continuous",
                  "epic3: set.lipid"));
}

TEST_CASE("what a guideline says of children's dressings differs from one that says the same of everybody") {
    CHECK(any_has(findings(guideline("epic3"), guideline("hicpac"), "diverging.answer"),
                  "epic3: dressing.transparent", "hicpac: dressing.transparent_children"));
}
