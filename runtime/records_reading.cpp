#include "runtime/records_reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

namespace linelaw::runtime::records {
namespace {

std::size_t most_slots(const Policy& policy) {
    std::size_t most = std::max(policy.patient.size(), policy.line.size());
    most += policy.event_kinds[policy.insertion].attributes.size();
    most += policy.event_kinds[policy.removal].attributes.size();
    for (const EventKind& kind : policy.event_kinds) most = std::max(most, kind.attributes.size());
    return most;
}

// What a text says, however it is spelt: no keys that are null, and instants whatever their offset.
nlohmann::json said_by(const nlohmann::json& value) {
    if (value.is_object()) {
        nlohmann::json object = nlohmann::json::object();
        for (const auto& [key, member] : value.items())
            if (!member.is_null()) object[key] = said_by(member);
        return object;
    }
    if (value.is_array()) {
        nlohmann::json array = nlohmann::json::array();
        for (const auto& member : value) array.push_back(said_by(member));
        return array;
    }
    if (const auto* text = value.get_ptr<const std::string*>())
        if (const auto instant = read_instant(*text)) return *instant;
    return value;
}

// Asked only where an id comes again: the same content, in whatever order of keys.
bool same_content(std::string_view a, std::string_view b) {
    return a == b || said_by(nlohmann::json::parse(a, nullptr, false)) ==
                         said_by(nlohmann::json::parse(b, nullptr, false));
}

}  // namespace

Reading::Reading(const Policy& policy, ReaderOptions options)
    : plan_(policy),
      options_(options),
      walk_(most_slots(policy), options),
      values_(plan_, walk_, texts_),
      finish_(plan_, walk_, texts_, options.names_of_parts) {}

void Reading::begin(Episode& episode) {
    episode_ = &episode;
    texts_.begin(episode.texts);
    episode.numbered_parts.clear();
    episode.key.clear();
    episode.facility.clear();
    episode.care_unit.clear();
    episode.patient_key.clear();
    episode.patient.assign(plan_.patient.size(), Value{});
    episode.line.assign(plan_.line.size(), Value{});
    episode.age = {};
    episode.inserted_at.reset();
    episode.removed_at.reset();
    episode.observed_from.reset();
    episode.observed_until.reset();
    episode.events.clear();
    episode.values.clear();
    episode.steps.clear();
    loose_.insertion.assign(plan_.events[plan_.policy.insertion].values.size(), Value{});
    loose_.removal.assign(plan_.events[plan_.policy.removal].values.size(), Value{});
    loose_.step_count = 0;
    loose_.birth_date.reset();
    loose_.birth_date_set_aside = false;
    loose_.has_episode = false;
    loose_.event_offsets.clear();
    bytes_of_id_.clear();
    repeats_ = 0;
}

std::unique_ptr<Spoiled> Reading::read(std::string_view record, Episode& episode,
                                       std::vector<Spoiled>& set_aside) {
    begin(episode);
    const bool good = walk_.object(record, set_aside, [&]() {
        const std::uint64_t mark = walk_.new_object();
        return walk_.each_key(plan_.top, [&](std::string_view name, std::uint32_t key) {
            if (key != none) return walk_.once(mark, key) && top_key(key, name);
            walk_.unknown_key("", name);
            return walk_.ignore();
        });
    });
    if (!good || !finish_.run(loose_, episode)) return walk_.take_spoiled();
    walk_.counts.identical_repeats += repeats_;
    if (options_.strict && !set_aside.empty()) return std::make_unique<Spoiled>(set_aside.front());
    return nullptr;
}

bool Reading::top_key(std::uint32_t key, std::string_view name) {
    switch (key) {
        case key_episode:
            return episode_key();
        case key_facility:
            return values_.plain_text(name, episode_->facility);
        case key_care_unit:
            return values_.plain_text(name, episode_->care_unit);
        case key_observed_from:
            return values_.instant(episode_->observed_from);
        case key_observed_until:
            return values_.instant(episode_->observed_until);
        case key_patient:
            return patient();
        case key_line:
            return line();
        default:
            return events();
    }
}

// What is no JSON at all, as where the record is cut short, is said as such.
bool Reading::misshapen(const char* shape) {
    const std::uint64_t offset = walk_.offset();
    return walk_.ignore() && walk_.spoil("record.shape", offset, shape);
}

bool Reading::episode_key() {
    const std::uint64_t offset = walk_.offset();
    std::string_view text;
    if (!(walk_.at_text() ? walk_.text_value(text) : walk_.ignore())) return false;
    if (text.empty())
        return walk_.spoil("record.episode", offset,
                           "`episode` must be a text: the key of the line's episode");
    episode_->key.assign(text);
    loose_.has_episode = true;
    return true;
}

// `patient` or `line`: nothing, or an object whose known keys are each read once.
template <typename F>
bool Reading::owner(std::string_view name, const char* shape, NameTable& keys, F&& read) {
    if (walk_.at_null()) return walk_.null_value();
    if (!walk_.at_object()) return misshapen(shape);
    const std::uint64_t mark = walk_.new_object();
    return walk_.each_key(keys, [&](std::string_view child_name, std::uint32_t key) {
        if (key == none) {
            walk_.unknown_key(name, child_name);
            return walk_.ignore();
        }
        return walk_.once(mark, key) && read(key, child_name);
    });
}

bool Reading::patient() {
    const auto read = [&](std::uint32_t key, std::string_view name) {
        if (key == key_key) return values_.plain_text(name, episode_->patient_key);
        if (key == key_birth_date) return values_.birth_date(loose_.birth_date, loose_.birth_date_set_aside);
        if (key == plan_.age_slot) return values_.age(episode_->age);
        return values_.read(plan_.patient[key], episode_->patient[key]);
    };
    return owner("patient", "`patient` must be an object", plan_.patient_keys, read);
}

bool Reading::line() {
    const auto read = [&](std::uint32_t key, std::string_view) {
        if (key < key_first) return line_attribute(plan_.line_key_slots[key]);
        if (key == key_inserted_at) return values_.instant(episode_->inserted_at);
        if (key == key_removed_at) return values_.instant(episode_->removed_at);
        return steps(plan_.events[plan_.policy.insertion], loose_.steps, loose_.step_count);
    };
    return owner("line", "`line` must be an object", plan_.line_keys, read);
}

bool Reading::line_attribute(const LineKey& key) {
    if (key.line != none) {
        if (!values_.read(plan_.line[key.line], episode_->line[key.line])) return false;
        // The same reading is the insertion's, where its type is the same.
        if (key.insertion != none) loose_.insertion[key.insertion] = episode_->line[key.line];
        return true;
    }
    if (key.insertion != none)
        return values_.read(plan_.events[plan_.policy.insertion].values[key.insertion],
                            loose_.insertion[key.insertion]);
    return values_.read(plan_.events[plan_.policy.removal].values[key.removal], loose_.removal[key.removal]);
}

bool Reading::events() {
    if (walk_.at_null()) return walk_.null_value();
    if (!walk_.at_list()) return misshapen("`events` must be a list");
    return walk_.each_item([&](std::uint32_t index) { return event(index); });
}

// Finds the kind before anything else is read: it says what the other keys mean. `none` where unknown.
bool Reading::kind_here(EventKindId& kind) {
    const std::uint64_t offset = walk_.offset();
    std::string_view type;
    if (!walk_.look_ahead("type", type))
        return walk_.ignore() && walk_.spoil("record.type", offset, "the event has no `type` that is a text");
    kind = plan_.event_kinds.find(type);
    if (kind == none) walk_.unknown_event(type);
    return true;
}

bool Reading::event(std::uint32_t index) {
    const std::uint64_t offset = walk_.offset();
    loose_.event_offsets.push_back(offset);
    if (!walk_.at_object()) return misshapen("an event must be an object");
    EventKindId kind = none;
    if (!kind_here(kind)) return false;
    if (kind == none) return walk_.ignore();

    EventPlan& plan = plan_.events[kind];
    const std::size_t values = episode_->values.size();
    const std::size_t steps = episode_->steps.size();
    const std::size_t set_aside = walk_.all_set_aside().size();
    Event& event = episode_->events.emplace_back();
    event.kind = kind;
    event.pointer = index;
    event.values = static_cast<std::uint32_t>(values);
    episode_->values.resize(values + plan.values.size());
    if (!event_keys(plan, event)) return false;

    bool identical = false;
    if (event.id != none && !repeat({offset, walk_.offset()}, event.id, identical)) return false;
    if (!identical) return true;
    ++repeats_;
    episode_->events.pop_back();
    episode_->values.resize(values);
    episode_->steps.resize(steps);
    walk_.all_set_aside().resize(set_aside);
    return true;
}

bool Reading::event_keys(EventPlan& plan, Event& event) {
    const std::uint64_t mark = walk_.new_object();
    const std::uint64_t offset = walk_.offset();
    std::optional<Instant> at;
    const bool good = walk_.each_key(plan.keys, [&](std::string_view name, std::uint32_t key) {
        if (key == none) {
            walk_.unknown_key(plan.kind->name, name);
            return walk_.ignore();
        }
        if (!walk_.once(mark, key)) return false;
        if (key < key_first) return values_.read(plan.values[key], episode_->values[event.values + key]);
        return key == key_at ? values_.instant(at) : event_key(plan, key, event);
    });
    if (!good) return false;
    if (!at) return walk_.spoil("record.instant", offset, "the event has no instant; write it as `at`");
    event.at = *at;
    return true;
}

bool Reading::event_key(const EventPlan& plan, std::uint32_t key, Event& event) {
    switch (key) {
        case key_type:
            return walk_.ignore();  // kind_here read it
        case key_id:
            return values_.name("id", event.id);
        case key_recorded_at:
            return values_.instant_or_set_aside("recorded_at", event.recorded_at,
                                                event.recorded_at_set_aside);
        case key_part:
            return values_.name(plan_.policy.part_kinds[plan.part].name, event.part);
        case key_parent:
            return values_.name(plan_.policy.part_kinds[plan.parent].name, event.parent);
        default:
            return steps(plan, event.steps, event.step_count);
    }
}

// A list of names, or of objects with a name and times. A `steps` that is no list may have been any steps.
bool Reading::steps(const EventPlan& plan, std::uint32_t& first, std::uint32_t& count) {
    const std::uint64_t offset = walk_.offset();
    first = static_cast<std::uint32_t>(episode_->steps.size());
    if (walk_.at_null()) return walk_.null_value();
    if (!walk_.at_list()) {
        walk_.set_aside("value.type", offset, "`steps` is no list; it must list the steps' names");
        episode_->steps.push_back({});
        count = 1;
        return walk_.ignore();
    }
    if (!walk_.each_item([&](std::uint32_t) { return step(plan); })) return false;
    count = static_cast<std::uint32_t>(episode_->steps.size()) - first;
    return true;
}

void Reading::step_name(const EventPlan& plan, std::string_view name, std::uint64_t offset, StepMark& mark) {
    mark.step = plan.steps.find(name);
    if (mark.step == none)
        walk_.set_aside("value.list", offset,
                        fmt::format("the step is none of the steps of `{}`", plan.kind->name));
}

bool Reading::step(const EventPlan& plan) {
    const std::uint64_t offset = walk_.offset();
    StepMark mark;
    if (walk_.at_text()) {
        std::string_view name;
        if (!walk_.text_value(name)) return false;
        step_name(plan, name, offset, mark);
    } else if (walk_.at_object()) {
        if (!step_object(plan, mark)) return false;
    } else {
        walk_.set_aside("value.type", offset,
                        "the step is of another type; it must be its name, or an object");
        if (!walk_.ignore()) return false;
    }
    episode_->steps.push_back(mark);
    return true;
}

bool Reading::step_object(const EventPlan& plan, StepMark& mark) {
    const std::uint64_t offset = walk_.offset();
    const std::uint64_t seen = walk_.new_object();
    bool has_name = false;
    const bool good = walk_.each_key(plan_.step_keys, [&](std::string_view name, std::uint32_t key) {
        if (key == none) {
            walk_.unknown_key(plan.kind->name + ".steps", name);
            return walk_.ignore();
        }
        if (!walk_.once(seen, key)) return false;
        if (key == key_step_at) return values_.instant_or_set_aside(name, mark.at, mark.time_set_aside);
        if (key == key_from) return values_.instant_or_set_aside(name, mark.from, mark.time_set_aside);
        if (key == key_to) return values_.instant_or_set_aside(name, mark.to, mark.time_set_aside);
        if (!walk_.at_text()) return walk_.ignore();
        std::string_view step;
        const std::uint64_t name_offset = walk_.offset();
        if (!walk_.text_value(step)) return false;
        has_name = true;
        step_name(plan, step, name_offset, mark);
        return true;
    });
    if (good && !has_name) walk_.set_aside("value.type", offset, "the step has no name; write it as `step`");
    return good;
}

bool Reading::repeat(Bytes bytes, std::uint32_t id, bool& identical) {
    if (bytes_of_id_.size() <= id) bytes_of_id_.resize(std::max<std::size_t>(id + 1, episode_->texts.size()));
    Bytes& first = bytes_of_id_[id];
    if (first.end == 0) {
        first = bytes;
        return true;
    }
    const auto text = [this](Bytes b) {
        std::string_view t = walk_.text().substr(b.begin, b.end - b.begin);
        return t.substr(0, t.rfind('}') + 1);
    };
    identical = same_content(text(first), text(bytes));
    return identical ||
           walk_.spoil("record.repeated", bytes.begin,
                       "the event bears the id of an earlier one and has other content; give each "
                       "event its own id");
}

}  // namespace linelaw::runtime::records
