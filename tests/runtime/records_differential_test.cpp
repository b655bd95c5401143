// The record reader against a slow one, written from the rules over a whole document in memory: both must
// accept and refuse the same texts.
#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <random>
#include <set>
#include <string>

#include "runtime/records.hpp"
#include "sample_policy.hpp"

using namespace linelaw::runtime;
using nlohmann::json;

namespace {

const Policy policy = sample_vocabulary();
const Zone zone = Zone::find(policy.time_zone).value();

std::optional<Instant> instant_of(const json& value) {
    if (!value.is_string()) return std::nullopt;
    bool ambiguous = false;
    const auto text = value.get<std::string>();
    if (const auto t = read_instant(text)) return t;
    return read_local_instant(text, zone, ambiguous);
}

json member(const json& object, const char* key) {
    return object.is_object() && object.contains(key) ? object.at(key) : json();
}

// True where the rules let the record stand. A bad instant answers false by way of `bad`.
class SlowJudge {
  public:
    bool accepts(const json& record) {
        if (!record.is_object()) return false;
        const json episode = member(record, "episode");
        if (!episode.is_string() || episode.get<std::string>().empty()) return false;
        for (const char* key : {"patient", "line"})
            if (const json part = member(record, key); !part.is_null() && !part.is_object()) return false;
        const json line = member(record, "line");
        inserted = known(member(line, "inserted_at"));
        removed = known(member(line, "removed_at"));
        from = known(member(record, "observed_from"));
        until = known(member(record, "observed_until"));
        if (bad || (!inserted && !from)) return false;
        if (removed && inserted && *removed < *inserted) return false;
        if (until && inserted && *until < *inserted) return false;
        if (until && from && *until < *from) return false;
        if (!inserted && removed && *removed < *from) return false;
        return accepts_events(member(record, "events"));
    }

  private:
    std::optional<Instant> known(const json& value) {
        if (value.is_null()) return std::nullopt;
        const auto t = instant_of(value);
        if (!t) bad = true;
        return t;
    }

    bool accepts_events(const json& events) {
        if (events.is_null()) return true;
        if (!events.is_array()) return false;
        std::map<std::string, json> ids;
        for (const json& event : events) {
            if (!event.is_object() || !member(event, "type").is_string()) return false;
            const auto kind = kind_named(event.at("type"));
            if (!kind) continue;
            const auto at = instant_of(member(event, "at"));
            if (!at) return false;
            const json id = member(event, "id");
            if (id.is_string() && !id.get<std::string>().empty()) {
                const auto [found, fresh] = ids.emplace(id.get<std::string>(), event);
                if (!fresh && found->second != event) return false;
                if (!fresh) continue;
            }
            if (!accepts_event(*kind, *at)) return false;
        }
        return true;
    }

    static std::optional<EventKindId> kind_named(const std::string& name) {
        for (EventKindId id = 0; id < policy.event_kinds.size(); ++id)
            if (policy.event_kinds[id].name == name) return id;
        return std::nullopt;
    }

    bool accepts_event(EventKindId kind, Instant at) {
        for (const auto& [own, instant] : {std::pair{policy.insertion, inserted}, {policy.removal, removed}})
            if (kind == own && (!instant || *instant != at || !seen.insert(kind).second)) return false;
        if (until && at > *until) return true;
        if (inserted && at < *inserted) return false;
        const bool after = policy.event_kinds[kind].also_after_removal;
        return !removed || at <= *removed || after;
    }

    std::optional<Instant> inserted, removed, from, until;
    std::set<EventKindId> seen;
    bool bad = false;
};

// The document, or nothing where the text is no JSON; `twice` where a key stands twice in an object.
std::optional<json> parse(const std::string& text, bool& twice) {
    std::vector<std::set<std::string>> open;
    twice = false;
    const auto watch = [&](int, json::parse_event_t event, json& parsed) {
        if (event == json::parse_event_t::object_start) open.emplace_back();
        if (event == json::parse_event_t::object_end) open.pop_back();
        if (event == json::parse_event_t::key && !open.back().insert(parsed.get<std::string>()).second)
            twice = true;
        return true;
    };
    json document = json::parse(text, watch, false);
    if (document.is_discarded()) return std::nullopt;
    return document;
}

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
          {"id": "e1", "type": "tea_break", "x": [1, 2.5, -3e-2, {"y": null}]},
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
    const auto document = parse(text, twice);
    if (!document) {
        ++tally.no_json;
        CHECK(spoiled);
        return;
    }
    if (document->is_object()) CHECK_FALSE((spoiled && spoiled->code == "record.json"));
    if (twice) return;
    const bool accepted = SlowJudge().accepts(*document);
    ++(accepted ? tally.accepted : tally.refused);
    CHECK((spoiled == nullptr) == accepted);
}

}  // namespace

TEST_CASE("texts damaged at random bytes are accepted and refused as a slow reader does") {
    RecordReader reader(policy);
    std::mt19937 random(20260302);
    const std::string original = base_record().dump(1);
    const std::string pieces = "{}[]:,\"\\0123456789.-+eEtrufalsn \t\n\xC3\xA9\xFFxT";
    Tally tally;
    compare(reader, original, tally);
    REQUIRE(tally.accepted == 1);
    for (int i = 0; i < 4000; ++i) {
        std::string text = original;
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
    std::mt19937 random(7);
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
    for (int i = 0; i < 6000; ++i) {
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
