// Conditions and expressions, evaluated from the syntax tree at one moment by looking at all that came before
// it (language.md §3 "Conditions", §4.1, §4.2).
#pragma once

#include "tests/differential/record.hpp"

namespace linelaw::literal {

// Where a condition is asked. At a moment: what lies before `position` is seen. At an event (`sees_instant`):
// windows see the other events of its instant too. `hand` is the event at hand; `bare` says whether bare
// names mean its attributes.
struct Ask {
    const Book* book = nullptr;
    const Record* record = nullptr;
    Position position;
    bool sees_instant = false;
    const Event* hand = nullptr;
    bool bare = false;
    const Life* part = nullptr;
};

inline Ask at_moment(const Book& book, const Record& record, Position position, const Life* part) {
    return {&book, &record, position, false, nullptr, false, part};
}
inline Ask at_event(const Book& book, const Record& record, const Event& event, const Life* part) {
    return {&book, &record, event.position, true, &event, true, part};
}

Truth holds(const grammar::Expression& condition, const Ask& ask);
Value value_of(const grammar::Expression& expression, const Ask& ask);

// Whether `event` is one of `events` for the part at hand; its `where` sees the event itself.
Truth matches(const grammar::Events& events, const Event& event, const Book& book, const Record& record,
              const Life* part);
// The same without the `where`s: of the kind, and the part's.
Truth is_of_kind(const grammar::Events& events, const Event& event, const Life* part);
Truth where_of(const grammar::Events& events, const Event& event, const Book& book, const Record& record,
               const Life* part);

// `EVENTS in the last D since EVENTS` (never negated).
Truth occurred(const grammar::Events& events, const grammar::Window& window, const Ask& ask);
// How many of EVENTS lie in the window, from `low` for certain up to `high`.
struct Count {
    int low = 0;
    int high = 0;
    bool open_above = false;
    Truth why = Truth::missing;  // why low is not high
};
Count count_of(const grammar::Events& events, const std::optional<Span>& in_the_last, const Ask& ask,
               Instant not_before);

// t has reached anchor + span; at a calendar bound the midnight itself has.
bool reached(const Zone& zone, Instant t, Instant anchor, const Span& span);
// s ≤ t ≤ s + span (a calendar span: before its midnight).
bool within(const Zone& zone, Instant s, Instant t, const Span& span);

// Whether all of EVENTS are events of the part at hand.
bool all_of_part(const grammar::Events& events, const Book& book, const Life* part);
// Whether events before what is in view could count: not those of a part that began in view.
bool may_have_been_before_view(const grammar::Events& events, const Ask& ask);

Value attribute_of(const Event& event, std::string_view attribute);
// §2 "A state takes the newest value set by any of its sources", just before the moment asked.
Value state_value(const State& state, const Ask& ask);
// §3 "any PART": from just after its beginning to its end.
Truth lives(const Life& life, Position position);

}  // namespace linelaw::literal
