// The program itself: what it prints, and how it exits.
#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "program.hpp"
#include "runtime/policy_json.hpp"
#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;
namespace fs = std::filesystem;

namespace {

// With the standard vocabulary in it.
class PolicyFolder : public Folder {
  public:
    PolicyFolder() { write("line-care.linelaw", text_of_file("policies/line-care.linelaw")); }
};

// One interval for every line and dressing: no gap but those that the test's vocabulary asks about.
const std::string sound =
    "policy \"Quillhaven Regional: a test\"\n  edition 1\n  in force from 2026-03-01 until 2100-01-01\n  "
    "review by "
    "2100-01-01\n  time zone America/Halifax\n  undocumented counts as not assessable\n"
    "event dressing_change \"Dressing change\"\n  dressing : one of gauze, transparent\n"
    "clause dressing.change\n  \"Change the dressing at least every 7 days.\"\n  must dressing_change at "
    "least every 7 "
    "days\n  reason \"A test.\"\n"
    "clause chart\n  \"Chart the dressing.\"\n  at dressing_change\n  must document dressing\n  reason \"A "
    "test.\"\n"
    "example \"late\"\n  day 0 08:00 insertion\n  day 8 08:00 dressing_change dressing gauze\n  expect "
    "dressing.change late\n"
    "  expect chart met 1 times\n";

std::string with(std::string text, const std::string& from, const std::string& to) {
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

}  // namespace

TEST_CASE(
    "check exits 0 where nothing is against a policy, 1 where something is, 2 where it cannot be read") {
    const PolicyFolder folder;
    const auto good = run("PROGRAM check " + folder.write("good.linelaw", sound));
    INFO(good.output);
    CHECK(good.status == 0);
    const auto bad = run("PROGRAM check " + folder.write("bad.linelaw", with(sound, "must dressing_change",
                                                                             "must dresing_change")));
    CHECK(bad.status == 1);
    CHECK(bad.output.find("write `dressing_change`") != std::string::npos);
    CHECK(run("PROGRAM check " + folder.path("none.linelaw")).status == 2);
    CHECK(run("PROGRAM check").status == 2);
}

TEST_CASE("a folder, and what cannot be read to its end, are no texts") {
    const PolicyFolder folder;
    for (const std::string command : {"check", "format", "test", "document", "compile -o /dev/null"}) {
        const auto at_folder = run("PROGRAM " + command + " " + folder.path("."));
        INFO(command << "\n" << at_folder.output);
        CHECK(at_folder.status == 2);
        CHECK(at_folder.output.find("it is a folder") != std::string::npos);
        // Reading it fails with an input error, as a failing disk does.
        const auto failing = run("PROGRAM " + command + " /proc/self/mem");
        INFO(failing.output);
        CHECK(failing.status == 2);
        CHECK(failing.output.find("cannot read /proc/self/mem: Input/output error") != std::string::npos);
    }
}

TEST_CASE("nothing is shown of a record that is given where a policy belongs") {
    const PolicyFolder folder;
    const std::string record = R"({"episode":"q-1","patient":{"key":"ZQMARK"}})";
    for (const std::string& text : {record + "\n", "\xEF\xBB\xBF" + record + "\n" + record + "\n",
                                    "\n [" + record + "]", "[\xFF" + record}) {
        const std::string path = folder.write("records.ndjson", text);
        const std::string uses = folder.write(
            "uses.linelaw", with(sound, "time zone", "uses vocabulary \"records.ndjson\"\n  time zone"));
        for (const std::string& command :
             {"check " + path, "format " + path, "test " + path, "document " + path,
              "compile -o /dev/null " + path, "audit " + path + " " + path, "due " + path + " " + path,
              "compare " + path + " " + path, "check " + uses}) {
            const auto ran = run("PROGRAM " + command);
            INFO(command << "\n" << ran.output);
            CHECK(ran.status != 0);
            CHECK(ran.output.find("JSON") != std::string::npos);
            CHECK(ran.output.find("ZQMARK") == std::string::npos);
        }
    }
}

TEST_CASE("a where that looks at other events is asked about by nobody, and crashes nothing") {
    const PolicyFolder folder;
    for (const std::string where : {"review in the last 2 h", "time since review at most 2 h",
                                    "count of review in the last 2 h at least 2"}) {
        const auto ran =
            run("PROGRAM check " +
                folder.write(
                    "where.linelaw",
                    with(sound, "event dressing_change",
                         "event review \"Review\"\nevent draw \"Draw\"\nevent dressing_change") +
                        "\nclause late\n  \"Review within 2 h.\"\n  after dressing_change or draw where " +
                        where + "\n  must review within 2 h\n  reason \"A test.\"\n"));
        INFO(ran.output);
        CHECK(ran.output.find("fault of this program") == std::string::npos);
        CHECK(ran.output.find("unclear.where") == std::string::npos);
        CHECK(ran.output.find("syntax.") == std::string::npos);
    }
}

TEST_CASE("check reads standard input") {
    const PolicyFolder folder;
    CHECK(run("PROGRAM check - < " + folder.write("good.linelaw", sound)).status == 0);
}

TEST_CASE("check lets a warning stand where its code is accepted") {
    const PolicyFolder folder;
    const auto path = folder.write("drift.linelaw", with(sound, "every 7 days.\"", "every 6 days.\""));
    CHECK(run("PROGRAM check " + path).status == 1);
    const auto accepted = run("PROGRAM check --accept drift.sentence " + path);
    CHECK(accepted.status == 0);
    CHECK(accepted.output.find("accepted") != std::string::npos);  // and it stays to be seen
}

TEST_CASE("check says first what counts most, and last and short what is accepted") {
    const PolicyFolder folder;
    // Two clauses that nobody can keep, accepted, stand before a sentence that says another number.
    const std::string text =
        with(sound, "clause chart\n",
             "clause rare\n  \"Change it no more often than every 8 days.\"\n  must dressing_change no more "
             "often than every 8 days\n  reason \"A test.\"\n"
             "accept conflict.interval for dressing.change, rare because \"both are on trial\"\n"
             "clause look\n  \"Look each day.\"\n  must site_assessment at least every 2 days\n  reason \"A "
             "test.\"\n"
             "clause chart\n");
    const auto said =
        run("PROGRAM check " + folder.write("both.linelaw", with(text, "event dressing_change",
                                                                 "event site_assessment \"Look\"\nevent "
                                                                 "dressing_change")));
    INFO(said.output);
    CHECK(said.status == 1);
    const std::size_t drift = said.output.find("(drift.sentence)");
    const std::size_t accepted = said.output.find("accepted: no care keeps");
    REQUIRE(drift != std::string::npos);
    REQUIRE(accepted != std::string::npos);
    CHECK(drift < accepted);
    const std::string last = said.output.substr(accepted);
    CHECK(last.find("because: both are on trial\n") != std::string::npos);
    CHECK(last.find("this happens when") == std::string::npos);
    CHECK(last.find("ways out") == std::string::npos);
    CHECK(last.find(", 1 accepted\n") != std::string::npos);
    const auto listed =
        nlohmann::json::parse(run("PROGRAM check --format json " + folder.path("both.linelaw")).output);
    CHECK(listed["diagnostics"].back()["accepted"] == "both are on trial");
}

TEST_CASE("check gives JSON with every place in lines and columns") {
    const PolicyFolder folder;
    const auto path = folder.write("bad.linelaw", with(sound, "must dressing_change", "must dresing_change"));
    const auto ran = run("PROGRAM check --format json " + path);
    CHECK(ran.status == 1);
    const auto json = nlohmann::json::parse(ran.output);
    const auto& diagnostic = json.at("diagnostics").at(0);
    CHECK(diagnostic.at("code") == "name.unknown");
    CHECK(diagnostic.at("severity") == "error");
    CHECK(diagnostic.at("help") == "write `dressing_change`");
    const auto& place = diagnostic.at("places").at(0);
    CHECK(place.at("file") == path);
    CHECK(place.at("line") == 11);
    CHECK(place.at("column") == 8);
    CHECK(place.at("end_line") == 11);
    CHECK(place.at("end_column") == 22);
}

TEST_CASE("check gives SARIF 2.1.0 that keeps the published schema") {
    const PolicyFolder folder;
    const std::string root = LINELAW_SOURCE_DIR;
    const std::string validate = " | python3 " + root + "/tests/compiler/validate.py " + root +
                                 "/tests/compiler/data/sarif-2.1.0-rtm.5.json";
    for (const auto& text : {sound, with(sound, "must dressing_change", "must dresing_change"),
                             with(sound, "every 7 days.\"", "every 6 days.\"")}) {
        const auto path = folder.write("policy with spaces.linelaw", text);
        const auto ran = run("PROGRAM check --format sarif '" + path + "'" + validate);
        INFO(ran.output);
        CHECK(ran.status == 0);
    }
    const auto path = folder.write("bad.linelaw", with(sound, "must dressing_change", "must dresing_change"));
    const auto sarif = nlohmann::json::parse(run("PROGRAM check --format sarif " + path).output);
    const auto& result = sarif.at("runs").at(0).at("results").at(0);
    CHECK(result.at("ruleId") == "name.unknown");
    CHECK(result.at("level") == "error");
    CHECK(result.at("locations").at(0).at("physicalLocation").at("region").at("startLine") == 11);
    const auto& rule = sarif.at("runs").at(0).at("tool").at("driver").at("rules").at(
        result.at("ruleIndex").get<std::size_t>());
    CHECK(rule.at("id") == "name.unknown");
    CHECK(result.at("fixes")
              .at(0)
              .at("artifactChanges")
              .at(0)
              .at("replacements")
              .at(0)
              .at("insertedContent")
              .at("text") == "dressing_change");
}

TEST_CASE("A finding's fingerprint in SARIF does not move with its line") {
    const PolicyFolder folder;
    const auto bad = with(sound, "must dressing_change", "must dresing_change");
    const auto path = folder.path("bad.linelaw");
    const auto fingerprint = [&](const std::string& text) {
        folder.write("bad.linelaw", text);
        const auto sarif = nlohmann::json::parse(run("PROGRAM check --format sarif " + path).output);
        return sarif.at("runs").at(0).at("results").at(0).at("partialFingerprints");
    };
    CHECK(fingerprint(bad) == fingerprint("# a line more\n" + bad));
}

TEST_CASE("compile writes a policy that can be read, and nothing where the policy has errors") {
    const PolicyFolder folder;
    const auto out = folder.path("policy.json");
    CHECK(run("PROGRAM compile " + folder.write("good.linelaw", sound) + " -o " + out).status == 0);
    const auto policy = runtime::read_policy(compiler::read_file(out).value_or(""));
    REQUIRE(policy);
    CHECK(policy->clauses.size() == 2);
    const auto bad = folder.write("bad.linelaw", with(sound, "must dressing_change", "must dresing_change"));
    CHECK(run("PROGRAM compile " + bad + " -o " + folder.path("other.json")).status == 1);
    CHECK_FALSE(fs::exists(folder.path("other.json")));
    CHECK(run("PROGRAM compile " + folder.path("good.linelaw") + " -o " + folder.path("no/such/folder.json"))
              .status == 3);
}

TEST_CASE("explain shows a code's page, offers a near code, and lists them all") {
    const auto page = run("PROGRAM explain unit.civil");
    CHECK(page.status == 0);
    CHECK(page.output.find("charting_delay at most 24 h") != std::string::npos);
    const auto near = run("PROGRAM explain unit.civl");
    CHECK(near.status == 2);
    CHECK(near.output.find("`unit.civil`") != std::string::npos);
    const auto all = run("PROGRAM explain");
    CHECK(all.status == 0);
    CHECK(all.output.find("conflict.interval") != std::string::npos);
}

TEST_CASE("format lays a policy out once, and --check says whether it has been") {
    const PolicyFolder folder;
    const auto path = folder.write("policy.linelaw", sound);
    CHECK(run("PROGRAM format --check " + path).status == 1);
    CHECK(compiler::read_file(path) == sound);
    CHECK(run("PROGRAM format " + path).status == 0);
    CHECK(run("PROGRAM format --check " + path).status == 0);
    CHECK(run("PROGRAM check " + path).status == 0);
    CHECK(run("PROGRAM format " + folder.write("bad.linelaw", "policy\n")).status == 1);
    CHECK(compiler::read_file(folder.path("bad.linelaw")) == "policy\n");
}

TEST_CASE("format keeps a backslash at the end of a text, which would escape the mark after it") {
    const PolicyFolder folder;
    const auto path = folder.write("policy.linelaw", with(sound, R"("A test.")", R"("A test\ ")"));
    CHECK(run("PROGRAM check " + path).status == 0);
    CHECK(run("PROGRAM format " + path).status == 0);
    CHECK(run("PROGRAM check " + path).status == 0);
    CHECK(run("PROGRAM format --check " + path).status == 0);
}

TEST_CASE("A file is written through links, in its mode, and what is no file is never replaced") {
    const PolicyFolder folder;
    const auto policy = folder.write("good.linelaw", sound);
    const auto compile_to = [&](const std::string& name) {
        return run("PROGRAM compile " + policy + " -o " + folder.path(name)).status;
    };
    const auto secret = folder.write("secret.json", "old");
    fs::permissions(secret, fs::perms::owner_read | fs::perms::owner_write);
    CHECK(compile_to("secret.json") == 0);
    CHECK(fs::status(secret).permissions() == (fs::perms::owner_read | fs::perms::owner_write));
    const auto whole = fs::file_size(secret);

    fs::create_symlink("behind.json", folder.path("link.json"));  // leads to nothing as yet
    for (int again = 0; again < 2; ++again) {
        CHECK(compile_to("link.json") == 0);
        CHECK(fs::is_symlink(folder.path("link.json")));
        CHECK(fs::file_size(folder.path("behind.json")) == whole);
    }
    fs::create_symlink("circle.json", folder.path("circle.json"));
    CHECK(compile_to("circle.json") == 3);

    const auto pipe = folder.path("pipe.json");
    REQUIRE(mkfifo(pipe.c_str(), S_IRUSR | S_IWUSR) == 0);
    const auto read = run("cat " + pipe + " | wc -c & PROGRAM compile " + policy + " -o " + pipe + "; wait");
    CHECK(std::stoull(read.output) == whole);
    CHECK(fs::is_fifo(pipe));

    CHECK(compile_to("nowhere/policy.json") == 3);
    CHECK(run("PROGRAM compile " + policy + " -o /dev/full").status == 3);
    CHECK(fs::is_character_file("/dev/full"));
    for (const auto& entry : fs::directory_iterator(folder.path("")))
        CHECK(entry.path().string().find(".part-") == std::string::npos);
}

TEST_CASE("new writes a policy to begin with, which check names the blanks of, and never over another file") {
    const PolicyFolder folder;
    folder.write("good.linelaw", sound);
    const auto path = folder.path("new.linelaw");
    const auto made = run("PROGRAM new " + folder.path("line-care.linelaw") + " -o " + path);
    INFO(made.output);
    CHECK(made.status == 0);
    CHECK(run("PROGRAM format --check " + path).status == 0);
    const auto checked = run("PROGRAM check " + path);
    CHECK(checked.status == 1);
    CHECK(checked.output.find("gap: the sentence of `dressing_interval` is still to be written") !=
          std::string::npos);
    CHECK(run("PROGRAM compile " + path + " -o " + folder.path("new.json")).status == 1);
    const auto again = run("PROGRAM new " + folder.path("line-care.linelaw") + " -o " + path);
    CHECK(again.status == 2);
    CHECK(again.output.find("is there already") != std::string::npos);
    CHECK(run("PROGRAM new " + folder.path("good.linelaw")).status == 2);
    CHECK(run("PROGRAM new " + folder.path("line-care.linelaw")).output.find("policy \"…\"") !=
          std::string::npos);
}

TEST_CASE(
    "audit, why and due refuse a policy with a conflict or a gap that nobody accepted, and say the same") {
    const PolicyFolder folder;
    const auto path = folder.write("gap.linelaw", sound + "event site_pain \"Pain\" complication\n");
    const auto records =
        folder.write("records.ndjson",
                     "{\"episode\": \"q-1\", \"patient\": {\"key\": \"p-1\"}, \"line\": {\"inserted_at\": "
                     "\"2026-03-02T10:15:00-04:00\"}, \"observed_until\": \"2026-03-20T00:00:00-04:00\", "
                     "\"events\": []}\n");
    std::set<std::string> said;
    for (const std::string command : {"audit", "why", "due"}) {
        const auto refused = run("PROGRAM " + command + ' ' + path + ' ' + records);
        CHECK(refused.status == 2);
        said.insert(refused.output);
        const auto accepted = run("PROGRAM " + command + ' ' + path + ' ' + records +
                                  " --accept gap.response --accept gap.question --accept gap.documentation");
        INFO(accepted.output);
        CHECK(accepted.status != 2);
    }
    CHECK(said.size() == 1);
    CHECK(said.begin()->find("no record is judged by it") != std::string::npos);
    CHECK(said.begin()->find("`site_pain`") != std::string::npos);
    CHECK(run("PROGRAM compile " + path + " -o " + folder.path("gap.json")).status == 1);
    CHECK(run("PROGRAM schema " + path).status == 0);
}

TEST_CASE("test runs the examples and says what was found instead") {
    const PolicyFolder folder;
    const auto good = run("PROGRAM test " + folder.write("good.linelaw", sound));
    INFO(good.output);
    CHECK(good.status == 0);
    CHECK(good.output.find("1 of 1 examples as expected") != std::string::npos);
    CHECK(good.output.find("no example shows kept: `dressing.change`") != std::string::npos);
    CHECK(good.output.find("no example shows broken: `chart`") != std::string::npos);
    const auto bad = run("PROGRAM test " + folder.write("bad.linelaw", with(sound, "dressing.change late",
                                                                            "dressing.change met")));
    CHECK(bad.status == 1);
    CHECK(bad.output.find("expected `dressing.change` met, found late once, pending once") !=
          std::string::npos);
    const auto junit = run("PROGRAM test --format junit " + folder.path("bad.linelaw"));
    CHECK(junit.status == 1);
    CHECK(junit.output.find("tests=\"1\" failures=\"1\"") != std::string::npos);
}

TEST_CASE(
    "test names apart what no episode tells from the policy, and does not claim that it means the same") {
    const PolicyFolder folder;
    // Who is 18 is 10 as well.
    const auto path = folder.write(
        "policy.linelaw",
        "policy \"A test\"\n  edition 1\n  in force from 2026-03-01 until 2100-01-01\n  time zone UTC\n"
        "  uses vocabulary \"line-care.linelaw\"\n"
        "clause out\n  \"Out within 24 h.\"\n  for patient.age at least 18 years and patient.age at least 10 "
        "years\n  after insertion\n  must removal within 24 h\n  reason \"A test.\"\n");
    const auto ran = run("PROGRAM test " + path);
    INFO(ran.output);
    CHECK(ran.output.find(
              "cannot be told apart: no small episode differs where `patient.age at least 10 years` "
              "is left out; that it means the same is not shown") != std::string::npos);
    CHECK(ran.output.find("; 5 cannot be told apart from it") != std::string::npos);
}

TEST_CASE("test tries small changes to the policy and gives an example for each that none notices") {
    const PolicyFolder folder;
    const auto path = folder.write("good.linelaw", sound);
    const auto ran = run("PROGRAM test " + path);
    CHECK(ran.status == 0);  // what examples lack is no finding against the policy
    CHECK(ran.output.find("no example notices") != std::string::npos);
    CHECK(ran.output.find("example \"dressing.change: at least every 7 days, not ") != std::string::npos);
    CHECK(ran.output.find("small changes to it: ") != std::string::npos);
    const auto without = run("PROGRAM test --no-mutations " + path);
    CHECK(without.status == 0);
    CHECK(without.output.find("small change") == std::string::npos);
    const auto quiet = run("PROGRAM test --quiet " + path);
    CHECK(quiet.output.empty());
    const auto junit = run("PROGRAM test --format junit " + path);
    CHECK(junit.status == 0);
    CHECK(junit.output.find("good.linelaw: small changes\" tests=\"") != std::string::npos);
    CHECK(junit.output.find("failures=\"1\"") == std::string::npos);
    const auto failing = run("PROGRAM test " + folder.write("bad.linelaw", with(sound, "dressing.change late",
                                                                                "dressing.change met")));
    CHECK(failing.output.find("small changes to it were not tried") != std::string::npos);
}

TEST_CASE("check reads each clause back when asked to") {
    const PolicyFolder folder;
    const auto ran = run("PROGRAM check --read-back " + folder.write("good.linelaw", sound));
    CHECK(ran.output.find("Each `dressing_change` is due 7 days after the one before") != std::string::npos);
}

TEST_CASE("check says what was not analysed") {
    const PolicyFolder folder;
    const auto ran = run("PROGRAM check " + folder.write("bad.linelaw", with(sound, "must dressing_change",
                                                                             "must dresing_change")));
    CHECK(ran.output.find("conflicts and gaps were not looked for") != std::string::npos);
}
