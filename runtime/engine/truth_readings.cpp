// Readings of the event at hand: changes against a baseline, and the times of its steps.
#include <algorithm>
#include <cstdlib>

#include "runtime/engine/truth.hpp"

namespace linelaw::runtime::engine {

Asking::Baseline Asking::baseline(const Node& n, FieldId comparable_by) {
    const auto at_event = [&](std::uint32_t event) {
        return Baseline{event_reading(event, n.a),
                        comparable_by == none ? Reading{} : event_reading(event, comparable_by)};
    };
    if (n.run.count == 0) {  // since insertion
        const auto& insertions = history_.events_of(plan_.policy.insertion);
        Baseline from = insertions.empty() ? Baseline{} : at_event(insertions.front());
        if (n.b == none) return from;
        const Reading line = reading_of(history_.episode().line[n.b]);
        if (line.standing != Standing::known) {
            if (from.reading.standing == Standing::undocumented) from.reading.standing = line.standing;
            return from;
        }
        from.reading = line;
        if (comparable_by != none)
            for (std::size_t slot = 0; slot < plan_.policy.line.size(); ++slot)
                if (plan_.policy.line[slot].name == plan_.policy.fields[comparable_by] &&
                    history_.episode().line[slot].state != Known::undocumented)
                    from.companion = reading_of(history_.episode().line[slot]);
        return from;
    }
    std::uint32_t newest = none;
    Truth match = Truth::no;
    newest_first(n.run, [&](std::uint32_t event, Truth truth) {
        if (event_reading(event, n.a).standing != Standing::known) return true;
        if (newest == none || event > newest) {
            newest = event;
            match = truth;
        } else if (event == newest) {
            match = match | truth;
        }
        return false;
    });
    if (newest == none) return {{0, history_.edge() ? Standing::unknown : Standing::undocumented}, {}};
    Baseline from = at_event(newest);
    if (match != Truth::yes) from.reading.standing = standing_of(match);
    return from;
}

Reading Asking::change(const Node& n) {
    if (place_.event == none) return {0, Standing::unknown};
    const EventKind& kind = plan_.policy.event_kinds[history_.episode().events[place_.event].kind];
    const std::uint32_t slot = plan_.slot(history_.episode().events[place_.event].kind, n.a);
    if (slot == none) return {};
    const FieldId comparable_by = kind.attributes[slot].comparable_by;
    const Reading now = event_reading(place_.event, n.a);
    const Baseline from = baseline(n, comparable_by);
    Standing standing = worse(now.standing, from.reading.standing);
    if (standing == Standing::known && comparable_by != none) {
        const Reading companion = event_reading(place_.event, comparable_by);
        standing = worse(standing, worse(companion.standing, from.companion.standing));
        if (companion.standing == Standing::known && from.companion.standing == Standing::known &&
            companion.number != from.companion.number)
            standing = Standing::unknown;
    }
    if (standing != Standing::known) return {0, standing};
    const std::int64_t rise = now.number - from.reading.number;
    switch (static_cast<ChangeKind>(n.value)) {
        case ChangeKind::rise:
            return {std::max<std::int64_t>(rise, 0), standing};
        case ChangeKind::fall:
            return {std::max<std::int64_t>(-rise, 0), standing};
        case ChangeKind::change:
            break;
    }
    return {std::abs(rise), standing};
}

namespace {

const StepMark* first_mark(const Episode& episode, const Event& event, std::uint32_t step) {
    if (step == none) return nullptr;
    for (std::uint32_t i = 0; i < event.step_count; ++i)
        if (episode.steps[event.steps + i].step == step) return &episode.steps[event.steps + i];
    return nullptr;
}

// Why a step's time is not to be had: missing, or set aside.
Reading without_step(const Episode& episode, const Event& event, const StepMark* mark) {
    bool set_aside = mark != nullptr && mark->time_set_aside;
    for (std::uint32_t i = 0; i < event.step_count && mark == nullptr; ++i)
        set_aside = set_aside || episode.steps[event.steps + i].step == none;
    return {0, set_aside ? Standing::unknown : Standing::undocumented};
}

}  // namespace

Reading Asking::step_time(const Node& n) {
    if (place_.event == none) return {0, Standing::unknown};
    const Episode& episode = history_.episode();
    const Event& event = episode.events[place_.event];
    const auto& numbers = plan_.step_numbers[event.kind];
    const StepMark* from = first_mark(episode, event, numbers[n.a]);
    const StepMark* to = first_mark(episode, event, numbers[n.b]);
    std::optional<Instant> begin;
    std::optional<Instant> end;
    if (from != nullptr && !from->time_set_aside) begin = from->to ? from->to : time_of(*from);
    if (to != nullptr && !to->time_set_aside) end = time_of(*to);
    if (begin && end) return {*end - *begin, Standing::known};
    Reading missing{0, Standing::known};
    if (!begin) missing = without_step(episode, event, from);
    if (!end) missing.standing = worse(missing.standing, without_step(episode, event, to).standing);
    return missing;
}

Reading Asking::step_in(const Node& n) {
    if (place_.event == none) return {0, Standing::unknown};
    const Episode& episode = history_.episode();
    const Event& event = episode.events[place_.event];
    const StepMark* mark = first_mark(episode, event, plan_.step_numbers[event.kind][n.a]);
    if (mark == nullptr || mark->time_set_aside || !mark->from || !mark->to)
        return without_step(episode, event, mark);
    return {*mark->to - *mark->from, Standing::known};
}

}  // namespace linelaw::runtime::engine
