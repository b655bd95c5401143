#include "runtime/records_plan.hpp"

#define XXH_INLINE_ALL
#include <xxhash.h>

#include <algorithm>

namespace linelaw::runtime::records {

std::uint32_t hash_of(std::string_view text) {
    return static_cast<std::uint32_t>(XXH3_64bits(text.data(), text.size()));
}

bool NameTable::add(std::string_view text, std::uint32_t number) {
    std::array<char, name_room> room{};  // a policy's names have none behind them
    std::memcpy(room.data(), text.data(), std::min(text.size(), room.size()));
    Name name = name_of({room.data(), std::min(text.size(), room.size())});
    name.text = text;
    return add(name, number);
}

bool NameTable::add(const Name& name, std::uint32_t number) {
    if (2 * (size_ + 1) > slots_.size()) grow();
    Slot& slot = slots_[place_of(name)];
    if (slot.number != none) return false;
    slot = {name, number, hash_of(name)};
    ++size_;
    return true;
}

void NameTable::grow() {
    std::vector<Slot> old(2 * slots_.size());
    old.swap(slots_);
    size_ = 0;
    for (const Slot& slot : old)
        if (slot.number != none) add(slot.name, slot.number);
}

namespace {

std::vector<ValuePlan> value_plans(const Policy& policy, const std::vector<Attribute>& attributes) {
    std::vector<ValuePlan> plans(attributes.size());
    for (std::size_t i = 0; i < attributes.size(); ++i) {
        ValuePlan& plan = plans[i];
        const Type& type = attributes[i].type;
        plan.name = attributes[i].name;
        plan.type = &type;
        if (type.kind == TypeKind::count) plan.unit = &count_unit;
        if (type.kind == TypeKind::number) plan.unit = &number_unit;
        if (type.kind == TypeKind::percent) plan.unit = find_unit("%");
        if (plan.unit == nullptr && dimension_of(type.kind) != Dimension::none)
            plan.unit = find_unit(type.unit);
        for (SymbolId symbol : type.values) plan.symbols.add(policy.symbols[symbol], symbol);
    }
    return plans;
}

void add_attributes(NameTable& keys, const std::vector<Attribute>& attributes, FieldId left_out = none) {
    for (std::uint32_t slot = 0; slot < attributes.size(); ++slot)
        if (left_out == none || attributes[slot].field != left_out) keys.add(attributes[slot].name, slot);
}

bool names(const std::vector<EventKindId>& events, EventKindId event) {
    return std::find(events.begin(), events.end(), event) != events.end();
}

EventPlan event_plan(const Policy& policy, EventKindId id) {
    EventPlan plan;
    plan.kind = &policy.event_kinds[id];
    const EventKind& kind = *plan.kind;
    plan.values = value_plans(policy, kind.attributes);
    plan.also_after_removal =
        kind.also_after_removal || id == policy.notification || id == policy.acknowledgement;
    for (std::uint32_t slot = 0; slot < kind.attributes.size(); ++slot)
        if (kind.attributes[slot].field == policy.charting_delay) plan.charting_slot = slot;

    plan.part = kind.of;
    for (PartKindId p = 0; p < policy.part_kinds.size(); ++p) {
        const PartKind& part = policy.part_kinds[p];
        const bool begins = names(part.from, id);
        if (plan.part == none && (begins || names(part.until, id))) plan.part = p;
        if (plan.part == p && begins) {
            plan.begins_part = true;
            plan.parent = part.of;
        }
    }
    plan.keys.add("id", key_id);
    plan.keys.add("type", key_type);
    plan.keys.add("at", key_at);
    plan.keys.add("recorded_at", key_recorded_at);
    if (!kind.steps.empty()) plan.keys.add("steps", key_steps);
    if (plan.part != none) plan.keys.add(policy.part_kinds[plan.part].name, key_part);
    if (plan.parent != none) plan.keys.add(policy.part_kinds[plan.parent].name, key_parent);
    add_attributes(plan.keys, kind.attributes, policy.charting_delay);
    for (std::uint32_t step = 0; step < kind.steps.size(); ++step) plan.steps.add(kind.steps[step], step);
    return plan;
}

std::uint32_t slot_named(const std::vector<Attribute>& attributes, std::string_view name,
                         FieldId left_out = none) {
    for (std::uint32_t slot = 0; slot < attributes.size(); ++slot)
        if (attributes[slot].name == name && (left_out == none || attributes[slot].field != left_out))
            return slot;
    return none;
}

bool same(const Type& a, const Type& b) {
    return a.kind == b.kind && a.values == b.values && a.low == b.low && a.high == b.high && a.unit == b.unit;
}

}  // namespace

Plan::Plan(const Policy& p) : policy(p), zone(Zone::of(p.time_zone)) {
    top.add("episode", key_episode);
    top.add("facility", key_facility);
    top.add("care_unit", key_care_unit);
    top.add("patient", key_patient);
    top.add("line", key_line);
    top.add("observed_from", key_observed_from);
    top.add("observed_until", key_observed_until);
    top.add("events", key_events);

    patient = value_plans(policy, policy.patient);
    for (std::uint32_t slot = 0; slot < policy.patient.size() && age_slot == none; ++slot)
        if (policy.patient[slot].type.kind == TypeKind::age) age_slot = slot;
    patient_keys.add("key", key_key);
    if (age_slot != none) patient_keys.add("birth_date", key_birth_date);
    add_attributes(patient_keys, policy.patient);

    for (EventKindId id = 0; id < policy.event_kinds.size(); ++id) {
        events.push_back(event_plan(policy, id));
        event_kinds.add(policy.event_kinds[id].name, id);
    }

    line = value_plans(policy, policy.line);
    line_keys.add("inserted_at", key_inserted_at);
    line_keys.add("removed_at", key_removed_at);
    const auto& inserted = policy.event_kinds[policy.insertion];
    const auto& removed = policy.event_kinds[policy.removal];
    if (!inserted.steps.empty()) line_keys.add("steps", key_steps);
    for (const auto* attributes : {&policy.line, &inserted.attributes, &removed.attributes})
        for (const Attribute& attribute : *attributes) {
            LineKey key;
            key.line = slot_named(policy.line, attribute.name);
            key.insertion = slot_named(inserted.attributes, attribute.name, policy.charting_delay);
            if (key.line != none && key.insertion != none &&
                !same(policy.line[key.line].type, inserted.attributes[key.insertion].type))
                key.insertion = none;
            if (key.line == none && key.insertion == none)
                key.removal = slot_named(removed.attributes, attribute.name, policy.charting_delay);
            if (key.line == none && key.insertion == none && key.removal == none) continue;
            if (line_keys.add(attribute.name, static_cast<std::uint32_t>(line_key_slots.size())))
                line_key_slots.push_back(key);
        }

    for (const auto& [name, key] :
         {std::pair{"step", key_step}, {"at", key_step_at}, {"from", key_from}, {"to", key_to}})
        step_keys.add(name, key);
    value_keys.add("value", key_value);
    value_keys.add("unit", key_unit);
}

}  // namespace linelaw::runtime::records
