// The texts of one episode, each held once, so that equal texts are equal indexes. Storage is kept from
// record to record; nothing is allocated for a text once its place is warm. Internal to the record readers.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/records_plan.hpp"

namespace linelaw::runtime::records {

class Texts {
  public:
    // Empties `texts` and keeps the strings' storage.
    void begin(std::vector<std::string>& texts) {
        // The last first, so that a record like the one before finds each text's storage in its place.
        for (auto text = texts.rbegin(); text != texts.rend(); ++text) spare_.push_back(std::move(*text));
        texts.clear();
        texts_ = &texts;
        size_ = 0;
        if (++generation_ == 0) {  // after four thousand million records
            slots_.assign(slots_.size(), Slot{});
            generation_ = 1;
        }
    }

    std::uint32_t intern(std::string_view text) {
        if (2 * (size_ + 1) > slots_.size()) grow();
        const std::uint32_t hash = hash_of(text);
        Slot& slot = place(text, hash);
        if (slot.generation == generation_) return slot.index;
        slot = {generation_, hash, static_cast<std::uint32_t>(texts_->size())};
        ++size_;
        if (spare_.empty()) {
            texts_->emplace_back(text);
        } else {
            texts_->push_back(std::move(spare_.back()));
            spare_.pop_back();
            texts_->back().assign(text);
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
        slots_.assign(slots_.empty() ? 64 : 2 * slots_.size(), Slot{});
        for (std::uint32_t i = 0; i < texts_->size(); ++i) {
            const std::uint32_t hash = hash_of((*texts_)[i]);
            place((*texts_)[i], hash) = {generation_, hash, i};
        }
    }

    std::vector<std::string>* texts_ = nullptr;
    std::vector<std::string> spare_;
    std::vector<Slot> slots_;  // a power of two; at most half full
    std::uint32_t generation_ = 0;
    std::size_t size_ = 0;
};

}  // namespace linelaw::runtime::records
