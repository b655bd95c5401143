// The C ABI, through its C++ face too: what it answers is what the batch answers.
#include <linelaw/linelaw.hpp>

#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>
#include <vector>

#include "compiler/compile.hpp"
#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/policy_json.hpp"
#include "runtime/records.hpp"

using nlohmann::json;
namespace runtime = linelaw::runtime;

namespace {

const runtime::Policy& policy() {
    static const runtime::Policy compiled = [] {
        auto compilation = linelaw::compiler::compile(LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw");
        REQUIRE(compilation.compiled);
        return std::move(compilation.compiled->policy);
    }();
    return compiled;
}
const std::string& policy_json() {
    static const std::string text = runtime::write_policy(policy());
    return text;
}

std::vector<std::string> sample_records() {
    std::ifstream file(LINELAW_SOURCE_DIR "/policies/demo/sample/records.ndjson");
    std::vector<std::string> records;
    for (std::string line; std::getline(file, line);) records.push_back(line);
    REQUIRE(records.size() > 20);
    return records;
}

// All findings of a record, as the batch gives them; nothing where the record is quarantined.
std::string findings_of_batch(const std::string& record) {
    runtime::RecordReader reader(policy());
    runtime::Engine engine(policy());
    runtime::Episode episode;
    std::vector<runtime::Spoiled> set_aside;
    if (reader.read(record, episode, set_aside)) return "quarantined";
    const runtime::Judgement all = engine.judge(episode);
    const runtime::FindingWriter writer(policy(), runtime::horizon_of(episode));
    std::string out;
    for (const runtime::Opportunity& o : all) writer.json(out, episode, o, all);
    return out;
}

const char* const line_only =
    R"({"episode": "q-1", "patient": {"age": 54}, "line": {"kind": "picc", "lumens": 1, "inserted_at": "2026-03-02T10:00:00-04:00", "dressing": "transparent"}})";
const char* const change =
    R"({"id": "e1", "type": "dressing_change", "at": "2026-03-08T10:00:00-03:00", "dressing": "transparent"})";

std::vector<json> lines(const std::string& text) {
    std::vector<json> out;
    for (std::size_t at = 0; at < text.size(); at = text.find('\n', at) + 1)
        out.push_back(json::parse(text.substr(at, text.find('\n', at) - at)));
    return out;
}
std::vector<json> those_of(const std::string& text, const char* key, const std::string& value) {
    std::vector<json> out;
    for (const json& line : lines(text))
        if (line.value(key, "") == value) out.push_back(line);
    return out;
}
std::vector<json> of_clause(const std::string& findings, const std::string& clause) {
    return those_of(findings, "clause", clause);
}
std::vector<json> of_item(const std::string& due, const std::string& item) {
    return those_of(due, "item", item);
}

}  // namespace

TEST_CASE("an episode fed event by event, in any order, has the findings of the batch") {
    const linelaw::Policy handle(policy_json());
    int judged = 0;
    for (const std::string& record : sample_records()) {
        const std::string expected = findings_of_batch(record);
        if (expected == "quarantined") continue;
        json document = json::parse(record);
        std::vector<json> events = document["events"];
        document["events"] = json::array();
        if (judged % 2 == 1) std::reverse(events.begin(), events.end());
        linelaw::Episode episode(handle, document.dump());
        for (const json& event : events) episode.add(event.dump());
        if (judged % 2 == 0) CHECK(episode.findings({}, true) == expected);
        // In another order the evidence names other places; the outcomes are the same.
        CHECK(lines(episode.findings({}, true)).size() == lines(expected).size());
        ++judged;
    }
    CHECK(judged > 10);
}

TEST_CASE("what is due names the clause, and is past due once its limit has gone by") {
    const linelaw::Policy handle(policy_json());
    linelaw::Episode episode(handle, line_only);
    const auto early = of_item(episode.due("2026-03-03T10:00:00-04:00"), "dressing.transparent");
    REQUIRE(early.size() == 1);
    CHECK(early[0]["state"] == "due");
    CHECK(early[0]["due"] == "2026-03-09T13:00:00Z");
    const auto late = of_item(episode.due("2026-03-12T10:00:00-03:00"), "dressing.transparent");
    REQUIRE(late.size() == 1);
    CHECK(late[0]["state"] == "overdue");
}

TEST_CASE("a would-be event says what it would change, and changes nothing") {
    const linelaw::Policy handle(policy_json());
    linelaw::Episode episode(handle, line_only);
    const std::string before = episode.findings({}, true);
    const auto changes = of_clause(episode.would_change(change), "dressing.transparent");
    REQUIRE_FALSE(changes.empty());
    CHECK(changes[0]["outcome"] == "met");
    CHECK(episode.findings({}, true) == before);
    episode.add(change);
    const auto after = of_clause(episode.findings({}, true), "dressing.transparent");
    REQUIRE_FALSE(after.empty());
    CHECK(after[0]["outcome"] == "met");
}

TEST_CASE("a removal sets the line's removed_at") {
    const linelaw::Policy handle(policy_json());
    linelaw::Episode episode(handle, line_only);
    episode.add(R"({"type": "removal", "at": "2026-03-08T10:00:00-03:00"})");
    CHECK_THROWS_AS(episode.add(R"({"type": "dressing_change", "at": "2026-03-08T11:00:00-03:00"})"),
                    linelaw::Error);
    CHECK(of_item(episode.due("2026-03-12T10:00:00-03:00"), "dressing.transparent").empty());
}

TEST_CASE("an event that would spoil the record is refused with its place, and the episode stays as it was") {
    const linelaw::Policy handle(policy_json());
    linelaw::Episode episode(handle, line_only);
    episode.add(change);
    const std::string before = episode.findings({}, true);
    for (const char* bad :
         {"", "{", "[]", "7", R"({"type": "dressing_change"})", R"({"at": "2026-03-08T10:00:00-03:00"})",
          R"({"type": "dressing_change", "at": "2026-03-01T10:00:00-03:00"})",
          R"({"id": "e1", "type": "dressing_change", "at": "2026-03-09T10:00:00-03:00"})"}) {
        try {
            episode.add(bad);
            FAIL(bad << " was taken");
        } catch (const linelaw::Error& error) {
            CHECK(error.code().rfind("record.", 0) == 0);
            CHECK(std::string(error.what()).size() > 10);
        }
        CHECK(episode.findings({}, true) == before);
    }
}

TEST_CASE("what is not used of a record is remarked") {
    const linelaw::Policy handle(policy_json());
    linelaw::Episode episode(handle, line_only);
    CHECK(episode.remarks().empty());
    episode.add(
        R"({"type": "dressing_change", "at": "2026-03-08T10:00:00-03:00", "dry_time": "long", "drssing": 1})");
    episode.add(R"({"type": "tea_break", "at": "2026-03-08T10:00:00-03:00"})");
    const auto remarks = lines(episode.remarks());
    REQUIRE(remarks.size() == 3);
    CHECK(remarks[0]["code"] == "value.type");
    CHECK(remarks[0]["pointer"] == "/events/0/dry_time");
    CHECK(remarks[1]["name"] == "dressing_change.drssing");
    CHECK(remarks[2]["name"] == "tea_break");
}

TEST_CASE("every call answers an error with a code and a text for what it cannot use") {
    linelaw_error* error = nullptr;
    CHECK(linelaw_policy_read("{}", 2, &error) == nullptr);
    REQUIRE(error != nullptr);
    CHECK(std::string(linelaw_error_code(error)) == "policy.schema");
    CHECK(std::string(linelaw_error_message(error)).find("/schema") != std::string::npos);
    CHECK(std::string(linelaw_error_pointer(error)) == "/schema");
    linelaw_error_free(error);

    const auto fails = [](auto call) {
        linelaw_error* why = nullptr;
        CHECK_FALSE(call(&why));
        REQUIRE(why != nullptr);
        CHECK(std::string(linelaw_error_code(why)) == "call.argument");
        linelaw_error_free(why);
        CHECK_FALSE(call(nullptr));  // the error may be left out
    };
    linelaw_policy* handle = linelaw_policy_read(policy_json().data(), policy_json().size(), nullptr);
    REQUIRE(handle != nullptr);
    linelaw_episode* episode =
        linelaw_episode_begin(handle, line_only, std::string(line_only).size(), nullptr);
    REQUIRE(episode != nullptr);
    fails([&](linelaw_error** e) { return linelaw_policy_read(nullptr, 0, e) != nullptr; });
    fails([&](linelaw_error** e) { return linelaw_episode_begin(nullptr, "{}", 2, e) != nullptr; });
    fails([&](linelaw_error** e) { return linelaw_episode_begin(handle, nullptr, 0, e) != nullptr; });
    fails([&](linelaw_error** e) { return linelaw_episode_add(nullptr, "{}", 2, e) != 0; });
    fails([&](linelaw_error** e) { return linelaw_episode_add(episode, nullptr, 2, e) != 0; });
    fails([&](linelaw_error** e) { return linelaw_episode_findings(nullptr, nullptr, 1, e) != nullptr; });
    fails([&](linelaw_error** e) { return linelaw_episode_findings(episode, "soon", 1, e) != nullptr; });
    fails([&](linelaw_error** e) { return linelaw_episode_due(nullptr, nullptr, e) != nullptr; });
    fails([&](linelaw_error** e) { return linelaw_episode_would_change(nullptr, "{}", 2, e) != nullptr; });
    fails([&](linelaw_error** e) { return linelaw_episode_remarks(nullptr, e) != nullptr; });
    linelaw_episode_free(episode);
    linelaw_policy_free(handle);
    linelaw_episode_free(nullptr);
    linelaw_policy_free(nullptr);
    linelaw_error_free(nullptr);
    CHECK(std::string(linelaw_error_code(nullptr)) + linelaw_error_message(nullptr) +
              linelaw_error_pointer(nullptr) + linelaw_policy_title(nullptr) +
              linelaw_policy_edition(nullptr) + linelaw_policy_hash(nullptr) ==
          "");
    CHECK(linelaw_error_offset(nullptr) == 0);
    CHECK(std::to_string(LINELAW_VERSION_MAJOR) + '.' + std::to_string(LINELAW_VERSION_MINOR) + '.' +
              std::to_string(LINELAW_VERSION_PATCH) ==
          linelaw_version());
}

TEST_CASE("a policy is shared by threads, and may be freed before its episodes") {
    auto handle = std::make_unique<linelaw::Policy>(policy_json());
    CHECK(handle->title() == policy().title);
    CHECK(handle->edition() == policy().edition);
    CHECK(handle->hash() == policy().content_hash);
    std::vector<std::string> answers(4);
    std::vector<linelaw::Episode> episodes;
    for (std::size_t i = 0; i < answers.size(); ++i) episodes.emplace_back(*handle, line_only);
    handle.reset();
    std::vector<std::thread> threads;
    for (std::size_t i = 0; i < answers.size(); ++i)
        threads.emplace_back([&, i] {
            episodes[i].add(change);
            answers[i] = episodes[i].findings({}, true);
        });
    for (std::thread& thread : threads) thread.join();
    for (const std::string& answer : answers) CHECK(answer == answers[0]);
    CHECK_FALSE(answers[0].empty());
}
