// Several policies and editions in one run of `audit`, `merge`, `why` and `due`: who judged what, worked out
// by hand from docs/audit-method.md. How an opportunity carries on is in tests/conformance/vectors/editions.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/runtime/program.hpp"

using nlohmann::json;
using small::content;
using small::Folder;
using small::Ran;
using small::run;

namespace {

const std::string vectors = LINELAW_SOURCE_DIR "/tests/conformance/vectors/";
const std::string editions = "'" + vectors + "editions/2.linelaw' '" + vectors + "editions/1.linelaw' ";
// The vectors ask for what they do not ask to be documented.
const std::string editions_accepted = editions + "--accept gap.documentation ";
const std::string governed = "'" + vectors + "governed/1-icu.linelaw' '" + vectors +
                             "governed/2-ward.linelaw' '" + vectors + "governed/3-elsewhere.linelaw' ";

std::string record(const char* key, const char* inserted, const std::string& more) {
    return std::string(R"({"episode":")") + key + R"(","patient":{"key":")" + key +
           R"("},"line":{"inserted_at":")" + inserted + "\"" + more + "}\n";
}
// 28 to 31 March are four days of edition 1, 1 to 5 April five of edition 2 (6 April is not touched).
const std::string over_the_turn = record("e-1", "2026-03-28T08:00:00-03:00",
                                         R"(},"observed_until":"2026-04-06T00:00:00-03:00","events":[)"
                                         R"({"type":"dressing_change","at":"2026-03-30T10:00:00-03:00"},)"
                                         R"({"type":"dressing_change","at":"2026-04-05T12:00:00-03:00"}])");
// 30 and 31 December are two days of edition 2; 1 and 2 January are nobody's.
const std::string past_the_last =
    record("e-2", "2026-12-30T08:00:00-04:00", R"(},"observed_until":"2027-01-03T00:00:00-04:00")");
// 2 and 3 January 2026 lie before the first edition's day.
const std::string before_the_first =
    record("e-3", "2026-01-02T08:00:00-04:00", R"(,"removed_at":"2026-01-03T09:00:00-04:00"})");

json judged(int episodes, int line_days) {
    return {{"episodes", episodes}, {"line_days", line_days}};
}

}  // namespace

TEST_CASE("the summary names each edition, what it judged, and the days without one") {
    const Folder folder;
    const std::string records =
        folder.write("records.ndjson", over_the_turn + past_the_last + before_the_first);
    const Ran ran = run(
        folder, "audit " + editions_accepted + records + " --out " + (folder / "out") + " --findings all");
    INFO(ran.err);
    REQUIRE(ran.status == 1);
    const json summary = json::parse(content(folder / "out/summary.json"));
    const json& policies = summary["policies"];
    REQUIRE(policies["editions"].size() == 2);
    CHECK(policies["editions"][0]["edition"] == "1");  // by their days, whatever the order given
    CHECK(policies["editions"][0]["in_force"] == "from 2026-01-05 until 2026-03-31");
    CHECK(policies["editions"][0]["judged"] == judged(1, 4));
    CHECK(policies["editions"][1]["judged"] == judged(2, 5 + 2));
    CHECK(policies["no_edition_in_force"] == judged(2, 2 + 2));
    CHECK(policies["no_policy_governs"] == judged(0, 0));
    CHECK(policies["several_policies_govern"] == judged(0, 0));
    CHECK(summary["line_days"]["each_line"] == 4 + 5 + 2 + 2 + 2);
    CHECK(summary["policy"]["edition"] == "1 and 2");
    CHECK_THAT(ran.out, Catch::Contains("- edition 1: 4 line-days of 1 episode, in force from 2026-01-05") &&
                            Catch::Contains("- no edition in force: 4 line-days of 2 episodes"));
    CHECK_THAT(content(folder / "out/report.html"),
               Catch::Contains("Which policy judged what") && Catch::Contains("no edition in force"));
    std::size_t of_old = 0;
    std::size_t of_new = 0;
    std::istringstream lines(content(folder / "out/findings.ndjson"));
    for (std::string line; std::getline(lines, line);) {
        const json finding = json::parse(line);
        CHECK(finding["policy"] == "Vectors: editions");
        if (finding.value("clause", "") != "kept.every" || finding["episode"] != "e-1") continue;
        ++(finding["edition"] == "1" ? of_old : of_new);
        if (finding["opened"] == "2026-04-05T15:00:00Z") CHECK(finding["edition"] == "2");
    }
    CHECK(of_old == 2);
    CHECK(of_new == 1);
}

TEST_CASE("compiled editions are editions as well, wherever their schema is named") {
    const Folder folder;
    const std::string records = folder.write("records.ndjson", over_the_turn);
    std::string compiled;
    for (const std::string edition : {"2", "1"}) {
        REQUIRE(run(folder, "compile '" + vectors + "editions/" + edition +
                                ".linelaw' --accept gap.documentation -o " + (folder / (edition + ".json")))
                    .status == 0);
        compiled += (folder / (edition + ".json")) + " ";
    }
    const Ran of_texts = run(folder, "audit " + editions_accepted + records + " --findings all");
    const Ran of_compiled = run(folder, "audit " + compiled + records + " --findings all");
    INFO(of_compiled.err);
    CHECK(of_compiled.out == of_texts.out);
    // A record that names the schema is a record all the same.
    const std::string naming =
        folder.write("naming.ndjson",
                     record("linelaw/compiled-policy/1", "2026-03-28T08:00:00-03:00", "}") + over_the_turn);
    const Ran of_naming = run(folder, "audit " + compiled + naming + " --summary json");
    CHECK_THAT(of_naming.out, Catch::Contains("\"read\": 2"));
    CHECK_FALSE(of_texts.out.empty());
}

