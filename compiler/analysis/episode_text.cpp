#include "compiler/analysis/episode_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "compiler/analysis/variables.hpp"
#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::compiler::analysis {

namespace {

using runtime::TypeKind;

runtime::Instant instant(const DraftEpisode& episode, std::int64_t at, const runtime::Zone& zone) {
    const std::int64_t day = at / runtime::microseconds_per_day;
    return zone.at(runtime::add_days(episode.day_zero, static_cast<std::int32_t>(day)),
                   at - day * runtime::microseconds_per_day);
}

nlohmann::ordered_json as_json(const DraftValue& value, const runtime::Policy& policy) {
    switch (value.type.kind) {
        case TypeKind::flag:
            return value.number != 0;
        case TypeKind::one_of:
            return policy.symbols[static_cast<std::size_t>(value.number)];
        case TypeKind::text:
        case TypeKind::key:
            return value.text;
        case TypeKind::time_of_day:
            return runtime::write_time_of_day(value.number);
        default:
            break;
    }
    const std::string words = quantity_words(value.number, value.type);  // "2.5 cm", "3", "10 %"
    return nlohmann::ordered_json::parse(words.substr(0, words.find(' ')));
}

std::string as_words(const DraftValue& value, const runtime::Policy& policy) {
    switch (value.type.kind) {
        case TypeKind::flag:
            return value.number != 0 ? "yes" : "no";
        case TypeKind::one_of:
            return policy.symbols[static_cast<std::size_t>(value.number)];
        case TypeKind::text:
        case TypeKind::key:
            return '"' + value.text + '"';
        default:
            return quantity_words(value.number, value.type);
    }
}

// A duration is compared with elapsed time only: never in days.
std::string elapsed_words(std::int64_t microseconds) {
    const char* unit = microseconds % runtime::microseconds_per_hour == 0     ? "h"
                       : microseconds % runtime::microseconds_per_minute == 0 ? "min"
                                                                              : "s";
    return runtime::write_decimal(microseconds, *runtime::find_unit(unit)) + ' ' + unit;
}

const char* ucum(runtime::AgeUnit unit) {
    switch (unit) {
        case runtime::AgeUnit::days:
            return "d";
        case runtime::AgeUnit::weeks:
            return "wk";
        case runtime::AgeUnit::months:
            return "mo";
        case runtime::AgeUnit::years:
            return "a";
    }
    return "";
}
const char* unit_words(runtime::AgeUnit unit) {
    switch (unit) {
        case runtime::AgeUnit::days:
            return "days";
        case runtime::AgeUnit::weeks:
            return "weeks";
        case runtime::AgeUnit::months:
            return "months";
        case runtime::AgeUnit::years:
            return "years";
    }
    return "";
}

}  // namespace

std::int64_t latest(const DraftEpisode& episode) {
    std::int64_t last = 0;
    for (const DraftEvent& event : episode.events) last = std::max(last, event.at);
    return last;
}

std::string as_record(const DraftEpisode& episode, const runtime::Policy& policy) {
    return as_record(episode, policy, runtime::Zone::of(policy.time_zone));
}

