// The schema of records, through an independent validator (Python's jsonschema), against the reader itself.
#include "runtime/record_schema.hpp"

#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <nlohmann/json.hpp>
#include <random>
#include <string>

#include "runtime/records.hpp"
#include "sample_policy.hpp"

using namespace linelaw::runtime;
using nlohmann::json;

namespace {

json base_record() {
    return json::parse(R"({"episode": "q-1", "facility": "quillhaven", "care_unit": null,
        "patient": {"key": "p", "age": {"value": 54, "unit": "a"}, "setting": "ward", "chg_sensitivity": false},
        "line": {"kind": "picc", "lumens": 2, "external_length": 13, "inserted_at": "2026-03-02T10:15:00-04:00",
                 "dressing": "gauze", "removed_at": "2026-03-09T10:15:00-04:00", "removal_reason": "routine"},
        "observed_until": "2026-03-20T00:00:00-04:00",
        "events": [
          {"id": "e1", "type": "dressing_change", "at": "2026-03-02T10:40:00-04:00", "dry_time": 120,
           "scrub_time": {"value": 1, "unit": "min"}, "recorded_at": "2026-03-02T11:00:00-04:00",
           "steps": ["scrub", {"step": "dry", "at": "2026-03-02T10:31:00-04:00"}]},
          {"type": "measurement", "at": "2026-03-04T00:00:00Z", "temperature": {"value": 38.1, "unit": "Cel"},
           "pain": 2.5, "saturation": 97, "heparin": {"value": 100, "unit": "[USP'U]/mL"}, "taken_at": "07:30",
           "note": "red", "measured_by": "n-1", "arm_place": "at_insertion_site"},
          {"type": "infusion_start", "at": "2026-03-04T00:00:00Z", "infusion": "i1", "lumen": 2, "fluid": "lipid"},
          {"type": "set_change", "at": "2026-03-05T00:00:00Z", "infusion": "i1", "reason": "leak"}]})");
}

void pointers_of(const json& node, const json::json_pointer& at, std::vector<json::json_pointer>& out) {
    out.push_back(at);
    if (node.is_object())
        for (const auto& [key, child] : node.items()) pointers_of(child, at / key, out);
    if (node.is_array())
        for (std::size_t i = 0; i < node.size(); ++i) pointers_of(node[i], at / i, out);
}

// The faults that a schema can see; the others hang on what stands elsewhere in the record, or on the
// calendar.
bool shows_in_schema(const std::string& code) {
    return code == "record.shape" || code == "record.type" || code == "record.episode" ||
           code == "value.type" || code == "value.list" || code == "value.unit";
}

// What another validator says of each record by the policy's schema.
std::vector<bool> verdicts_of_schema(const Policy& policy, const std::vector<json>& records) {
    namespace fs = std::filesystem;
    const fs::path scratch =
        fs::temp_directory_path() / ("linelaw-schema-" + std::to_string(std::random_device()()));
    fs::create_directories(scratch);
    std::ofstream(scratch / "schema.json") << record_schema(policy);
    std::ofstream lines(scratch / "records.ndjson");
    for (const json& record : records) lines << record.dump() << '\n';
    lines.close();
    const std::string command = "python3 " LINELAW_SOURCE_DIR "/tests/runtime/validate_records.py " +
                                (scratch / "schema.json").string() + " < " +
                                (scratch / "records.ndjson").string();
    const std::unique_ptr<FILE, int (*)(FILE*)> said(popen(command.c_str(), "r"), pclose);
    REQUIRE(said);
    std::vector<bool> verdicts;
    for (std::size_t i = 0; i < records.size(); ++i) {
        int valid = -1;
        REQUIRE(std::fscanf(said.get(), "%d", &valid) == 1);
        verdicts.push_back(valid == 1);
    }
    fs::remove_all(scratch);
    return verdicts;
}

}  // namespace

