// What was planted in the records is found, and nothing else. The generator knows neither the policies nor
// the engine.
#include <algorithm>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <set>

#include "tests/demo/outside.hpp"

using namespace outside;
using nlohmann::json;

namespace {

void finds_what_is_planted(const std::string& policy, int episodes, int seed, std::size_t at_least) {
    INFO(policy);
    const Folder folder;
    generate(folder / "demo", episodes, seed, policy);
    const Opportunities expected = planted(folder / "demo" / "planted.ndjson");
    CHECK(expected.size() > at_least);
    CHECK(differences(expected, audit(demo_policy(policy), folder / "demo" / "records.ndjson", folder)) ==
          "");
}

// How many pairs of item and outcome are planted, of the items that begin so; each `least` times and more.
int pairs_planted(const std::string& policy, int episodes, int least,
                  const std::vector<std::string>& of = {""}) {
    const Folder folder;
    generate(folder / "demo", episodes, 2026, policy);
    const json counts = json::parse(read(folder / "demo" / "planted.json")).at("outcomes");
    int pairs = 0;
    for (const auto& [item, outcomes] : counts.items()) {
        const auto begins = [&, &name = item](const std::string& start) { return name.rfind(start, 0) == 0; };
        if (std::none_of(of.begin(), of.end(), begins)) continue;
        for (const auto& [outcome, count] : outcomes.items()) {
            INFO(policy << ": " << item << ' ' << outcome);
            CHECK(count.get<int>() >= least);
            ++pairs;
        }
    }
    return pairs;
}

std::vector<json> rows(const std::filesystem::path& file) {
    std::vector<json> all;
    for (const std::string& line : lines(read(file))) all.push_back(json::parse(line));
    return all;
}

using Places = std::set<std::string>;  // "line 42 record.json", "line 43 value.range /line/lumens"

std::string place(const json& row, const std::string& pointer = "") {
    return "line " + row.at("line").dump() + ' ' + row.at("code").get<std::string>() +
           (pointer.empty() ? "" : " " + pointer);
}

}  // namespace

TEST_CASE("every planted opportunity is found with its outcome, and no other is found") {
    finds_what_is_planted("quillhaven-2027", 1000, 2026, 80'000);
}

TEST_CASE("another year, by the edition before, is found as well") {
    finds_what_is_planted("quillhaven", 700, 1848, 35'000);
}

TEST_CASE("what is planted for the units that build on the facility's policy is found") {
    finds_what_is_planted("neonatal", 120, 2026, 8'000);
    finds_what_is_planted("home-infusion", 120, 2026, 8'000);
}

TEST_CASE("each outcome of each clause that can have it is planted several times") {
    CHECK(pairs_planted("quillhaven-2027", 3000, 10) >= 250);
    CHECK(pairs_planted("neonatal", 600, 10, {"neonatal."}) >= 18);
    CHECK(pairs_planted("home-infusion", 600, 10, {"home.", "fever_at_home"}) >= 21);
}

TEST_CASE("forty kinds of malformed record: each is quarantined, or its value set aside, for its reason") {
    const Folder folder;
    generate(folder / "demo", 400, 7, "quillhaven-2027");
    audit(demo_policy("quillhaven-2027"), folder / "demo" / "records.ndjson", folder);
    Places records;
    Places values;
    std::set<std::string> kinds;
    std::set<int> malformed;
    for (const json& row : rows(folder / "demo" / "malformed.ndjson")) {
        kinds.insert(row.at("kind"));
        malformed.insert(row.at("line").get<int>());
        if (row.at("values").empty()) records.insert(place(row));
        for (const json& pointer : row.at("values")) values.insert(place(row, pointer));
    }
    CHECK(kinds.size() >= 40);

    Places quarantined;
    for (const json& row : rows(folder / "audit" / "quarantine.ndjson")) {
        CHECK_FALSE(row.at("reason").get<std::string>().empty());
        quarantined.insert(place(row));
    }
    CHECK(quarantined == records);

    Places set_aside;
    std::map<std::string, int> of_episodes;
    for (const json& row : rows(folder / "audit" / "set_aside.ndjson")) {
        CHECK_FALSE(row.at("reason").get<std::string>().empty());
        if (malformed.count(row.at("line").get<int>()) == 1) {
            set_aside.insert(place(row, row.at("pointer")));
        } else {
            ++of_episodes[row.at("code")];
        }
    }
    CHECK(set_aside == values);
    // Those of sound episodes, here and there.
    const json counts = json::parse(read(folder / "demo" / "planted.json")).at("set_aside");
    CHECK(of_episodes == counts.get<std::map<std::string, int>>());
    CHECK(of_episodes.size() == 4);
}

TEST_CASE("the committed sample is what the generator writes") {
    const Folder folder;
    generate(folder / "demo", 60, 2026);
    for (const char* name : {"records.ndjson", "planted.json", "malformed.ndjson"}) {
        INFO(name);
        CHECK(read(folder / "demo" / name) ==
              read(std::filesystem::path(LINELAW_SOURCE_DIR "/policies/demo/sample") / name));
    }
}
