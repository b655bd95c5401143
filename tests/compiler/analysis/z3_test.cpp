// The static analysis judged by an SMT solver (Z3), over random policies. Z3 gets formulas made from the
// draw, not from the compiled policy.
#include <catch2/catch.hpp>
#include <chrono>

#include "tests/compiler/analysis/texts.hpp"
#include "tests/compiler/analysis/z3_judge.hpp"

using namespace linelaw::compiler::analysis;

TEST_CASE("gaps and conflicts of random policies are those that Z3 finds") {
    using Clock = std::chrono::steady_clock;
    const Clock::time_point stop = Clock::now() + std::chrono::seconds(25);
    std::mt19937 random(40126);
    std::size_t policies = 0;
    std::size_t compared = 0;
    std::size_t gaps = 0;
    std::size_t conflicts = 0;
    while (policies < 200 && Clock::now() < stop) {
        const DrawnPolicy drawn = draw(random);
        const std::string text = as_policy(drawn);
        INFO(text);
        const Analysis analysis = analysed(text, as_vocabulary(drawn));
        INFO(everything(analysis));
        CHECK(messages(analysis, "internal").empty());
        const Z3Verdicts verdicts = judged_by_z3(drawn, analysis);
        CHECK(verdicts.differ == std::vector<std::string>{});
        ++policies;
        compared += verdicts.compared;
        gaps += verdicts.gaps;
        conflicts += verdicts.conflicts;
    }
    INFO(policies << " policies, " << compared << " verdicts, " << gaps << " gaps, " << conflicts
                  << " conflicts");
    CHECK(policies >= 10);
    CHECK(compared >= 100);
    CHECK(gaps > 5);
    CHECK(conflicts > 5);
}

// 89 days may be three months and 91 days two; and a second set may clash in the very situations of a first.
TEST_CASE("draws that were once told apart from Z3 are told alike") {
    for (const unsigned seed : {100570U, 101235U, 105313U, 106379U, 106783U}) {
        std::mt19937 random(seed);
        const DrawnPolicy drawn = draw(random);
        const std::string text = as_policy(drawn);
        INFO(text);
        const Analysis analysis = analysed(text, as_vocabulary(drawn));
        INFO(everything(analysis));
        CHECK(judged_by_z3(drawn, analysis).differ == std::vector<std::string>{});
    }
}
