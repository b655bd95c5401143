#include "policies/demo/generator/stay.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace linelaw::demo {

std::string quoted(const std::string& text) {
    return '"' + text + '"';  // the generator writes no text that needs escaping
}

std::string tenths(std::int64_t number) {
    return fmt::format("{}.{}", number / 10, number % 10);
}

Event& Stay::add(const std::string& type, Time at, Values values) {
    taken.insert(at);
    events.push_back({type, at, std::move(values), {}, {}});
    return events.back();
}

void Stay::plant(const std::string& item, Time opened, const std::string& outcome, const std::string& part,
                 int step) {
    planted.push_back({item, step, part, opened, outcome});
}

std::optional<Time> Stay::exactly(Time at) {
    if (!taken.insert(at).second) return std::nullopt;
    return at;
}

std::optional<Time> Stay::moment(Time low, Time high) {
    low = std::max(low, inserted + 60);
    high = std::min(high, end() - 60);
    std::optional<Time> found;
    for (int attempt = 0; attempt < 40 && low <= high; ++attempt) {
        const Time t = (random.between(low, high) / 60) * 60;
        if (t < low || t > high || taken.count(t) != 0) continue;
        found = t;
        const int hour = local(t).hour;
        if (attempt > 12 || (hour >= 8 && hour < 19)) break;
    }
    if (found) taken.insert(*found);
    return found;
}

bool Stay::newborn(Time at) const {
    Time grown = 0;
    return neonate_until(grown) && at < grown;
}

std::string Stay::setting_at(Time at) const {
    std::string found = setting.front().second;
    for (const auto& [from, where] : setting) {
        if (from < at) found = where;
    }
    return found;
}

bool Stay::central() const {
    static const std::set<std::string> kinds = {
        "picc", "nontunnelled_cvc", "tunnelled_cvc", "dialysis_catheter",
        "port", "umbilical_artery", "umbilical_vein"};
    return kinds.count(kind) != 0;
}

bool Stay::measurable() const {
    static const std::set<std::string> kinds = {"picc", "midline", "nontunnelled_cvc", "tunnelled_cvc",
                                                "dialysis_catheter"};
    return kinds.count(kind) != 0;
}

bool Stay::neonate_until(Time& until) const {
    if (age_group != AgeGroup::neonate) return false;
    until = add_days(*birth, 29);
    return true;
}

std::optional<bool> Stay::young_infant(Time at) const {
    if (age_group == AgeGroup::unknown) return std::nullopt;
    if (!birth) return false;
    return at < add_months(*birth, 2);
}

std::string settle(const Stay& stay, Time limit, std::optional<Time> answer,
                   std::optional<Time> stretch_end) {
    if (answer && (!stretch_end || *answer <= *stretch_end)) return *answer <= limit ? "met" : "late";
    if (stretch_end) return *stretch_end <= limit ? "no_longer_due" : "missed";
    return stay.horizon <= limit ? "pending" : "missed";
}

void account_every(Stay& stay, const std::string& clause, const std::string& part, Time begin,
                   std::optional<Time> end, const std::vector<Time>& answers, Time (*limit)(Time)) {
    Time opened = begin;
    for (const Time t : answers) {  // one shortly before the stretch still counts
        if (t <= begin && limit(t) > begin) opened = std::max(opened == begin ? t : opened, t);
    }
    for (const Time t : answers) {
        if (t <= begin || t > end.value_or(stay.horizon)) continue;
        stay.plant(clause, opened, t <= limit(opened) ? "met" : "late", part);
        opened = t;
        if (end && t == *end) return;
    }
    stay.plant(clause, opened, settle(stay, limit(opened), std::nullopt, end), part);
}

const char* documented(std::initializer_list<Charted> values) {
    const char* said = "met";
    for (const Charted value : values) {
        if (value == Charted::no) return "not_met";
        if (value == Charted::spoiled) said = "not_assessable";
    }
    return said;
}

std::optional<Time> first_from(const std::vector<Time>& instants, Time from) {
    std::optional<Time> first;
    for (const Time t : instants) {
        if (t >= from && (!first || t < *first)) first = t;
    }
    return first;
}

std::string value_of(const Event& event, const std::string& name) {
    for (const auto& [key, json] : event.values) {
        if (key == name) return json.front() == '"' ? json.substr(1, json.size() - 2) : json;
    }
    return "";
}

std::vector<Time> instants_of(const Stay& stay, const std::string& type) {
    std::vector<Time> found;
    for (const Event& event : stay.events) {
        if (event.type == type) found.push_back(event.at);
    }
    std::sort(found.begin(), found.end());
    return found;
}

}  // namespace linelaw::demo
