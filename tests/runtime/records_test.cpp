// One test for each rule of docs/records.md.
#include "runtime/records.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "runtime/fault_words.hpp"
#include "runtime/records_plan.hpp"
#include "sample_policy.hpp"

using namespace linelaw::runtime;
using nlohmann::json;

namespace {

const Policy policy = sample_vocabulary();

// A reader with what it answered last.
struct Read {
    explicit Read(ReaderOptions options = {}) : reader(policy, options) {}
    explicit Read(const json& record, ReaderOptions options = {}) : Read(options) { text(record.dump()); }

    bool text(const std::string& record) {
        spoiled = reader.read(record, episode, set_aside);
        return spoiled == nullptr;
    }
    std::string code() const { return spoiled ? spoiled->code : ""; }
    std::string pointer() const { return spoiled ? spoiled->pointer : ""; }
    // The only value set aside, as "code pointer".
    std::string aside() const {
        return set_aside.size() == 1 ? set_aside[0].code + ' ' + set_aside[0].pointer
                                     : std::to_string(set_aside.size()) + " set aside";
    }
    const Event& event(std::size_t i) const { return episode.events.at(i); }
    const EventKind& kind(std::size_t i) const { return policy.event_kinds[event(i).kind]; }
    Value value(std::size_t i, std::string_view name) const {
        const auto& attributes = kind(i).attributes;
        for (std::uint32_t slot = 0; slot < attributes.size(); ++slot)
            if (attributes[slot].name == name) return episode.value(event(i), slot);
        FAIL("no such attribute: " << name);
        return {};
    }
    std::string text_of(std::uint32_t text) const {
        REQUIRE((text == none || text < episode.texts.size()));
        return text == none ? "-" : std::string(episode.texts[text]);
    }

    RecordReader reader;
    Episode episode;
    std::vector<Spoiled> set_aside;
    std::unique_ptr<Spoiled> spoiled;
};

json event(const char* type, const char* at, json more = json::object()) {
    more["type"] = type;
    more["at"] = at;
    return more;
}

json record(std::vector<json> events = {}) {
    return {{"episode", "q-000017"},
            {"line", {{"kind", "picc"}, {"lumens", 2}, {"inserted_at", "2026-03-02T10:15:00-04:00"}}},
            {"events", events}};
}

std::int64_t grains(const char* number, const char* unit) {
    return grains_from_decimal(number, *find_unit(unit)).value();
}

std::int64_t symbol(std::string_view name) {
    return std::find(policy.symbols.begin(), policy.symbols.end(), name) - policy.symbols.begin();
}

constexpr const char* later = "2026-03-03T08:00:00-04:00";

// A measurement with one attribute; the value that was read.
Value measured(const char* attribute, json value, std::string* aside = nullptr) {
    const Read read(record({event("measurement", later, {{attribute, std::move(value)}})}));
    INFO((read.spoiled ? read.spoiled->reason : ""));
    REQUIRE_FALSE(read.spoiled);
    if (aside)
        *aside = read.set_aside.empty() ? "" : read.aside();
    else
        CHECK(read.set_aside.empty());
    return read.value(1, attribute);
}
std::string aside_of(const char* attribute, json value) {
    std::string aside;
    const Value read = measured(attribute, std::move(value), &aside);
    CHECK(read.state == Known::set_aside);
    return aside;
}

}  // namespace

TEST_CASE("a record is read whole") {
    json r = record(
        {event("dressing_change", "2026-03-02T10:40:00-04:00",
               {{"id", "e1"},
                {"dressing", "transparent"},
                {"antiseptic", "chg_alcohol"},
                {"scrub_time", 30},
                {"dry_time", 120.5},
                {"external_length", 13.0},
                {"recorded_at", "2026-03-02T11:05:00-04:00"},
                {"steps", {"hand_hygiene", {{"step", "scrub"}, {"at", "2026-03-02T10:31:00-04:00"}}}}})});
    r["facility"] = "quillhaven";
    r["care_unit"] = "med-3";
    r["patient"] = {{"key", "p-0042"},
                    {"age", {{"value", 54}, {"unit", "a"}}},
                    {"setting", "ward"},
                    {"chg_sensitivity", false}};
    r["line"]["external_length"] = 13;
    r["line"]["removed_at"] = nullptr;
    r["observed_until"] = "2026-03-20T00:00:00-04:00";
    const Read read(r);
    INFO((read.spoiled ? read.spoiled->reason : ""));
    REQUIRE_FALSE(read.spoiled);
    CHECK(read.set_aside.empty());
    CHECK(read.reader.counts().unknown_keys.empty());
    const Episode& e = read.episode;
    CHECK(e.key == "q-000017");
    CHECK(e.facility == "quillhaven");
    CHECK(e.care_unit == "med-3");
    CHECK(e.patient_key == "p-0042");
    CHECK(e.age.given == Age::Given::completed);
    CHECK(e.age.completed == 54);
    CHECK(e.patient[1].number == symbol("ward"));
    CHECK(e.patient[2].state == Known::known);
    CHECK(e.patient[2].number == 0);
    CHECK(e.patient[3].state == Known::undocumented);
    CHECK(e.line[0].number == symbol("picc"));
    CHECK(e.line[1].number == 2);
    CHECK(e.line[2].number == grains("13", "cm"));
    CHECK(e.inserted_at == read_instant("2026-03-02T14:15:00Z"));
    CHECK_FALSE(e.removed_at);
    CHECK(e.observed_until == read_instant("2026-03-20T04:00:00Z"));
    REQUIRE(e.events.size() == 2);
    CHECK(read.kind(0).name == "insertion");
    CHECK(read.event(0).pointer == none);
    CHECK(read.event(1).pointer == 0);
    CHECK(read.text_of(read.event(1).id) == "e1");
    CHECK(read.value(1, "dressing").number == symbol("transparent"));
    CHECK(read.value(1, "dry_time").number == 120'500'000);
    CHECK(read.value(1, "external_length").number == grains("13", "cm"));
    CHECK(read.value(1, "charting_delay").number == 25 * microseconds_per_minute);
    REQUIRE(read.event(1).step_count == 2);
    CHECK(e.steps[read.event(1).steps].step == 0);
    CHECK(e.steps[read.event(1).steps + 1].step == 1);
    CHECK(e.steps[read.event(1).steps + 1].at == read_instant("2026-03-02T14:31:00Z"));
}

