// The C ABI over the runtime. An episode keeps its record as JSON and is read and judged whole at every
// question: records are small, and so an event added late or out of order means what it means in a batch.
#include <algorithm>
#include <exception>
#include <memory>
#include <new>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/include/linelaw/linelaw.h"
#include "runtime/policy_json.hpp"
#include "runtime/records.hpp"
#include "runtime/time.hpp"

using namespace linelaw::runtime;
using nlohmann::json;

struct linelaw_error {
    std::string code;
    std::string message;
    std::string pointer;
    std::uint64_t offset = 0;
};

struct linelaw_policy {
    std::shared_ptr<const Policy> policy;
};

namespace {

// What was read of a record, with all that was not used of it.
struct Read {
    Episode episode;
    std::vector<Spoiled> set_aside;
    ReadCounts counts;
};

}  // namespace

struct linelaw_episode {
    explicit linelaw_episode(std::shared_ptr<const Policy> p) : policy(std::move(p)), engine(*policy) {}

    std::shared_ptr<const Policy> policy;
    Engine engine;
    json record;
    Read read;
    std::string answer;  // the text that the last call gave
};

namespace {

// Thrown inside the library, turned into a handle at its edge.
struct Failure {
    linelaw_error error;
};
[[noreturn]] void fail(std::string code, std::string message) {
    throw Failure{{std::move(code), std::move(message), {}, 0}};
}

// Runs `body`; answers its answer, or nothing with *error set.
template <class Body>
auto guarded(linelaw_error** error, const Body& body) noexcept -> decltype(body()) {
    const auto set = [error](linelaw_error e) {
        if (error != nullptr) *error = new (std::nothrow) linelaw_error(std::move(e));
    };
    try {
        try {
            return body();
        } catch (Failure& failure) {
            set(std::move(failure.error));
        } catch (const std::bad_alloc&) {
            set({"call.memory", "there is not enough memory", {}, 0});
        } catch (const std::exception& e) {
            set({"call.failed", e.what(), {}, 0});
        }
    } catch (...) {  // no memory even for the error
    }
    return {};
}

template <class Handle>
void need(const Handle* handle, const char* what) {
    if (handle == nullptr) fail("call.argument", std::string(what) + " is NULL");
}

json parse_object(const char* text, std::size_t length, const char* what) {
    need(text, what);
    json document = json::parse(std::string_view(text, length), nullptr, false);
    if (!document.is_object()) fail("record.json", std::string(what) + " is not one JSON object");
    return document;
}

Read read_record(const Policy& policy, std::string_view text) {
    Read read;
    RecordReader reader(policy);
    if (const auto spoiled = reader.read(text, read.episode, read.set_aside))
        throw Failure{{spoiled->code, spoiled->reason, spoiled->pointer, spoiled->offset}};
    read.counts = reader.counts();
    return read;
}

json with_event(json record, json event) {
    if (event.value("type", json()) == json("removal")) {
        json& removed_at = record["line"]["removed_at"];
        if (removed_at.is_null()) removed_at = event.value("at", json());
    }
    json& events = record["events"];
    if (events.is_null()) events = json::array();
    events.push_back(std::move(event));
    return record;
}

Instant moment(const Episode& episode, const char* now) {
    const Instant last = horizon_of(episode);
    if (now == nullptr) return last;
    const auto instant = read_instant(now);
    if (!instant)
        fail("call.argument", "`now` is no instant; write it as in 2026-03-02T10:15:00-04:00 (RFC 3339)");
    return std::max(*instant, last);
}

// The findings of `changed` that are new or have another outcome than in `before`.
void write_changes(std::string& out, linelaw_episode& e, const Episode& before, const Episode& changed,
                   Instant now) {
    struct Known {
        std::string id;
        Outcome outcome;
    };
    std::vector<Known> known;
    for (const Opportunity& o : e.engine.judge(before, now))
        known.push_back({finding_id(*e.policy, before, o), o.outcome});
    const std::vector<Opportunity> all = e.engine.judge(changed, now);
    const FindingWriter writer(*e.policy, now);
    for (const Opportunity& o : all) {
        const std::string id = finding_id(*e.policy, changed, o);
        const bool same = std::any_of(known.begin(), known.end(),
                                      [&](const Known& k) { return k.id == id && k.outcome == o.outcome; });
        if (!same) writer.json(out, changed, o, all);
    }
}

}  // namespace

const char* linelaw_version(void) {
    return LINELAW_VERSION;
}

const char* linelaw_error_code(const linelaw_error* error) {
    return error != nullptr ? error->code.c_str() : "";
}
const char* linelaw_error_message(const linelaw_error* error) {
    return error != nullptr ? error->message.c_str() : "";
}
const char* linelaw_error_pointer(const linelaw_error* error) {
    return error != nullptr ? error->pointer.c_str() : "";
}
std::uint64_t linelaw_error_offset(const linelaw_error* error) {
    return error != nullptr ? error->offset : 0;
}
void linelaw_error_free(linelaw_error* error) {
    delete error;
}

