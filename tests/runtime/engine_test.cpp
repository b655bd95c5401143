// The engine on hand-made policies: what its face promises. The meaning of the language is tested by the
// vectors in tests/conformance.
#include "runtime/engine.hpp"

#include <catch2/catch.hpp>

#include "small_policy.hpp"

using namespace small;

namespace {

std::vector<Outcome> outcomes(const Judgement& opportunities) {
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

TEST_CASE("of several opportunities of one instant each has its number") {
    Policy p = policy();
    p.clauses.push_back(clause("dressing.documented", "Write it down.", Document{}));
    p.clauses[0].trigger = {TriggerKind::at, {{dressing_change, none}}, none};
    EpisodeMaker maker(p);
    const Instant at = instant("2026-03-05T08:00:00Z");
    for (int i = 0; i < 3; ++i) maker.event(dressing_change, at);
    maker.event(dressing_change, at + 1);
    Engine engine(p);
    std::vector<std::pair<Instant, std::uint32_t>> found;
    for (const Opportunity& o : engine.judge(maker.episode)) found.emplace_back(o.opened, o.nth);
    CHECK(found == std::vector<std::pair<Instant, std::uint32_t>>{{at, 0}, {at, 1}, {at, 2}, {at + 1, 0}});
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

TEST_CASE(
    "each of many parts is answered by the events that bear its name, and a name given again is another "
    "part") {
    Policy p = policy();
    PartKind infusion;
    infusion.name = "infusion";
    infusion.from = {site_assessment};
    infusion.until = {acknowledgement};
    p.part_kinds = {infusion};
    p.event_kinds[set_change].of = 0;
    p.clauses.push_back(
        clause("sets", "Change it.", AtLeastEvery{{{set_change, none}}, days(1), false, {}, none, {}}));
    p.clauses.back().for_each = 0;
    EpisodeMaker maker(p);
    Episode& episode = maker.episode;
    const auto named = [&](EventKindId kind, std::int64_t minute, int n) {
        const std::uint32_t event =
            maker.event(kind, instant("2026-03-03T00:00:00Z") + minute * microseconds_per_minute);
        episode.events[event].part = static_cast<std::uint32_t>(episode.texts.size());
        episode.texts.push_back("i" + std::to_string(n));
    };
    constexpr int count = 300;
    for (int n = 0; n < count; ++n) named(site_assessment, n, n);
    named(site_assessment, count, 0);
    for (int n = 0; n < count; ++n) named(set_change, 2 * count + n, count - 1 - n);
    Engine engine(p);
    for (int twice = 0; twice < 2; ++twice) {  // the first record's names say nothing of the next one's
        int met = 0;
        int ended = 0;
        for (const Opportunity& o : engine.judge(episode, instant("2026-03-03T18:00:00Z"))) {
            ended += o.outcome == Outcome::no_longer_due ? 1 : 0;
            if (o.outcome != Outcome::met) continue;
            ++met;
            CHECK(episode.texts[o.part] == episode.texts[episode.events[o.closed_by].part]);
        }
        CHECK(met == count);
        CHECK(ended == 1);
    }
}
