// Episodes that grow by events through the C ABI: how far what is known reaches, what is refused and where,
// what is due at which moment.
#include <linelaw/linelaw.hpp>

#include <algorithm>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "compiler/compile.hpp"
#include "runtime/policy_json.hpp"
#include "runtime/records.hpp"
#include "tests/runtime/folder.hpp"
#include "tests/runtime/program.hpp"

using nlohmann::json;
namespace runtime = linelaw::runtime;

namespace {

constexpr const char* policy_path = LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw";

const runtime::Policy& compiled() {
    static const runtime::Policy policy = [] {
        auto compilation = linelaw::compiler::compile(policy_path);
        REQUIRE(compilation.compiled);
        return std::move(compilation.compiled->policy);
    }();
    return policy;
}
const linelaw::Policy& policy() {
    static const linelaw::Policy handle(runtime::write_policy(compiled()));
    return handle;
}

std::vector<json> lines(const std::string& text) {
    std::vector<json> out;
    for (std::size_t at = 0; at < text.size(); at = text.find('\n', at) + 1)
        out.push_back(json::parse(text.substr(at, text.find('\n', at) - at)));
    return out;
}
std::vector<json> of(const std::string& text, const char* key, const std::string& value) {
    std::vector<json> out;
    for (const json& line : lines(text))
        if (line.value(key, "") == value) out.push_back(line);
    return out;
}

json line_in() {
    return {{"episode", "q-1"},
            {"patient", {{"age", 54}}},
            {"line",
             {{"kind", "picc"},
              {"lumens", 1},
              {"inserted_at", "2026-03-02T10:00:00-04:00"},
              {"dressing", "transparent"}}}};
}
std::string change_at(const std::string& at) {
    return R"({"type": "dressing_change", "dressing": "transparent", "at": ")" + at + "\"}";
}

struct Refusal {
    std::string code;
    std::string pointer;
    std::uint64_t offset = 0;
    std::string message;
};
Refusal refusal(linelaw::Episode& episode, const std::string& event) {
    try {
        episode.add(event);
    } catch (const linelaw::Error& error) {
        return {error.code(), error.pointer(), error.offset(), error.what()};
    }
    FAIL(event.substr(0, 80) << " was taken");
    return {};
}

}  // namespace

// ---- how far what is known reaches

TEST_CASE("an event that comes after observed_until is known, and what is known reaches to it") {
    json record = line_in();
    record["observed_until"] = "2026-03-06T00:00:00-03:00";
    linelaw::Episode episode(policy(), record.dump());
    episode.add(change_at("2026-03-08T05:00:00-03:00"));
    CHECK(episode.remarks().empty());
    const auto changes = of(episode.findings({}, true), "clause", "dressing.transparent");
    REQUIRE_FALSE(changes.empty());
    CHECK(changes[0]["outcome"] == "met");

    // As one record that says so would be judged.
    record["observed_until"] = "2026-03-08T05:00:00-03:00";
    record["events"] = {json::parse(change_at("2026-03-08T05:00:00-03:00"))};
    linelaw::Episode whole(policy(), record.dump());
    CHECK(episode.findings({}, true) == whole.findings({}, true));

    episode.add(R"({"type": "removal", "at": "2026-03-09T05:00:00-03:00"})");
    CHECK(episode.due("2026-03-20T05:00:00-03:00").empty());
    CHECK(refusal(episode, change_at("2026-03-10T05:00:00-03:00")).code == "record.order");
}

TEST_CASE("an event before observed_until leaves the end of what is known where it is") {
    json record = line_in();
    record["observed_until"] = "2026-03-20T00:00:00-03:00";
    linelaw::Episode episode(policy(), record.dump());
    episode.add(change_at("2026-03-08T05:00:00-03:00"));
    record["events"] = {json::parse(change_at("2026-03-08T05:00:00-03:00"))};
    linelaw::Episode whole(policy(), record.dump());
    CHECK(episode.findings({}, true) == whole.findings({}, true));
    CHECK(of(episode.findings(), "clause", "dressing.transparent").size() == 1);
}

TEST_CASE("what of the record's own events is dropped is remarked") {
    json record = line_in();
    record["observed_until"] = "2026-03-06T00:00:00-03:00";
    record["events"] = {json::parse(change_at("2026-03-08T05:00:00-03:00"))};
    linelaw::Episode episode(policy(), record.dump());
    auto remarks = lines(episode.remarks());
    REQUIRE(remarks.size() == 1);
    CHECK(remarks[0] == json{{"dropped", "after observed_until"}, {"times", 1}});
    const std::string flush = R"({"id": "f", "type": "flush", "at": "2026-03-05T05:00:00-03:00"})";
    episode.add(flush);
    episode.add(flush);
    remarks = of(episode.remarks(), "dropped", "identical repeat");
    REQUIRE(remarks.size() == 1);
    CHECK(remarks[0]["times"] == 1);
}

