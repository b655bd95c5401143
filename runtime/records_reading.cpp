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

// Asked only where an id comes again: the same content, in whatever order of keys.
bool same_content(std::string_view a, std::string_view b) {
    return a == b || nlohmann::json::parse(a, nullptr, false) == nlohmann::json::parse(b, nullptr, false);
}

// A text may be unescaped only once where it stands, and event_keys does that: so a key with escapes, which
// nobody writes, is looked at apart.
bool is_type(simdjson::ondemand::raw_json_string key) {
    if (key.unsafe_is_equal("type")) return true;
    const char* begin = key.raw();
    const char* end = begin;
    bool escaped = false;
    for (; *end != '"'; ++end)
        if (*end == '\\') escaped = true, ++end;
    return escaped && nlohmann::json::parse(begin - 1, end + 1, nullptr, false) == "type";
}

}  // namespace

Reading::Reading(const Policy& policy, ReaderOptions options)
    : plan_(policy),
      options_(options),
      walk_(most_slots(policy), options),
      values_(plan_, walk_, texts_),
      finish_(plan_, walk_) {}

void Reading::begin(Episode& episode) {
    episode_ = &episode;
    texts_.begin(episode.texts);
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
    const bool good = walk_.object(record, set_aside, [&](json::object& object) {
        const std::uint64_t mark = walk_.new_object();
        return walk_.each_key(object, [&](std::string_view name, json::value& value) {
            const std::uint32_t key = plan_.top.find(name);
            if (key != none) return walk_.once(mark, key) && top_key(key, name, value);
            walk_.unknown_key("", name);
            return walk_.ignore(value);
        });
    });
    if (!good || !finish_.run(loose_, episode)) return walk_.take_spoiled();
    walk_.counts.identical_repeats += repeats_;
    if (options_.strict && !set_aside.empty()) return std::make_unique<Spoiled>(set_aside.front());
    return nullptr;
}

bool Reading::top_key(std::uint32_t key, std::string_view name, json::value& value) {
    switch (key) {
        case key_episode:
            return episode_key(value);
        case key_facility:
            return values_.plain_text(value, name, episode_->facility);
        case key_care_unit:
            return values_.plain_text(value, name, episode_->care_unit);
        case key_observed_from:
            return values_.instant(value, episode_->observed_from);
        case key_observed_until:
            return values_.instant(value, episode_->observed_until);
        case key_patient:
            return patient(value);
        case key_line:
            return line(value);
        default:
            return events(value);
    }
}

bool Reading::episode_key(json::value& value) {
    const std::uint64_t offset = walk_.offset_of(value);
    json::json_type type{};
    std::string_view text;
    if (!walk_.type_of(value, type)) return false;
    if (type == json::json_type::string && !walk_.string(value, text)) return false;
    if (text.empty())
        return walk_.spoil("record.episode", offset,
                           "`episode` must be a text: the key of the line's episode");
    episode_->key.assign(text);
    loose_.has_episode = true;
    return true;
}

// `patient` or `line`: nothing, or an object whose known keys are each read once.
template <typename F>
bool Reading::owner(json::value& value, std::string_view name, const char* shape, const NameTable& keys,
                    F&& read) {
    bool null = false;
    json::object object;
    json::json_type type{};
    if (!walk_.is_null(value, null)) return false;
    if (null) return true;
    if (!walk_.type_of(value, type)) return false;
    if (type != json::json_type::object) return walk_.spoil("record.shape", walk_.offset_of(value), shape);
    if (!walk_.ok(value.get_object().get(object))) return false;
    const std::uint64_t mark = walk_.new_object();
    return walk_.each_key(object, [&](std::string_view child_name, json::value& child) {
        const std::uint32_t key = keys.find(child_name);
        if (key == none) {
            walk_.unknown_key(name, child_name);
            return walk_.ignore(child);
        }
        return walk_.once(mark, key) && read(key, child_name, child);
    });
}

bool Reading::patient(json::value& value) {
    const auto read = [&](std::uint32_t key, std::string_view name, json::value& child) {
        if (key == key_key) return values_.plain_text(child, name, episode_->patient_key);
        if (key == key_birth_date)
            return values_.birth_date(child, loose_.birth_date, loose_.birth_date_set_aside);
        if (key == plan_.age_slot) return values_.age(child, episode_->age);
        return values_.read(child, plan_.patient[key], episode_->patient[key]);
    };
    return owner(value, "patient", "`patient` must be an object", plan_.patient_keys, read);
}