std::string as_record(const DraftEpisode& episode, const runtime::Policy& policy, const runtime::Zone& zone) {
    nlohmann::ordered_json record;
    record["episode"] = "witness";
    if (!episode.facility.empty()) record["facility"] = episode.facility;
    if (!episode.care_unit.empty()) record["care_unit"] = episode.care_unit;
    nlohmann::ordered_json patient = {{"key", "p-witness"}};
    if (episode.age) patient["age"] = {{"value", episode.age->first}, {"unit", ucum(episode.age->second)}};
    for (const auto& [name, value] : episode.patient) patient[name] = as_json(value, policy);
    record["patient"] = patient;
    nlohmann::ordered_json line;
    for (const auto& [name, value] : episode.line) line[name] = as_json(value, policy);
    line["inserted_at"] = runtime::write_instant(instant(episode, episode.events.at(0).at, zone));
    for (const DraftEvent& event : episode.events)
        if (event.kind == policy.removal)
            line["removed_at"] = runtime::write_instant(instant(episode, event.at, zone));
    record["line"] = line;
    record["observed_until"] = runtime::write_instant(instant(episode, episode.until, zone));
    nlohmann::ordered_json events = nlohmann::ordered_json::array();
    std::size_t number = 0;
    for (const DraftEvent& event : episode.events) {
        nlohmann::ordered_json e;
        e["id"] = fmt::format("e{}", ++number);
        e["type"] = policy.event_kinds[event.kind].name;
        e["at"] = runtime::write_instant(instant(episode, event.at, zone));
        for (const auto& [part, name] : event.parts) e[part] = name;
        for (const auto& [name, value] : event.attributes) e[name] = as_json(value, policy);
        if (!event.steps.empty()) e["steps"] = event.steps;
        if (event.recorded_after)
            e["recorded_at"] =
                runtime::write_instant(instant(episode, event.at, zone) + *event.recorded_after);
        events.push_back(std::move(e));
    }
    record["events"] = events;
    return record.dump();
}

std::string as_example(const DraftEpisode& episode, const runtime::Policy& policy, const std::string& title,
                       const std::vector<std::string>& expectations) {
    const auto on_the_minute = [](std::int64_t at) { return at % runtime::microseconds_per_minute == 0; };
    if (!on_the_minute(episode.until)) return "";
    const auto moment = [](std::int64_t at) {
        return fmt::format("day {} {}", at / runtime::microseconds_per_day,
                           runtime::write_time_of_day(at % runtime::microseconds_per_day));
    };
    const auto values = [&](const std::vector<std::pair<std::string, DraftValue>>& all) {
        std::vector<std::string> words;
        words.reserve(all.size());
        for (const auto& [name, value] : all) words.push_back(name + " " + as_words(value, policy));
        return words;
    };
    std::string text = fmt::format("example \"{}\"\n", title);
    if (!policy.in_force_from || *policy.in_force_from != episode.day_zero)
        text += "  on      " + runtime::write_date(episode.day_zero) + "\n";
    if (!episode.line.empty()) text += "  line    " + join(values(episode.line), ", ", ", ") + "\n";
    std::vector<std::string> patient = values(episode.patient);
    if (episode.age)
        patient.push_back(fmt::format("age {} {}", episode.age->first, unit_words(episode.age->second)));
    if (!patient.empty()) text += "  patient " + join(patient, ", ", ", ") + "\n";
    for (const DraftEvent& event : episode.events) {
        if (!on_the_minute(event.at)) return "";
        std::vector<std::string> words;
        for (const auto& [part, name] : event.parts) words.push_back(fmt::format("{} \"{}\"", part, name));
        for (std::string& word : values(event.attributes)) words.push_back(std::move(word));
        if (event.recorded_after) words.push_back("charting_delay " + elapsed_words(*event.recorded_after));
        if (!event.steps.empty()) words.push_back("steps (" + join(event.steps, ", ", ", ") + ")");
        text += fmt::format("  {} {}{}{}\n", moment(event.at), policy.event_kinds[event.kind].name,
                            words.empty() ? "" : " ", join(words, ", ", ", "));
    }
    text += "  until " + moment(episode.until) + "\n";
    // Of policies checked together each knows its own clauses only: the example is the first one's, and what
    // the others expect stands beside it.
    std::string pasted_into;
    for (const std::string& expectation : expectations) {
        const std::size_t named = expectation.find(": ");
        const std::string owner = named == std::string::npos ? "" : expectation.substr(0, named);
        if (pasted_into.empty()) pasted_into = owner;
        const std::string line = "expect  " + (owner.empty() ? expectation : expectation.substr(named + 2));
        text += owner == pasted_into ? "  " + line + "\n" : "  # in " + owner + ": " + line + "\n";
    }
    return text;
}

}  // namespace linelaw::compiler::analysis
