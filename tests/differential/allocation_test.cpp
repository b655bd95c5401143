// A program of its own, because it replaces operator new: once warm, the engine allocates nothing, whatever
// the policy: not for an event, not for an episode.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/counted_allocations.hpp"
#include "tests/differential/draft.hpp"
#include "tests/differential/engine_side.hpp"

using namespace linelaw;
using tests::allocations;
using tests::counting;

namespace {

std::string vocabulary() {
    std::ifstream in(LINELAW_SOURCE_DIR "/tests/conformance/vectors/vectors.vocabulary.linelaw");
    std::stringstream text;
    text << in.rdbuf();
    return text.str();
}

// A dozen clauses of every form, ladders and bundles, and records that keep them busy.
struct Case {
    std::unique_ptr<literal::EngineSide> side;
    std::vector<runtime::Episode> episodes;
};

std::vector<Case> cases() {
    std::vector<Case> out;
    const std::string words = vocabulary();
    for (std::uint64_t seed = 1; out.size() < 12 && seed < 200; ++seed) {
        literal::Dice dice(seed);
        const auto theme = seed % 2 == 0 ? literal::Theme::calls : literal::Theme::mixed;
        Case c;
        c.side = std::make_unique<literal::EngineSide>(
            literal::random_policy(dice, words, true, theme).text(), words);
        if (!c.side->problem().empty()) continue;
        runtime::RecordReader reader(c.side->policy());
        std::vector<runtime::Spoiled> set_aside;
        while (c.episodes.size() < 60) {
            runtime::Episode episode;
            if (!reader.read(literal::random_record(dice, theme).dump(), episode, set_aside))
                c.episodes.push_back(std::move(episode));
        }
        out.push_back(std::move(c));
    }
    return out;
}

}  // namespace

TEST_CASE("once warm, judging a whole record allocates nothing") {
    std::size_t events = 0;
    std::size_t opportunities = 0;
    for (const Case& c : cases()) {
        runtime::Engine engine(c.side->policy());
        for (const auto& episode : c.episodes) engine.judge(episode);
        allocations = 0;
        counting = true;
        for (const auto& episode : c.episodes) {
            events += episode.events.size();
            opportunities += engine.judge(episode).size();
        }
        counting = false;
        CHECK(allocations == 0);
    }
    CHECK(events > 3'000);
    CHECK(opportunities > 5'000);

    counting = true;
    int* volatile kept = new int(7);  // not to be optimised away
    delete kept;
    counting = false;
    CHECK(allocations >= 1);  // the count itself works
}

TEST_CASE("once warm, feeding an episode event by event allocates nothing") {
    for (const Case& c : cases()) {
        runtime::Engine engine(c.side->policy());
        runtime::Episode growing;
        int counted = 0;
        for (const bool warm : {false, true})
            for (const auto& episode : c.episodes) {
                growing = episode;
                growing.events.clear();
                growing.events.reserve(episode.events.size());
                allocations = 0;
                counting = warm;
                engine.begin(growing);
                for (const auto& event : episode.events) {
                    growing.events.push_back(event);
                    engine.feed(growing);
                }
                engine.finish(growing);
                counting = false;
                counted += allocations;
            }
        CHECK(counted == 0);
    }
}