bool Reading::line(json::value& value) {
    const auto read = [&](std::uint32_t key, std::string_view, json::value& child) {
        if (key < key_first) return line_attribute(plan_.line_key_slots[key], child);
        if (key == key_inserted_at) return values_.instant(child, episode_->inserted_at);
        if (key == key_removed_at) return values_.instant(child, episode_->removed_at);
        return steps(plan_.events[plan_.policy.insertion], child, loose_.steps, loose_.step_count);
    };
    return owner(value, "line", "`line` must be an object", plan_.line_keys, read);
}

bool Reading::line_attribute(const LineKey& key, json::value& value) {
    if (key.line != none) {
        if (!values_.read(value, plan_.line[key.line], episode_->line[key.line])) return false;
        // The same reading is the insertion's, where its type is the same.
        if (key.insertion != none) loose_.insertion[key.insertion] = episode_->line[key.line];
        return true;
    }
    if (key.insertion != none)
        return values_.read(value, plan_.events[plan_.policy.insertion].values[key.insertion],
                            loose_.insertion[key.insertion]);
    return values_.read(value, plan_.events[plan_.policy.removal].values[key.removal],
                        loose_.removal[key.removal]);
}

bool Reading::events(json::value& value) {
    bool null = false;
    json::array array;
    json::json_type type{};
    if (!walk_.is_null(value, null)) return false;
    if (null) return true;
    if (!walk_.type_of(value, type)) return false;
    if (type != json::json_type::array)
        return walk_.spoil("record.shape", walk_.offset_of(value), "`events` must be a list");
    if (!walk_.ok(value.get_array().get(array))) return false;
    std::uint32_t index = 0;
    return walk_.each_item(array, [&](json::value& item) { return event(item, index++); });
}

// Finds the kind before anything else is read: it says what the other keys mean. `none` where unknown.
bool Reading::kind_of(json::object& object, EventKindId& kind) {
    const std::uint64_t offset = walk_.offset();
    bool has_type = false;
    for (auto result : object) {
        if (!walk_.ok(result.error())) return false;
        json::field& field = result.value_unsafe();
        if (!is_type(field.key())) continue;
        std::string_view type;
        if (field.value().get_string().get(type) != simdjson::SUCCESS) break;
        has_type = true;
        kind = plan_.event_kinds.find(type);
        if (kind == none) walk_.unknown_event(type);
        break;
    }
    if (!has_type) return walk_.spoil("record.type", offset, "the event has no `type` that is a text");
    bool any = false;
    return walk_.ok(object.reset().get(any));
}

bool Reading::unknown_event(json::object& object) {
    bool passed_type = false;  // kind_of read the first
    return walk_.each_key(object, [&](std::string_view name, json::value& value) {
        if (name != "type" || passed_type) return walk_.ignore(value);
        passed_type = true;
        return walk_.pass_string(value);
    });
}

bool Reading::event(json::value& value, std::uint32_t index) {
    json::json_type type{};
    json::object object;
    const std::uint64_t offset = walk_.offset_of(value);
    loose_.event_offsets.push_back(offset);
    if (!walk_.type_of(value, type)) return false;
    if (type != json::json_type::object)
        return walk_.spoil("record.shape", offset, "an event must be an object");
    if (!walk_.ok(value.get_object().get(object))) return false;
    Event event;
    if (!kind_of(object, event.kind)) return false;
    if (event.kind == none) return unknown_event(object);

    EventPlan& plan = plan_.events[event.kind];
    const std::size_t values = episode_->values.size();
    const std::size_t steps = episode_->steps.size();
    const std::size_t set_aside = walk_.all_set_aside().size();
    event.pointer = index;
    event.values = static_cast<std::uint32_t>(values);
    episode_->values.resize(values + plan.values.size());
    if (!event_keys(plan, object, event)) return false;

    bool identical = false;
    if (event.id != none && !repeat({offset, walk_.offset()}, event.id, identical)) return false;
    if (!identical) {
        episode_->events.push_back(event);
        return true;
    }
    ++repeats_;
    episode_->values.resize(values);
    episode_->steps.resize(steps);
    walk_.all_set_aside().resize(set_aside);
    return true;
}