TEST_CASE("a record is read without a remark where the schema accepts it, and only there") {
    const Policy policy = sample_vocabulary();
    std::mt19937 random(11);
    const json original = base_record();
    std::vector<json::json_pointer> pointers;
    pointers_of(original, json::json_pointer(), pointers);
    const std::vector<json> values = {nullptr,
                                      true,
                                      0,
                                      1,
                                      -1,
                                      2.5,
                                      1000,
                                      "",
                                      "x",
                                      "gauze",
                                      "i1",
                                      "leak",
                                      "07:30",
                                      "2026-03-05T02:30:00Z",
                                      "2026-03-05",
                                      json::array(),
                                      json::object(),
                                      {{"value", 1}, {"unit", "cm"}},
                                      {{"value", 1}, {"unit", "s"}},
                                      {{"value", 1}}};
    std::vector<json> records = {original};
    while (records.size() < 1500) {
        json record = original;
        const auto& at = pointers[1 + random() % (pointers.size() - 1)];
        json& parent = record[at.parent_pointer()];
        if (random() % 5 == 0 && parent.is_object())
            parent["keyy"] = 1;
        else if (random() % 4 == 0 && parent.is_object())
            parent.erase(at.back());
        else
            record[at] = values[random() % values.size()];
        records.push_back(std::move(record));
    }

    const std::vector<bool> verdicts = verdicts_of_schema(policy, records);
    RecordReader reader(policy);
    Episode episode;
    std::vector<Spoiled> set_aside;
    int accepted = 0;
    for (std::size_t i = 0; i < records.size(); ++i) {
        const json& record = records[i];
        const bool valid = verdicts[i];
        INFO(record.dump());
        const ReadCounts before = reader.counts();
        const auto spoiled = reader.read(record.dump(), episode, set_aside);
        const auto total = [](const ReadCounts& c) {
            std::uint64_t sum = 0;
            for (const auto& [name, times] : c.unknown_keys) sum += times;
            for (const auto& [name, times] : c.unknown_events) sum += times;
            return sum;
        };
        const bool unknown = total(reader.counts()) != total(before);
        const std::string fault = spoiled             ? spoiled->code + ' ' + spoiled->pointer
                                  : set_aside.empty() ? ""
                                                      : set_aside[0].code + ' ' + set_aside[0].pointer;
        INFO(fault);
        if (!spoiled && set_aside.empty() && !unknown) CHECK(valid);
        if (valid) {
            CHECK_FALSE(unknown);
            CHECK_FALSE(shows_in_schema(fault.substr(0, fault.find(' '))));
            ++accepted;
        }
    }
    CHECK(accepted > 300);
    CHECK(accepted < 1200);
}

TEST_CASE(
    "a value that the reader refuses on sight is refused by the schema too, and its neighbour is taken") {
    const Policy policy = sample_vocabulary();
    struct Pair {
        const char* pointer;
        json taken;
        json refused;
    };
    const std::vector<Pair> pairs = {
        {"/events/0/at", "2026-03-05T23:59:59Z", "2026-03-05T24:00:00Z"},
        {"/events/0/at", "2026-03-05T10:59:59Z", "2026-13-45T99:99:99Z"},
        {"/events/0/at", "2026-03-05T23:59:60Z", "2026-03-05T23:58:60Z"},
        {"/events/0/at", "2026-03-05T19:59:60-04:00", "2026-03-05T23:59:60"},
        {"/events/0/at", "2026-03-06T10:00:00+23:59", "2026-03-06T10:00:00+24:00"},
        {"/observed_until", "2026-03-31T10:00:00Z", "2026-03-32T10:00:00Z"},
        {"/patient/age", 120, 121},
        {"/patient/age",
         {{"value", 120 * 12 + 11}, {"unit", "mo"}},
         {{"value", 120 * 12 + 24}, {"unit", "mo"}}},
        {"/patient/age", {{"value", 120}, {"unit", "a"}}, {{"value", 121}, {"unit", "a"}}},
        {"/patient/age", {{"value", 44'000}, {"unit", "d"}}, {{"value", 60'000}, {"unit", "d"}}},
    };
    std::vector<json> records;
    json by_event = base_record();
    by_event["line"].erase("inserted_at");
    by_event["line"].erase("dressing");
    records.push_back(by_event);  // nothing says when the line was inserted
    by_event["events"].push_back({{"type", "insertion"}, {"at", "2026-03-02T10:15:00-04:00"}});
    records.push_back(by_event);
    for (const Pair& pair : pairs)
        for (const json& value : {pair.refused, pair.taken}) {
            records.push_back(base_record());
            records.back()[json::json_pointer(pair.pointer)] = value;
        }
    const std::vector<bool> verdicts = verdicts_of_schema(policy, records);
    RecordReader reader(policy);
    for (std::size_t i = 0; i < records.size(); ++i) {
        INFO(records[i].dump());
        Episode episode;
        std::vector<Spoiled> set_aside;
        const bool spoiled = reader.read(records[i].dump(), episode, set_aside) != nullptr;
        CHECK((!spoiled && set_aside.empty()) == (i % 2 == 1));
        CHECK(verdicts[i] == (i % 2 == 1));
    }
}
