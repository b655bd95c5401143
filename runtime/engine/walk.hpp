// Following a condition through time: it is asked only where it may change, which is just after the events
// that it rests on and at the moments that its clocks name.
#pragma once

#include <algorithm>

#include "runtime/engine/history.hpp"
#include "runtime/engine/truth.hpp"

namespace linelaw::runtime::engine {

// What a condition answers, and until when at least (events apart).
struct Answer {
    Truth truth = Truth::no;
    Moment wake = never;
};

// The first event from index `from` on of a kind that the condition rests on, or none.
inline std::uint32_t next_event(const History& history, const Rests& rests, std::uint32_t from) {
    std::uint32_t next = none;
    for (EventKindId kind : rests.kinds) {
        const auto& events = history.events_of(kind);
        const auto found = std::lower_bound(events.begin(), events.end(), from);
        if (found != events.end()) next = std::min(next, *found);
    }
    return next;
}

// Just after the instant of an event, and after the removal where that is the instant's last. What follows
// the insertion at its instant follows it.
inline Place just_after_event(const History& history, std::uint32_t event, PartIndex scope) {
    std::uint32_t index = history.group_index(event);
    const auto& groups = history.groups();
    const auto more = [&] { return index + 1 < groups.size() && groups[index + 1].at == groups[index].at; };
    if (more() && groups[index + 1].first == history.removal()) ++index;
    const Group& group = groups[index];
    return {more() ? at(group.at) : just_after(group.at), group.last, group.last, none, scope};
}

inline Place place_at(const History& history, Moment moment, PartIndex scope) {
    const Instant t = instant_of(moment);
    const std::uint32_t before = moment == at(t) ? history.before(t) : history.up_to(t);
    return {moment, before, before, none, scope};
}

// Calls visit(place, truth) at `start` and wherever the answer may have changed before `end`, or up to it
// where that is the horizon: there what its events changed is seen, but clocks stand at its instant.
// `ask(place)` gives an Answer.
template <typename Ask, typename Visit>
void walk(const History& history, const Rests& rests, Place start, Instant end, bool to_horizon, Ask ask,
          Visit visit) {
    const auto inside = [&](Instant t) { return t < end || (to_horizon && t == end); };
    const auto to_the_horizon = [&](Place there) {
        if (to_horizon) there.moment = std::min(there.moment, at(end));
        return there;
    };
    Place place = to_the_horizon(start);
    while (inside(instant_of(place.moment))) {
        const Answer answer = ask(place);
        visit(place, answer.truth);
        const std::uint32_t event = next_event(history, rests, place.before);
        const Moment by_clock = to_horizon && answer.wake > at(end) ? never : answer.wake;
        if (event == none) {
            if (by_clock == never) return;
            place = place_at(history, by_clock, place.scope);
            continue;
        }
        const Place after = to_the_horizon(just_after_event(history, event, place.scope));
        const bool clock_first = by_clock < after.moment || (by_clock == after.moment && by_clock % 2 == 0);
        place = clock_first ? place_at(history, by_clock, place.scope) : after;
    }
}

}  // namespace linelaw::runtime::engine
