// `linelaw why` and `linelaw due` as they are run, over a small policy and records whose answers were worked
// out by hand.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/runtime/program.hpp"

using nlohmann::json;
using small::Folder;
using small::Ran;

namespace {

// A weekly dressing with half a day's grace, a damp one within two hours, site checks each calendar day.
void write_policy(const Folder& folder) {
    folder.write("small.linelaw", R"(vocabulary small
  edition 1
patient
  age : age 0 days .. 120 years
line
  kind : one of picc, port
event dressing_change "Dressing change"
  dry_time : duration 0 s .. 30 min in s
event site_assessment "Site assessment"
  finding : one of intact, damp
role provider
)");
    folder.write("policy.linelaw", R"(policy "Quillhaven Regional: small"
  edition 1
  in force from 2026-01-01
  time zone UTC
  uses vocabulary "small.linelaw"
  undocumented counts as not met

clause weekly "Change the dressing at least every 7 days."
  must dressing_change at least every 7 days grace 12 h
  priority critical
clause damp "A damp dressing is changed within 2 hours."
  after site_assessment where finding is damp
  must dressing_change within 2 h
clause daily "Look at the site each calendar day."
  must site_assessment at least every 1 calendar day
clause dry "Dry for 30 s."
  at dressing_change
  must dry_time at least 30 s
clause finding "Say how the site was found."
  at site_assessment
  must document finding
)");
}

std::string record(const std::string& key, const std::string& unit, const std::string& inserted,
                   const std::string& events, const std::string& more = "", const std::string& line = "") {
    return R"({"episode":")" + key + R"(","care_unit":")" + unit +
           R"(","line":{"kind":"picc","inserted_at":"2026-03-)" + inserted + R"(:00Z")" + line +
           R"(},"events":[)" + events + "]" + more + "}\n";
}
std::string event(const std::string& type, const std::string& at, const std::string& more = "") {
    return R"({"type":")" + type + R"(","at":"2026-03-)" + at + R"(:00Z")" +
           (more.empty() ? "" : "," + more) + "}";
}

Ran judge(const Folder& folder, const std::string& command, const std::string& more) {
    return small::run(folder, command + " " + (folder / "policy.linelaw") + " " + more);
}

// In med-3: q-1 (in 2 March 08:00, looked at on the 9th) with its dressing in grace on the 9th at 12:00; q-2
// (in on the 1st at 08:00) overdue. In icu-1: q-3 (in on the 8th at 20:00), damp at 11:00 on the 9th, due at
// 13:00; q-4 is removed.
std::string ward() {
    return record("q-1", "med-3", "02T08:00", event("site_assessment", "09T07:00")) +
           record("q-2", "med-3", "01T08:00", event("site_assessment", "09T07:00")) +
           record("q-3", "icu-1", "08T20:00", event("site_assessment", "09T11:00", R"("finding":"damp")")) +
           record("q-4", "icu-1", "01T08:00", "", "", R"(,"removed_at":"2026-03-05T08:00:00Z")") +
           "{\"episode\": \"cut\n";
}

}  // namespace

TEST_CASE("due tells by care unit what is overdue, what is in grace and what comes next") {
    const Folder folder;
    write_policy(folder);
    folder.write("ward.ndjson", ward());
    const std::string given = (folder / "ward.ndjson") + " --as-of 2026-03-09T12:00:00Z --within '6 h'";
    const Ran ran = judge(folder, "due", given);
    INFO(ran.out << ran.err);
    CHECK(ran.status == 1);
    CHECK_THAT(ran.err, Catch::Contains("1 of 5 records could not be read"));
    // icu-1 stands before med-3; in each, what ends first stands first.
    std::istringstream lines(ran.out);
    std::vector<std::string> said;
    for (std::string line; std::getline(lines, line);) said.push_back(line);
    REQUIRE(said.size() > 7);
    CHECK(said[0] == "as of 9 March 2026 12:00 (UTC): 1 overdue, 2 more due within 6 h");
    CHECK(said[2] == "icu-1");
    CHECK_THAT(said[3], Catch::Contains("due in 1 h") && Catch::Contains("due 9 March 2026 13:00 ") &&
                            Catch::Contains("q-3") && Catch::Contains("dressing change") &&
                            Catch::Contains("(damp, major)"));
    CHECK(said[5] == "med-3");
    CHECK_THAT(said[6], Catch::Contains("overdue 16 h") && Catch::Contains("q-2") &&
                            Catch::Contains("(weekly, critical)"));
    CHECK_THAT(said[7], Catch::Contains("in grace, 8 h left") &&
                            Catch::Contains("due 9 March 2026 08:00, grace until 20:00") &&
                            Catch::Contains("q-1"));
    CHECK_THAT(ran.out, !Catch::Contains("q-4") && Catch::Contains("licensed clinical judgement"));
    // The time that is left runs to when it is due, not to the end of grace.
    const Ran before =
        judge(folder, "due", (folder / "ward.ndjson") + " --as-of 2026-03-06T08:00:00Z --within '3 days'");
    CHECK_THAT(before.out, Catch::Contains("due in 3 days ") &&
                               Catch::Contains("due 9 March 2026 08:00, grace until 20:00  q-1"));
}

