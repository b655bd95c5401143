// Demands over stretches of time: `at least every` (language.md §4.3) and `each shift`, `each calendar day`.
#include <algorithm>

#include "runtime/engine/judging.hpp"

namespace linelaw::runtime::engine {
namespace {

// When what is open in it is no longer: never, as far as the record is known, where it runs at the horizon.
Instant over_at(const TruthStretch& stretch) {
    return stretch.running ? std::numeric_limits<Instant>::max() : stretch.end;
}

}  // namespace

void Judging::note_stretches(const Subject& subject, std::span<const TruthStretch> stretches, Instant until) {
    if (!options_.keep_stretches) return;
    Opportunity named;
    name_part(named, subject.part);
    for (const TruthStretch& s : stretches)
        if (s.truth == Truth::yes && s.begin < until)
            stretches_.push_back({subject.id, named.part_kind, named.part, s.begin, std::min(s.end, until)});
}

// An unknown stretch gives one opportunity, at its first instant.
void Judging::unknown_stretch(const Subject& subject, const TruthStretch& stretch) {
    Opportunity& o = opportunity(subject, Outcome::not_assessable);
    o.opened = stretch.begin;
    o.closed = stretch.begin;
    conclude(subject, o, stretch.truth);
}

void Judging::at_least_every(const Subject& subject, const AtLeastEvery& demand) {
    const std::span<const TruthStretch> stretches = of_its_edition(subject, stretches_of(subject));
    Instant ended = std::max(edition_end(subject), handed_over(subject));
    if (stretches.empty()) return hand_over(subject, ended);
    collect(subject.brief->events, subject.part);
    std::size_t next = 0;  // the first hit after what was judged so far
    for (const TruthStretch& stretch : stretches) {
        if (stretch.truth != Truth::yes) {
            unknown_stretch(subject, stretch);
            ended = std::max(ended, over_at(stretch));
            continue;
        }
        while (next < hits_.size() && hits_[next].at <= stretch.begin) ++next;
        ended = std::max(ended, over_stretch(subject, demand, stretch, next));
    }
    hand_over(subject, ended);
    note_stretches(subject, stretches, ended);
}

// One stretch: from answer to answer. `next` is the first hit after the stretch's begin.
Instant Judging::over_stretch(const Subject& subject, const AtLeastEvery& demand, const TruthStretch& stretch,
                              std::size_t next) {
    const auto inside = [&](std::size_t i) { return i < hits_.size() && stretch.reaches(hits_[i].at); };
    const Instant last = edition_end(subject);  // from then on the next edition opens
    const Hit* opener = nullptr;                // the answer that opened, where one did
    Instant opened = stretch.begin;
    const bool from_edge = history_->edge() && stretch.from_start && subject.life.from_start;
    if (from_edge || opened_unseen(subject, demand, stretch, next)) {
        if (next > 0 && hits_[next - 1].at == stretch.begin) --next;  // one at the edge itself counts
        if (!close_from_edge(subject, stretch, next)) return over_at(stretch);
        opener = &hits_[next];
        opened = opener->at;
        ++next;
        if (opened >= last) return opened;
    } else if (!demand.counted_anew && next > 0 &&
               limit_of(hits_[next - 1].at, demand.every, demand.grace).limit > stretch.begin) {
        opener = &hits_[next - 1];
        opened = opener->at;
    }
    for (;;) {
        const Limit limit = limit_of(opened, demand.every, demand.grace);
        Opportunity& o = opportunity(subject, Outcome::met);
        o.opened = opened;
        o.applies_from = stretch.begin;
        o.opened_by = opener != nullptr ? opener->event : none;
        while (inside(next) && passed_over(subject, demand, stretch, opener, limit, next)) ++next;
        if (!inside(next)) return end_open(subject, o, stretch, limit);
        const Hit& hit = hits_[next];
        o.closed = hit.at;
        o.closed_by = hit.event;
        Truth doubt = Truth::no;
        o.outcome = answered(subject, demand, opener, limit, hit, doubt);
        if (hit.truth != Truth::yes) {
            o.outcome = limit.past(hit.at) ? Outcome::missed : Outcome::not_assessable;
            doubt = hit.truth;
        }
        conclude(subject, o, doubt, &limit);
        if (hit.at == stretch.end && !stretch.running) return hit.at;  // what comes with the end opens none
        if (hit.at >= last) return hit.at;
        opener = &hit;
        opened = hit.at;
        ++next;
    }
}

// Whether an answer before the record came into view may have opened what is open at the stretch's begin.
bool Judging::opened_unseen(const Subject& subject, const AtLeastEvery& demand, const TruthStretch& stretch,
                            std::size_t next) const {
    return !demand.counted_anew && next == 0 && may_be_before_view(subject) &&
           limit_of(*history_->edge(), demand.every, demand.grace).limit > stretch.begin;
}

// The opportunity that was open when the record came into view. Answers whether hits_[next] closed it and
// opened the next.
bool Judging::close_from_edge(const Subject& subject, const TruthStretch& stretch, std::size_t next) {
    Opportunity& o = opportunity(subject, Outcome::not_assessable);
    o.opened = stretch.begin;
    const bool answered = next < hits_.size() && stretch.reaches(hits_[next].at);
    o.closed = answered ? hits_[next].at : stretch.end;
    if (!answered && stretch.running && stretch.end == stretch.begin) return false;  // known for no time
    if (answered) o.closed_by = hits_[next].event;
    conclude(subject, o, Truth::unknown, nullptr, !answered && stretch.running);
    return answered && (stretch.running || hits_[next].at < stretch.end);
}

// What an answer at `hit` gives, were its match certain.
Outcome Judging::answered(const Subject& subject, const AtLeastEvery& demand, const Hit* opener,
                          const Limit& limit, const Hit& hit, Truth& doubt) const {
    if (demand.shortest && opener != nullptr && hit.at < add(opener->at, *demand.shortest, plan_.zone)) {
        const Truth excused = unless(subject, hit);
        const Truth early = (!excused) & opener->truth;
        if (early == Truth::yes) return Outcome::early;
        if (early != Truth::no) {
            doubt = early;
            return Outcome::not_assessable;
        }
    }
    return limit.past(hit.at) ? Outcome::late : Outcome::met;
}

// Whether an uncertain answer is passed over: a certain one by the limit gives what it would give.
bool Judging::passed_over(const Subject& subject, const AtLeastEvery& demand, const TruthStretch& stretch,
                          const Hit* opener, const Limit& limit, std::size_t index) const {
    const Hit& uncertain = hits_[index];
    if (uncertain.truth == Truth::yes || limit.past(uncertain.at)) return false;
    if (uncertain.certain == none) return false;
    const Hit& next = hits_[uncertain.certain];
    if (!stretch.reaches(next.at) || limit.past(next.at)) return false;
    Truth doubt = Truth::no;
    const Outcome would = answered(subject, demand, opener, limit, uncertain, doubt);
    const Outcome certain = answered(subject, demand, opener, limit, next, doubt);
    return would == certain && (would == Outcome::met || would == Outcome::early);
}

// The stretch ends, or the horizon is reached, with the opportunity open.
Instant Judging::end_open(const Subject& subject, Opportunity& o, const TruthStretch& stretch,
                          const Limit& limit) {
    const bool past = limit.past(stretch.end);
    Truth doubt = Truth::no;
    o.closed = stretch.end;
    if (past) {
        o.outcome = Outcome::missed;
    } else if (stretch.running) {
        o.outcome = Outcome::pending;
        o.closed.reset();
    } else {
        o.outcome = known(stretch.next) ? Outcome::no_longer_due : Outcome::not_assessable;
        doubt = stretch.next;
    }
    conclude(subject, o, doubt, &limit, stretch.running);
    return over_at(stretch);
}

// ---- each shift, each calendar day

void Judging::each_period(const Subject& subject, const EachPeriod& demand) {
    const std::span<const TruthStretch> stretches = of_its_edition(subject, stretches_of(subject));
    const Instant last = edition_end(subject);  // a period belongs to the edition in which it begins
    Instant ended = std::max(last, handed_over(subject));
    if (stretches.empty()) return hand_over(subject, ended);
    collect(subject.brief->events, subject.part);
    for (const TruthStretch& stretch : stretches) {
        if (stretch.truth != Truth::yes) {
            unknown_stretch(subject, stretch);
            ended = std::max(ended, over_at(stretch));
            continue;
        }
        for_periods(demand.period, subject.brief->edition, stretch.begin, stretch.end,
                    [&](Instant begin, Instant end) {
                        if (begin < last) over_period(subject, demand, stretch, begin, end);
                    });
    }
    hand_over(subject, ended);
    note_stretches(subject, stretches, last);
}

void Judging::over_period(const Subject& subject, const EachPeriod& demand, const TruthStretch& stretch,
                          Instant begin, Instant end) {
    const bool to_its_end = stretch.end >= end;
    if (begin < stretch.begin) {  // not whole, but perhaps before what is in view
        const bool cut_by_edge =
            history_->edge() && stretch.from_start && subject.life.from_start && stretch.begin < end;
        if (!cut_by_edge || !(to_its_end || stretch.running)) return;
        Opportunity& o = opportunity(subject, Outcome::not_assessable);
        o.opened = stretch.begin;
        o.closed = stretch.begin;
        return conclude(subject, o, Truth::unknown);
    }
    if (begin >= stretch.end) return;  // it begins as the stretch ends, or at the horizon
    Opportunity& o = opportunity(subject, Outcome::missed);
    o.opened = begin;
    std::uint32_t certain = 0;
    std::uint32_t possible = 0;
    Truth doubt = Truth::no;
    for (auto next = hits_from(begin); next != hits_.end(); ++next) {
        const Hit& hit = *next;
        if (hit.at >= end || !stretch.reaches(hit.at)) break;
        ++possible;
        if (hit.truth != Truth::yes) {
            doubt = doubt | hit.truth;
            continue;
        }
        if (++certain != demand.times) continue;
        o.outcome = Outcome::met;
        o.closed = hit.at;
        o.closed_by = hit.event;
        break;
    }
    const bool runs = !to_its_end && stretch.running;
    if (!to_its_end && !runs && known(stretch.next)) return;  // not whole
    if (o.outcome != Outcome::met) {
        if (runs) {
            o.outcome = Outcome::pending;
        } else if (!to_its_end) {  // the stretch turned unknown
            o.outcome = Outcome::not_assessable;
            o.closed = stretch.end;
            doubt = stretch.next;
        } else {
            if (possible >= demand.times) o.outcome = Outcome::not_assessable;
            o.closed = end;
        }
    }
    const Limit limit{end, end, true};
    conclude(subject, o, doubt, &limit, runs, true);
}

// All that an episode may ask for, by whole years, so that the zone is seldom asked.
const std::vector<std::pair<Instant, Instant>>& Judging::periods(Period period, EditionId edition) {
    constexpr std::int32_t most_years = 100;
    Periods& kept = periods_[period == Period::calendar_day ? 0 : edition == none ? 1 : 1 + edition];
    Instant from = history_->start();
    if (history_->insertion_known()) from = std::min(from, history_->insertion());
    // A night shift of the day before, too.
    std::int32_t first = add_days(plan_.zone.date_of(from), -1).year;
    std::int32_t last = plan_.zone.date_of(horizon_).year;
    if (kept.first_year <= first && last <= kept.last_year) return kept.list;
    const bool joined = kept.first_year <= kept.last_year &&
                        std::max(last, kept.last_year) - std::min(first, kept.first_year) < most_years;
    if (joined) {
        first = std::min(first, kept.first_year);
        last = std::max(last, kept.last_year);
    }
    kept.first_year = first;
    kept.last_year = last;
    kept.list = find_periods(period, edition, {first, 1, 1}, {last, 12, 31});
    return kept.list;
}

std::vector<std::pair<Instant, Instant>> Judging::find_periods(Period period, EditionId edition,
                                                               CivilDate first, CivilDate last) const {
    std::vector<std::pair<Instant, Instant>> list;
    const auto keep = [&](Instant begin, Instant end) {
        if (begin < end) list.emplace_back(begin, end);
    };
    for (std::int32_t day = 0; day <= days_between(first, last); ++day) {
        const CivilDate date = add_days(first, day);
        if (period == Period::calendar_day) {
            keep(plan_.zone.begin_of(date), plan_.zone.begin_of(add_days(date, 1)));
            continue;
        }
        for (const Shift& shift : plan_.policy.shifts) {
            if (shift.edition != edition) continue;
            const auto [begin, end] = shift_on(shift, date);
            keep(begin, end);
        }
    }
    std::sort(list.begin(), list.end());
    return list;
}

std::pair<Instant, Instant> Judging::shift_on(const Shift& shift, CivilDate date) const {
    return {plan_.zone.at(date, shift.from),
            plan_.zone.at(shift.to <= shift.from ? add_days(date, 1) : date, shift.to)};
}

}  // namespace linelaw::runtime::engine