// ---- what is refused, and where

TEST_CASE("an event that nests too deep is refused before anything follows it down") {
    linelaw::Episode episode(policy(), line_in().dump());
    const auto nested = [](std::size_t depth) {
        std::string event = change_at("2026-03-08T05:00:00-03:00");
        event.insert(event.size() - 1, R"(, "note": )" + std::string(depth, '[') + std::string(depth, ']'));
        return event;
    };
    const Refusal deep = refusal(episode, nested(2'000'000));
    CHECK(deep.code == "record.depth");
    CHECK_THROWS_AS(episode.would_change(nested(2'000'000)), linelaw::Error);
    CHECK(refusal(episode, nested(66)).code == "record.depth");
    episode.add(nested(60));
    const std::string objects = [] {
        std::string event = R"({"note": )";
        for (int i = 0; i < 80'000; ++i) event += R"({"a":)";
        return event + "1" + std::string(80'001, '}');
    }();
    CHECK(refusal(episode, objects).code == "record.depth");
}

TEST_CASE("what a record is quarantined for, an event is refused for, with its place in the event") {
    const struct {
        const char* event;
        const char* code;
        const char* pointer;
        const char* at;  // what stands at the offset
    } cases[] = {
        {R"({"type": "flush", "at": "2026-03-03T10:00:00-03:00", "volume": 1, "volume": 10})", "record.key",
         "/volume", "10}"},
        {"{\"type\": \"flush\", \"at\": \"2026-03-03T10:00:00-03:00\", \"note\": \"\xFF\"}", "record.utf8",
         nullptr, "\xFF"},
        {R"({"type": "flush", "at": "2026-03-03T10:00:00-03:00", "volume": 1e400})", "record.json", "/volume",
         "1e400"},
        {R"({"type": "flush", "at": "2026-03-03T10:00:00-03:00", "note": "\ud800"})", "record.json", "/note",
         R"("\ud800")"},
        {R"({"type": "flush", "at": "2026-03-03T25:00:00-03:00"})", "record.instant", "/at",
         R"("2026-03-03T25)"},
        {R"({"type": "flush", "at": "2026-03-03T10:00:00-03:00"} {})", "record.json", "", "{}"},
        {R"({"type": "flush"})", "record.instant", "", "{\"type"},
    };
    linelaw::Episode episode(policy(), line_in().dump());
    episode.add(change_at("2026-03-04T05:00:00-03:00"));
    for (const auto& c : cases) {
        INFO(c.event);
        const Refusal why = refusal(episode, c.event);
        CHECK(why.code == c.code);
        if (c.pointer != nullptr) CHECK(why.pointer == c.pointer);
        CHECK(std::string(c.event).substr(why.offset).rfind(c.at, 0) == 0);
        // The same code as in a batch.
        json document = line_in();
        std::string record = document.dump();
        record.insert(record.size() - 1, std::string(R"(,"events":[)") + c.event + "]");
        runtime::RecordReader reader(compiled());
        runtime::Episode read;
        std::vector<runtime::Spoiled> set_aside;
        CHECK(reader.read(record, read, set_aside));
    }
    CHECK(refusal(episode, R"({}], "line": {"inserted_at": "2026-01-01T00:00:00Z"}, "events": [{})").code ==
          "record.json");
}

TEST_CASE("a value set aside is remarked with its place in the text that was given") {
    json record = line_in();
    record["events"] = json::array();
    std::string text = record.dump();
    text.insert(text.rfind(']'), R"(  {"type": "flush", "at": "2026-03-03T10:00:00-03:00", "volume": "x"} )");
    linelaw::Episode episode(policy(), text);
    const std::string added = R"( {"type": "flush",  "at": "2026-03-04T10:00:00-03:00",  "volume": "much"})";
    episode.add(added);
    episode.add(R"({"type": "removal", "at": "2026-03-05T10:00:00-03:00"})");
    const auto remarks = of(episode.remarks(), "code", "value.type");
    REQUIRE(remarks.size() == 2);
    CHECK(remarks[0]["pointer"] == "/events/0/volume");
    CHECK(remarks[0]["offset"] == text.find("\"x\""));
    CHECK(remarks[1]["pointer"] == "/events/1/volume");
    CHECK(remarks[1]["offset"] == added.find("\"much\""));
}

TEST_CASE("where an event makes another one wrong, that one is said and not pointed at") {
    linelaw::Episode episode(policy(), line_in().dump());
    episode.add(change_at("2026-03-08T05:00:00-03:00"));
    const Refusal why = refusal(episode, R"({"type": "removal", "at": "2026-03-07T05:00:00-03:00"})");
    CHECK(why.code == "record.order");
    CHECK(why.pointer.empty());
    CHECK(why.message.rfind("with this event the record would not do at /events/0: ", 0) == 0);
}

TEST_CASE("numbers of an event are read from its own text") {
    // Written anew, a number could come to stand on the other side of a limit.
    for (const char* volume : {"9.99999999", "10.00000001"}) {
        const std::string flush =
            std::string(R"({"type": "flush", "at": "2026-03-03T10:05:00-04:00", "lumen": 1, "volume": )") +
            volume + "}";
        json record = line_in();
        linelaw::Episode grown(policy(), record.dump());
        grown.add(flush);
        std::string text = record.dump();
        text.insert(text.size() - 1, R"(,"events":[)" + flush + "]");
        CHECK(grown.findings({}, true) == linelaw::Episode(policy(), text).findings({}, true));
    }
}

// ---- what is due, and when

TEST_CASE("what is due is what the command line's list has, at a moment before later events too") {
    json record = line_in();
    record["care_unit"] = "med-3";
    record["events"] = {json::parse(change_at("2026-03-06T05:00:00-03:00")),
                        json::parse(R"({"type": "flush", "at": "2026-03-30T10:00:00Z", "lumen": 1})")};
    const small::Folder folder;
    const std::string path = folder.write("r.ndjson", record.dump() + "\n");
    linelaw::Episode episode(policy(), record.dump());
    for (const std::string now :
         {"2026-03-05T12:00:00Z", "2026-03-20T12:00:00Z", "2026-04-02T12:00:00Z", "2026-03-01T00:00:00Z"}) {
        const json list = json::parse(small::run(folder, "due --format json --within '3000 days' --as-of " +
                                                             now + " '" + policy_path + "' " + path)
                                          .out);
        CHECK(json(lines(episode.due(now))) == list["due"]);
        CHECK(list["due"].empty() == (now < "2026-03-02"));
    }
}

TEST_CASE("a moment more than a century after the record begins is refused") {
    linelaw::Episode episode(policy(), line_in().dump());
    for (const char* now : {"9999-12-31T00:00:00Z", "2126-03-04T00:00:00Z"}) {
        try {
            episode.findings(now);
            FAIL(now);
        } catch (const linelaw::Error& error) {
            CHECK(error.code() == "call.argument");
            CHECK(std::string(error.what()).find("century") != std::string::npos);
        }
        CHECK_THROWS_AS(episode.due(now), linelaw::Error);
    }
}

// ---- what an event would change

TEST_CASE("what an event would change says what it was, and what is no more") {
    json record = line_in();
    record["observed_until"] = "2026-03-20T00:00:00-03:00";
    linelaw::Episode episode(policy(), record.dump());
    const auto missed = of(episode.findings(), "clause", "dressing.transparent");
    REQUIRE(missed.size() == 1);
    const auto changed =
        of(episode.would_change(change_at("2026-03-08T05:00:00-03:00")), "clause", "dressing.transparent");
    REQUIRE_FALSE(changed.empty());
    CHECK(changed[0]["id"] == missed[0]["id"]);
    CHECK(changed[0]["was"] == "missed");
    CHECK(changed[0]["outcome"] == "met");

    // On a ward every day asks for a review, until the line is out.
    record["patient"]["setting"] = "ward";
    linelaw::Episode on_ward(policy(), record.dump());
    const std::string removal = R"({"type": "removal", "at": "2026-03-04T05:00:00-03:00"})";
    std::size_t gone = 0;
    for (const json& line : lines(on_ward.would_change(removal)))
        if (line.value("gone", false)) ++gone;
    std::vector<std::string> before;
    for (const json& line : lines(on_ward.findings({}, true))) before.push_back(line["id"]);
    on_ward.add(removal);
    std::size_t no_more = before.size();
    for (const json& line : lines(on_ward.findings({}, true)))
        no_more -= static_cast<std::size_t>(std::count(before.begin(), before.end(), line["id"]));
    CHECK(gone == no_more);
    CHECK(gone > 0);
}