linelaw_policy* linelaw_policy_read(const char* text, std::size_t length, linelaw_error** error) {
    return guarded(error, [&]() -> linelaw_policy* {
        need(text, "the policy");
        auto policy = read_policy({text, length});
        if (!policy) fail(policy.error().code, policy.error().message);
        return new linelaw_policy{std::make_shared<const Policy>(*std::move(policy))};
    });
}
void linelaw_policy_free(linelaw_policy* policy) {
    delete policy;
}
const char* linelaw_policy_title(const linelaw_policy* policy) {
    return policy != nullptr ? policy->policy->title.c_str() : "";
}
const char* linelaw_policy_edition(const linelaw_policy* policy) {
    return policy != nullptr ? policy->policy->edition.c_str() : "";
}
const char* linelaw_policy_hash(const linelaw_policy* policy) {
    return policy != nullptr ? policy->policy->content_hash.c_str() : "";
}

linelaw_episode* linelaw_episode_begin(const linelaw_policy* policy, const char* record, std::size_t length,
                                       linelaw_error** error) {
    return guarded(error, [&]() -> linelaw_episode* {
        need(policy, "the policy");
        need(record, "the record");
        auto episode = std::make_unique<linelaw_episode>(policy->policy);
        episode->read = read_record(*episode->policy, {record, length});
        episode->record = json::parse(std::string_view(record, length), nullptr, false);
        return episode.release();
    });
}
void linelaw_episode_free(linelaw_episode* episode) {
    delete episode;
}

int linelaw_episode_add(linelaw_episode* episode, const char* event, std::size_t length,
                        linelaw_error** error) {
    return guarded(error, [&]() -> int {
        need(episode, "the episode");
        json record = with_event(episode->record, parse_object(event, length, "the event"));
        episode->read = read_record(*episode->policy, record.dump());
        episode->record = std::move(record);
        return 1;
    });
}

const char* linelaw_episode_findings(linelaw_episode* episode, const char* now, int all,
                                     linelaw_error** error) {
    return guarded(error, [&]() -> const char* {
        need(episode, "the episode");
        linelaw_episode& e = *episode;
        e.answer.clear();
        const Instant as_of = moment(e.read.episode, now);
        const FindingWriter writer(*e.policy, as_of);
        const std::vector<Opportunity> opportunities = e.engine.judge(e.read.episode, as_of);
        for (const Opportunity& o : opportunities)
            if (all != 0 || counts_against(o.outcome))
                writer.json(e.answer, e.read.episode, o, opportunities);
        return e.answer.c_str();
    });
}

const char* linelaw_episode_due(linelaw_episode* episode, const char* now, linelaw_error** error) {
    return guarded(error, [&]() -> const char* {
        need(episode, "the episode");
        linelaw_episode& e = *episode;
        e.answer.clear();
        e.engine.begin(e.read.episode);
        const Instant as_of = moment(e.read.episode, now);
        const FindingWriter writer(*e.policy, as_of);
        e.engine.advance(e.read.episode, as_of);
        for (const Due& due : e.engine.due(e.read.episode))
            writer.json(e.answer, e.read.episode, due.opportunity);
        return e.answer.c_str();
    });
}

const char* linelaw_episode_would_change(linelaw_episode* episode, const char* event, std::size_t length,
                                         linelaw_error** error) {
    return guarded(error, [&]() -> const char* {
        need(episode, "the episode");
        linelaw_episode& e = *episode;
        e.answer.clear();
        const json record = with_event(e.record, parse_object(event, length, "the event"));
        const Read changed = read_record(*e.policy, record.dump());
        write_changes(e.answer, e, e.read.episode, changed.episode, horizon_of(changed.episode));
        return e.answer.c_str();
    });
}

const char* linelaw_episode_remarks(linelaw_episode* episode, linelaw_error** error) {
    return guarded(error, [&]() -> const char* {
        need(episode, "the episode");
        std::string& out = episode->answer;
        out.clear();
        const auto line = [&out](const json& remark) { out += remark.dump() + '\n'; };
        for (const Spoiled& s : episode->read.set_aside)
            line({{"code", s.code}, {"pointer", s.pointer}, {"offset", s.offset}, {"reason", s.reason}});
        for (const auto& [name, times] : episode->read.counts.unknown_keys)
            line({{"unknown", "key"}, {"name", name}});
        for (const auto& [name, times] : episode->read.counts.unknown_events)
            line({{"unknown", "event"}, {"name", name}});
        return out.c_str();
    });
}
