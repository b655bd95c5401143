// The program as a user meets it: exit statuses, where output goes, and what it says about bad input. 0:
// nothing against; 1: findings; 2: the command could not be carried out.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/demo/outside.hpp"

using namespace outside;
using Catch::Matchers::Contains;

namespace {

std::string sample() {
    return LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson";
}

const char* const sound =
    R"({"episode":"s","facility":"quillhaven","patient":{"setting":"home","age":{"value":50,"unit":"a"}},)"
    R"("line":{"kind":"midline","lumens":1,"inserted_at":"2026-05-04T08:00:00Z"},"observed_until":"2026-05-04T09:00:00Z","events":[]})";

}  // namespace

TEST_CASE("records with findings end with status 1, and the folder holds every file") {
    const Folder folder;
    const Run run = linelaw({"audit", demo_policy(), sample(), "--out", (folder / "out").string()});
    CHECK(run.status == 1);
    for (const char* name :
         {"findings.ndjson", "summary.json", "quarantine.ndjson", "set_aside.ndjson", "report.html"}) {
        INFO(name);
        CHECK(std::filesystem::exists(folder / "out" / name));
    }
    CHECK_THAT(read(folder / "out" / "report.html"), Contains("Quillhaven Regional"));
}

TEST_CASE("without a folder the summary goes to standard output, and errors to standard error") {
    const Run run = linelaw({"audit", demo_policy(), sample()});
    CHECK(run.status == 1);
    CHECK_THAT(run.out, Contains("dressing.transparent"));
    const Run refused = linelaw({"audit", "no-such-policy.linelaw", sample()});
    CHECK(refused.out.empty());
    CHECK_FALSE(refused.err.empty());
}