// ---- what spoils a record

TEST_CASE("truncated or invalid JSON spoils a record, with its place") {
    Read read;
    const std::string good = record({event("refusal", later)}).dump();
    REQUIRE(read.text(good));
    for (std::size_t length = 0; length < good.size(); ++length) {
        CHECK_FALSE(read.text(good.substr(0, length)));
        CHECK(read.code() == "record.json");
    }
    CHECK_FALSE(read.text(R"({"episode": "q", "line": {"inserted_at": nul}})"));
    CHECK(read.code() == "record.json");
    CHECK(read.pointer() == "/line/inserted_at");
    CHECK(read.spoiled->offset >= 26);
    for (const char* text :
         {"[]", "7", "\"x\"", "null", "{\"episode\": \"q\"} {}", "{\"episode\": \"q\"},", "  "}) {
        CHECK_FALSE(read.text(text));
        CHECK(read.code() == "record.json");
    }
}

TEST_CASE("values that nobody reads must be valid JSON too") {
    Read read;
    const auto with = [&](const std::string& more) {
        return read.text(R"({"episode": "q", "line": {"inserted_at": "2026-03-02T10:15:00Z"}, "x": )" + more +
                         "}");
    };
    CHECK(with(R"([1, -2.5e3, "a\u00e9\n", {"b": [true, false, null]}, [], {}])"));
    for (const char* bad : {"01", "1.", "+1", "tru", "truex", "nulll", "[1,]", "{\"a\"}", "{\"a\":}", "{,}",
                            "[1 2]", "\"\\x\"", "\"\\ud800\"", "'a'", "1e999", "{\"\\x\": 1}", "{1: 2}"}) {
        INFO(bad);
        CHECK_FALSE(with(bad));
        CHECK(read.code() == "record.json");
    }
}

TEST_CASE("what follows an event's type is read, and the key may be written with escapes") {
    Read read;
    const auto with = [&](const std::string& type) {
        return read.text(R"({"episode": "q", "line": {"inserted_at": "2026-03-02T10:15:00Z"}, "events": [{)" +
                         type + R"(, "at": "2026-03-03T10:15:00Z"}]})");
    };
    for (const std::string name : {"refusal", "tea_break"}) {
        INFO(name);
        CHECK(with(R"("\u0074ype": ")" + name + "\""));
        CHECK(with(R"("typo\t": 1, "t": 2, "type": ")" + name + "\""));
        for (const char* bad : {": 54", ": \"x\"", ": {}", " 54", " \"x\"", ": \"},{\""}) {
            CHECK_FALSE(with(R"("type": ")" + name + "\"" + bad));
            CHECK(read.code() == "record.json");
        }
    }
    CHECK(read.text(R"({"episode": "q", "line": {"inserted_at": "2026-03-02T10:15:00Z"}, "events": [
        {"\u0074ype": "refusal", "at": "2026-03-03T10:15:00Z"}]})"));
    CHECK(read.kind(1).name == "refusal");
}

TEST_CASE("a byte order mark before a record says nothing") {
    Read read;
    CHECK(read.text("\xEF\xBB\xBF" + record().dump()));
}

TEST_CASE("invalid UTF-8 spoils a record at its first bad byte") {
    Read read;
    std::string text = record().dump();
    const std::size_t at = text.find("q-000017") + 2;
    text[at] = '\xFF';
    CHECK_FALSE(read.text(text));
    CHECK(read.code() == "record.utf8");
    CHECK(read.spoiled->offset == at);
}

