// The invented facility's next edition and the units that build on it: over the whole life of a line,
// measured against the published baseline with nothing unexplained, an example for each clause.
#include <algorithm>
#include <catch2/catch.hpp>
#include <set>

#include "compiler/analysis/analysis.hpp"
#include "compiler/unnoticed.hpp"
#include "tests/tutorial/checked.hpp"

using namespace linelaw;
using namespace linelaw::tests;

namespace {

void checks_clean(const Checked& file) {
    INFO(file.said);
    CHECK(file.codes.empty());
    for (const auto& failed : file.failed) FAIL_CHECK(failed);
}

void nothing_goes_unnoticed(const std::string& name) {
    INFO(name);
    const auto compilation = compiler::compile(LINELAW_SOURCE_DIR "/policies/demo/" + name + ".linelaw");
    REQUIRE(compilation.compiled);
    const auto found = compiler::find_unnoticed(compilation);
    CHECK(found.tried > 20);
    CHECK(found.noticed == found.tried);
    for (const auto& missing : found.missing) FAIL_CHECK(missing.notices.front().words);
}

}  // namespace

TEST_CASE(
    "the next edition has sixty clauses and more, keeps its examples, and departs only where it says so") {
    const auto file = checked("policies/demo/quillhaven-2027.linelaw");
    checks_clean(file);
    REQUIRE(file.compilation.compiled);
    CHECK(file.compilation.compiled->policy.clauses.size() >= 60);
    REQUIRE(file.compilation.compiled->measured_against.size() == 1);
    for (const auto& diagnostic : file.compilation.diagnostics) CHECK(diagnostic.code != "loose.baseline");
}

TEST_CASE("every clause that is new in the next edition has an example that speaks of it") {
    const auto file = checked("policies/demo/quillhaven-2027.linelaw");
    REQUIRE(file.compilation.compiled);
    const auto& compiled = *file.compilation.compiled;
    const auto before = compiler::compile(LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw");
    REQUIRE(before.compiled);
    std::set<std::string> old;
    for (const auto& clause : before.compiled->policy.clauses) old.insert(clause.id);
    std::set<std::uint32_t> clauses;
    std::set<std::uint32_t> ladders;
    for (const auto& example : compiled.examples)
        for (const auto& expected : example.expected)
            (expected.origin == runtime::OriginKind::ladder ? ladders : clauses).insert(expected.item);
    for (runtime::ClauseId c = 0; c < compiled.policy.clauses.size(); ++c) {
        const auto& clause = compiled.policy.clauses[c];
        INFO(clause.id);
        const bool shown = clauses.count(c) > 0 ||
                           (clause.then_escalate != runtime::none && ladders.count(clause.then_escalate) > 0);
        CHECK((shown || old.count(clause.id) > 0 ||
               std::holds_alternative<runtime::LeavesToJudgement>(clause.demand)));
    }
}

TEST_CASE("one edition follows the other without a day between them, or a day of both") {
    const std::vector<compiler::Compilation> editions = {
        compiler::compile(LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw"),
        compiler::compile(LINELAW_SOURCE_DIR "/policies/demo/quillhaven-2027.linelaw")};
    CHECK(compiler::analysis::check_editions({&editions[0], &editions[1]}).empty());
    REQUIRE(editions[1].compiled);
    CHECK(editions[0].compiled->policy.edition == "4");
    CHECK(editions[1].compiled->policy.edition == "5");
}

TEST_CASE("the neonatal unit and the home-infusion service build on the facility and check clean") {
    for (const char* unit : {"neonatal", "home-infusion"}) {
        const auto file = checked(std::string("policies/demo/") + unit + ".linelaw");
        checks_clean(file);
        REQUIRE(file.compilation.compiled);
        CHECK(file.compilation.compiled->policy.clauses.size() > 60);
        CHECK(file.compilation.compiled->policy.governs != runtime::none);
    }
}

TEST_CASE("a newborn is never flushed with the facility's 10 mL") {
    const auto file = checked("policies/demo/neonatal.linelaw");
    REQUIRE(file.compilation.compiled);
    for (const auto& clause : file.compilation.compiled->policy.clauses)
        if (clause.id == "flush.after_draw") CHECK(clause.applies_for != runtime::none);
}

TEST_CASE("no small change to the facility's policy goes unnoticed by its examples") {
    nothing_goes_unnoticed("quillhaven");
}

TEST_CASE("no small change to its next edition goes unnoticed by its examples") {
    nothing_goes_unnoticed("quillhaven-2027");
}

TEST_CASE("no small change to what its units add goes unnoticed by their examples") {
    nothing_goes_unnoticed("neonatal");
    nothing_goes_unnoticed("home-infusion");
}