TEST_CASE("a calendar limit is overdue at its very instant, another one is not") {
    const Folder folder;
    write_policy(folder);
    folder.write("one.ndjson", record("q-1", "med-3", "02T08:00", ""));
    const auto state = [&](const std::string& as_of, const std::string& item) {
        const json list =
            json::parse(judge(folder, "due",
                              (folder / "one.ndjson") + " --within '30 days' --format json --as-of " + as_of)
                            .out);
        for (const json& task : list["due"]) {
            if (task["item"] == item) return task["state"].get<std::string>();
        }
        return std::string("none");
    };
    CHECK(state("2026-03-03T23:59:00Z", "daily") == "due");
    CHECK(state("2026-03-04T00:00:00Z", "daily") == "overdue");  // due before the midnight that ends the 3rd
    CHECK(state("2026-03-09T20:00:00Z", "weekly") == "in grace");
    CHECK(state("2026-03-09T20:01:00Z", "weekly") == "overdue");
}

TEST_CASE("the worklist comes as CSV, JSON and a page, and of one care unit alone") {
    const Folder folder;
    write_policy(folder);
    folder.write("ward.ndjson", ward());
    const std::string given =
        (folder / "ward.ndjson") + " --as-of 2026-03-09T12:00:00Z --within '6 h' --format ";
    const json list = json::parse(judge(folder, "due", given + "json").out);
    CHECK(list["schema"] == "linelaw/due/1");
    CHECK(list["overdue"] == 1);
    CHECK(list["records"] == json{{"read", 5}, {"not_read", 1}});
    REQUIRE(list["due"].size() == 3);
    CHECK(list["due"][1]["episode"] == "q-2");
    CHECK(list["due"][1]["overdue_s"] == 16 * 3600);
    CHECK(list["due"][1]["sentence"] == "Change the dressing at least every 7 days.");
    const std::string csv = judge(folder, "due", given + "csv").out;
    CHECK_THAT(csv, Catch::StartsWith("care_unit,episode,state,") &&
                        Catch::Contains("\r\nmed-3,q-2,overdue,dressing change,weekly,critical,"));
    const std::string page = judge(folder, "due", given + "html").out;
    CHECK_THAT(page, Catch::Contains("<h2>icu-1</h2>") && Catch::Contains("overdue 16 h") &&
                         Catch::Contains("default-src 'none'") && !Catch::Contains("<script") &&
                         Catch::Contains("<caption>Overdue and due in med-3</caption>"));
    const json icu = json::parse(judge(folder, "due", given + "json --care-unit icu-1").out);
    CHECK(icu["due"].size() == 1);
}

TEST_CASE("a record that ends before the moment of the list is marked") {
    const Folder folder;
    write_policy(folder);
    folder.write("one.ndjson",
                 record("q-1", "med-3", "02T08:00", "", R"(,"observed_until":"2026-03-06T00:00:00Z")"));
    const Ran ran = judge(folder, "due", (folder / "one.ndjson") + " --as-of 2026-03-10T00:00:00Z");
    CHECK_THAT(ran.out,
               Catch::Contains("(weekly, critical) *") &&
                   Catch::Contains("2 of those overdue are of records that end before this moment (*)") &&
                   Catch::Contains("* the record ends before this moment"));
    CHECK(judge(folder, "due", (folder / "one.ndjson") + " --within soon").status == 2);
}

