// One episode as the engine takes it: events in slots of the compiled policy, values validated. Made by the
// record readers (records.hpp) and by nothing else but tests. Plain data, reused from record to record; texts
// are indexes into `texts`. Knows nothing of JSON.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/time.hpp"
#include "runtime/values.hpp"

namespace linelaw::runtime {

// patient.age: a birth date, or a number of completed units at insertion.
struct Age {
    enum class Given : std::uint8_t {
        undocumented,
        set_aside,
        birth_date,
        completed
    } given = Given::undocumented;
    CivilDate birth;
    AgeUnit unit = AgeUnit::years;
    std::int32_t completed = 0;
};

// The day on which somebody born on `birth` completes so many units.
inline CivilDate older_by(CivilDate birth, AgeUnit unit, std::int32_t count) {
    switch (unit) {
        case AgeUnit::days:
            return add_days(birth, count);
        case AgeUnit::weeks:
            return add_days(birth, 7 * count);
        case AgeUnit::months:
            return add_months(birth, count);
        case AgeUnit::years:
            break;
    }
    return add_months(birth, 12 * count);
}

struct StepMark {
    std::uint32_t step =
        none;  // index into the kind's steps; none: a step was set aside, it may be any of them
    std::optional<Instant> at;
    std::optional<Instant> from;
    std::optional<Instant> to;
    bool time_set_aside = false;  // one of the three was given and could not be used
};

// The time that places a step among the others.
inline const std::optional<Instant>& time_of(const StepMark& mark) {
    return mark.at ? mark.at : mark.from ? mark.from : mark.to;
}

struct Event {
    EventKindId kind = none;
    Instant at = 0;
    std::optional<Instant> recorded_at;
    bool recorded_at_set_aside =
        false;                // given and could not be used: charting_delay is unknown, not missing
    std::uint32_t id = none;  // into texts; none where the record gave no id
    std::uint32_t pointer =
        0;  // its index in the record's "events", or none where it came from the line's keys
    std::uint32_t values = 0;   // first of kind.attributes.size() values in Episode::values; charting_delay's
                                // is recorded_at less at
    std::uint32_t part = none;  // name (into texts) of the part it is an event of, or that it begins or ends
    std::uint32_t parent = none;   // name of that part's parent, where the event gave it
    std::uint32_t steps = 0;       // first in Episode::steps
    std::uint32_t step_count = 0;  // zero: undocumented
};

// Texts one after another in one storage, which is kept when they are cleared.
class TextList {
  public:
    std::size_t size() const { return ends_.size(); }
    bool empty() const { return ends_.empty(); }
    std::string_view operator[](std::size_t i) const {  // until a text is added
        const std::size_t begin = i == 0 ? 0 : ends_[i - 1];
        return {bytes_.data() + begin, ends_[i] - begin};
    }
    void push_back(std::string_view text) {
        const std::size_t begin = ends_.empty() ? 0 : ends_.back();
        if (bytes_.size() < begin + text.size()) bytes_.resize(2 * (begin + text.size()));
        text.copy(bytes_.data() + begin, text.size());
        ends_.push_back(begin + text.size());
    }
    void clear() { ends_.clear(); }

  private:
    std::vector<char> bytes_;
    std::vector<std::size_t> ends_;
};

// Days that a record may span: a century. In a longer one a year is mistyped, and its days would be judged
// one by one.
constexpr std::int64_t longest_record_days = 36'525;

struct Episode {
    std::string key;       // pseudonymous
    std::string facility;  // empty: undocumented
    std::string care_unit;
    std::string patient_key;
    std::vector<Value> patient;  // by slot; an age's Value is unused
    Age age;
    std::vector<Value> line;             // by slot
    std::optional<Instant> inserted_at;  // none: unknown, observed_from is given
    std::optional<Instant> removed_at;
    std::optional<Instant> observed_from;
    std::optional<Instant> observed_until;
    // In order of instant, then of the record. An insertion event stands first where inserted_at is known and
    // a removal event last among its instant where removed_at is known, made from the line's keys where the
    // record has none.
    std::vector<Event> events;
    std::vector<Value> values;
    std::vector<StepMark> steps;
    TextList texts;
    // Where names of parts are left out (ReaderOptions): what the record calls the parts that are numbered
    // here, for a finding's id alone, which is the same with and without them.
    struct NumberedPart {
        PartKindId kind = none;
        std::uint32_t name = none;    // into texts, as is
        std::uint32_t number = none;  // what the events bear instead
    };
    std::vector<NumberedPart> numbered_parts;

    const Value& value(const Event& event, std::uint32_t slot) const { return values[event.values + slot]; }
};

}  // namespace linelaw::runtime
