// Random timed problems against the brute answer.
#include <catch2/catch.hpp>
#include <chrono>

#include "tests/compiler/analysis/random_timed.hpp"

using namespace linelaw::compiler::analysis;

TEST_CASE("random timed problems come out as trying every play does") {
    using Clock = std::chrono::steady_clock;
    const Clock::time_point stop = Clock::now() + std::chrono::seconds(25);
    std::mt19937 random(20260301);
    std::size_t tried = 0;
    std::size_t verdicts[3] = {0, 0, 0};
    for (int i = 0; i < 3000 && Clock::now() < stop; ++i) {
        const Agreement agreement = agree(random_problem(random), 1500);
        INFO(agreement.said);
        REQUIRE(agreement.same);
        if (!agreement.by_brute) continue;
        ++tried;
        ++verdicts[static_cast<int>(agreement.verdict)];
    }
    INFO(tried << " tried");
    CHECK(tried > 10);
    CHECK(verdicts[0] > 0);  // the test has met every answer
    CHECK(verdicts[1] > 0);
    CHECK(verdicts[2] > 0);
}

// What ends a hold on an event that may happen by itself is not free to be done, and a demand that is all
// that lets care do something is not free to be left out.
TEST_CASE("draws that came out otherwise once they were made smaller come out alike") {
    for (const unsigned seed : {14939U, 27139U, 47603U, 65810U, 80288U, 82941U, 95524U}) {
        std::mt19937 random(seed);
        const Agreement agreement = agree(random_problem(random), 2000);
        INFO(agreement.said);
        CHECK(agreement.same);
    }
}
