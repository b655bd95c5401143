#include "tests/runtime/slow_reader.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <vector>

#include "runtime/time.hpp"

namespace slow {

using namespace linelaw::runtime;
using nlohmann::json;

namespace {

std::optional<Instant> instant_of(const json& value, const Zone& zone) {
    if (!value.is_string()) return std::nullopt;
    bool ambiguous = false;
    const auto text = value.get<std::string>();
    if (const auto t = read_instant(text)) return t;
    return read_local_instant(text, zone, ambiguous);
}

json member(const json& object, const char* key) {
    return object.is_object() && object.contains(key) ? object.at(key) : json();
}

// A text, or a whole number as good as the text of its digits; empty where it names nothing.
std::string name_of(const json& value) {
    if (value.is_string()) return value.get<std::string>();
    if (value.is_number_unsigned()) return std::to_string(value.get<std::uint64_t>());
    if (!value.is_number()) return "";
    const auto number = value.get<double>();
    const bool whole = number >= 0 && number < 9'007'199'254'740'992.0 && number == std::floor(number);
    return whole ? std::to_string(static_cast<std::int64_t>(number)) : "";
}

// True where the rules let the record stand. A bad instant answers false by way of `bad`.
class Judge {
  public:
    explicit Judge(const Policy& policy) : policy_(policy), zone_(Zone::find(policy.time_zone).value()) {}

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
        if (!inserted) inserted = told_by_event(record, policy_.insertion);
        if (!removed) removed = told_by_event(record, policy_.removal);
        if (bad || (!inserted && !from)) return false;
        if (removed && inserted && *removed < *inserted) return false;
        if (until && inserted && *until < *inserted) return false;
        if (until && from && *until < *from) return false;
        if (!inserted && removed && *removed < *from) return false;
        last = inserted ? *inserted : *from;
        if (removed && !(until && *removed > *until)) see(removed);
        see(until);
        return accepts_events(member(record, "events")) && within_a_century();
    }

  private:
    std::optional<Instant> known(const json& value) {
        if (value.is_null()) return std::nullopt;
        const auto t = instant_of(value, zone_);
        if (!t) bad = true;
        return t;
    }

    // The instant of the first such event; what is wrong with the events, accepts_events finds.
    std::optional<Instant> told_by_event(const json& record, EventKindId kind) const {
        for (const json& event : member(record, "events")) {
            const json type = event.is_object() ? member(event, "type") : json();
            if (type.is_string() && kind_named(type) == kind) return instant_of(member(event, "at"), zone_);
        }
        return std::nullopt;
    }

    bool accepts_events(const json& events) {
        if (events.is_null()) return true;
        if (!events.is_array()) return false;
        std::map<std::string, json> ids;
        for (const json& event : events) {
            if (!event.is_object() || !member(event, "type").is_string()) return false;
            const auto kind = kind_named(event.at("type"));
            if (!kind) continue;
            const auto at = instant_of(member(event, "at"), zone_);
            if (!at) return false;
            if (const std::string id = name_of(member(event, "id")); !id.empty()) {
                const auto [found, fresh] = ids.emplace(id, event);
                if (!fresh && found->second != event) return false;
                if (!fresh) continue;
            }
            if (!accepts_event(*kind, *at)) return false;
        }
        return true;
    }

    std::optional<EventKindId> kind_named(const std::string& name) const {
        for (EventKindId id = 0; id < policy_.event_kinds.size(); ++id)
            if (policy_.event_kinds[id].name == name) return id;
        return std::nullopt;
    }

    bool accepts_event(EventKindId kind, Instant at) {
        for (const auto& [own, instant] :
             {std::pair{policy_.insertion, inserted}, {policy_.removal, removed}})
            if (kind == own && (!instant || *instant != at || !seen.insert(kind).second)) return false;
        if (until && at > *until) return true;
        see(at);
        if (inserted && at < *inserted) return false;
        const bool after = policy_.event_kinds[kind].also_after_removal;
        return !removed || at <= *removed || after;
    }

    void see(std::optional<Instant> at) {
        if (at) last = std::max(last, *at);
    }
    bool within_a_century() const {
        return last - (inserted ? *inserted : *from) <= 36'525 * 24 * microseconds_per_hour;
    }

    const Policy& policy_;
    const Zone zone_;
    std::optional<Instant> inserted, removed, from, until;
    Instant last = 0;
    std::set<EventKindId> seen;
    bool bad = false;
};

}  // namespace

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

bool accepts(const Policy& policy, const json& record) {
    return Judge(policy).accepts(record);
}

}  // namespace slow
