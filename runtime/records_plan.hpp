// What every key and word of a record means under one policy, looked up by hash. Built once; reading a record
// only asks it. Internal to the record readers.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::runtime::records {

// Names to numbers; open addressing. The names must outlive it.
class NameTable {
  public:
    void add(std::string_view name, std::uint32_t number);  // the first of a name stays
    std::uint32_t find(std::string_view name) const;        // none if unknown
    // The same, and quicker where names come in the order in which they came before: `guess` is guess_first()
    // for the first name, and then what asking for the one before left.
    std::uint32_t* guess_first() { return &first_; }
    std::uint32_t find(std::string_view name, std::uint32_t*& guess);
    std::size_t size() const { return size_; }

  private:
    struct Slot {
        std::string_view name;
        std::uint32_t number = none;
        std::uint32_t hash = 0;
        std::uint32_t next = 0;  // the slot of the name that came after this one last
    };
    void grow();
    std::size_t place_of(std::string_view name) const;  // its slot, or the empty one where it would stand
    std::vector<Slot> slots_;                           // a power of two; at most half full
    std::size_t size_ = 0;
    std::uint32_t first_ = 0;  // the slot of the name that came first last
};
std::uint32_t hash_of(std::string_view text);

// The keys of a record's objects. Attributes have their slot as number, all else one of these.
enum Key : std::uint32_t {
    key_first = 0xFFFF'0000,
    key_episode = key_first,
    key_facility,
    key_care_unit,
    key_patient,
    key_line,
    key_observed_from,
    key_observed_until,
    key_events,
    key_key,
    key_birth_date,
    key_inserted_at,
    key_removed_at,
    key_id,
    key_type,
    key_at,
    key_recorded_at,
    key_steps,
    key_part,
    key_parent,
    key_step,
    key_step_at,
    key_from,
    key_to,
    key_value,
    key_unit,
    key_end,
};

struct ValuePlan {
    std::string_view name;
    const Type* type = nullptr;
    const Unit* unit = nullptr;  // of bare numbers; nullptr where the type is no number
    NameTable symbols;           // of one_of
};

struct EventPlan {
    const EventKind* kind = nullptr;
    NameTable keys;
    std::vector<ValuePlan> values;  // by slot
    NameTable steps;
    PartKindId part = none;    // the kind of part that the event names
    PartKindId parent = none;  // that part's parent kind, where the event begins the part
    bool begins_part = false;
    bool also_after_removal = false;
    std::uint32_t charting_slot = none;
};

// A key of the line may fill the line's attribute and stand in for one of the insertion or the removal.
struct LineKey {
    std::uint32_t line = none;
    std::uint32_t insertion = none;
    std::uint32_t removal = none;
};

struct Plan {
    explicit Plan(const Policy& policy);

    const Policy& policy;
    Zone zone;
    NameTable top, patient_keys, line_keys, step_keys, value_keys;
    std::vector<ValuePlan> patient;
    std::vector<ValuePlan> line;
    std::vector<LineKey> line_key_slots;  // by the number that line_keys gives
    NameTable event_kinds;
    std::vector<EventPlan> events;  // by EventKindId
    std::uint32_t age_slot = none;  // of the patient
};

}  // namespace linelaw::runtime::records
