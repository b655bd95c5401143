// One record into an Episode: which key goes where. What the values are, records_values.hpp says; what must
// hold between them, records_finish.hpp. Internal to the record readers.
#pragma once

#include <memory>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/records.hpp"
#include "runtime/records_finish.hpp"
#include "runtime/records_plan.hpp"
#include "runtime/records_texts.hpp"
#include "runtime/records_values.hpp"
#include "runtime/records_walk.hpp"

namespace linelaw::runtime::records {

class Reading {
  public:
    Reading(const Policy& policy, ReaderOptions options);
    Reading(const Reading&) = delete;  // its parts refer to each other
    Reading& operator=(const Reading&) = delete;

    std::unique_ptr<Spoiled> read(std::string_view record, Episode& episode, std::vector<Spoiled>& set_aside);
    const ReadCounts& counts() const { return walk_.counts; }
    ReadCounts take_counts() { return std::exchange(walk_.counts, {}); }

  private:
    // Functions that answer bool answer false once the record is spoiled.
    void begin(Episode& episode);
    bool top_key(std::uint32_t key, std::string_view name);
    bool misshapen(const char* shape);
    bool episode_key();
    template <typename F>
    bool owner(std::string_view name, const char* shape, NameTable& keys, F&& read);
    bool patient();
    bool line();
    bool line_attribute(const LineKey& key);

    bool events();
    bool event(std::uint32_t index);
    bool kind_here(EventKindId& kind);
    bool event_keys(EventPlan& plan, Event& event);
    bool event_key(const EventPlan& plan, std::uint32_t key, Event& event);
    bool steps(const EventPlan& plan, std::uint32_t& first, std::uint32_t& count);
    bool step(const EventPlan& plan);
    bool step_object(const EventPlan& plan, StepMark& mark);
    void step_name(const EventPlan& plan, std::string_view name, std::uint64_t offset, StepMark& mark);

    // The bytes of an event in the record.
    struct Bytes {
        std::uint64_t begin = 0;
        std::uint64_t end = 0;
    };
    bool repeat(Bytes bytes, std::uint32_t id, bool& identical);

    Plan plan_;
    ReaderOptions options_;
    Walk walk_;
    Texts texts_;
    Values values_;
    Finish finish_;
    Episode* episode_ = nullptr;
    Loose loose_;
    std::vector<Bytes> bytes_of_id_;  // by text; no bytes: no event of that id yet
    std::uint64_t repeats_ = 0;
};

}  // namespace linelaw::runtime::records
