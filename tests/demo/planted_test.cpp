// What was planted in the records is found, and nothing else. The generator knows neither the policy nor the
// engine.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <set>

#include "tests/demo/outside.hpp"

using namespace outside;

TEST_CASE("every planted opportunity is found with its outcome, and no other is found") {
    const Folder folder;
    generate(folder / "demo", 1200, 2026);
    const Opportunities expected = planted(folder / "demo" / "planted.ndjson");
    CHECK(expected.size() > 50'000);
    CHECK(differences(expected, audit(demo_policy(), folder / "demo" / "records.ndjson", folder)) == "");
}

TEST_CASE("another seed is another year, and is found as well") {
    const Folder folder;
    generate(folder / "demo", 700, 1848);
    const Opportunities expected = planted(folder / "demo" / "planted.ndjson");
    CHECK(differences(expected, audit(demo_policy(), folder / "demo" / "records.ndjson", folder)) == "");
}

TEST_CASE("each outcome of each clause that can have it is planted several times") {
    const Folder folder;
    generate(folder / "demo", 3000, 2026);
    const auto counts = nlohmann::json::parse(read(folder / "demo" / "planted.json")).at("outcomes");
    int pairs = 0;
    for (const auto& [item, outcomes] : counts.items()) {
        for (const auto& [outcome, count] : outcomes.items()) {
            INFO(item << ' ' << outcome);
            CHECK(count.get<int>() >= 10);
            ++pairs;
        }
    }
    CHECK(pairs >= 165);
}

TEST_CASE("records that cannot be read are quarantined, each by its line, and the sum is right") {
    const Folder folder;
    generate(folder / "demo", 400, 7);
    audit(demo_policy(), folder / "demo" / "records.ndjson", folder);
    std::map<int, std::string> expected;
    for (const std::string& line : lines(read(folder / "demo" / "spoiled.ndjson"))) {
        const auto one = nlohmann::json::parse(line);
        expected[one.at("line")] = one.at("kind");
    }
    std::set<int> seen;
    for (const std::string& line : lines(read(folder / "audit" / "quarantine.ndjson"))) {
        const auto one = nlohmann::json::parse(line);
        INFO(line.substr(0, 300));
        CHECK(expected.count(one.at("line")) == 1);
        CHECK_FALSE(one.at("reason").get<std::string>().empty());
        CHECK_FALSE(one.at("code").get<std::string>().empty());
        seen.insert(one.at("line").get<int>());
    }
    for (const auto& [line, kind] : expected) {
        INFO(line << ": " << kind);
        CHECK(seen.count(line) == 1);
    }
}

TEST_CASE("values that cannot be read are set aside, one line each, and the episode is judged") {
    const Folder folder;
    generate(folder / "demo", 800, 11);
    audit(demo_policy(), folder / "demo" / "records.ndjson", folder);
    const auto counts = nlohmann::json::parse(read(folder / "demo" / "planted.json"));
    int expected = 0;
    for (const auto& [what, count] : counts.at("set_aside").items()) expected += count.get<int>();
    CHECK(expected > 20);
    CHECK(static_cast<int>(lines(read(folder / "audit" / "set_aside.ndjson")).size()) == expected);
}

TEST_CASE("the committed sample is what the generator writes") {
    const Folder folder;
    generate(folder / "demo", 60, 2026);
    for (const char* name : {"records.ndjson", "planted.json", "spoiled.ndjson"}) {
        INFO(name);
        CHECK(read(folder / "demo" / name) ==
              read(std::filesystem::path(LINELAW_SOURCE_DIR "/policies/demo/sample") / name));
    }
}