bool Reading::event_keys(EventPlan& plan, json::object& object, Event& event) {
    const std::uint64_t mark = walk_.new_object();
    const std::uint64_t offset = walk_.offset();
    std::optional<Instant> at;
    std::uint32_t* guess = plan.keys.guess_first();
    const bool good = walk_.each_key(object, [&](std::string_view name, json::value& value) {
        const std::uint32_t key = plan.keys.find(name, guess);
        if (key == none) {
            walk_.unknown_key(plan.kind->name, name);
            return walk_.ignore(value);
        }
        if (!walk_.once(mark, key)) return false;
        if (key != key_at) return event_key(plan, key, value, event);
        return values_.instant(value, at);
    });
    if (!good) return false;
    if (!at) return walk_.spoil("record.instant", offset, "the event has no instant; write it as `at`");
    event.at = *at;
    return true;
}

bool Reading::event_key(const EventPlan& plan, std::uint32_t key, json::value& value, Event& event) {
    switch (key) {
        case key_type:
            return walk_.pass_string(value);  // kind_of read it
        case key_id:
            return values_.name(value, "id", event.id);
        case key_recorded_at:
            return values_.instant_or_set_aside(value, "recorded_at", event.recorded_at,
                                                event.recorded_at_set_aside);
        case key_part:
            return values_.name(value, plan_.policy.part_kinds[plan.part].name, event.part);
        case key_parent:
            return values_.name(value, plan_.policy.part_kinds[plan.parent].name, event.parent);
        case key_steps:
            return steps(plan, value, event.steps, event.step_count);
        default:
            return values_.read(value, plan.values[key], episode_->values[event.values + key]);
    }
}

// A list of names, or of objects with a name and times. A `steps` that is no list may have been any steps.
bool Reading::steps(const EventPlan& plan, json::value& value, std::uint32_t& first, std::uint32_t& count) {
    const std::uint64_t offset = walk_.offset_of(value);
    json::json_type type{};
    json::array array;
    bool null = false;
    first = static_cast<std::uint32_t>(episode_->steps.size());
    if (!walk_.is_null(value, null)) return false;
    if (null) return true;
    if (!walk_.type_of(value, type)) return false;
    if (type != json::json_type::array) {
        walk_.set_aside("value.type", offset, "`steps` is no list; it must list the steps' names");
        episode_->steps.push_back({});
        count = 1;
        return walk_.ignore(value);
    }
    if (!walk_.ok(value.get_array().get(array))) return false;
    if (!walk_.each_item(array, [&](json::value& item) { return step(plan, item); })) return false;
    count = static_cast<std::uint32_t>(episode_->steps.size()) - first;
    return true;
}

void Reading::step_name(const EventPlan& plan, std::string_view name, std::uint64_t offset, StepMark& mark) {
    mark.step = plan.steps.find(name);
    if (mark.step == none)
        walk_.set_aside("value.list", offset,
                        fmt::format("the step is none of the steps of `{}`", plan.kind->name));
}

bool Reading::step(const EventPlan& plan, json::value& value) {
    const std::uint64_t offset = walk_.offset_of(value);
    json::json_type type{};
    StepMark mark;
    if (!walk_.type_of(value, type)) return false;
    if (type == json::json_type::string) {
        std::string_view name;
        if (!walk_.string(value, name)) return false;
        step_name(plan, name, offset, mark);
    } else if (type == json::json_type::object) {
        if (!step_object(plan, value, mark)) return false;
    } else {
        walk_.set_aside("value.type", offset,
                        "the step is of another type; it must be its name, or an object");
        if (!walk_.ignore(value)) return false;
    }
    episode_->steps.push_back(mark);
    return true;
}

bool Reading::step_object(const EventPlan& plan, json::value& value, StepMark& mark) {
    const std::uint64_t offset = walk_.offset_of(value);
    json::object object;
    if (!walk_.ok(value.get_object().get(object))) return false;
    const std::uint64_t seen = walk_.new_object();
    bool has_name = false;
    const bool good = walk_.each_key(object, [&](std::string_view name, json::value& child) {
        const std::uint32_t key = plan_.step_keys.find(name);
        if (key == none) {
            walk_.unknown_key(plan.kind->name + ".steps", name);
            return walk_.ignore(child);
        }
        if (!walk_.once(seen, key)) return false;
        if (key == key_step_at)
            return values_.instant_or_set_aside(child, name, mark.at, mark.time_set_aside);
        if (key == key_from) return values_.instant_or_set_aside(child, name, mark.from, mark.time_set_aside);
        if (key == key_to) return values_.instant_or_set_aside(child, name, mark.to, mark.time_set_aside);
        json::json_type type{};
        if (!walk_.type_of(child, type)) return false;
        if (type != json::json_type::string) return walk_.ignore(child);
        std::string_view step;
        const std::uint64_t name_offset = walk_.offset_of(child);
        if (!walk_.string(child, step)) return false;
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
