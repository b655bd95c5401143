// The texts of one episode, each held once, so that equal texts are equal indexes. Storage is kept from
// record to record. Internal to the record readers.
#pragma once

#include <string_view>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/records_plan.hpp"

namespace linelaw::runtime::records {

class Texts {
  public:
    // Empties `texts`.
    void begin(TextList& texts) {
        texts.clear();
        texts_ = &texts;
        if (++generation_ == 0) {  // after four thousand million records
            slots_.assign(slots_.size(), Slot{});
            generation_ = 1;
        }
    }

    // The text needs the room of a Name.
    std::uint32_t intern(std::string_view text) {
        if (2 * (texts_->size() + 1) > slots_.size()) grow();
        const std::uint32_t hash = hash_of(name_of(text));
        Slot& slot = place(text, hash);
        if (slot.generation != generation_) {
            slot = {generation_, hash, static_cast<std::uint32_t>(texts_->size())};
            texts_->push_back(text);
        }
        return slot.index;
    }

  private:
    struct Slot {
        std::uint32_t generation = 0;
        std::uint32_t hash = 0;
        std::uint32_t index = 0;
    };
    Slot& place(std::string_view text, std::uint32_t hash) {
        std::size_t i = hash & (slots_.size() - 1);
        while (slots_[i].generation == generation_ &&
               (slots_[i].hash != hash || (*texts_)[slots_[i].index] != text))
            i = (i + 1) & (slots_.size() - 1);
        return slots_[i];
    }
    void grow() {
        std::vector<Slot> old(slots_.empty() ? 64 : 2 * slots_.size());
        old.swap(slots_);
        for (const Slot& slot : old) {
            if (slot.generation != generation_) continue;
            place((*texts_)[slot.index], slot.hash) = slot;
        }
    }

    TextList* texts_ = nullptr;
    std::vector<Slot> slots_;  // a power of two; at most half full
    std::uint32_t generation_ = 0;
};

}  // namespace linelaw::runtime::records