TEST_CASE("the output is the same, byte for byte, for any number of threads") {
    const Folder folder;
    generate(folder / "demo", 200, 9);
    const auto with_jobs = [&](const char* jobs) {
        linelaw({"audit", demo_policy(), (folder / "demo" / "records.ndjson").string(), "--findings", "all",
                 "--jobs", jobs, "--out", (folder / jobs).string()});
        std::string all;
        for (const char* name :
             {"findings.ndjson", "summary.json", "quarantine.ndjson", "set_aside.ndjson", "report.html"}) {
            all += read(folder / jobs / name);
        }
        return all;
    };
    const std::string one = with_jobs("1");
    CHECK(one.size() > 100'000);
    CHECK(one == with_jobs("2"));
    CHECK(one == with_jobs("7"));
}

TEST_CASE("a policy that is not there, or is a folder, is refused with its name") {
    for (const std::string& policy :
         {std::string("no-such-policy.linelaw"), std::string(LINELAW_SOURCE_DIR "/policies")}) {
        const Run run = linelaw({"audit", policy, sample()});
        INFO(run.err);
        CHECK(run.status == 2);
        CHECK_THAT(run.err, Contains(policy));
    }
}

TEST_CASE("records that are not there are refused with their name") {
    const Run run = linelaw({"audit", demo_policy(), "no-such-records.ndjson"});
    INFO(run.err);
    CHECK(run.status == 2);
    CHECK_THAT(run.err, Contains("no-such-records.ndjson"));
}

TEST_CASE("a policy with an error judges nothing, and the place is shown") {
    const Folder folder;
    std::string text = read(demo_policy());
    const std::string was = "dressing_change at least every 7 days";
    text.replace(text.find(was), was.size(), "dressing_chnge at least every 7 days");
    const std::string use = "../line-care.linelaw";
    text.replace(text.find(use), use.size(), demo_vocabulary());
    write(folder / "policy.linelaw", text);
    const Run run = linelaw({"audit", (folder / "policy.linelaw").string(), sample()});
    INFO(run.err);
    CHECK(run.status == 2);
    CHECK_THAT(run.out + run.err,
               Contains("dressing_chnge") && Contains("dressing_change") && Contains("policy.linelaw:"));
}

TEST_CASE("a record file that is no JSON is quarantined line by line, and nothing crashes") {
    const Folder folder;
    write(folder / "records.ndjson", std::string("\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16) + "\nkey;value\n1;2\n");
    const Run run = linelaw(
        {"audit", demo_policy(), (folder / "records.ndjson").string(), "--out", (folder / "out").string()});
    INFO(run.err);
    CHECK(run.status == 1);
    const auto quarantined = lines(read(folder / "out" / "quarantine.ndjson"));
    CHECK(quarantined.size() >= 3);
    for (const std::string& line : quarantined) {
        const auto one = nlohmann::json::parse(line);
        CHECK_FALSE(one.at("reason").get<std::string>().empty());
    }
    CHECK(read(folder / "out" / "findings.ndjson").empty());
}

TEST_CASE("an empty record file is an error, not a clean audit") {
    const Folder folder;
    write(folder / "records.ndjson", "");
    const Run run = linelaw({"audit", demo_policy(), (folder / "records.ndjson").string()});
    CHECK(run.status == 2);
    CHECK_FALSE(run.err.empty());
}

TEST_CASE("records may come from standard input") {
    const Run run = linelaw({"audit", demo_policy(), "-"}, std::string(sound) + "\n");
    INFO(run.out << run.err);
    CHECK((run.status == 0 || run.status == 1));
    CHECK_THAT(run.out, Contains("dressing.transparent"));
}

TEST_CASE("a command that does not exist, or lacks what it needs, ends with status 2") {
    CHECK(linelaw({"adit"}).status == 2);
    CHECK(linelaw({"audit"}).status == 2);
    CHECK(linelaw({}).status == 2);
}

TEST_CASE("no attribute's value stands in an error or a quarantine line") {
    const Folder folder;
    std::string record = sound;
    record.replace(record.find("\"events\":[]"), 11,
                   R"("events":[{"id":"e1","type":"flush","at":"the Tuesday of Ms Sample"}])");
    write(folder / "records.ndjson", record + "\n");
    const Run run = linelaw(
        {"audit", demo_policy(), (folder / "records.ndjson").string(), "--out", (folder / "out").string()});
    const std::string quarantine = read(folder / "out" / "quarantine.ndjson");
    const auto one = nlohmann::json::parse(lines(quarantine).at(0));
    CHECK_THAT(one.at("reason").get<std::string>(), !Contains("Ms Sample"));
    CHECK_THAT(run.out + run.err, !Contains("Ms Sample"));
}

// The words that the README leaves out of the demo's policy, and what it shows of the answer.
TEST_CASE("the README shows a gap as the program tells it") {
    const Folder folder;
    std::string policy = read(demo_policy());
    const std::string forgotten = "one of gauze, gauze_under_transparent";
    REQUIRE(policy.find(forgotten) != std::string::npos);
    policy.replace(policy.find(forgotten), forgotten.size(), "gauze");
    for (const char* folder_of_policies : {"policies/demo", "policies/baseline"})
        std::filesystem::create_directories(folder / folder_of_policies);
    std::filesystem::copy(LINELAW_SOURCE_DIR "/policies/baseline", folder / "policies/baseline",
                          std::filesystem::copy_options::recursive);
    write(folder / "policies/line-care.linelaw", read(demo_vocabulary()));
    write(folder / "policies/demo/quillhaven.linelaw", policy);
    const Run run = linelaw({"check", (folder / "policies/demo/quillhaven.linelaw").string()});
    REQUIRE(run.status == 1);

    std::string shown;
    for (const std::string& line : lines(read(LINELAW_SOURCE_DIR "/README.md"))) {
        if (shown.empty() && line.rfind("    gap:", 0) != 0) continue;
        if (line.empty()) break;
        shown += line.substr(4) + "\n";
    }
    std::string told = run.out + run.err;
    const std::string here = (folder / "").string();
    for (std::size_t at = 0; (at = told.find(here)) != std::string::npos;) told.erase(at, here.size());
    CHECK(told.substr(0, shown.size()) == shown);
}
