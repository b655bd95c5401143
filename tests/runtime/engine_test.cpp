// The engine on hand-made policies: what its face promises. The meaning of the language is tested by the
// vectors in tests/conformance.
#include "runtime/engine.hpp"

#include <catch2/catch.hpp>

#include "small_policy.hpp"

using namespace small;

namespace {

std::vector<Outcome> outcomes(const std::vector<Opportunity>& opportunities) {
    std::vector<Outcome> out;
    for (const Opportunity& o : opportunities) out.push_back(o.outcome);
    return out;
}

}  // namespace

TEST_CASE("a change within its interval is met, one past it late, and the last is pending") {
    Policy p = policy();
    p.clauses.push_back(clause("dressing.transparent", "Change it.",
                               AtLeastEvery{{{dressing_change, none}}, days(7), false, {}, none, {}}));
    EpisodeMaker maker(p);
    maker.event(dressing_change, instant("2026-03-09T08:00:00Z"));
    maker.event(dressing_change, instant("2026-03-16T08:00:01Z"));
    Engine engine(p);
    const auto& found = engine.judge(maker.episode);
    CHECK(outcomes(found) == std::vector<Outcome>{Outcome::met, Outcome::late, Outcome::pending});
    CHECK(found[0].limit == instant("2026-03-09T08:00:00Z"));
    CHECK(found[1].closed_by == 2);
    CHECK_FALSE(found[2].closed);
}

TEST_CASE("the horizon decides between pending and missed") {
    Policy p = policy();
    p.clauses.push_back(clause("dressing.transparent", "Change it.",
                               AtLeastEvery{{{dressing_change, none}}, days(7), false, {}, none, hours(12)}));
    EpisodeMaker maker(p);
    Engine engine(p);
    CHECK(outcomes(engine.judge(maker.episode, instant("2026-03-09T20:00:00Z"))) ==
          std::vector<Outcome>{Outcome::pending});
    CHECK(outcomes(engine.judge(maker.episode, instant("2026-03-09T20:00:01Z"))) ==
          std::vector<Outcome>{Outcome::missed});
}