TEST_CASE(
    "why tells what opened, was due and happened, the words that decided, the evidence and the nearest "
    "thing") {
    const Folder folder;
    write_policy(folder);
    folder.write("one.ndjson",
                 record("q-1", "med-3", "02T08:00", event("dressing_change", "10T09:00", R"("dry_time":20)"),
                        R"(,"observed_until":"2026-03-10T10:00:00Z")"));
    const Ran ran = judge(folder, "why", (folder / "one.ndjson") + " --clause weekly");
    INFO(ran.out << ran.err);
    CHECK(ran.status == 1);
    CHECK_THAT(ran.out,
               Catch::Contains("Change the dressing at least every 7 days.") &&
                   Catch::Contains("policy.linelaw:8") &&
                   Catch::Contains("opened 2 March 2026 08:00, due 9 March 2026 08:00, limit 20:00") &&
                   Catch::Contains("no dressing change from 2 March 2026 08:00 until 10 March 2026 09:00") &&
                   Catch::Contains("→ a dressing change by 9 March 2026 20:00 would have met it"));
    CHECK_THAT(ran.out, !Catch::Contains("Dry for 30 s."));
    const Ran dry = judge(folder, "why", (folder / "one.ndjson") + " --clause dry");
    CHECK_THAT(dry.out, Catch::Contains("dry_time: 20 s (/events/0/dry_time)") &&
                            Catch::Contains("→ the dressing change with dry time 30 s would have met it"));
}

TEST_CASE("why says what it did not use, what it could not read, and that nothing counts against") {
    const Folder folder;
    write_policy(folder);
    // What is not used of a record that is not read is told of no other.
    folder.write("one.ndjson", "{\"episode\":\"q-2\",\"odd\":1,\"line\":{\"inserted_at\":\"never\"}}\n" +
                                   record("q-1", "med-3", "02T08:00", event("dressing_chnge", "05T09:00"),
                                          R"(,"observed_until":"2026-03-02T09:00:00Z")"));
    const std::string records = folder / "one.ndjson";
    const Ran ran = judge(folder, "why", records + " --episode q-1 --against");
    CHECK(ran.status == 0);
    CHECK_THAT(ran.err, Catch::Contains("not used, as the policy's word list does not have them: events "
                                        "dressing_chnge (1)") &&
                            !Catch::Contains("odd"));
    CHECK_THAT(ran.out, Catch::Contains("Nothing counts against what is documented here."));
    const Ran spoiled = judge(folder, "why", records + " --episode q-2");
    CHECK(spoiled.status == 2);
    CHECK_THAT(spoiled.err, Catch::Contains("one.ndjson:1: this record is quarantined"));
    CHECK_THAT(
        judge(folder, "why", records + " --episode q-3").err,
        Catch::Contains("there is no episode `q-3` in what was given; some records could not be read"));
    CHECK_THAT(judge(folder, "due", records + " --as-of 2026-03-03T00:00:00Z").err,
               Catch::Contains("dressing_chnge (1)"));
}

TEST_CASE("a moment more than a century from now is a mistyped year") {
    const Folder folder;
    write_policy(folder);
    folder.write("one.ndjson", record("q-1", "med-3", "02T08:00", "", ""));
    for (const char* command : {"due", "why"}) {
        const Ran ran = judge(folder, command, (folder / "one.ndjson") + " --as-of 9999-12-31");
        CHECK(ran.status == 2);
        CHECK_THAT(ran.err, Catch::Contains("`9999-12-31` is more than a century from now"));
    }
}

TEST_CASE("why as JSON adds the words, the place and the change to each finding") {
    const Folder folder;
    write_policy(folder);
    folder.write("one.ndjson", record("q-1", "med-3", "02T08:00", event("dressing_change", "10T09:00"),
                                      R"(,"observed_until":"2026-03-10T10:00:00Z")"));
    const Ran ran = judge(folder, "why", (folder / "one.ndjson") + " --format json --clause weekly");
    std::istringstream lines(ran.out);
    std::vector<json> findings;
    for (std::string line; std::getline(lines, line);) findings.push_back(json::parse(line));
    REQUIRE(findings.size() == 2);  // the late one, and the pending one that follows
    const json& why = findings[0]["why"];
    CHECK(findings[0]["outcome"] == "late");
    CHECK(why["policy"]["line"] == 8);
    CHECK_THAT(why["words"].get<std::string>(), Catch::Contains("7 days"));
    CHECK(why["would_have_met"]["change"] == "move");
    CHECK(why["would_have_met"]["event"] == "dressing_change");
    CHECK(why["would_have_met"]["at"] == "2026-03-09T20:00:00Z");
    CHECK(why["would_have_met"]["pointer"] == "/events/0");
    CHECK(findings[1]["outcome"] == "pending");
    CHECK(findings[1]["why"]["would_have_met"]["said"] ==
          "a dressing change by 17 March 2026 21:00 will meet it");
}

