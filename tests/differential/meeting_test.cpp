// Part of the meeting, for every run of the tests. The program `meet` goes on for as long as it is told. The
// part at random is hidden (run it with the tag [random]): it still finds corners in which the two differ.
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
    const Meeting meeting = meet(o);
    for (const std::string& c : meeting.cases) UNSCOPED_INFO(c);
    CHECK(meeting.differences == 0);
    CHECK(meeting.counts.lists() > 10'000);
}

TEST_CASE("both evaluators agree on policies and records at random", "[.][random]") {
    MeetingOptions o = options();
    o.seed = 20;
    o.seconds = 25;
    const Meeting meeting = meet(o);
    for (const std::string& c : meeting.cases) UNSCOPED_INFO(c);
    CHECK(meeting.differences == 0);
    CHECK(meeting.counts.lists() > 1'000);
    CHECK(meeting.stepwise > 0);
    CHECK(meeting.reordered > 0);
}
