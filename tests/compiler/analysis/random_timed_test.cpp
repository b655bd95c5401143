// Random timed problems against the brute answer.
#include <catch2/catch.hpp>
#include <chrono>

#include "tests/compiler/analysis/random_timed.hpp"

using namespace linelaw::compiler::analysis;

TEST_CASE("random timed problems come out as trying every play does") {
    using Clock = std::chrono::steady_clock;
    const Clock::time_point stop = Clock::now() + std::chrono::seconds(8);
    std::mt19937 random(20260301);
    std::size_t tried = 0;
    std::size_t verdicts[3] = {0, 0, 0};
    for (int i = 0; i < 3000 && Clock::now() < stop; ++i) {
        const TimedProblem problem = random_problem(random);
        bool was_tried = false;
        std::string said;
        const bool same = agree(problem, 1500, was_tried, said);
        INFO(said);
        REQUIRE(same);
        if (!was_tried) continue;
        ++tried;
        ++verdicts[static_cast<int>(solve(problem, 20'000).verdict)];
    }
    INFO(tried << " tried");
    CHECK(tried > 10);
    CHECK(verdicts[0] > 0);  // the test has met every answer
    CHECK(verdicts[1] > 0);
    CHECK(verdicts[2] > 0);
}