TEST_CASE("why as a page tells the same, with the episode's timeline, and fetches nothing") {
    const Folder folder;
    write_policy(folder);
    folder.write("one.ndjson",
                 record("q-<1", "med-3", "02T08:00", event("dressing_change", "10T09:00", R"("dry_time":20)"),
                        R"(,"observed_until":"2026-03-10T10:00:00Z")"));
    const Ran ran = judge(folder, "why", (folder / "one.ndjson") + " --clause weekly --format html");
    CHECK(ran.status == 1);
    CHECK_THAT(ran.out,
               Catch::Contains("Change the dressing at least every 7 days.") &&
                   Catch::Contains("policy.linelaw:8") &&
                   Catch::Contains("Opened 2 March 2026 08:00, due 9 March 2026 08:00, limit 20:00") &&
                   Catch::Contains(
                       "<li>no dressing change from 2 March 2026 08:00 until 10 March 2026 09:00</li>") &&
                   Catch::Contains("A dressing change by 9 March 2026 20:00 would have met it.") &&
                   Catch::Contains("svg class=\"timeline\"") && Catch::Contains("Episode q-&lt;1"));
    CHECK_THAT(ran.out,
               !Catch::Contains("Dry for 30 s.") && !Catch::Contains("q-<1") && !Catch::Contains("://"));
}

TEST_CASE(
    "a clause that is not there is said to be none, and an error of the policy is not to be let stand") {
    const Folder folder;
    write_policy(folder);
    folder.write("r.ndjson", record("q-1", "ward", "02T08:00", event("dressing_change", "05T08:00")));
    const std::string given = (folder / "policy.linelaw") + " " + (folder / "r.ndjson");
    const Ran none = small::run(folder, "why " + given + " --clause dailyy");
    CHECK(none.status == 2);
    CHECK_THAT(none.err, Catch::Contains("no clause, bundle or escalation `dailyy`"));
    CHECK(none.out.empty());
    std::string broken = small::content(folder / "policy.linelaw");
    broken.replace(broken.find("must dressing_change"), 20, "must dresing_chang");
    folder.write("policy.linelaw", broken);
    const Ran refused = small::run(folder, "why " + given);
    CHECK(refused.status == 2);
    CHECK_THAT(refused.err, Catch::Contains("mend it") && !Catch::Contains("--accept"));
}

// language.md 4.4 and 4.5: the access opened it, and what is missing is missing of the dressing change; of a
// flush that names no lumen nothing is missing but its lumen.
TEST_CASE("what could not be judged is told of the event that leaves it open") {
    const Folder folder;
    folder.write("small.linelaw", R"(vocabulary small
  edition 1
line
  lumens : count 1 .. 5
part lumen "Lumen" line.lumens of them
event access "Access"
event dressing_change "Dressing change"
  dressing : one of transparent, gauze
event flush of lumen "Flush"
)");
    folder.write("policy.linelaw", R"(policy "Quillhaven Regional: small"
  edition 1
  in force from 2026-01-01
  time zone UTC
  uses vocabulary "small.linelaw"
  undocumented counts as not assessable

clause access "Change it after an access."
  after access
  must dressing_change where dressing is gauze within 2 h
clause lumen "Flush each lumen daily."
  for each lumen
  must flush at least every 24 h
)");
    folder.write("r.ndjson",
                 R"({"episode":"q-1","line":{"lumens":2,"inserted_at":"2026-03-02T08:00:00Z"},"events":[)" +
                     event("flush", "02T14:00") + "," + event("access", "03T08:00") + "," +
                     event("dressing_change", "03T08:30") + "]}\n");
    const Ran ran = small::run(folder, "why " + (folder / "policy.linelaw") + " " + (folder / "r.ndjson") +
                                           " --accept gap.documentation");
    INFO(ran.err);
    CHECK_THAT(ran.out,
               Catch::Contains("At the dressing change on 3 March 2026 at 08:30, it could not be judged: the "
                               "dressing was not recorded."));
    CHECK_THAT(ran.out, Catch::Contains(
                            "At the flush on 2 March 2026 at 14:00, it could not be judged: which lumen it "
                            "was is not recorded."));
}
