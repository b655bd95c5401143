// The record reader against a slow one, written from the rules over a whole document in memory: both must
// accept and refuse the same texts. Some of the texts are a published suite's (json_suite/README.md), whose
// own word on each case is the outside judge.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <vector>

#include "folder.hpp"
#include "number_from.hpp"
#include "runtime/records.hpp"
#include "sample_policy.hpp"
#include "slow_reader.hpp"

using namespace linelaw::runtime;
using nlohmann::json;

namespace {

const Policy policy = sample_vocabulary();

json base_record() {
    return json::parse(R"({"episode": "q-1", "facility": "quillhaven",
        "patient": {"key": "p", "age": {"value": 54, "unit": "a"}, "setting": "ward", "chg_sensitivity": false},
        "line": {"kind": "picc", "lumens": 2, "inserted_at": "2026-03-02T10:15:00-04:00", "dressing": "gauze",
                 "removed_at": "2026-03-09T10:15:00-04:00"},
        "observed_until": "2026-03-20T00:00:00-04:00",
        "events": [
          {"id": "e1", "type": "dressing_change", "at": "2026-03-02T10:40:00", "dry_time": 120,
           "steps": ["scrub", {"step": "dry", "at": "2026-03-02T10:31:00-04:00"}], "note\u0041": "a\\b\"c"},
          {"id": "e2", "type": "removal", "at": "2026-03-09T10:15:00-04:00"},
          {"id": "e3", "type": "notification", "at": "2026-03-10T00:00:00Z", "notified": "provider"},
          {"id": "e1", "type": "tea_break", "x": [1, 2.5, -3e-2, {"y": null}], "z\u00e9": "\ud83e\uddea\u00e9"},
          {"id": "e4", "type": "measurement", "at": "2026-03-04T00:00:00Z",
           "arm_circumference": {"value": 12, "unit": "[in_i]"}}]})");
}

void pointers_of(const json& node, const json::json_pointer& at, std::vector<json::json_pointer>& out) {
    out.push_back(at);
    if (node.is_object())
        for (const auto& [key, child] : node.items()) pointers_of(child, at / key, out);
    if (node.is_array())
        for (std::size_t i = 0; i < node.size(); ++i) pointers_of(node[i], at / i, out);
}

// A value nested less deep than this is never too deep; nlohmann/json has no such limit.
constexpr std::size_t deepest = 64;

std::size_t nesting(const json& node) {
    std::size_t most = 0;
    if (node.is_structured())
        for (const json& child : node) most = std::max(most, nesting(child));
    return node.is_structured() ? most + 1 : 0;
}

struct Tally {
    int accepted = 0;
    int refused = 0;
    int no_json = 0;
};

void compare(RecordReader& reader, const std::string& text, Tally& tally) {
    static Episode episode;
    static std::vector<Spoiled> set_aside;
    INFO(text);
    const auto spoiled = reader.read(text, episode, set_aside);
    INFO((spoiled ? spoiled->code + " " + spoiled->pointer + " " + spoiled->reason : "accepted"));
    bool twice = false;
    const auto document = slow::parse(text, twice);
    if (!document) {
        ++tally.no_json;
        CHECK(spoiled);
        return;
    }
    if (spoiled && spoiled->code == "record.depth") {
        CHECK(nesting(*document) > deepest);
        return;
    }
    if (document->is_object()) CHECK_FALSE((spoiled && spoiled->code == "record.json"));
    if (twice) return;
    const bool accepted = slow::accepts(policy, *document);
    ++(accepted ? tally.accepted : tally.refused);
    CHECK((spoiled == nullptr) == accepted);
}

}  // namespace

