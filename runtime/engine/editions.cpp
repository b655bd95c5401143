// Several editions in one policy (language.md §4.8): which of them judges at a moment, and how a clause that
// the next edition keeps carries on: what is open ends by the old terms, what opens then goes by the new
// ones.
#include <algorithm>

#include "runtime/engine/judging.hpp"

namespace linelaw::runtime::engine {

bool Judging::has_day_in_view(EditionId edition) const {
    const EditionPlan& plan = plan_.editions[edition];
    const History& h = *history_;
    return plan.from <= horizon_ &&
           plan.until > (h.insertion_known() ? std::min(h.insertion(), h.start()) : h.start());
}

bool Judging::has_day(EditionId edition, const Place& place, Terms terms, Moment& wake) const {
    const EditionPlan& plan = plan_.editions[edition];
    if (place.moment < at(plan.from)) {
        wake = std::min(wake, at(plan.from));
        return false;
    }
    if (terms == Terms::carried_on || place.moment >= at(plan.until)) return terms == Terms::carried_on;
    wake = std::min(wake, at(plan.until));
    return true;
}

// Where what the edition governs is known to hold, whatever the day.
bool Judging::claims(EditionId edition, const Place& place, Moment& wake) const {
    if (plan_.editions[edition].governs == none) return true;
    Place there = place;
    there.scope = none;
    const Answer answer = ask(plan_.editions[edition].governs, there);
    wake = std::min(wake, answer.wake);
    return answer.truth == Truth::yes;
}

// On its days, where it claims to and no policy that was given before it does.
bool Judging::governs(EditionId edition, const Place& place, Terms terms, Moment& wake) const {
    if (!has_day(edition, place, terms, wake) || !claims(edition, place, wake)) return false;
    // Those given before it are other policies: editions of one title stand together.
    for (EditionId before = 0; before < plan_.editions[edition].first; ++before)
        if (has_day(before, place, Terms::in_force, wake) && claims(before, place, wake)) return false;
    return true;
}

Governed Judging::governed_at(const Place& place, Moment& wake) const {
    Governed found;
    for (EditionId e = 0; e < plan_.editions.size(); ++e) {
        const bool on_its_day = has_day(e, place, Terms::in_force, wake);
        if (!claims(e, place, wake)) continue;
        if (!on_its_day)
            found.no_edition = true;
        else if (found.edition == none)
            found.edition = e;
        else
            found.several = true;
    }
    if (found.edition != none) found.no_edition = false;
    return found;
}

// Who judges, from the line's start to its end.
void Judging::note_governed() {
    governed_.clear();
    if (!options_.keep_stretches || plan_.editions.empty()) return;
    const Life life = find_life(none, false);
    Rests rests;
    for (const EditionPlan& plan : plan_.editions)
        rests.kinds.insert(rests.kinds.end(), plan.rests.kinds.begin(), plan.rests.kinds.end());
    Governed now;
    walk(
        *history_, rests, life.start, life.end, life.running,
        [&](const Place& place) {
            Moment wake = never;
            now = governed_at(place, wake);
            return Answer{Truth::yes, wake};
        },
        [&](const Place& place, Truth) {
            now.begin = instant_of(place.moment);
            if (!governed_.empty()) {
                Governed& last = governed_.back();
                if (last.edition == now.edition && last.no_edition == now.no_edition &&
                    last.several == now.several)
                    return;
                last.end = now.begin;
                if (last.begin == last.end) governed_.pop_back();
            }
            governed_.push_back(now);
        });
    if (!governed_.empty()) governed_.back().end = life.end;
}

// The instant at which the clause's edition ends, and after which the next one opens what it carries on; of a
// clause that nothing carries on, the end of time.
Instant Judging::edition_end(const Subject& subject) const {
    return subject.brief->carried_on ? plan_.editions[subject.brief->edition].until
                                     : std::numeric_limits<Instant>::max();
}

// From when on the clause speaks of the line at all: from its start, or from its edition's, where the one
// before does not speak of it already; nothing where its policy does not govern there.
std::optional<Instant> Judging::speaks_from(const Subject& subject) const {
    const EditionId edition = subject.brief->edition;
    const Instant start = history_->start();
    if (edition == none) return start;
    const ClauseId older = subject.plan->carries_on;
    if (older != none && plan_.editions[plan_.policy.clauses[older].edition].until > start)
        return std::nullopt;
    const Instant from = std::max(start, plan_.editions[edition].from);
    const Place place = from == start ? subject.life.start : place_at(*history_, at(from), none);
    Moment wake = never;
    return governs(edition, place, Terms::in_force, wake) ? std::optional(from) : std::nullopt;
}

// Where a clause that no next edition keeps ends with its own: nothing after that answers it.
std::optional<Instant> Judging::dropped_at(const Subject& subject) const {
    if (subject.brief->edition == none || subject.brief->carried_on) return std::nullopt;
    const Instant end = plan_.editions[subject.brief->edition].until;
    return end <= horizon_ ? std::optional(end) : std::nullopt;
}

void Judging::hand_over(const Subject& subject, Instant at) {
    if (subject.brief->carried_on) handed_over_.push_back({subject.id, subject.part, at});
}

// From when on the clause's own terms open anything.
Instant Judging::handed_over(const Subject& subject) const {
    Instant from = std::numeric_limits<Instant>::min();
    for (const HandedOver& one : handed_over_)
        if (one.clause == subject.plan->carries_on && one.part == subject.part) from = one.at;
    return from;
}

// Its own of the stretches that were found: what the older edition still had open is not opened a second
// time, and those of a clause that is carried on were found as though its edition went on. Valid until the
// next call.
std::span<const TruthStretch> Judging::of_its_edition(const Subject& subject,
                                                      std::span<const TruthStretch> found) {
    if (subject.brief->edition == none) return found;
    const Instant from = handed_over(subject);
    const Instant last = edition_end(subject);
    edition_stretches_.clear();
    for (TruthStretch stretch : found) {
        if (stretch.end < from || (stretch.end == from && !stretch.running)) continue;
        if (stretch.begin >= last) continue;
        if (stretch.begin < from) {
            stretch.begin = from;
            stretch.from_start = false;
        }
        edition_stretches_.push_back(stretch);
    }
    return edition_stretches_;
}

}  // namespace linelaw::runtime::engine
