// What every key and word of a record means under one policy, looked up by hash. Built once; reading a record
// only asks it. Internal to the record readers.
#pragma once

#include <array>
#include <cstdint>
#include <cstring>
#include <string_view>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::runtime::records {

// A name, quick to compare and to scatter: its first bytes as words. Few have more.
constexpr std::size_t name_room = 24;  // bytes that may be read from a text's begin, though it be shorter
using Words = std::array<std::uint64_t, 3>;
struct Name {
    std::string_view text;
    Words words{};  // zero behind the end
};
inline bool same(const Words& a, const Words& b) {  // without a branch for each
    return ((a[0] ^ b[0]) | (a[1] ^ b[1]) | (a[2] ^ b[2])) == 0;
}

// The first bytes of a text with such room, as many as `size` says.
inline Words words_of(const char* text, std::size_t size) {
    // Bytes kept, whatever the machine's order of bytes: read at 24 less the size.
    static constexpr auto kept = [] {
        std::array<unsigned char, 2 * name_room> bytes{};
        for (std::size_t i = 0; i < name_room; ++i) bytes[i] = 0xFF;
        return bytes;
    }();
    const auto eight = [](const void* bytes) {
        std::uint64_t word = 0;
        std::memcpy(&word, bytes, sizeof word);
        return word;
    };
    const unsigned char* const mask = kept.data() + name_room - (size < name_room ? size : name_room);
    return {eight(text) & eight(mask), eight(text + 8) & eight(mask + 8),
            eight(text + 16) & eight(mask + 16)};
}
inline Name name_of(std::string_view text) {
    return {text, words_of(text.data(), text.size())};
}
inline bool operator==(const Name& a, const Name& b) {
    return same(a.words, b.words) && a.text.size() == b.text.size() &&
           (a.text.size() <= name_room || a.text == b.text);
}

std::uint32_t hash_of(std::string_view text);  // of any text; slower than a name's
inline std::uint32_t hash_of(const Name& name) {
    if (name.text.size() > name_room) return hash_of(name.text);
    // Odd numbers with bits all over (the golden ratio's, and primes near it); what is mixed best is on top.
    const std::uint64_t mixed = (name.words[0] ^ name.text.size()) * 0x9E37'79B9'7F4A'7C15 ^
                                name.words[1] * 0xC2B2'AE3D'27D4'EB4F ^ name.words[2] * 0x1656'67B1'9E37'79F9;
    return static_cast<std::uint32_t>((mixed ^ mixed >> 29) * 0x9E37'79B9'7F4A'7C15 >> 32);
}

// Names to numbers; open addressing. The names must outlive it.
class NameTable {
  public:
    bool add(std::string_view name, std::uint32_t number);  // false where the name is there: the first stays
    // `none` if unknown. The text needs the room of a Name.
    std::uint32_t find(std::string_view text) const { return slots_[place_of(name_of(text))].number; }

    // The same, and quicker where names come in the order in which they came before: the guess is
    // guess_first() for the first name, and then what asking for the one before left.
    using Guess = std::uint32_t*;
    Guess guess_first() { return &first_; }
    std::uint32_t find(std::string_view text, Guess& guess) {
        const Name name = name_of(text);
        if (!(slots_[*guess].name == name)) {
            const std::size_t place = place_of(name);
            if (slots_[place].number == none) return none;  // what nobody knows teaches nothing
            *guess = static_cast<std::uint32_t>(place);
        }
        return taken(slots_[*guess], guess);
    }
    // Whether the guess is right of a key that begins there, with a quotation mark and a colon behind it. The
    // text needs the room of a Name and two bytes more.
    bool take_guess(const char* key, Guess& guess, std::string_view& name, std::uint32_t& number) {
        Slot& slot = slots_[*guess];
        const std::size_t size = slot.name.text.size();
        if (size > name_room || key[size] != '"' || key[size + 1] != ':' ||
            !same(words_of(key, size), slot.name.words))
            return false;
        name = slot.name.text;
        number = taken(slot, guess);
        return true;
    }
    std::size_t size() const { return size_; }

  private:
    struct Slot {
        Name name;  // empty where the slot is: the empty name is none of a policy's
        std::uint32_t number = none;
        std::uint32_t hash = 0;
        std::uint32_t next = 0;  // the slot of the name that came after this one last
    };
    static std::uint32_t taken(Slot& slot, Guess& guess) {
        guess = &slot.next;
        return slot.number;
    }
    bool add(const Name& name, std::uint32_t number);
    void grow();
    std::size_t place_of(const Name& name) const {  // its slot, or the empty one where it would stand
        const std::uint32_t hash = hash_of(name);
        std::size_t i = hash & (slots_.size() - 1);
        while (slots_[i].number != none && !(slots_[i].hash == hash && slots_[i].name == name))
            i = (i + 1) & (slots_.size() - 1);
        return i;
    }
    std::vector<Slot> slots_{1};  // a power of two; at most half full
    std::size_t size_ = 0;
    std::uint32_t first_ = 0;  // the slot of the name that came first last
};

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