// LINELAW_MUTANTS and LINELAW_MUTANT_SEED make a longer run of this case and the next.
TEST_CASE("texts damaged at random bytes are accepted and refused as a slow reader does") {
    RecordReader reader(policy);
    std::mt19937 random(number_from("LINELAW_MUTANT_SEED", 20260302));
    const std::size_t wanted = number_from("LINELAW_MUTANTS", 4000);
    const std::vector<std::string> originals = {base_record().dump(1), base_record().dump(-1, ' ', true)};
    const std::string pieces = "{}[]:,\"\\0123456789.-+eEtrufalsn \t\n\xC3\xA9\xFFxT";
    Tally tally;
    for (const std::string& original : originals) compare(reader, original, tally);
    REQUIRE(tally.accepted == 2);
    for (std::size_t i = 0; i < wanted; ++i) {
        std::string text = originals[i % 2];
        for (unsigned n = random() % 2 + 1; n > 0; --n) {
            const std::size_t at = random() % text.size();
            const char piece = pieces[random() % pieces.size()];
            switch (random() % 4) {
                case 0:
                    text[at] = piece;
                    break;
                case 1:
                    text.erase(at, 1 + random() % 3);
                    break;
                case 2:
                    text.insert(at, 1, piece);
                    break;
                default:
                    text.insert(at, text, random() % text.size(), random() % 12);
                    break;
            }
        }
        if (i % 50 == 0) text.resize(random() % text.size());
        compare(reader, text, tally);
    }
    CHECK(tally.accepted > 200);
    CHECK(tally.no_json > 1000);
}

TEST_CASE("records with anything in place of any value are accepted and refused as a slow reader does") {
    RecordReader reader(policy);
    std::mt19937 random(number_from("LINELAW_MUTANT_SEED", 7));
    const std::size_t wanted = number_from("LINELAW_MUTANTS", 6000);
    const json original = base_record();
    std::vector<json::json_pointer> pointers;
    pointers_of(original, json::json_pointer(), pointers);
    std::vector<json> values = {nullptr,
                                true,
                                0,
                                -1,
                                2.5,
                                1e300,
                                "",
                                "x",
                                "gauze",
                                "removal",
                                "insertion",
                                "refusal",
                                "2026-03-02T10:15:00-04:00",
                                "2026-03-09T10:15:00-04:00",
                                "2026-03-08T02:30:00",
                                "2026-03-05T02:30:00",
                                "2026-03-30T00:00:00Z",
                                "2025-01-01T00:00:00Z",
                                "2026-03-05",
                                "e1",
                                "e2",
                                json::array(),
                                json::object()};
    for (const auto& pointer : pointers)
        if (original.at(pointer).is_structured()) values.push_back(original.at(pointer));
    Tally tally;
    for (std::size_t i = 0; i < wanted; ++i) {
        json record = original;
        for (unsigned n = random() % 3 + 1; n > 0; --n) {
            const auto& at = pointers[random() % pointers.size()];
            if (at.empty() || !record.contains(at)) continue;
            json& parent = record[at.parent_pointer()];
            if (random() % 4 == 0 && parent.is_object())
                parent.erase(at.back());
            else if (random() % 6 == 0 && parent.is_array())
                parent.push_back(parent[random() % parent.size()]);
            else
                record[at] = values[random() % values.size()];
        }
        compare(reader, record.dump(), tally);
    }
    CHECK(tally.accepted > 1000);
    CHECK(tally.refused > 1000);
}

