#include "compiler/cli/why_words.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "runtime/findings.hpp"

namespace linelaw::compiler::cli {
namespace {

using Json = nlohmann::ordered_json;
using runtime::none;
using runtime::Words;

std::string names(const Json& events) {
    std::string out;
    for (const Json& name : events) out += (out.empty() ? "" : " or ") + Words::name(name.get<std::string>());
    return out;
}

std::string value_words(const Json& e) {
    if (e["value"].is_null()) return e.value("why", std::string("not recorded"));
    return e["value"].is_string() ? e["value"].get<std::string>() : e["value"].dump();
}

}  // namespace

std::string episode_words(const runtime::Policy& policy, const runtime::Episode& episode,
                          std::optional<runtime::Instant> as_of, const Words& words) {
    std::string out;
    if (!episode.care_unit.empty()) out += " in " + episode.care_unit;
    out += ": ";
    out += episode.inserted_at ? "in since " + words.when(*episode.inserted_at) : "insertion not known";
    if (episode.observed_from) out += ", known from " + words.when(*episode.observed_from);
    if (episode.removed_at) out += ", removed " + words.on(*episode.removed_at);
    return out + fmt::format(", known until {} ({})", words.when(runtime::horizon_of(episode, as_of)),
                             policy.time_zone);
}

std::string times_of(const runtime::Opportunity& o, const runtime::Episode& episode, const Words& words) {
    std::string text = "opened " + words.when(o.opened);
    if (o.part_kind != none) text = words.part(o.part_kind, o.part, episode) + ": " + text;
    if (o.due) text += ", due " + words.when_beside(*o.due, o.opened);
    if (o.limit && o.limit != o.due) text += ", limit " + words.when_beside(*o.limit, *o.due);
    if (o.closed) text += ", closed " + words.when_beside(*o.closed, o.opened);
    return text;
}

std::vector<std::string> evidence_lines(const Json& finding, const Words& words) {
    const auto when = [&](const Json& instant) {
        return words.when(runtime::read_instant(instant.get<std::string>()).value());
    };
    std::vector<std::string> lines;
    for (const Json& e : finding["evidence"]) {
        const std::string role = e["role"];
        if (role == "absent") {
            lines.push_back(fmt::format(
                "no {}{}{}{} until {}", names(e["events"]), e.contains("to") ? " to " + names(e["to"]) : "",
                e.contains("from") ? " from " + when(e["from"]) : "",
                e.contains("in_the_last") ? " in the last " + e["in_the_last"].get<std::string>() : "",
                when(e["until"])));
        } else if (role == "value") {
            lines.push_back(
                fmt::format("{}: {}{}{}", e["attribute"].get<std::string>(), value_words(e),
                            e.contains("unit") ? " " + e["unit"].get<std::string>() : "",
                            e.contains("pointer") ? " (" + e["pointer"].get<std::string>() + ")" : ""));
        } else {
            lines.push_back(
                fmt::format("{} by {} {}{} at {}", role, Words::name(e["event"].get<std::string>()),
                            e["pointer"].get<std::string>(),
                            e.contains("id") ? " (" + e["id"].get<std::string>() + ")" : "", when(e["at"])));
        }
    }
    return lines;
}

}  // namespace linelaw::compiler::cli
