// States that events of parts set, as a whole run judges them and tells what decided: worked out by hand from
// docs/language.md, 4.8 ("States set by events of a part …").
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/runtime/program.hpp"

using nlohmann::json;
using small::Folder;

namespace {

// What the one finding of `clause` is, and the value of a state among its evidence.
struct Told {
    std::string outcome;
    json state;
};
std::vector<Told> told(const std::string& clause, const std::string& line, const std::string& events) {
    const Folder folder;
    folder.write("small.linelaw", R"(vocabulary small
  edition 1
line
  kind : one of picc, port
  lumens : count 1 .. 3
part lumen "Lumen" line.lumens of them
part infusion "Infusion" of lumen from infusion_start until infusion_stop
event insertion "Insertion"
  dressing : one of film, gauze
event flush of lumen "Flush"
  sol : one of saline, heparin
event draw of lumen "Draw"
event infusion_start "Start of an infusion"
  fluid : one of lipid, blood
event infusion_stop "End of an infusion"
event set_change of infusion "Set change"
event look "Look"
state sol from flush.sol
state fluid from infusion_start.fluid
state dressing from insertion.dressing
)");
    folder.write("policy.linelaw", R"(policy "Quillhaven Regional: parts"
  edition 1
  in force from 2026-01-01
  time zone UTC
  uses vocabulary "small.linelaw"
  undocumented counts as not assessable

clause c "What it asks."
  )" + clause + "\n");
    folder.write("one.ndjson",
                 R"({"episode":"q-1","line":{"kind":"picc","inserted_at":"2026-03-01T08:00:00Z")" + line +
                     R"(},"observed_until":"2026-03-01T20:00:00Z","events":[)" + events + "]}\n");
    const small::Ran ran = small::run(folder, "why " + (folder / "policy.linelaw") + " " +
                                                  (folder / "one.ndjson") + " --format json --clause c");
    INFO(ran.err);
    REQUIRE(ran.status < 2);
    std::vector<Told> all;
    std::istringstream lines(ran.out);
    for (std::string text; std::getline(lines, text);) {
        const json finding = json::parse(text);
        Told one{finding["outcome"], {}};
        for (const json& evidence : finding["evidence"])
            if (evidence["role"] == "value" &&
                evidence["attribute"].get<std::string>().rfind("state.", 0) == 0)
                one.state = evidence;
        all.push_back(std::move(one));
    }
    return all;
}
std::string event(const std::string& type, const std::string& at, const std::string& more = "") {
    return R"({"type":")" + type + R"(","at":"2026-03-01T)" + at + R"(:00Z")" +
           (more.empty() ? "" : "," + more) + "}";
}

}  // namespace

TEST_CASE("the line's state is the newest that any part's event set, though it is not known which part") {
    const std::string flush = event("flush", "10:00", R"("sol":"saline")") + "," + event("look", "12:00");
    for (const char* line : {"", R"(,"lumens":1)", R"(,"lumens":2)"}) {
        INFO(line);
        const auto is = told("at look\n  must sol is saline", line, flush);
        REQUIRE(is.size() == 1);
        CHECK(is[0].outcome == "met");
        CHECK(is[0].state["value"] == "saline");
        const auto is_not = told("at look\n  must sol is not saline", line, flush);
        REQUIRE(is_not.size() == 1);
        CHECK(is_not[0].outcome == "not_met");
    }
    CHECK(told("while sol is saline\n  must look at least every 6 h", "", flush).size() == 2);
}

