#include "runtime/findings_evidence.hpp"

#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "runtime/findings_inputs.hpp"

namespace linelaw::runtime {
namespace {

using Json = nlohmann::ordered_json;

Json event_evidence(const Policy& policy, const Episode& episode, std::uint32_t index, const char* role,
                    bool keys) {
    const Event& event = episode.events[index];
    Json entry;
    entry["role"] = role;
    entry["event"] = policy.event_kinds[event.kind].name;
    if (keys && event.id != none) entry["id"] = episode.texts[event.id];
    entry["pointer"] = pointer_of(policy, event);
    entry["at"] = write_instant(event.at);
    return entry;
}

// A number as JSON's number where it is whole, else as the decimal that it is.
Json number_of(const Type& type, std::int64_t grains) {
    const std::string text = Words::number(type, grains);
    if (text.find('.') == std::string::npos) return std::strtoll(text.c_str(), nullptr, 10);
    return std::strtod(text.c_str(), nullptr);
}

void put_value(Json& entry, const Policy& policy, const Input& input) {
    if (input.value.state != Known::known) {
        entry["value"] = nullptr;
        entry["why"] = input.value.state == Known::set_aside ? "set aside" : "not recorded";
        return;
    }
    if (input.type == nullptr || !input.text.empty()) {
        entry["value"] = input.text;
        return;
    }
    switch (input.type->kind) {
        case TypeKind::key:
        case TypeKind::text:
            entry["value"] = "recorded, not shown";
            return;
        case TypeKind::flag:
            entry["value"] = input.value.number != 0;
            return;
        case TypeKind::one_of:
            entry["value"] = policy.symbols[static_cast<std::size_t>(input.value.number)];
            return;
        case TypeKind::time_of_day: {
            const std::int64_t minutes = input.value.number / microseconds_per_minute;
            std::string text = "00:00";
            text[0] = static_cast<char>('0' + minutes / 600);
            text[1] = static_cast<char>('0' + minutes / 60 % 10);
            text[3] = static_cast<char>('0' + minutes % 60 / 10);
            text[4] = static_cast<char>('0' + minutes % 10);
            entry["value"] = text;
            return;
        }
        default:
            entry["value"] = number_of(*input.type, input.value.number);
    }
    if (!input.type->unit.empty()) entry["unit"] = input.type->unit;
}

Json names_of(const Policy& policy, const Events& events) {
    Json names = Json::array();
    for (const Pattern& pattern : events) names.push_back(policy.event_kinds[pattern.event].name);
    return names;
}

// That nothing of a kind came between two instants is evidence as much as an event is.
void put_absence(Json& evidence, const Words& words, const Opportunity& o, Instant horizon) {
    const Policy& policy = words.policy();
    const Outcome outcome = o.outcome == Outcome::excused ? o.before_exception : o.outcome;
    const auto between = [&](const Events& events, Instant from, Instant until) {
        Json entry;
        entry["role"] = "absent";
        entry["events"] = names_of(policy, events);
        entry["from"] = write_instant(from);
        entry["until"] = write_instant(until);
        evidence.push_back(std::move(entry));
    };
    const bool unanswered = outcome == Outcome::late || outcome == Outcome::missed ||
                            outcome == Outcome::pending || outcome == Outcome::no_longer_due;
    const Instant closed = o.closed.value_or(horizon);
    std::visit(overloaded{
                   [&](const AtLeastEvery& d) {
                       if (unanswered) between(d.events, o.opened, closed);
                   },
                   [&](const Within& d) {
                       if (unanswered) between(d.events, o.opened, closed);
                   },
                   [&](const EachPeriod& d) {
                       if (outcome == Outcome::missed && d.times == 1) {
                           between(d.events, o.opened, o.limit.value_or(closed));
                       }
                   },
                   [&](const WithinEitherSide& d) {
                       if (outcome != Outcome::not_met) return;
                       const Instant after = add(o.opened, d.within, words.zone());
                       between(d.events, o.opened - (after - o.opened), after);
                   },
                   [&](const HaveHad& d) {
                       if (outcome != Outcome::not_met) return;
                       Json entry;
                       entry["role"] = "absent";
                       entry["events"] = names_of(policy, d.events);
                       if (d.window.in_last) entry["in_the_last"] = Words::span(*d.window.in_last);
                       if (!d.window.since.empty()) entry["since_last"] = names_of(policy, d.window.since);
                       entry["until"] = write_instant(o.opened);
                       evidence.push_back(std::move(entry));
                   },
                   [&](const auto&) {},
               },
               policy.clauses[o.item].demand);
}

}  // namespace

Json evidence_of(const Words& words, const Episode& episode, const Opportunity& o, Instant horizon,
                 bool keys) {
    const Policy& policy = words.policy();
    Json evidence = Json::array();
    if (o.opened_by != none) evidence.push_back(event_evidence(policy, episode, o.opened_by, "opened", keys));
    if (o.closed_by != none && o.closed_by != o.opened_by) {
        evidence.push_back(event_evidence(policy, episode, o.closed_by, "closed", keys));
    }
    if (o.origin != OriginKind::clause) return evidence;
    put_absence(evidence, words, o, horizon);
    for (const Input& input : inputs_of(policy, episode, o)) {
        Json entry;
        entry["role"] = "value";
        entry["attribute"] = input.name;
        if (!input.pointer.empty()) entry["pointer"] = input.pointer;
        put_value(entry, policy, input);
        evidence.push_back(std::move(entry));
    }
    return evidence;
}

}  // namespace linelaw::runtime
