// The C ABI over the runtime. An episode keeps its record as it was given and is read and judged whole at
// every question: records are small, and so an event added late or out of order means what it means in a
// batch.
#include <algorithm>
#include <exception>
#include <map>
#include <memory>
#include <new>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/grown_record.hpp"
#include "runtime/include/linelaw/linelaw.h"
#include "runtime/policy_json.hpp"
#include "runtime/records.hpp"
#include "runtime/time.hpp"
#include "runtime/worklist.hpp"

using namespace linelaw::runtime;

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
    explicit linelaw_episode(std::shared_ptr<const Policy> p)
        : policy(std::move(p)), engine(*policy), reader(*policy) {}

    std::shared_ptr<const Policy> policy;
    Engine engine;
    RecordReader reader;
    GrownRecord record;
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

[[noreturn]] void fail(const Spoiled& spoiled) {
    throw Failure{{spoiled.code, spoiled.reason, spoiled.pointer, spoiled.offset}};
}

Read read_grown(linelaw_episode& e, GrownRecord& record) {
    Read read;
    const auto spoiled = e.reader.read(record.compose(), read.episode, read.set_aside);
    read.counts = e.reader.take_counts();
    if (!spoiled) return read;
    // A place elsewhere in the record is none in what the caller gave: it is said, and not pointed at.
    if (!record.place_in_last(*spoiled)) {
        if (!spoiled->pointer.empty())
            spoiled->reason =
                "with this event the record would not do at " + spoiled->pointer + ": " + spoiled->reason;
        spoiled->pointer.clear();
        spoiled->offset = 0;
    }
    fail(*spoiled);
}

// The episode with one more event. What is known of it reaches as far as what was added.
Read read_with(linelaw_episode& e, GrownRecord& record, const char* event, std::size_t length) {
    need(event, "the event");
    if (const auto spoiled = record.add({event, length}, e.policy->event_kinds[e.policy->removal].name))
        fail(*spoiled);
    Read read = read_grown(e, record);
    if (read.counts.after_observed_until == e.read.counts.after_observed_until) return read;
    record.reach_to_last();
    return read_grown(e, record);
}

Instant read_moment(const Episode& episode, const char* now) {
    const auto instant = read_instant(now);
    if (!instant)
        fail("call.argument", "`now` is no instant; write it as in 2026-03-02T10:15:00-04:00 (RFC 3339)");
    const Instant begin = episode.inserted_at ? *episode.inserted_at : *episode.observed_from;
    if (*instant - begin > longest_record_days * microseconds_per_day)
        fail("call.argument", "`now` is more than a century after the record begins; look at its year");
    return *instant;
}

void put_line(std::string& out, const nlohmann::ordered_json& line) {
    out += line.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
    out += '\n';
}

// One more member of the object that the last line is.
void append_member(std::string& out, std::string_view member) {
    out.insert(out.size() - 2, member);  // before "}\n"
}

// The findings of `changed` that are new or have another outcome than in `before`, with what it was; then
// those of `before` that are no more.
void write_changes(std::string& out, linelaw_episode& e, const Episode& before, const Episode& changed) {
    const Instant now = horizon_of(changed);
    const FindingWriter writer(*e.policy, now);
    const Judgement old = e.engine.judge(before, now);
    const Judgement all = e.engine.judge(changed, now);
    const auto ids_of = [&](const Episode& episode, const Judgement& of) {
        std::map<std::string, const Opportunity*> ids;
        for (const Opportunity& o : of) ids.emplace(finding_id(*e.policy, episode, o), &o);
        return ids;
    };
    const auto old_ids = ids_of(before, old);
    for (const Opportunity& o : all) {
        const auto was = old_ids.find(finding_id(*e.policy, changed, o));
        if (was != old_ids.end() && was->second->outcome == o.outcome) continue;
        writer.json(out, changed, o, all);
        if (was != old_ids.end())
            append_member(
                out, R"(,"was":")" +
                         std::string(outcome_names[static_cast<std::size_t>(was->second->outcome)]) + '"');
    }
    const auto ids = ids_of(changed, all);
    for (const auto& [id, o] : old_ids) {
        if (ids.count(id) != 0) continue;
        writer.json(out, before, *o, old);
        append_member(out, R"(,"gone":true)");
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
        if (!policy) throw Failure{{policy.error().code, policy.error().message, policy.error().pointer, 0}};
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
        Read& read = episode->read;
        if (const auto spoiled = episode->reader.read({record, length}, read.episode, read.set_aside))
            fail(*spoiled);
        read.counts = episode->reader.take_counts();
        episode->record = GrownRecord({record, length});
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
        GrownRecord record = episode->record;
        episode->read = read_with(*episode, record, event, length);
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
        const Instant last = horizon_of(e.read.episode);
        const Instant as_of = now == nullptr ? last : std::max(last, read_moment(e.read.episode, now));
        const FindingWriter writer(*e.policy, as_of);
        const Judgement judgement = e.engine.judge(e.read.episode, as_of);
        for (const Opportunity& o : judgement)
            if (all != 0 || counts_against(o.outcome)) writer.json(e.answer, e.read.episode, o, judgement);
        return e.answer.c_str();
    });
}

const char* linelaw_episode_due(linelaw_episode* episode, const char* now, linelaw_error** error) {
    return guarded(error, [&]() -> const char* {
        need(episode, "the episode");
        linelaw_episode& e = *episode;
        e.answer.clear();
        const Episode& known = e.read.episode;
        const Instant as_of = now == nullptr ? horizon_of(known) : read_moment(known, now);
        Worklist worklist(*e.policy, as_of, {}, "");
        worklist.add(known);
        for (const Task& task : worklist.take()) put_line(e.answer, task_json(task, as_of));
        return e.answer.c_str();
    });
}

const char* linelaw_episode_would_change(linelaw_episode* episode, const char* event, std::size_t length,
                                         linelaw_error** error) {
    return guarded(error, [&]() -> const char* {
        need(episode, "the episode");
        linelaw_episode& e = *episode;
        e.answer.clear();
        GrownRecord record = e.record;
        const Read changed = read_with(e, record, event, length);
        // What is known ends where it then would: else all that is judged since would be a change.
        Episode before = e.read.episode;
        if (before.observed_until) before.observed_until = changed.episode.observed_until;
        write_changes(e.answer, e, before, changed.episode);
        return e.answer.c_str();
    });
}

const char* linelaw_episode_remarks(linelaw_episode* episode, linelaw_error** error) {
    return guarded(error, [&]() -> const char* {
        need(episode, "the episode");
        std::string& out = episode->answer;
        out.clear();
        const auto& [known, set_aside, counts] = episode->read;
        for (const Spoiled& s : set_aside)
            put_line(out, {{"code", s.code},
                           {"pointer", s.pointer},
                           {"offset", episode->record.given_offset(s.offset)},
                           {"reason", s.reason}});
        for (const auto& [name, times] : counts.unknown_keys)
            put_line(out, {{"unknown", "key"}, {"name", name}, {"times", times}});
        for (const auto& [name, times] : counts.unknown_events)
            put_line(out, {{"unknown", "event"}, {"name", name}, {"times", times}});
        const auto dropped = [&out](const char* why, std::uint64_t times) {
            if (times != 0) put_line(out, {{"dropped", why}, {"times", times}});
        };
        dropped("identical repeat", counts.identical_repeats);
        dropped("after observed_until", counts.after_observed_until);
        return out.c_str();
    });
}
