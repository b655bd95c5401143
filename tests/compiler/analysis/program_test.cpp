// `compare` and `check --together` as programs.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "tests/compiler/analysis/texts.hpp"
#include "tests/compiler/program.hpp"

using namespace linelaw::compiler::analysis;
using linelaw::tests::Folder;
using linelaw::tests::Ran;
using linelaw::tests::run;

namespace {

// A policy with its words in it, and one interval.
std::string text(const std::string& every) {
    return "policy \"Quillhaven Regional: a test\"\n  edition 1\n  in force from 2026-03-01 until "
           "2100-01-01\n"
           "  review by 2100-01-01\n  time zone America/Halifax\n"
           "  undocumented counts as not assessable\n"
           "event dressing_change \"Dressing change\"\n  dressing : one of gauze, transparent\n"
           "clause dressing.change\n  \"Change the dressing.\"\n  must dressing_change at least every " +
           every +
           "\n  reason \"test\"\n"
           "clause dressing.named\n  \"A transparent dressing.\"\n  at dressing_change\n"
           "  must dressing is transparent\n  reason \"test\"\n";
}

// Inserted on 9 March; a change after five days that does not say the dressing, and removed after eight.
const std::string record =
    R"({"schema":"linelaw/episode/1","episode":"e-1","line":{"inserted_at":"2026-03-09T08:00:00-03:00",)"
    R"("removed_at":"2026-03-17T08:00:00-03:00"},"observed_until":"2026-03-18T08:00:00-03:00","events":[)"
    R"({"type":"dressing_change","at":"2026-03-14T08:00:00-03:00"}]})";

}  // namespace

TEST_CASE("compare exits 1 where something is given up, and 0 where nothing is") {
    const Folder folder;
    const std::string week = folder.write("week.linelaw", text("7 days"));
    const std::string days = folder.write("days.linelaw", text("3 days"));
    const Ran stricter = run("PROGRAM compare " + week + " " + days);
    INFO(stricter.output);
    CHECK(stricter.status == 0);
    CHECK(stricter.output.find("1 stricter") != std::string::npos);
    CHECK(stricter.output.find("the new counts this against, and the old does not:") != std::string::npos);
    const Ran looser = run("PROGRAM compare " + days + " " + week);
    CHECK(looser.status == 1);
    CHECK(looser.output.find("1 looser") != std::string::npos);
    CHECK(run("PROGRAM compare " + week + " " + week).output.find("nothing to compare") != std::string::npos);
    CHECK(run("PROGRAM compare " + week + " none.linelaw").status == 2);
}

TEST_CASE("compare with records says what flips, and what cannot be told") {
    const Folder folder;
    const std::string week = folder.write("week.linelaw", text("7 days"));
    const std::string days = folder.write("days.linelaw", text("3 days"));
    const std::string records = folder.write("records.ndjson", record + "\n");
    const Ran ran = run("PROGRAM compare " + week + " " + days + " --format json --records " + records);
    INFO(ran.output);
    REQUIRE(ran.status == 0);
    const auto json = nlohmann::json::parse(ran.output);
    CHECK(json.at("schema") == "linelaw/comparison/1");
    const auto& replay = json.at("replay");
    CHECK(replay.at("records") == 1);
    CHECK(replay.at("records_flipped") == 1);
    CHECK(replay.at("records_cannot_tell") == 0);  // the dressing is undocumented under both: no flip
    // Day 5 is in time within 7 days and late after 3; then 3 days to the removal: no flip within 7, none
    // at 3.
    REQUIRE(replay.at("flips").size() == 1);
    CHECK(replay.at("flips").at(0).at("old") == "met");
    CHECK(replay.at("flips").at(0).at("new") == "late");
    CHECK(replay.at("flips").at(0).at("times") == 1);
    CHECK(replay.at("flips").at(0).at("first").at(0).at("episode") == "e-1");
    // Eight days in place at every 7 and every 3 days.
    const auto& asked = replay.at("asked_per_1000_line_days").at(0);
    CHECK(asked.at("what") == "dressing change");
    CHECK(asked.at("old").get<double>() == Approx(1000.0 / 7));
    CHECK(asked.at("new").get<double>() == Approx(1000.0 / 3));
}

TEST_CASE("what one policy can tell and the other cannot is counted as such") {
    const Folder folder;
    std::string other = text("7 days");
    other.replace(other.find("must dressing is transparent"), 28, "must document dressing");
    const std::string named = folder.write("named.linelaw", text("7 days"));
    const std::string charted = folder.write("charted.linelaw", other);
    const std::string records = folder.write("records.ndjson", record + "\n");
    const Ran ran = run("PROGRAM compare " + named + " " + charted + " --format json --records " + records);
    INFO(ran.output);
    const auto replay = nlohmann::json::parse(ran.output).at("replay");
    CHECK(replay.at("records_cannot_tell") == 1);
    REQUIRE(replay.at("flips").size() == 1);
    CHECK(replay.at("flips").at(0).at("old") == "not_assessable");
    CHECK(replay.at("flips").at(0).at("new") == "not_met");
}

TEST_CASE("check --together finds what two guidelines that are sound alone disagree on") {
    const std::string baseline = LINELAW_SOURCE_DIR "/policies/baseline/";
    const Ran ran =
        run("PROGRAM check --together " + baseline + "hicpac.linelaw " + baseline + "ins.linelaw");
    INFO(ran.output);
    CHECK(ran.status == 1);
    CHECK(ran.output.find("`hicpac: set.continuous` and `ins: set.nutrition`") != std::string::npos);
    CHECK(ran.output.find("baseline/ins.linelaw:") != std::string::npos);
    CHECK(ran.output.find("redundant.clause") == std::string::npos);
}

// Written for the engine, they hold every construct, and many that no policy here has.
TEST_CASE("the policies of the conformance vectors are checked to the end, and no fault of ours is found") {
    std::size_t checked = 0;
    const std::filesystem::path vectors = std::string(LINELAW_SOURCE_DIR) + "/tests/conformance/vectors";
    for (const auto& entry : std::filesystem::recursive_directory_iterator(vectors)) {
        if (entry.path().extension() != ".linelaw") continue;
        const Ran ran = run("PROGRAM check " + entry.path().string());
        INFO(entry.path() << "\n" << ran.output);
        CHECK((ran.status == 0 || ran.status == 1));
        CHECK(ran.output.find("(internal.") == std::string::npos);
        ++checked;
    }
    CHECK(checked > 15);
}
