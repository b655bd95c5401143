// Part of the meeting, for every run of the tests. The program `meet` goes on for as long as it is told.
#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>

#include "tests/differential/meeting.hpp"

using namespace linelaw::literal;

namespace {
MeetingOptions options() {
    std::ifstream in(LINELAW_SOURCE_DIR "/tests/conformance/vectors/vectors.vocabulary.linelaw");
    std::stringstream text;
    text << in.rdbuf();
    MeetingOptions o;
    o.vocabulary = text.str();
    o.most_cases = 3;
    return o;
}
}  // namespace

TEST_CASE("both evaluators agree on every clause of a small world, with up to two events at six instants") {
    MeetingOptions o = options();
    o.small_events = 2;
    o.small_stride = 7;
    o.jobs = 2;
    const Meeting meeting = meet(o);
    for (const std::string& c : meeting.cases) UNSCOPED_INFO(c);
    CHECK(meeting.differences == 0);
    CHECK(meeting.counts.lists() > 10'000);
}

TEST_CASE("both evaluators agree where one clause of the small world overrides another") {
    MeetingOptions o = options();
    o.pair_events = 1;
    o.small_stride = 11;
    o.jobs = 2;
    const Meeting meeting = meet(o);
    for (const std::string& c : meeting.cases) UNSCOPED_INFO(c);
    CHECK(meeting.differences == 0);
    CHECK(meeting.counts.lists() > 10'000);
}

TEST_CASE("both evaluators agree on policies and records at random") {
    MeetingOptions o = options();
    o.seed = 20;
    o.comparisons = 100'000;
    o.jobs = 2;
    const Meeting meeting = meet(o);
    for (const std::string& c : meeting.cases) UNSCOPED_INFO(c);
    CHECK(meeting.differences == 0);
    CHECK(meeting.counts.lists() >= 100'000);
    CHECK(meeting.counts.all_at_least(0));  // nothing that cannot occur
    CHECK(meeting.stepwise > 500);
    CHECK(meeting.reordered > 500);
    CHECK(meeting.cut > 500);
    CHECK(meeting.due > 500);
    CHECK(meeting.documented > 50);
}
