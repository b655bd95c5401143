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
