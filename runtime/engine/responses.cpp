// What an event or a moment asks for within a time (language.md §4.4), and ladders that start at once.
#include <algorithm>

#include "runtime/engine/judging.hpp"

namespace linelaw::runtime::engine {

// `then escalate`: the moment itself starts the ladder. Where nothing else is demanded, an exception that
// holds at the moment keeps it from starting.
void Judging::then_escalate(const Subject& subject, Instant t, std::uint32_t event, Truth asked) {
    const ClauseBrief& brief = *subject.brief;
    if (brief.then_escalate == none) return;
    if (brief.demands<NoDemand>() && brief.exceptions.count != 0) {
        Place place = at_instant(t, subject.part);
        if (event != none) place = at_event(*history_, event, subject.part);
        Truth excepted = Truth::no;
        for (std::uint32_t i = 0; i < brief.exceptions.count; ++i)
            excepted = excepted | ask(plan_.exceptions[brief.exceptions.first + i].condition, place).truth;
        asked = asked & !excepted;
    }
    start_ladder(subject, brief.then_escalate, t, event, asked);
}

void Judging::responses(const Subject& subject) {
    collect(subject.brief->events, subject.part);
    const std::optional<Instant>& edge = history_->edge();
    for_events(subject.brief->trigger, subject, false, [&](std::uint32_t event, Truth match) {
        const Truth asked =
            match & applies(subject.id, just_before_event(*history_, event, subject.part), event).truth;
        if (asked == Truth::no) return;
        const Instant t = history_->episode().events[event].at;
        then_escalate(subject, t, event, asked);
        if (subject.brief->demands<NoDemand>()) return;
        if (edge && t < *edge) return respond_from_edge(subject, event);
        if (asked != Truth::yes) return at_this_event(subject, event, Outcome::not_assessable, asked);
        respond(subject, t, event);
    });
}

void Judging::once(const Subject& subject) {
    const bool demands = !subject.brief->demands<NoDemand>();
    if (demands) collect(subject.brief->events, subject.part);
    bool first = true;
    Truth before = Truth::no;
    walk(
        *history_, subject.plan->once_rests, subject.life.start, subject.life.end, subject.life.running,
        [&](const Place& place) { return ask(subject.clause->trigger.once, place); },
        [&](const Place& place, Truth truth) {
            const bool opens =
                truth == Truth::yes ? before != Truth::yes : !known(truth) && before == Truth::no;
            const bool at_edge = first && history_->edge() && subject.life.from_start;
            first = false;
            before = truth;
            if (!opens) return;
            const Truth asked = truth & applies(subject.id, place, none).truth;
            if (asked == Truth::no) return;
            const Instant t = instant_of(place.moment);
            then_escalate(subject, t, none, asked);
            if (!demands) return;
            if (asked == Truth::yes)
                return at_edge ? respond_from_edge(subject, none) : respond(subject, t, none);
            Opportunity& o = opportunity(subject, Outcome::not_assessable);
            o.opened = t;
            o.closed = t;
            conclude(subject, o, asked);
        });
}

std::optional<Limit> Judging::response_limit(const Subject& subject, Instant t) const {
    const Within& demand = std::get<Within>(*subject.demand);
    if (const auto* span = std::get_if<Span>(&demand.within)) return limit_of(t, *span, demand.grace);
    const Until until = std::get<Until>(demand.within);
    const CivilDate today = plan_.zone.date_of(t);
    if (until == Until::same_calendar_day) {
        const Instant end = plan_.zone.begin_of(add_days(today, 1));
        return Limit{end, end, true};
    }
    std::optional<std::pair<Instant, Instant>> found;
    bool in_shift = false;  // the next shift, too, is counted from one that the trigger lies in
    for (const Shift& shift : plan_.policy.shifts) {
        if (shift.edition != subject.brief->edition) continue;
        for (std::int32_t d = -1; d <= 2; ++d) {
            const auto one = shift_on(shift, add_days(today, d));
            const bool within = one.first <= t && t < one.second;
            in_shift = in_shift || within;
            if (until == Until::same_shift ? !within : one.first <= t) continue;
            const bool better =
                !found || (until == Until::same_shift ? one.first > found->first : one.first < found->first);
            if (better) found = one;
        }
    }
    if (!found || !in_shift) return std::nullopt;
    return Limit{found->second, found->second, true};
}

// What answers at the trigger's own instant: the trigger does not answer itself.
Hit Judging::answer_at_once(const Subject& subject, Instant t, std::uint32_t event, const Hit& hit) const {
    if (event != none) return without(hit, subject.brief->events, subject.part, event);
    // `once`: what turned it true at this instant is its trigger.
    Hit left{t, none, none, Truth::no, none};
    const std::vector<EventKindId>& kinds = subject.plan->once_kinds;
    for_matches_at(t, subject.brief->events, subject.part, [&](std::uint32_t e, Truth truth) {
        const EventKindId kind = history_->episode().events[e].kind;
        if (!std::binary_search(kinds.begin(), kinds.end(), kind)) left.add(e, truth);
    });
    return left;
}

// The first answer from the trigger on; an uncertain one is passed over where a certain one comes by the
// limit.
std::optional<Hit> Judging::first_answer(const Subject& subject, Instant t, std::uint32_t event,
                                         const Limit& limit) const {
    const std::optional<Instant> dropped = dropped_at(subject);
    const auto out_of_reach = [&](const Hit& hit) { return dropped && hit.at >= *dropped; };
    auto next = hits_from(t);
    std::optional<Hit> answer;
    if (next != hits_.end() && next->at == t) {
        const Hit own = answer_at_once(subject, t, event, *next);
        if (own.truth != Truth::no) answer = own;
        ++next;
    }
    if (next == hits_.end() || out_of_reach(*next)) return answer;
    if (!answer) answer = *next;
    if (answer->truth == Truth::yes || limit.past(answer->at) || next->certain == none) return answer;
    const Hit& certain = hits_[next->certain];
    return limit.past(certain.at) || out_of_reach(certain) ? *answer : certain;
}

// Where an open response ends without an answer: with the line, with the part, with an edition after which
// the clause is dropped, or nowhere before the horizon.
std::optional<Instant> Judging::response_end(const Subject& subject) const {
    const auto& events = history_->episode().events;
    std::optional<Instant> end = dropped_at(subject);
    const auto or_before = [&](Instant t) { end = end ? std::min(*end, t) : t; };
    if (subject.brief->ends_with_part && history_->parts()[subject.part].ended_by != none)
        or_before(events[history_->parts()[subject.part].ended_by].at);
    else if (subject.brief->ends_with_line && history_->removal() != none)
        or_before(events[history_->removal()].at);
    return end;
}

void Judging::respond(const Subject& subject, Instant t, std::uint32_t event) {
    Opportunity& o = opportunity(subject, Outcome::met);
    o.opened = t;
    o.opened_by = event;
    const std::optional<Limit> found = response_limit(subject, t);
    if (!found) {  // in no shift
        o.outcome = Outcome::not_assessable;
        o.closed = t;
        o.closed_by = event;
        return conclude(subject, o, Truth::unknown);
    }
    const Limit& limit = *found;
    const std::optional<Hit> answer = first_answer(subject, t, event, limit);
    const std::optional<Instant> end = response_end(subject);
    Truth doubt = Truth::no;
    bool open = false;
    if (answer) {
        const bool past = limit.past(answer->at);
        const bool certain = answer->truth == Truth::yes;
        o.outcome = certain ? (past ? Outcome::late : Outcome::met)
                            : (past ? Outcome::missed : Outcome::not_assessable);
        o.closed = answer->at;
        o.closed_by = answer->event;
        doubt = answer->truth;
    } else if (end) {
        o.closed = std::max(*end, t);
        o.outcome = limit.past(*o.closed) ? Outcome::missed : Outcome::no_longer_due;
    } else {
        open = true;
        o.outcome = limit.past(horizon_) ? Outcome::missed : Outcome::pending;
        if (o.outcome == Outcome::missed) o.closed = horizon_;
    }
    conclude(subject, o, doubt, &limit, open);
}

// Its trigger lies before what is in view.
void Judging::respond_from_edge(const Subject& subject, std::uint32_t event) {
    Opportunity& o = opportunity(subject, Outcome::not_assessable);
    o.opened = *history_->edge();
    o.opened_by = event;
    const std::optional<Instant> end = response_end(subject);
    o.closed = end.value_or(horizon_);
    bool answered = false;
    const std::optional<Instant> dropped = dropped_at(subject);
    for (const Hit& hit : hits_) {
        if (hit.at < o.opened || hit.event == event) continue;
        if (dropped && hit.at >= *dropped) break;
        o.closed = hit.at;
        o.closed_by = hit.event;
        answered = true;
        break;
    }
    conclude(subject, o, Truth::unknown, nullptr, !answered && !end);
}

}  // namespace linelaw::runtime::engine