TEST_CASE("nesting too deep spoils a record") {
    Read read;
    const auto nested = [](std::size_t depth) {
        return R"({"episode": "q", "line": {"inserted_at": "2026-03-02T10:15:00Z"}, "x": )" +
               std::string(depth, '[') + std::string(depth, ']') + "}";
    };
    CHECK(read.text(nested(60)));
    CHECK_FALSE(read.text(nested(70)));
    CHECK(read.code() == "record.depth");
    CHECK_FALSE(read.text(nested(100'000)));
}

TEST_CASE("a record over the size limit is spoiled") {
    ReaderOptions options;
    options.record_limit = 200;
    json r = record();
    CHECK_FALSE(Read(r, options).spoiled);
    r["padding"] = std::string(200, 'x');
    CHECK(Read(r, options).code() == "record.size");
}

TEST_CASE("a key that is read and stands twice in one object spoils a record") {
    Read read;
    CHECK_FALSE(read.text(R"({"episode": "a", "episode": "a"})"));
    CHECK(read.code() == "record.key");
    CHECK(read.pointer() == "/episode");
    const std::string head = R"({"episode": "q", "line": {"inserted_at": "2026-03-02T10:15:00Z"}, )";
    CHECK_FALSE(read.text(head + R"("patient": {"setting": "ward", "setting": "icu"}})"));
    CHECK(read.pointer() == "/patient/setting");
    CHECK_FALSE(read.text(
        head + R"("events": [{"type": "refusal", "at": "2026-03-02T10:15:00Z", "type": "refusal"}]})"));
    CHECK(read.pointer() == "/events/0/type");
    CHECK_FALSE(read.text(
        head +
        R"("events": [{"type": "dressing_change", "at": "2026-03-02T10:15:00Z", "dry_time": {"value": 1, "unit": "s", "value": 2}}]})"));
    CHECK(read.pointer() == "/events/0/dry_time/value");
    // The same key in another object is another key.
    CHECK(read.text(
        head +
        R"("events": [{"type": "dressing_change", "steps": [{"step": "scrub", "at": "2026-03-02T10:15:00Z"}, {"step": "dry", "at": "2026-03-02T10:15:00Z"}], "at": "2026-03-02T10:15:00Z"}]})"));
    // Two unknown keys are two unknown keys.
    CHECK(read.text(head + R"("x": 1, "x": 2})"));
}

TEST_CASE("an episode without its key is spoiled") {
    json r = record();
    for (const json& bad : {json(), json(17), json(""), json::array()}) {
        r["episode"] = bad;
        CHECK(Read(r).code() == "record.episode");
    }
    r.erase("episode");
    CHECK(Read(r).code() == "record.episode");
}

TEST_CASE("what should be an object or a list and is not spoils a record") {
    for (const char* key : {"patient", "line", "events"}) {
        json r = record();
        r[key] = "x";
        CHECK(Read(r).code() == "record.shape");
        CHECK(Read(r).pointer() == std::string("/") + key);
    }
    CHECK(Read(record({json(5)})).pointer() == "/events/0");
}

TEST_CASE("an instant that is missing or does not exist spoils a record") {
    const auto at = [](json instant) {
        json r = record({event("refusal", later), event("refusal", later)});
        r["events"][1]["at"] = std::move(instant);
        return Read(r);
    };
    CHECK_FALSE(at("2026-03-04T08:00:00-04:00").spoiled);
    for (const json& bad : {json("2026-02-30T08:00:00-04:00"), json("2026-03-04"), json("tomorrow"), json(""),
                            json(1772530000), json::object()}) {
        const Read read = at(bad);
        CHECK(read.code() == "record.instant");
        CHECK(read.pointer() == "/events/1/at");
    }
    CHECK(at(nullptr).code() == "record.instant");
    CHECK(at(nullptr).pointer() == "/events/1");
    json r = record();
    r["line"]["inserted_at"] = "yesterday";
    CHECK(Read(r).pointer() == "/line/inserted_at");
    r = record();
    r["observed_until"] = "2026-13-01T00:00:00Z";
    CHECK(Read(r).pointer() == "/observed_until");
}

TEST_CASE(
    "a local time is read in the policy's zone, and refused where the clock change makes it two or none") {
    // Halifax: clocks forward on 8 March, back on 1 November 2026.
    CHECK(Read(record({event("refusal", "2026-03-03T08:00:00")})).event(1).at ==
          read_instant("2026-03-03T08:00:00-04:00"));
    CHECK(Read(record({event("refusal", "2026-07-03T08:00:00")})).event(1).at ==
          read_instant("2026-07-03T08:00:00-03:00"));
    for (const char* bad : {"2026-03-08T02:30:00", "2026-11-01T01:30:00"}) {
        const Read read(record({event("refusal", bad)}));
        CHECK(read.code() == "record.instant");
        CHECK(read.spoiled->reason.find("clocks change") != std::string::npos);
        CHECK(read.spoiled->reason.find("with its offset") != std::string::npos);
        CHECK(read.spoiled->reason.find("without the offset") == std::string::npos);
    }
    CHECK_FALSE(Read(record({event("refusal", "2026-11-01T01:30:00-03:00")})).spoiled);
}

TEST_CASE("an event without a type spoils a record") {
    json r = record({{{"at", later}}});
    CHECK(Read(r).code() == "record.type");
    r["events"][0]["type"] = 7;
    CHECK(Read(r).code() == "record.type");
    CHECK(Read(r).pointer() == "/events/0");
}

TEST_CASE("inserted_at may be unknown where observed_from is given, not otherwise") {
    json r = record({event("dressing_change", "2026-03-01T00:00:00Z")});
    r["line"]["inserted_at"] = nullptr;
    CHECK(Read(r).code() == "record.instant");
    CHECK(Read(r).pointer() == "/line/inserted_at");
    r["observed_from"] = "2026-03-02T00:00:00Z";
    const Read read(r);
    REQUIRE_FALSE(read.spoiled);
    CHECK_FALSE(read.episode.inserted_at);
    REQUIRE(read.episode.events.size() == 1);
    CHECK(read.kind(0).name == "dressing_change");
    r.erase("line");
    CHECK_FALSE(Read(r).spoiled);
}

TEST_CASE("removal before insertion, and bounds in the wrong order, spoil a record") {
    json r = record();
    r["line"]["removed_at"] = "2026-03-02T10:14:00-04:00";
    CHECK(Read(r).code() == "record.order");
    CHECK(Read(r).pointer() == "/line/removed_at");
    r["line"]["removed_at"] = "2026-03-02T10:15:00-04:00";
    CHECK_FALSE(Read(r).spoiled);
    r = record();
    r["observed_until"] = "2026-03-01T00:00:00Z";
    CHECK(Read(r).pointer() == "/observed_until");
    r["observed_until"] = "2026-03-04T00:00:00Z";
    r["observed_from"] = "2026-03-05T00:00:00Z";
    CHECK(Read(r).code() == "record.order");
}

TEST_CASE("a record that spans more than a century has a year that is mistyped") {
    json r = record();
    r["observed_until"] = "2126-03-02T14:15:00Z";  // 36,524 days after 2 March 2026: 2100 has no 29 February
    CHECK_FALSE(Read(r).spoiled);
    r["observed_until"] = "2126-03-03T14:15:00Z";
    CHECK_FALSE(Read(r).spoiled);
    r["observed_until"] = "2126-03-03T14:15:01Z";
    CHECK(Read(r).code() == "record.span");
    CHECK(Read(r).pointer() == "/line/inserted_at");
    r = record({event("refusal", "2926-03-05T00:00:00Z")});
    CHECK(Read(r).code() == "record.span");
    r["observed_until"] = "2026-03-20T00:00:00Z";  // it would be left out as beyond the record's end
    CHECK(Read(r).code() == "record.span");
    r = record();
    r["line"].erase("inserted_at");
    r["observed_from"] = "1026-03-02T14:15:00Z";
    r["observed_until"] = "2026-03-02T14:15:00Z";
    CHECK(Read(r).pointer() == "/observed_from");
}

TEST_CASE("an event before insertion, or after removal where it may not come, spoils a record") {
    json r = record({event("refusal", "2026-03-02T10:14:59-04:00")});
    CHECK(Read(r).code() == "record.order");
    CHECK(Read(r).pointer() == "/events/0");
    CHECK(Read(r).spoiled->offset == r.dump().find("{\"at\""));

    const char* after = "2026-03-05T08:00:00-04:00";
    const auto removed = [&](const char* type) {
        json with = record({event(type, after)});
        with["line"]["removed_at"] = later;
        return Read(with).code();
    };
    CHECK(removed("refusal") == "record.order");
    CHECK(removed("dressing_change") == "record.order");
    CHECK(removed("site_assessment").empty());  // also after removal
    CHECK(removed("notification").empty());
    CHECK(removed("acknowledgement").empty());
}

TEST_CASE("the same id with other content spoils a record, an identical repeat is dropped and counted") {
    const json first =
        event("dressing_change", later, {{"id", "e1"}, {"dry_time", 40}, {"scrub_time", 9000}});
    const json other =
        event("dressing_change", later, {{"id", "e1"}, {"dry_time", 41}, {"scrub_time", 9000}});
    const Read twice(record({first, event("refusal", later), first}));
    REQUIRE_FALSE(twice.spoiled);
    CHECK(twice.episode.events.size() == 3);
    CHECK(twice.reader.counts().identical_repeats == 1);
    CHECK(twice.aside() == "value.range /events/0/scrub_time");  // once

    const Read spoiled(record({first, event("refusal", later), other}));
    CHECK(spoiled.code() == "record.repeated");
    CHECK(spoiled.pointer() == "/events/2");

    // Nor is a key that is null, nor the offset in which an instant is written.
    const json spelt_otherwise =
        event("dressing_change", "2026-03-09T14:00:00+04:00",
              {{"id", "e1"}, {"dry_time", 40}, {"scrub_time", 9000}, {"care", nullptr}});
    const Read again(record({event("dressing_change", "2026-03-09T10:00:00Z",
                                   {{"id", "e1"}, {"dry_time", 40}, {"scrub_time", 9000}}),
                             spelt_otherwise}));
    REQUIRE_FALSE(again.spoiled);
    CHECK(again.reader.counts().identical_repeats == 1);

    // The order of keys and white space are no content.
    Read read;
    CHECK(read.text(R"({"episode": "q", "line": {"inserted_at": "2026-03-02T10:15:00Z"}, "events": [
        {"id": "a", "type": "refusal", "at": "2026-03-02T10:15:00Z", "x": [1, 2]} ,
        {"x": [1,2], "at": "2026-03-02T10:15:00Z", "type": "refusal", "id": "a"}]})"));
    CHECK(read.reader.counts().identical_repeats == 1);
    CHECK(read.episode.events.size() == 2);
    // Events without an id are never repeats.
    CHECK(Read(record({event("refusal", later), event("refusal", later)})).episode.events.size() == 3);
}

TEST_CASE("a second insertion or removal, or one at another instant, spoils a record") {
    const char* inserted = "2026-03-02T10:15:00-04:00";
    CHECK_FALSE(Read(record({event("insertion", inserted)})).spoiled);
    CHECK(Read(record({event("insertion", inserted), event("insertion", inserted)})).pointer() ==
          "/events/1");
    CHECK(Read(record({event("insertion", later)})).code() == "record.order");
    json r = record({event("removal", later)});
    r["line"]["removed_at"] = inserted;
    CHECK(Read(r).code() == "record.order");
    r["line"]["removed_at"] = later;
    CHECK_FALSE(Read(r).spoiled);
    r["events"].push_back(event("removal", later));
    CHECK(Read(r).pointer() == "/events/1");
}

TEST_CASE("an insertion or a removal that stands only as an event gives the line its instant") {
    json by_key = record({event("dressing_change", "2026-03-03T00:00:00Z")});
    by_key["line"]["removed_at"] = later;
    json by_event = by_key;
    by_event["line"].erase("removed_at");
    by_event["line"]["inserted_at"] = nullptr;
    by_event["events"].push_back(event("removal", later));
    by_event["events"].push_back(event("insertion", "2026-03-02T10:15:00-04:00"));
    const Read told(by_key);
    const Read read(by_event);
    REQUIRE_FALSE(read.spoiled);
    CHECK(read.episode.inserted_at == told.episode.inserted_at);
    CHECK(read.episode.removed_at == told.episode.removed_at);
    REQUIRE(read.episode.events.size() == told.episode.events.size());
    for (std::size_t i = 0; i < read.episode.events.size(); ++i) {
        CHECK(read.kind(i).name == told.kind(i).name);
        CHECK(read.episode.events[i].at == told.episode.events[i].at);
    }

    // The same faults as of the key's, at the event.
    json twice = by_event;
    twice["events"].push_back(event("removal", "2026-03-08T00:00:00Z"));
    CHECK(Read(twice).code() == "record.order");
    CHECK(Read(twice).pointer() == "/events/3");
    json early = by_event;
    early["events"][1]["at"] = "2026-03-01T00:00:00Z";
    CHECK(Read(early).code() == "record.order");
    CHECK(Read(early).pointer() == "/events/1");
    json unseen = by_event;
    unseen["events"].erase(2);
    CHECK(Read(unseen).code() == "record.instant");
    unseen["observed_from"] = "2026-03-05T00:00:00Z";
    unseen["events"][1]["at"] = "2026-03-04T00:00:00Z";
    CHECK(Read(unseen).code() == "record.order");
    // A removal past observed_until is set aside, as by the key.
    json later_on = by_event;
    later_on["observed_until"] = "2026-03-03T06:00:00Z";
    REQUIRE_FALSE(Read(later_on).spoiled);
    CHECK_FALSE(Read(later_on).episode.removed_at);
}

// ---- what is counted and not used

TEST_CASE("unknown keys and event types are ignored and counted, never lost") {
    json r =
        record({event("dressing_change", later, {{"dry_tme", 30}}), event("tea_break", later),
                event("tea_break", "no instant at all"),
                event("dressing_change", later, {{"steps", {{{"step", "dry"}, {"by", "x"}}}}}),
                event("dressing_change", later, {{"dry_time", {{"value", 3}, {"unit", "s"}, {"by", "x"}}}})});
    r["line"]["lumen"] = 2;
    r["patient"]["weigth"] = 3;
    r["comment"] = {{"deep", {1, 2, 3}}};
    const Read read(r);
    REQUIRE_FALSE(read.spoiled);
    const std::map<std::string, std::uint64_t> keys = {{"dressing_change.dry_tme", 1},  {"line.lumen", 1},
                                                       {"patient.weigth", 1},           {"comment", 1},
                                                       {"dressing_change.steps.by", 1}, {"dry_time.by", 1}};
    CHECK(read.reader.counts().unknown_keys == keys);
    CHECK(read.reader.counts().unknown_events == std::map<std::string, std::uint64_t>{{"tea_break", 2}});
    CHECK(read.episode.events.size() == 4);
}

TEST_CASE("an unknown key or event that is no name is counted and not shown") {
    json r = record({event("Some Body", later), event("tea break", later), event("teaBreak", later),
                     event("dressing_change", later, {{"Born 1970", 1}})});
    r["Some Body"] = 1;
    const Read read(r);
    REQUIRE_FALSE(read.spoiled);
    const std::string hidden = "(no name, not shown)";
    CHECK(read.reader.counts().unknown_events ==
          std::map<std::string, std::uint64_t>{{hidden, 2}, {"teaBreak", 1}});
    CHECK(read.reader.counts().unknown_keys ==
          std::map<std::string, std::uint64_t>{{hidden, 1}, {"dressing_change." + hidden, 1}});
}

TEST_CASE("where a key that is no name stands is told without it") {
    Read read;
    read.text(R"({"episode": "e", "Some Body 1961-02-03": tru})");
    CHECK(read.code() == "record.json");
    CHECK(read.pointer() == "/(no name, not shown)");
    read.text(R"({"episode": "e", "notes": {"Some Body": 1e}})");
    CHECK(read.pointer().find("Body") == std::string::npos);
    read.text(R"({"episode": "e", "events": [{"antiseptic": tru}]})");
    CHECK(read.pointer() == "/events/0/antiseptic");
}

TEST_CASE("a flood of different unknown keys does not fill the memory") {
    Read read;
    for (int i = 0; i < 3000; ++i) {
        json r = record();
        r["k" + std::to_string(i)] = i;
        read.text(r.dump());
    }
    CHECK(read.reader.counts().unknown_keys.size() <= 1001);
    CHECK(read.reader.counts().unknown_keys.at("(others)") == 2000);
}

TEST_CASE("of a flood of unknown keys the same are told apart, however the records are dealt") {
    const auto name = [](int i) { return "k" + std::to_string(i * 7919 % 2500); };
    ReadCounts whole;
    std::vector<ReadCounts> parts(7);
    for (int i = 0; i < 20'000; ++i) {
        ReadCounts::count(whole.unknown_keys, name(i), 1);
        ReadCounts::count(parts[static_cast<std::size_t>(i) * 31 % 97 % 7].unknown_keys, name(i), 1);
    }
    ReadCounts sum;
    for (auto part = parts.rbegin(); part != parts.rend(); ++part) sum.add(*part);
    CHECK((sum.unknown_keys == whole.unknown_keys));
    CHECK(whole.unknown_keys.size() == 1001);
    CHECK(whole.unknown_keys.at("k0") == 8);  // 20,000 of 2,500 names
    CHECK(whole.unknown_keys.at("(others)") == 8 * 1500);
}

TEST_CASE("events past observed_until are set aside and counted, a removal among them") {
    json r = record({event("refusal", "2026-03-05T00:00:00Z"), event("refusal", "2026-03-05T00:00:01Z")});
    r["observed_until"] = "2026-03-05T00:00:00Z";
    r["line"]["removed_at"] = "2026-03-06T00:00:00Z";
    const Read read(r);
    REQUIRE_FALSE(read.spoiled);
    CHECK(read.episode.events.size() == 2);
    CHECK_FALSE(read.episode.removed_at);
    CHECK(read.reader.counts().after_observed_until == 2);
}

TEST_CASE("counts of several readers add up") {
    Read a(record({event("tea_break", later)}));
    Read b(record({event("tea_break", later, {{"id", "x"}})}));
    ReadCounts sum = a.reader.counts();
    sum.add(b.reader.counts());
    CHECK(sum.unknown_events.at("tea_break") == 2);
}

// ---- what a value must be

TEST_CASE("a bare number is in the unit that the vocabulary declares, another unit is converted") {
    CHECK(measured("arm_circumference", 31.5).number == grains("31.5", "cm"));
    CHECK(measured("arm_circumference", {{"value", 12}, {"unit", "[in_i]"}}).number == grains("30.48", "cm"));
    CHECK(measured("arm_circumference", {{"value", 12}, {"unit", "inch"}}).number == grains("30.48", "cm"));
    CHECK(measured("temperature", {{"value", 100.4}, {"unit", "[degF]"}}).number == grains("38", "degC"));
    CHECK(measured("temperature", {{"value", 38}, {"unit", "Cel"}}).number == grains("38", "degC"));
    CHECK(measured("flush", {{"value", 0.01}, {"unit", "L"}}).number == grains("10", "mL"));
    CHECK(measured("weight", {{"value", 1450}, {"unit", "g"}}).number == grains("1.45", "kg"));
    CHECK(measured("pump", {{"value", 5}, {"unit", "mL/h"}}).number == grains("5", "mL/h"));
    CHECK(measured("heparin", {{"value", 100}, {"unit", "[USP'U]/mL"}}).number == grains("100", "units/mL"));
    CHECK(measured("saturation", {{"value", 97.5}, {"unit", "%"}}).number == grains("97.5", "%"));
    CHECK(measured("saturation", 97.5).number == grains("97.5", "%"));
    CHECK(measured("pain", 2.5).number == 2'500'000);
    CHECK(measured("pain", {{"value", 2.5}, {"unit", "1"}}).number == 2'500'000);
}

TEST_CASE("a value of the wrong type is set aside with its place, and no message repeats it") {
    CHECK(aside_of("arm_circumference", "31.5") == "value.type /events/0/arm_circumference");
    CHECK(aside_of("arm_circumference", true) == "value.type /events/0/arm_circumference");
    CHECK(aside_of("arm_circumference", json::array({31})) == "value.type /events/0/arm_circumference");
    CHECK(aside_of("arm_circumference", {{"value", "31"}, {"unit", "cm"}}) ==
          "value.type /events/0/arm_circumference");
    CHECK(aside_of("arm_circumference", {{"value", 31}}) == "value.type /events/0/arm_circumference");
    CHECK(aside_of("arm_place", 3) == "value.type /events/0/arm_place");
    CHECK(aside_of("taken_at", "25:00") == "value.type /events/0/taken_at");
    CHECK(aside_of("note", 3) == "value.type /events/0/note");
    const Read read(
        record({event("measurement", later, {{"arm_circumference", 987.654}, {"arm_place", "elbow-xyz"}})}));
    for (const Spoiled& value : read.set_aside) {
        CHECK(value.reason.find("987") == std::string::npos);
        CHECK(value.reason.find("xyz") == std::string::npos);
    }
    const json flags = {{"pus", "yes"}};
    CHECK(Read(record({event("site_assessment", later, flags)})).aside() == "value.type /events/0/pus");
    CHECK(Read(record({event("site_assessment", later, {{"pus", 1}})})).aside() ==
          "value.type /events/0/pus");
}

TEST_CASE("a value out of range, out of the list or in a unit of another dimension is set aside") {
    CHECK(measured("arm_circumference", 5).state == Known::known);  // both ends are included
    CHECK(measured("arm_circumference", 80).state == Known::known);
    CHECK(aside_of("arm_circumference", 4.9999) == "value.range /events/0/arm_circumference");
    CHECK(aside_of("arm_circumference", 80.0001) == "value.range /events/0/arm_circumference");
    CHECK(aside_of("arm_circumference", 1e300) == "value.range /events/0/arm_circumference");
    CHECK(aside_of("arm_circumference", {{"value", 31}, {"unit", "mL"}}) ==
          "value.unit /events/0/arm_circumference");
    CHECK(aside_of("arm_circumference", {{"value", 31}, {"unit", "CM"}}) ==
          "value.unit /events/0/arm_circumference");
    CHECK(aside_of("arm_place", "elbow") == "value.list /events/0/arm_place");
    const Read read(record({event("measurement", later, {{"arm_circumference", 200}})}));
    CHECK(read.set_aside.at(0).offset ==
          record({event("measurement", later, {{"arm_circumference", 200}})}).dump().find("200"));
    CHECK(read.set_aside.at(0).reason.find("from 5 to 80 in cm") != std::string::npos);
}

TEST_CASE("counts are whole numbers") {
    json r = record();
    r["line"]["lumens"] = 2.0;
    CHECK(Read(r).episode.line[1].number == 2);
    r["line"]["lumens"] = 2.5;
    CHECK(Read(r).aside() == "value.type /line/lumens");
    r["line"]["lumens"] = 6;
    CHECK(Read(r).aside() == "value.range /line/lumens");
    r["line"]["lumens"] = "2";
    CHECK(Read(r).aside() == "value.type /line/lumens");
}

TEST_CASE("null is undocumented, not set aside") {
    const Value value = measured("arm_circumference", nullptr);
    CHECK(value.state == Known::undocumented);
    json r = record();
    r["patient"] = nullptr;
    r["facility"] = nullptr;
    r["events"] = nullptr;
    CHECK_FALSE(Read(r).spoiled);
    CHECK(Read(r).set_aside.empty());
}

TEST_CASE("a long name is found among names that begin alike, and is not looked for behind a record's end") {
    const std::string one = std::string(40, 'n') + "a";
    const std::string other = std::string(40, 'n') + "b";
    const std::string unknown = std::string(40, 'n') + "c";
    const std::string longest(300, 'n');  // longer than what may be read behind a record
    records::NameTable names;
    REQUIRE(names.add(one, 1));
    REQUIRE(names.add(other, 2));
    REQUIRE(names.add(longest, 3));
    CHECK_FALSE(names.add(longest, 4));
    CHECK(names.find(one) == 1);
    CHECK(names.find(unknown) == none);
    records::NameTable::Guess guess = names.guess_first();
    CHECK(names.find(longest, guess) == 3);
    guess = names.guess_first();  // now the longest one
    const std::vector<char> text(records::name_room + 2, 'n');
    std::string_view name;
    std::uint32_t number = none;
    CHECK_FALSE(names.take_guess(text.data(), guess, name, number));
}

TEST_CASE("texts and keys are equal where their indexes are") {
    const Read read(record({event("measurement", later, {{"note", "red"}, {"measured_by", "n-1"}}),
                            event("measurement", later, {{"note", "n-1"}, {"measured_by", "n-2"}})}));
    CHECK(read.value(1, "measured_by").number == read.value(2, "note").number);
    CHECK(read.value(1, "measured_by").number != read.value(2, "measured_by").number);
    CHECK(measured("taken_at", "07:30").number == 7 * microseconds_per_hour + 30 * microseconds_per_minute);
    CHECK(measured("taken_at", "07:30:15").number % microseconds_per_minute == 15 * microseconds_per_second);
}

TEST_CASE("with strict, a value set aside quarantines its record") {
    ReaderOptions strict;
    strict.strict = true;
    const json r = record({event("measurement", later, {{"arm_circumference", 4}})});
    CHECK_FALSE(Read(r).spoiled);
    const Read read(r, strict);
    CHECK(read.code() == "value.range");
    CHECK(read.pointer() == "/events/0/arm_circumference");
}

TEST_CASE("a facility or care unit that is no text is set aside") {
    json r = record();
    r["facility"] = 7;
    CHECK(Read(r).aside() == "value.type /facility");
    CHECK(Read(r).episode.facility.empty());
}

// ---- the patient's age

TEST_CASE("an age is completed units at insertion, or a birth date") {
    const auto patient = [](json given) {
        json r = record();
        r["patient"] = std::move(given);
        return Read(r);
    };
    const auto age = [&](json given) { return patient({{"age", std::move(given)}}); };
    CHECK(age(54).episode.age.unit == AgeUnit::years);
    CHECK(age(54).episode.age.completed == 54);
    CHECK(age({{"value", 5}, {"unit", "mo"}}).episode.age.unit == AgeUnit::months);
    CHECK(age({{"value", 5}, {"unit", "wk"}}).episode.age.unit == AgeUnit::weeks);
    CHECK(age({{"value", 5}, {"unit", "d"}}).episode.age.unit == AgeUnit::days);
    CHECK(age({{"value", 5}, {"unit", "years"}}).episode.age.unit == AgeUnit::years);
    CHECK(age(120).set_aside.empty());
    CHECK(age(121).aside() == "value.range /patient/age");
    CHECK(age(-1).aside() == "value.range /patient/age");
    CHECK(age(1e12).aside() == "value.range /patient/age");
    CHECK(age(54.5).aside() == "value.type /patient/age");
    CHECK(age("54").aside() == "value.type /patient/age");
    CHECK(age({{"value", 5}, {"unit", "cm"}}).aside() == "value.type /patient/age");
    CHECK(age("54").episode.age.given == Age::Given::set_aside);
    CHECK(age(nullptr).episode.age.given == Age::Given::undocumented);

    const Read born = patient({{"birth_date", "1971-05-20"}});
    CHECK(born.episode.age.given == Age::Given::birth_date);
    CHECK(born.episode.age.birth == CivilDate{1971, 5, 20});
    CHECK(patient({{"birth_date", "2026-03-02"}}).set_aside.empty());
    CHECK(patient({{"birth_date", "2026-03-03"}}).aside() == "value.range /patient/birth_date");
    CHECK(patient({{"birth_date", "1905-03-03"}}).set_aside.empty());
    CHECK(patient({{"birth_date", "1905-03-02"}}).aside() == "value.range /patient/birth_date");
    CHECK(patient({{"birth_date", "1971-02-30"}}).aside() == "value.type /patient/birth_date");
    CHECK(patient({{"birth_date", 1971}}).episode.age.given == Age::Given::set_aside);
    CHECK(patient({{"birth_date", "1971-05-20"}, {"age", 54}}).episode.age.given == Age::Given::birth_date);
    CHECK(patient({{"birth_date", "1971-05-20"}, {"age", 55}}).aside() == "value.twice /patient/birth_date");
    CHECK(patient({{"birth_date", "1971-05-20"}, {"age", 55}}).episode.age.given == Age::Given::set_aside);
}

// ---- insertion and removal

TEST_CASE(
    "the line's keys stand for the insertion's and the removal's attributes where no event bears them") {
    json r = record();
    r["line"]["dressing"] = "gauze";
    r["line"]["steps"] = {"hand_hygiene"};
    r["line"]["removed_at"] = later;
    r["line"]["removal_reason"] = "routine";
    const Read read(r);
    REQUIRE_FALSE(read.spoiled);
    REQUIRE(read.episode.events.size() == 2);
    CHECK(read.value(0, "dressing").number == symbol("gauze"));
    CHECK(read.event(0).step_count == 1);
    CHECK(read.value(1, "removal_reason").number == symbol("routine"));
    CHECK(read.event(1).pointer == none);
    CHECK(read.reader.counts().unknown_keys.empty());
}

TEST_CASE("an insertion event is asked first, attribute by attribute; two different values are set aside") {
    const char* inserted = "2026-03-02T10:15:00-04:00";
    json r = record({event("insertion", inserted, {{"id", "i"}, {"ultrasound", true}})});
    r["line"]["dressing"] = "gauze";
    const Read read(r);
    REQUIRE(read.episode.events.size() == 1);
    CHECK(read.event(0).pointer == 0);
    CHECK(read.value(0, "dressing").number == symbol("gauze"));
    CHECK(read.value(0, "ultrasound").number == 1);
    r["events"][0]["dressing"] = "gauze";
    CHECK(Read(r).set_aside.empty());
    r["events"][0]["dressing"] = "transparent";
    CHECK(Read(r).aside() == "value.twice /events/0/dressing");
    CHECK(Read(r).value(0, "dressing").state == Known::set_aside);
}

TEST_CASE("the line's word on an insertion or removal without an instant is set aside, not lost") {
    json r = record();
    r["line"]["removal_reason"] = "routine";
    CHECK(Read(r).aside() == "value.place /line/removal_reason");
    r = record();
    r["line"]["inserted_at"] = nullptr;
    r["observed_from"] = later;
    r["line"]["dressing"] = "gauze";
    CHECK(Read(r).aside() == "value.place /line/dressing");
}

// ---- events

TEST_CASE("events stand in order of instant, then of the record; insertion first, removal last") {
    const char* inserted = "2026-03-02T10:15:00-04:00";
    json r = record({event("removal", later, {{"id", "r"}}), event("refusal", later, {{"id", "b"}}),
                     event("refusal", inserted, {{"id", "a"}}), event("fever_alert", later, {{"id", "c"}}),
                     event("insertion", inserted, {{"id", "i"}}),
                     event("notification", "2026-03-04T08:00:00-04:00", {{"id", "n"}})});
    r["line"]["removed_at"] = later;
    const Read read(r);
    REQUIRE_FALSE(read.spoiled);
    std::string order;
    for (const Event& e : read.episode.events) order += read.text_of(e.id);
    CHECK(order == "iabcrn");
}

TEST_CASE("recorded_at that is no instant is set aside, and the charting delay with it") {
    Read read(record({event("refusal", later, {{"recorded_at", "soon"}})}));
    CHECK(read.aside() == "value.instant /events/0/recorded_at");
    CHECK(read.event(1).recorded_at_set_aside);
    CHECK(read.value(1, "charting_delay").state == Known::set_aside);
    read.text(record({event("refusal", later)}).dump());
    CHECK(read.value(1, "charting_delay").state == Known::undocumented);
    // It is worked out, never given.
    read.text(record({event("refusal", later, {{"charting_delay", 5}})}).dump());
    CHECK(read.reader.counts().unknown_keys.at("refusal.charting_delay") == 1);
}

TEST_CASE("steps are names or objects with times; one that is not known may be any of them") {
    const auto change = [](json steps) {
        return Read(record({event("dressing_change", later, {{"steps", steps}})}));
    };
    CHECK(change(json::array()).event(1).step_count == 0);
    CHECK(change(nullptr).event(1).step_count == 0);
    const Read timed = change({{{"from", later}, {"to", "2026-03-03T08:01:00-04:00"}, {"step", "scrub"}}});
    CHECK(timed.episode.steps.at(0).step == 1);
    CHECK(*timed.episode.steps.at(0).to - *timed.episode.steps.at(0).from == microseconds_per_minute);
    const Read unknown = change({"scrub", "dance"});
    CHECK(unknown.aside() == "value.list /events/0/steps/1");
    CHECK(unknown.event(1).step_count == 2);
    CHECK(unknown.episode.steps.at(1).step == none);
    CHECK(change({7}).aside() == "value.type /events/0/steps/0");
    CHECK(change("scrub").aside() == "value.type /events/0/steps");
    CHECK(change("scrub").episode.steps.at(0).step == none);
    CHECK(change({json::object()}).aside() == "value.type /events/0/steps/0");
    const Read late = change({{{"step", "scrub"}, {"at", "later"}}});
    CHECK(late.aside() == "value.instant /events/0/steps/0/at");
    CHECK(late.episode.steps.at(0).time_set_aside);
    CHECK(late.episode.steps.at(0).step == 1);
}

TEST_CASE("an id that is a whole number is its digits, exactly, and any other number says what it is") {
    // The largest of 53 bits and the next two (IEEE 754, binary64), and the largest of 64.
    for (const char* digits :
         {"0", "9007199254740991", "9007199254740992", "9007199254740993", "18446744073709551615"}) {
        Read read;
        std::string text = record({event("refusal", later, {{"id", "HERE"}})}).dump();
        REQUIRE(read.text(text.replace(text.find("\"HERE\""), 6, digits)));
        CHECK(read.set_aside.empty());
        CHECK(read.text_of(read.event(read.episode.events.size() - 1).id) == digits);
    }
    CHECK(Read(record({event("refusal", later, {{"id", 2.0}})})).set_aside.empty());
    const struct {
        const char* number;
        const char* says;
    } cases[] = {{"-1",
                  "`id` is a number below zero; it must be a text, or a whole number from 0 to "
                  "18446744073709551615"},
                 {"1.5", "`id` is a fraction; "},
                 {"18446744073709551616", "`id` is a number too large to be kept exactly; "},
                 {"1e30", "`id` is a number too large to be kept exactly; "},
                 {"true", "`id` is of another type; "}};
    for (const auto& c : cases) {
        Read read;
        std::string text = record({event("refusal", later, {{"id", "HERE"}})}).dump();
        REQUIRE(read.text(text.replace(text.find("\"HERE\""), 6, c.number)));
        CHECK(read.aside() == "value.type /events/0/id");
        CHECK(read.set_aside[0].reason.rfind(c.says, 0) == 0);
    }
}

TEST_CASE("an event names its part, and the event that begins a part its parent") {
    const Read read(
        record({event("infusion_start", later, {{"infusion", "i2"}, {"lumen", 2}, {"fluid", "lipid"}}),
                event("set_change", later, {{"infusion", "i2"}}), event("set_change", later),
                event("infusion_stop", later, {{"infusion", "i2"}})}));
    REQUIRE_FALSE(read.spoiled);
    CHECK(read.set_aside.empty());
    CHECK(read.reader.counts().unknown_keys.empty());
    CHECK(read.text_of(read.event(1).part) == "i2");
    CHECK(read.text_of(read.event(1).parent) == "2");
    CHECK(read.event(2).part == read.event(1).part);
    CHECK(read.event(3).part == none);
    CHECK(read.event(4).part == read.event(1).part);
}

TEST_CASE("a part's number and its digits name the same, within the parts that the line has") {
    const Read read(
        record({event("hub_scrub", later, {{"lumen", 2}}), event("hub_scrub", later, {{"lumen", "2"}})}));
    CHECK(read.event(1).part == read.event(2).part);
    CHECK(read.set_aside.empty());
    for (const json& bad : {json(3), json(0), json("02"), json("distal")})
        CHECK(Read(record({event("hub_scrub", later, {{"lumen", bad}})})).aside() ==
              "value.part /events/0/lumen");
    for (const json& bad : {json(1.5), json(-1), json(true), json("")})
        CHECK(Read(record({event("hub_scrub", later, {{"lumen", bad}})})).aside() ==
              "value.type /events/0/lumen");
    json r = record({event("hub_scrub", later, {{"lumen", 5}})});
    r["line"].erase("lumens");  // undocumented: as many as the vocabulary allows
    CHECK(Read(r).set_aside.empty());
    CHECK(Read(r).text_of(Read(r).event(1).part) == "5");
}

TEST_CASE("a part that the record never begins is no part's name") {
    json r = record({event("infusion_start", later, {{"infusion", "i1"}}),
                     event("set_change", later, {{"infusion", "i9"}})});
    CHECK(Read(r).aside() == "value.part /events/1/infusion");
    // It stays nobody's: without a name it could be taken for the one infusion that there is.
    CHECK(Read(r).text_of(Read(r).event(2).part) == "i9");
    // It may have begun before a record that does not know the insertion, or under no name.
    r["line"]["inserted_at"] = nullptr;
    r["observed_from"] = later;
    CHECK(Read(r).set_aside.empty());
    r = record({event("infusion_start", later), event("set_change", later, {{"infusion", "i9"}})});
    CHECK(Read(r).set_aside.empty());
}

TEST_CASE("parts whose names are left out are numbered within their kind, as the events name them") {
    ReaderOptions unnamed;
    unnamed.names_of_parts = false;
    const Read read(
        record({event("set_change", "2026-03-05T09:00:00-04:00", {{"infusion", "2"}}),
                event("infusion_start", "2026-03-05T08:10:00-04:00", {{"infusion", "Ada's"}}),
                event("infusion_start", "2026-03-05T08:00:00-04:00", {{"infusion", "2"}, {"lumen", 2}}),
                event("set_change", "2026-03-05T09:10:00-04:00", {{"infusion", "Ada's"}}),
                event("set_change", "2026-03-05T09:20:00-04:00")}),
        unnamed);
    REQUIRE_FALSE(read.spoiled);
    CHECK(read.set_aside.empty());
    CHECK(read.text_of(read.event(1).part) == "1");
    CHECK(read.text_of(read.event(1).parent) == "2");  // a lumen's number is no name
    CHECK(read.text_of(read.event(2).part) == "2");
    CHECK(read.event(3).part == read.event(1).part);
    CHECK(read.event(4).part == read.event(2).part);
    CHECK(read.event(5).part == none);
}

TEST_CASE("one record leaves nothing behind in the next") {
    json full = record({event("dressing_change", later, {{"id", "e1"}, {"steps", {"scrub"}}})});
    full["facility"] = "quillhaven";
    full["patient"] = {{"key", "p-1"}, {"age", 4}, {"setting", "ward"}};
    full["line"]["removed_at"] = "2026-04-01T00:00:00Z";
    full["observed_from"] = later;
    Read read(full);
    REQUIRE(read.text(record().dump()));
    CHECK(read.episode.facility.empty());
    CHECK(read.episode.patient_key.empty());
    CHECK(read.episode.age.given == Age::Given::undocumented);
    CHECK(read.episode.patient[1].state == Known::undocumented);
    CHECK_FALSE(read.episode.removed_at);
    CHECK_FALSE(read.episode.observed_from);
    CHECK(read.episode.texts.empty());
    CHECK(read.episode.steps.empty());
    CHECK(read.episode.events.size() == 1);
}

TEST_CASE("every fault of docs/records.md has its words for a table") {
    std::ifstream page(LINELAW_SOURCE_DIR "/docs/records.md");
    std::size_t faults = 0;
    for (std::string line; std::getline(page, line);) {
        if (line.rfind("| `record.", 0) != 0 && line.rfind("| `value.", 0) != 0) continue;
        const std::string code = line.substr(3, line.find('`', 3) - 3);
        INFO(code);
        CHECK(fault_in_words(code) != code);
        ++faults;
    }
    CHECK(faults == 20);
}