TEST_CASE("numbers are read as nlohmann/json reads them, however they are written") {
    RecordReader reader(policy);
    Episode episode;
    std::vector<Spoiled> set_aside;
    std::mt19937 random(20261129);
    const auto digits = [&random](unsigned most) {
        std::string text;
        for (unsigned n = random() % most; n > 0; --n) text += static_cast<char>('0' + random() % 10);
        return text;
    };
    const json record = base_record();
    const auto kind = std::find_if(policy.event_kinds.begin(), policy.event_kinds.end(),
                                   [](const EventKind& k) { return k.name == "dressing_change"; });
    const auto slot =
        static_cast<std::uint32_t>(std::find_if(kind->attributes.begin(), kind->attributes.end(),
                                                [](const Attribute& a) { return a.name == "dry_time"; }) -
                                   kind->attributes.begin());
    const Type& type = kind->attributes[slot].type;
    std::string text = record.dump();
    const std::size_t at = text.find("\"dry_time\":120") + 11;
    std::size_t length = 3;
    int used = 0, refused = 0, no_number = 0;
    for (int i = 0; i < 20'000; ++i) {
        std::string number = (random() % 8 == 0 ? "-" : "") + digits(random() % 4 == 0 ? 22 : 5);
        if (random() % 2 == 0) number += "." + digits(random() % 4 == 0 ? 22 : 4);
        if (random() % 6 == 0) number += (random() % 2 == 0 ? "e" : "E+") + digits(3);
        text.replace(at, length, number);
        length = number.size();
        INFO(number);
        const bool good = reader.read(text, episode, set_aside) == nullptr;
        const json expected = json::parse(number, nullptr, false);
        CHECK(good == expected.is_number());
        if (!good || !expected.is_number()) {
            ++no_number;
            continue;
        }
        std::int64_t grains = 0;
        const bool counted = grains_from_number(expected.get<double>(), *find_unit("s"), grains);
        const Value& value = episode.value(episode.events[1], slot);
        const bool fits = counted && grains >= type.low && grains <= type.high;
        CHECK((value.state == Known::known) == fits);
        if (fits) CHECK(value.number == grains);
        ++(fits ? used : refused);
    }
    // Of a number of twenty decimals a reader of JSON may keep what is left of 2^64.
    text.replace(at, length, "0.95000000000000000000");
    CHECK(reader.read(text, episode, set_aside) == nullptr);
    CHECK(episode.value(episode.events[1], slot).number == 950'000);
    CHECK(used > 2000);
    CHECK(refused > 2000);
    CHECK(no_number > 2000);
}

namespace {

struct Case {
    std::string name;  // y_: every reader accepts it, n_: every reader refuses it, i_: either
    std::string text;
};

std::vector<Case> published_cases() {
    std::vector<Case> cases;
    for (const auto& file :
         std::filesystem::directory_iterator(LINELAW_SOURCE_DIR "/tests/runtime/json_suite/cases"))
        cases.push_back({file.path().filename(), small::content(file.path())});
    REQUIRE(cases.size() == 318);
    return cases;
}

// The record with the text in place of the value.
std::string with_text_at(const json& record, const json::json_pointer& at, const std::string& text) {
    json marked = record;
    marked[at] = "HERE";
    std::string out = marked.dump();
    return out.replace(out.find("\"HERE\""), 6, text);
}

}  // namespace

TEST_CASE("a published suite's cases are accepted and refused as it says, where nobody reads them") {
    RecordReader reader(policy);
    Episode episode;
    std::vector<Spoiled> set_aside;
    const json record = base_record();
    for (const Case& c : published_cases()) {
        INFO(c.name);
        const std::string text = with_text_at(record, json::json_pointer("/events/3/x"), c.text);
        const auto spoiled = reader.read(text, episode, set_aside);
        const bool too_deep = spoiled && spoiled->code == "record.depth";
        if (c.name[0] == 'y') CHECK_FALSE(spoiled);
        if (c.name[0] == 'n') CHECK(spoiled);
        if (c.name[0] == 'i') CHECK(((spoiled == nullptr) == json::accept(text) || too_deep));
    }
}

TEST_CASE(
    "a published suite's cases, as a record and in place of any value, are judged as a slow reader does") {
    RecordReader reader(policy);
    const json record = base_record();
    std::vector<json::json_pointer> pointers;
    pointers_of(record, json::json_pointer(), pointers);
    Tally tally;
    for (const Case& c : published_cases()) {
        INFO(c.name);
        for (const auto& at : pointers) compare(reader, with_text_at(record, at, c.text), tally);
    }
    CHECK(tally.accepted > 1000);
    CHECK(tally.refused > 1000);
    CHECK(tally.no_json > 5000);
}
