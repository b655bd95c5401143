// An episode under construction, and its two forms: the record that the runtime reads and the `example` of
// the language. Both say the same. Knows nothing of diagrams.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/time.hpp"

namespace linelaw::compiler::analysis {

struct DraftValue {
    runtime::Type type;
    std::int64_t number = 0;  // grains, symbol or flag, as runtime::Value
    std::string text;         // of text and keys
};
struct DraftEvent {
    std::int64_t at = 0;  // microseconds of wall clock after midnight of day 0
    runtime::EventKindId kind = runtime::none;
    std::vector<std::pair<std::string, DraftValue>> attributes;
    std::vector<std::pair<std::string, std::string>> parts;  // "infusion" → "i1"
    std::vector<std::string> steps;
    std::optional<std::int64_t> recorded_after;  // charted so much later
};
struct DraftEpisode {
    runtime::CivilDate day_zero;
    std::vector<std::pair<std::string, DraftValue>> line;
    std::vector<std::pair<std::string, DraftValue>> patient;
    std::optional<std::pair<std::int32_t, runtime::AgeUnit>> age;
    std::string facility;
    std::string care_unit;
    std::vector<DraftEvent> events;  // in order; the first is the insertion
    std::int64_t until = 0;
};

std::int64_t latest(const DraftEpisode& episode);  // the instant of its last event

std::string as_record(const DraftEpisode& episode, const runtime::Policy& policy);
// The same where the policy's zone was found before: finding it reads the zone's file.
std::string as_record(const DraftEpisode& episode, const runtime::Policy& policy, const runtime::Zone& zone);
// Empty where the episode cannot be said in an example: its times are finer than a minute.
std::string as_example(const DraftEpisode& episode, const runtime::Policy& policy, const std::string& title,
                       const std::vector<std::string>& expectations);

}  // namespace linelaw::compiler::analysis
