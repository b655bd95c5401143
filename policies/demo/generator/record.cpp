#include "policies/demo/generator/record.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace linelaw::demo {
namespace {

void member(std::string& out, const std::string& name, const std::string& json) {
    if (out.back() != '{') out += ',';
    out += quoted(name) + ':' + json;
}

std::string write_steps(const std::vector<Step>& steps, Writing hand) {
    std::string out = "[";
    for (const Step& step : steps) {
        if (out.size() > 1) out += ',';
        out += step.at ? fmt::format(R"({{"step":"{}","at":"{}"}})", step.name, write(*step.at, hand))
                       : quoted(step.name);
    }
    return out + ']';
}

std::string write_event(const Event& event, const std::string& id, Writing hand) {
    std::string out = "{";
    member(out, "id", quoted(id));
    member(out, "type", quoted(event.type));
    member(out, "at", quoted(write(event.at, hand)));
    for (const auto& [name, json] : event.values) member(out, name, json);
    if (!event.steps.empty()) member(out, "steps", write_steps(event.steps, hand));
    if (event.recorded_at) member(out, "recorded_at", quoted(write(*event.recorded_at, hand)));
    return out + '}';
}

std::string write_patient(Stay& s) {
    std::string out = "{";
    member(out, "key", quoted("p-" + s.key.substr(2)));
    if (s.birth) member(out, "birth_date", quoted(write_date(*s.birth)));
    if (!s.patient_age.empty()) member(out, "age", s.patient_age);
    if (!s.setting.front().second.empty()) member(out, "setting", quoted(s.setting.front().second));
    if (s.sensitive) member(out, "chg_sensitivity", *s.sensitive ? "true" : "false");
    if (s.preterm) member(out, "born_preterm", *s.preterm ? "true" : "false");
    if (!s.weight.empty()) member(out, "weight", s.weight);
    if (s.random.chance(0.01)) {
        member(out, "favourite_colour", quoted("green"));
        ++s.counted["unknown key"];
    }
    return out + '}';
}

std::string write_line(const Stay& s, const Event* insertion, Writing hand) {
    std::string out = "{";
    member(out, "kind", quoted(s.kind));
    if (s.lumens) member(out, "lumens", std::to_string(*s.lumens));
    if (s.baseline) member(out, "external_length", tenths(*s.baseline));
    if (!s.inserted_length.empty()) member(out, "inserted_length", s.inserted_length);
    if (!s.arm_place.empty()) member(out, "arm_place", quoted(s.arm_place));
    if (s.arm) member(out, "arm_circumference", tenths(*s.arm));
    if (s.emergency) member(out, "emergency_insertion", *s.emergency ? "true" : "false");
    member(out, "inserted_at", quoted(write(s.inserted, hand)));
    if (s.removed || s.key.back() == '3') {
        member(out, "removed_at", s.removed ? quoted(write(*s.removed, hand)) : "null");
    }
    if (insertion != nullptr) {
        for (const auto& [name, json] : insertion->values) member(out, name, json);
    }
    return out + '}';
}

}  // namespace

std::string write_record(Stay& s) {
    std::stable_sort(s.events.begin(), s.events.end(),
                     [](const Event& a, const Event& b) { return a.at < b.at; });
    const Writing hand =
        s.random.weighted<Writing>({{Writing::utc, 5}, {Writing::offset, 4}, {Writing::without_offset, 1}});
    // An insertion without steps may stand among the line's own keys.
    const bool in_the_line = s.events.front().steps.empty() && s.random.chance(0.5);
    std::string out = "{";
    member(out, "episode", quoted(s.key));
    member(out, "facility", quoted("quillhaven"));
    member(out, "care_unit", quoted(s.unit));
    member(out, "patient", write_patient(s));
    member(out, "line", write_line(s, in_the_line ? &s.events.front() : nullptr, hand));
    if (s.says_horizon) member(out, "observed_until", quoted(write(s.horizon, hand)));

    std::vector<std::string> events;
    for (std::size_t i = in_the_line ? 1 : 0; i < s.events.size(); ++i) {
        events.push_back(write_event(s.events[i], fmt::format("e{}", i + 1), hand));
    }
    if (s.random.chance(0.01) && !events.empty()) {
        events.push_back(s.random.pick(events));
        ++s.counted["identical repeat"];
    }
    if (s.random.chance(0.01)) {
        events.push_back(write_event({"mouth_care", s.inserted + hours(1), {}, {}, {}}, "m1", hand));
        ++s.counted["unknown event"];
    }
    if (!s.removed && s.random.chance(0.04)) {
        events.push_back(write_event({"fever", s.horizon + hours(1), {}, {}, {}}, "late1", hand));
        ++s.counted["after the end of observation"];
    }
    if (s.random.chance(0.1)) {  // charts are not always in order
        for (std::size_t i = events.size(); i > 1; --i) {
            std::swap(events[i - 1],
                      events[static_cast<std::size_t>(s.random.between(0, static_cast<int>(i) - 1))]);
        }
    }
    std::string list = "[";
    for (const std::string& event : events) {
        if (list.size() > 1) list += ',';
        list += event;
    }
    member(out, "events", list + ']');
    return out + '}';
}

}  // namespace linelaw::demo