TEST_CASE("the evidence of a part's state is that part's own") {
    const std::string two = R"(,"lumens":2)";
    const std::string flushed = event("flush", "10:00", R"("lumen":1,"sol":"saline")") + "," +
                                event("flush", "11:00", R"("lumen":2,"sol":"heparin")") + ",";
    const std::string clause = "for each lumen\n  at draw\n  must sol is saline";
    const auto first = told(clause, two, flushed + event("draw", "12:00", R"("lumen":1)"));
    REQUIRE(first.size() == 1);
    CHECK(first[0].outcome == "met");
    CHECK(first[0].state["value"] == "saline");
    CHECK(first[0].state["pointer"] == "/events/0/sol");
    const auto second = told(clause, two, flushed + event("draw", "12:00", R"("lumen":2)"));
    REQUIRE(second.size() == 1);
    CHECK(second[0].outcome == "not_met");
    CHECK(second[0].state["value"] == "heparin");
    // Without `for each`, of the lumen at hand; of an infusion, of the lumen that it runs into.
    const auto at_hand =
        told("at draw\n  must sol is saline", two, flushed + event("draw", "12:00", R"("lumen":1)"));
    REQUIRE(at_hand.size() == 1);
    CHECK(at_hand[0].state["value"] == "saline");
    const std::string infusions =
        event("infusion_start", "11:30", R"("infusion":"i1","lumen":1,"fluid":"lipid")") + "," +
        event("infusion_start", "11:40", R"("infusion":"i2","lumen":2,"fluid":"blood")") + "," +
        event("set_change", "12:00", R"("infusion":"i1")");
    const auto above = told("at set_change\n  must sol is saline", two, flushed + infusions);
    REQUIRE(above.size() == 1);
    CHECK(above[0].outcome == "met");
    CHECK(above[0].state["value"] == "saline");
    const auto own = told("at set_change\n  must fluid is lipid", two, infusions);
    REQUIRE(own.size() == 1);
    CHECK(own[0].outcome == "met");
    CHECK(own[0].state["value"] == "lipid");
}

TEST_CASE("a part that takes a name again has not the state of the one that bore it") {
    const std::string again =
        event("infusion_start", "09:00", R"("infusion":"i1","lumen":1,"fluid":"lipid")") + "," +
        event("infusion_stop", "10:00", R"("infusion":"i1")") + "," +
        event("infusion_start", "11:00", R"("infusion":"i1","lumen":1)") + "," +
        event("set_change", "12:00", R"("infusion":"i1")");
    const auto one = told("at set_change\n  must fluid is lipid", R"(,"lumens":1)", again);
    REQUIRE(one.size() == 1);
    CHECK(one[0].outcome == "not_assessable");
    CHECK(one[0].state["value"].is_null());
}

TEST_CASE("an event at the instant of the insertion sees, and is told, what the insertion set") {
    const auto one =
        told("at look\n  must dressing is gauze", R"(,"dressing":"gauze")", event("look", "08:00"));
    REQUIRE(one.size() == 1);
    CHECK(one[0].outcome == "met");
    CHECK(one[0].state["value"] == "gauze");
    CHECK(one[0].state["pointer"] == "/line/dressing");
}

TEST_CASE("a line that was out before the record begins is no record of it") {
    const Folder folder;
    folder.write("small.linelaw",
                 "vocabulary small\n  edition 1\nline\n  kind : one of picc\nevent look \"Look\"\n");
    folder.write("policy.linelaw",
                 "policy \"P\"\n  edition 1\n  time zone UTC\n  uses vocabulary \"small.linelaw\"\n"
                 "  undocumented counts as not met\nclause c \"Look each day.\"\n"
                 "  must look each calendar day\n");
    folder.write("one.ndjson",
                 R"({"episode":"q-1","line":{"kind":"picc","inserted_at":"2026-03-01T08:00:00Z",)"
                 R"("removed_at":"2026-03-01T20:00:00Z"},"observed_from":"2026-03-02T08:00:00Z",)"
                 R"("observed_until":"2026-03-05T08:00:00Z","events":[]})"
                 "\n");
    const small::Ran ran =
        small::run(folder, "why " + (folder / "policy.linelaw") + " " + (folder / "one.ndjson"));
    CHECK(ran.status == 2);
    CHECK_THAT(ran.err, Catch::Contains("the line is removed before the record begins"));
}
