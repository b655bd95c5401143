// The timed game on its own: letters are events, a unit is an hour.
#include <catch2/catch.hpp>

#include "compiler/analysis/timed_game.hpp"

using namespace linelaw::compiler::analysis;

namespace {

constexpr Letters A = letter(0);
constexpr Letters B = letter(1);
constexpr Letters T = letter(2);

TimedAnswer solved(std::vector<Rule> rules, Letters environment = 0, std::uint32_t day = 0) {
    TimedProblem problem;
    problem.letters = 3;
    problem.environment = environment;
    problem.day = day;
    problem.rules = std::move(rules);
    return solve(problem, 2'000'000);
}

Rule rule(decltype(Rule::what) what) {
    return {0, true, {}, std::move(what)};
}

}  // namespace

TEST_CASE("at least every 72 h and no more often than every 96 h cannot both be kept") {
    CHECK(solved({rule(Deadline{A, 72}), rule(Gap{A, 96, 0})}).verdict == Verdict::conflict);
    CHECK(solved({rule(Deadline{A, 96}), rule(Gap{A, 96, 0})}).verdict == Verdict::keeps);
    CHECK(solved({rule(Deadline{A, 97}), rule(Gap{A, 96, 0})}).verdict == Verdict::keeps);
}

TEST_CASE("a response cannot be given while its event may not yet happen again") {
    const std::vector<Rule> rules{rule(Response{T, A, 2}), rule(Gap{A, 96, 0})};
    CHECK(solved(rules, T).verdict == Verdict::conflict);
    // Where nobody but care brings the trigger about, care can wait, and yet may be led into a corner.
    CHECK(solved(rules, 0).verdict == Verdict::corner);
    CHECK(solved({rule(Response{T, A, 96}), rule(Gap{A, 96, 0})}, T).verdict == Verdict::keeps);
    CHECK(solved({rule(Response{T, A, 95}), rule(Gap{A, 96, 0})}, T).verdict == Verdict::conflict);
}

TEST_CASE("A every 24, B within 1 of A, B no more often than every 20 is a corner of the game") {
    CHECK(solved({rule(Deadline{A, 24}), rule(Response{A, B, 1}), rule(Gap{B, 20, 0})}).verdict ==
          Verdict::corner);
    CHECK(solved({rule(Deadline{A, 24}), rule(Response{A, B, 1}), rule(Gap{B, 26, 0})}).verdict ==
          Verdict::conflict);
    // One B may answer two As an hour apart, and so goes every 25 h for ever.
    CHECK(solved({rule(Deadline{A, 24}), rule(Response{A, B, 1}), rule(Gap{B, 24, 0})}).verdict ==
          Verdict::corner);
    CHECK(solved({rule(Deadline{A, 24}), rule(Response{A, B, 1}), rule(Gap{B, 25, 0})}).verdict ==
          Verdict::corner);
}

TEST_CASE("an event that must be done and may not be is a conflict") {
    CHECK(solved({rule(Deadline{A, 24}), rule(Forbidden{A})}).verdict == Verdict::conflict);
    CHECK(solved({rule(Deadline{A | B, 24}), rule(Forbidden{A})}).verdict == Verdict::keeps);
    CHECK(solved({rule(Response{T, A, 1}), rule(Forbidden{A})}, T).verdict == Verdict::conflict);
}

TEST_CASE("what must have come before is followed through its own shortest interval") {
    // B every 24 h needs A in the hour before; A no more often than every 30 h.
    CHECK(solved({rule(Deadline{B, 24}), rule(Had{B, A, 1}), rule(Gap{A, 30, 0})}).verdict ==
          Verdict::conflict);
    // A every 20 h at the closest: an A too early before B leads into a corner.
    CHECK(solved({rule(Deadline{B, 24}), rule(Had{B, A, 1}), rule(Gap{A, 20, 0})}).verdict ==
          Verdict::corner);
    CHECK(solved({rule(Deadline{B, 24}), rule(Had{B, A, std::nullopt}), rule(Gap{A, 30, 0})}).verdict ==
          Verdict::keeps);
}

TEST_CASE("at most N times in D against at least every") {
    // Units of 4 h: every 4 h is 7 times in 24 h, both ends counted.
    CHECK(solved({rule(Deadline{A, 1}), rule(AtMost{A, 4, 6})}).verdict == Verdict::conflict);
    CHECK(solved({rule(Deadline{A, 2}), rule(AtMost{A, 3, 6})}).verdict ==
          Verdict::conflict);  // 0, 8, 16, 24 h
    CHECK(solved({rule(Deadline{A, 3}), rule(AtMost{A, 3, 6})}).verdict == Verdict::corner);
}