TEST_CASE("more than one policy that governs is said; the one given first judges") {
    const Folder folder;
    const auto in = [](const char* key, const char* setting) {
        return std::string(R"({"episode":")") + key + R"(","patient":{"key":")" + key + "\"" + setting +
               R"(},"line":{"inserted_at":"2026-03-02T08:00:00-04:00"},"observed_until":"2026-03-05T00:00:00-04:00"})"
               "\n";
    };
    const std::string records =
        folder.write("records.ndjson",
                     in("e-1", R"(,"setting":"icu")") + in("e-2", R"(,"setting":"home")") + in("e-3", ""));
    const Ran ran = run(folder, "audit " + governed + records + " --out " + (folder / "out"));
    INFO(ran.err);
    const json policies = json::parse(content(folder / "out/summary.json"))["policies"];
    CHECK(policies["editions"][0]["judged"] == judged(1, 3));  // the unit's own
    CHECK(policies["editions"][1]["judged"] == judged(0, 0));
    CHECK(policies["editions"][2]["judged"] == judged(2, 6));  // at home, and where it is not recorded
    CHECK(policies["several_policies_govern"] == judged(1, 3));
    const Ran two = run(folder, "audit '" + vectors + "governed/1-icu.linelaw' '" + vectors +
                                    "governed/2-ward.linelaw' " + records + " --summary json");
    CHECK(json::parse(two.out)["policies"]["no_policy_governs"] == judged(2, 6));
}

TEST_CASE("several editions give the same bytes for any number of jobs, and for shards that are merged") {
    const Folder folder;
    std::string many;
    std::string half;
    for (int i = 0; i < 400; ++i) {
        std::string one = i % 3 == 0 ? over_the_turn : i % 3 == 1 ? past_the_last : before_the_first;
        const std::size_t key = one.find("e-");
        one.replace(key, 3, "e-" + std::to_string(1000 + i));
        (i < 200 ? half : many) += one;
    }
    const std::string key = " --partial-key " + folder.write("secret", std::string(32, 'k'));
    const std::string whole = folder.write("whole.ndjson", half + many);
    run(folder, "audit " + editions_accepted + whole + " --quiet --jobs 1 --out " + (folder / "one") + key);
    run(folder, "audit " + editions_accepted + whole + " --quiet --jobs 4 --out " + (folder / "four") + key);
    run(folder, "audit " + editions_accepted + folder.write("a.ndjson", half) + " --quiet --out " +
                    (folder / "a") + key);
    run(folder, "audit " + editions_accepted + folder.write("b.ndjson", many) + " --quiet --out " +
                    (folder / "b") + key);
    run(folder, "merge " + (folder / "a") + " " + (folder / "b") + " --quiet --out " + (folder / "merged"));
    CHECK(content(folder / "one/findings.ndjson") == content(folder / "four/findings.ndjson"));
    for (const std::string name : {"summary.json", "partial.json", "report.html"}) {
        INFO(name);
        CHECK(!content(folder / ("one/" + name)).empty());
        CHECK(content(folder / ("one/" + name)) == content(folder / ("four/" + name)));
        CHECK(content(folder / ("one/" + name)) == content(folder / ("merged/" + name)));
    }
}

// 30 March 10:00 + 7 days = 6 April 10:00 by the terms under which it was opened; by the newer edition it
// would have been due on 2 April.
TEST_CASE("why and due go by the same editions") {
    const Folder folder;
    const std::string records = folder.write("records.ndjson", over_the_turn);
    const Ran why = run(folder, "why " + editions_accepted + records + " --clause kept.every");
    CHECK_THAT(why.out, Catch::Contains("kept.every (edition 1)") &&
                            Catch::Contains("kept.every (edition 2)") &&
                            Catch::Contains("opened 30 March 2026 10:00, due 6 April 2026 10:00"));
    const Ran due = run(
        folder, "due " + editions_accepted + records + " --as-of 2026-04-03 --within '4 days' --format json");
    bool found = false;
    const json tasks = json::parse(due.out)["due"];
    for (const json& task : tasks) {
        if (task["item"].get<std::string>().find("kept.every") == std::string::npos) continue;
        found = true;
        CHECK(task["item"] == "kept.every (edition 1)");
        CHECK(task["due"] == "2026-04-06T13:00:00Z");
    }
    CHECK(found);
}

TEST_CASE("policies that do not fit together are refused") {
    const Folder folder;
    const std::string records = folder.write("records.ndjson", over_the_turn);
    const Ran twice = run(folder, "audit '" + vectors + "editions/1.linelaw' '" + vectors +
                                      "editions/1.linelaw' " + records + " --accept gap.documentation");
    CHECK(twice.status == 2);
    CHECK_THAT(twice.err, Catch::Contains("both are in force on 2026-01-05"));
}
