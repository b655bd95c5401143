// What must hold between the parts of a record, once all of it is read: order, insertion and removal, the
// patient's age, names of parts. Brings the events into their order. Internal to the record readers.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/records_plan.hpp"
#include "runtime/records_texts.hpp"
#include "runtime/records_walk.hpp"

namespace linelaw::runtime::records {

// What a record says outside the slots of an Episode, to be placed once all of it is read.
struct Loose {
    std::vector<Value> insertion;  // by slot, from the line's keys
    std::vector<Value> removal;
    std::uint32_t steps = 0;  // of the insertion, from the line's keys
    std::uint32_t step_count = 0;
    std::optional<CivilDate> birth_date;
    bool birth_date_set_aside = false;
    bool has_episode = false;
    std::vector<std::uint64_t> event_offsets;  // by index in the record's "events"
};

class Finish {
  public:
    Finish(const Plan& plan, Walk& walk, Texts& texts, bool names_of_parts)
        : plan_(plan), walk_(walk), texts_(texts), names_of_parts_(names_of_parts) {}

    // False where the record is spoiled.
    bool run(const Loose& loose, Episode& episode);

  private:
    void instant_of_event(EventKindId kind, std::optional<Instant>& at);
    bool head();
    bool bounds();
    bool span();
    bool own_events(EventKindId kind, const std::optional<Instant>& at, std::string_view key,
                    const std::vector<Value>& from_line);
    void merge(Event& event, const std::vector<Value>& from_line);
    void make(EventKindId kind, Instant at, const std::vector<Value>& from_line);
    void unused(EventKindId kind, std::string_view key, const std::vector<Value>& from_line);
    bool places();
    void drop_after_observed_until();
    void in_order();
    void ages();
    bool age_in_range(const Type& type, CivilDate on) const;
    void part_names();
    void check_name(const Event& event, PartKindId part, std::uint32_t name);
    std::string_view fault_of_name(PartKindId part, std::uint32_t name) const;
    void note_parts_begun();
    void number_parts();
    void number_part(PartKindId part, std::uint32_t& name);
    void charting_delays();

    bool spoil_own(EventKindId kind, std::string_view key, const char* code, std::string reason);
    bool spoil_event(const Event& event, const char* code, std::string reason);
    std::string pointer_of(const Event& event) const;
    std::uint64_t offset_of(const Event& event) const;

    const Plan& plan_;
    Walk& walk_;
    Texts& texts_;
    bool names_of_parts_;
    const Loose* loose_ = nullptr;
    Episode* episode_ = nullptr;
    std::vector<std::uint64_t> begun_;  // by text: the kinds of part begun under that name, a bit each
    std::uint64_t begun_unnamed_ = 0;
    std::optional<Instant> latest_dropped_;  // of what came after the record's end
};

}  // namespace linelaw::runtime::records