TEST_CASE("each day and each shift against a shortest interval") {
    CHECK(solved({rule(Each{A, 1, {{0, 24}}}), rule(Gap{A, 24, 0})}, 0, 24).verdict == Verdict::keeps);
    CHECK(solved({rule(Each{A, 1, {{0, 24}}}), rule(Gap{A, 25, 0})}, 0, 24).verdict == Verdict::conflict);
    CHECK(solved({rule(Each{A, 1, {{7, 19}, {19, 31}}}), rule(Gap{A, 13, 0})}, 0, 24).verdict ==
          Verdict::conflict);
    CHECK(solved({rule(Each{A, 1, {{7, 19}, {19, 31}}}), rule(Gap{A, 1, 0})}, 0, 24).verdict ==
          Verdict::keeps);
    CHECK(solved({rule(Each{A, 3, {{0, 24}}}), rule(Gap{A, 13, 0})}, 0, 24).verdict == Verdict::conflict);
}

TEST_CASE("a hold that nothing may end forbids what must be done") {
    CHECK(solved({rule(Deadline{A, 24}), rule(Hold{T, A, B})}, T).verdict == Verdict::keeps);
    CHECK(solved({rule(Deadline{A, 24}), rule(Hold{T, A, B}), rule(Forbidden{B})}, T).verdict ==
          Verdict::conflict);
}

TEST_CASE("regions are exact where fractions of the unit add up") {
    // Triggers ever so shortly after each answer let care wait a unit and a moment each time: five answers in
    // somewhat over 4 units. Quarters of a unit are too coarse for the last of these.
    CHECK(solved({rule(Response{T, A, 1}), rule(AtMost{A, 4, 4})}, T).verdict == Verdict::corner);
    CHECK(solved({rule(Response{T, A, 1}), rule(AtMost{A, 3, 4})}, T).verdict == Verdict::conflict);
    CHECK(solved({rule(Response{T, A, 1}), rule(AtMost{A, 4, 5})}, T).verdict == Verdict::conflict);
}

TEST_CASE("minutes beside days are as exact as hours beside days") {
    // In minutes: A at least every day, B within 5 min after it, B no more often than so often.
    const auto set = [](std::uint32_t shortest) {
        return std::vector<Rule>{rule(Deadline{A, 1440}), rule(Response{A, B, 5}), rule(Gap{B, shortest, 0})};
    };
    CHECK(solved(set(96 * 60)).verdict == Verdict::conflict);
    CHECK(solved(set(1446)).verdict == Verdict::conflict);
    CHECK(solved(set(1445)).verdict == Verdict::corner);  // one B for two As 5 min apart
    CHECK(solved(set(1200)).verdict == Verdict::corner);
    std::vector<Rule> never_twice = set(1200);
    never_twice.push_back(rule(Gap{A, 1200, 0}));
    never_twice.push_back(rule(Had{B, A, 5}));  // no B but as the answer to an A
    CHECK(solved(never_twice).verdict == Verdict::keeps);
}

TEST_CASE("by zones too, what comes just after a moment is later than it") {
    // T more than a unit after A is not answered by it, and A may come again before the unit after T is over.
    TimedProblem problem;
    problem.letters = 3;
    problem.rules = {rule(Gap{B, 3, 0}), rule(Response{T, A, 1, false, false, true}), rule(AtMost{A, 1, 2})};
    CHECK(solve_by_regions(problem, 100'000).verdict == Verdict::keeps);
    CHECK(solve_by_zones(problem, 5000).verdict == Verdict::keeps);
}

TEST_CASE("the history of a conflict between minutes and days is told to the minute") {
    const TimedAnswer answer =
        solved({rule(Deadline{A, 1440}), rule(Response{A, B, 5}), rule(Gap{B, 5760, 0})});
    REQUIRE(answer.history.size() == 5);  // A, A and B, A, A: the last two Bs cannot both be
    CHECK(answer.history[0].at == 1440 * 60);
    CHECK(answer.limit == (answer.history[3].at + 5 * 60));
    CHECK(answer.last == std::vector<unsigned>{1});
}

TEST_CASE("a corner counts only where nothing was broken on the way") {
    // B only in the hour after A; A no more often than every 24 h keeps A from being done twice in 10 h.
    const std::vector<Rule> rules{rule(Deadline{A, 24}), rule(Response{A, B, 1}), rule(Gap{B, 20, 0}),
                                  rule(Had{B, A, 1})};
    std::vector<Rule> with = rules;
    with.push_back(rule(Gap{A, 24, 0}));
    CHECK(solved(with).verdict == Verdict::keeps);
    with.back().binds = false;  // care may break it, but then the history is not clean
    CHECK(solved(with).verdict == Verdict::keeps);
    CHECK(solved(rules).verdict == Verdict::corner);
}

TEST_CASE("the history of a conflict leads to the moment at which a rule must break") {
    const TimedAnswer answer = solved({rule(Deadline{A, 72}), rule(Gap{A, 96, 0})});
    REQUIRE(answer.history.size() == 1);
    CHECK(answer.history[0].at == 72 * 60);
    CHECK(answer.until == 144 * 60);
    CHECK(answer.last == std::vector<unsigned>{0});
}
