// What every form of clause shares: when it applies, what answers it, and how an outcome is concluded with
// its exceptions and its ladder. See judging.hpp.
#include "runtime/engine/judging.hpp"

#include <algorithm>
#include <bit>
#include <numeric>
#include <tuple>

namespace linelaw::runtime::engine {

Judging::Judging(const Plan& plan, EngineOptions options)
    : plan_(plan),
      options_(options),
      periods_(1 + std::max<std::size_t>(1, plan.editions.size())),
      kept_stretches_(plan.stretches),
      opened_in_(plan.clauses.size()),
      kept_hits_(plan.pattern_lists.size()),
      static_truths_(plan.nodes.size()) {}

void Judging::judge(const History& history, Instant horizon) {
    history_ = &history;
    horizon_ = horizon;
    ++episodes_;
    judged_.clear();
    noted_.clear();
    members_.clear();
    stretches_.clear();
    starts_.clear();
    turns_.clear();
    handed_over_.clear();
    truth_stretches_.clear();
    if (horizon < history.start()) return;  // not yet inserted, or not yet in view
    for (const bool even_after_removal : {false, true})
        line_lives_[even_after_removal ? 1 : 0] = find_life(none, even_after_removal);
    note_governed();
    judge_clauses();
    run_ladders();
    judge_bundles();
    put_in_order();
}

// Those that something here may open: their parts' count, time, or events.
void Judging::judge_clauses() {
    for (PartKindId part = 0; part < plan_.clauses_of_part.size(); ++part)
        if (!history_->count_known(part))
            for (ClauseId id : plan_.clauses_of_part[part]) count_of_parts_unknown(id);
    opened_.clear();
    for (const Audience& audience : plan_.audiences)
        if (reached(audience))
            opened_.insert(opened_.end(), audience.clauses.begin(), audience.clauses.end());
    // What an older edition leaves open is known before the next one is judged.
    if (!plan_.editions.empty()) std::sort(opened_.begin(), opened_.end());
    for (ClauseId id : opened_) judge_clause(id);
    opened_.clear();
    for (EventKindId kind : history_->kinds()) {
        opened_.insert(opened_.end(), plan_.clauses_of_kind[kind].begin(), plan_.clauses_of_kind[kind].end());
        for (ClauseId id : plan_.shared_clauses[kind])
            if (std::exchange(opened_in_[id], episodes_) != episodes_) opened_.push_back(id);
    }
    constexpr std::size_t ahead = 4;
    for (std::size_t i = 0; i < opened_.size(); ++i) {
        if (i + ahead < opened_.size()) __builtin_prefetch(&plan_.briefs[opened_[i + ahead]]);
        judge_clause(opened_[i]);
    }
}

bool Judging::reached(const Audience& audience) const {
    return std::all_of(audience.conditions.begin(), audience.conditions.end(),
                       [&](NodeId node) { return static_truth(node) != Truth::no; });
}

void Judging::answer(Judgement& out) {
    out.opportunities.clear();
    for_judged([&](const Judged& judged) { out.opportunities.push_back(judged.opportunity); });
    put_members(out);
}

// By opening: dealt into slots of time, about as many as there are opportunities, then ordered in each.
void Judging::put_in_order() {
    const Instant first = history_->start();
    const auto length = static_cast<std::uint64_t>(horizon_ - first);
    const int shift = std::bit_width(length / (2 * noted_.size() + 1));
    const auto slot = [&](const Turn& turn) {
        return static_cast<std::size_t>(std::clamp(turn.opened, first, horizon_) - first) >> shift;
    };
    turns_before_.assign((length >> shift) + 2, 0);
    for (const Turn& turn : noted_) ++turns_before_[slot(turn) + 1];
    std::partial_sum(turns_before_.begin(), turns_before_.end(), turns_before_.begin());
    turns_.resize(noted_.size());
    for (const Turn& turn : noted_) turns_[turns_before_[slot(turn)]++] = turn;
    std::uint32_t begin = 0;  // each slot's count now stands at its end
    for (const std::uint32_t end : turns_before_) {
        if (end - begin > 1) order_slot(std::span(turns_).subspan(begin, end - begin));
        begin = end;
    }
}

namespace {

// By insertion where they are few, as in nearly every slot: what one event opened, mostly in order already.
template <typename Item, typename Before>
void sort_mostly_few(std::span<Item> items, Before before) {
    constexpr std::size_t few = 16;
    if (items.size() > few) return std::sort(items.begin(), items.end(), before);
    for (std::size_t i = 1; i < items.size(); ++i) {
        if (!before(items[i], items[i - 1])) continue;
        const Item moved = items[i];
        std::size_t to = i;
        for (; to > 0 && before(moved, items[to - 1]); --to) items[to] = items[to - 1];
        items[to] = moved;
    }
}

}  // namespace

// Puts the turns of one slot in order. Of several that opened at one instant each has its number: two flushes
// in one minute, two stretches after one answer. They then stand behind one another.
void Judging::order_slot(std::span<Turn> turns) {
    sort_mostly_few(turns, [](const Turn& a, const Turn& b) {
        if (a.opened != b.opened) return a.opened < b.opened;
        if (a.rank != b.rank) return a.rank < b.rank;
        return a.part != b.part ? a.part < b.part : a.place < b.place;
    });
    const auto alike = [](const Turn& a, const Turn& b) {
        return a.opened == b.opened && a.rank == b.rank && a.part == b.part;
    };
    std::size_t first = 0;  // of the turns that are alike up to here
    for (std::size_t i = 1; i < turns.size(); ++i) {
        if (alike(turns[i], turns[first]))
            number(turns.subspan(first, i - first), judged_[turns[i].place].opportunity);
        else
            first = i;
    }
}

void Judging::number(std::span<const Turn> before, Opportunity& o) {
    for (std::size_t i = before.size(); i-- > 0;) {
        const Opportunity& last = judged_[before[i].place].opportunity;
        if (last.origin != o.origin || last.item != o.item || last.step != o.step) continue;
        o.nth = last.nth + 1;
        return;
    }
}

void Judging::judge_clause(ClauseId id) {
    const ClauseBrief& brief = plan_.briefs[id];
    if (brief.edition != none && !has_day_in_view(brief.edition)) return;
    if (brief.for_each == none) {
        if (!brief.applies_always)
            for (NodeId node : plan_.clauses[id].applies)
                if (plan_.nodes[node].is_static && static_truth(node) == Truth::no) return;
        return judge_subject(subject_of(id, none, line_life(brief.even_after_removal)));
    }
    if (!history_->count_known(brief.for_each)) return;
    for (PartIndex p = 0; p < history_->parts().size(); ++p)
        if (history_->parts()[p].kind == brief.for_each)
            judge_subject(subject_of(id, p, find_life(p, brief.even_after_removal)));
}

void Judging::count_of_parts_unknown(ClauseId id) {
    const ClauseBrief& brief = plan_.briefs[id];
    const Subject subject = subject_of(id, none, line_life(brief.even_after_removal));
    const std::optional<Instant> from = speaks_from(subject);
    if (!from) return;
    Opportunity& o = opportunity(subject, Outcome::not_assessable);
    o.opened = *from;
    o.closed = o.opened;
    conclude(subject, o, history_->count_unknown_because(brief.for_each));
}

void Judging::judge_subject(const Subject& subject) {
    switch (subject.brief->triggered) {
        case TriggerKind::at:
        case TriggerKind::before:
            return at_trigger_events(subject);
        case TriggerKind::after:
            return responses(subject);
        case TriggerKind::once:
            return once(subject);
        case TriggerKind::stretch:
            break;
    }
    if (subject.brief->demands<Forbid>()) return forbid(subject);
    const Demand& demand = *subject.demand;
    if (const auto* every = std::get_if<AtLeastEvery>(&demand)) return at_least_every(subject, *every);
    if (const auto* each = std::get_if<EachPeriod>(&demand)) return each_period(subject, *each);
    if (const auto* pairs = std::get_if<NoMoreOftenThan>(&demand)) return no_more_often(subject, *pairs);
    if (const auto* most = std::get_if<AtMostTimes>(&demand)) return at_most_times(subject, *most);
}

Life Judging::find_life(PartIndex part, bool even_after_removal) const {
    const History& h = *history_;
    Life life;
    life.start = {at(h.start()), h.start_index(), h.start_index(), none, part};
    std::uint32_t ended_by = h.removal();
    if (part != none) {
        const Part& p = h.parts()[part];
        if (p.begun_by != none) {
            life.start = just_after_event(h, p.begun_by, part);
            life.from_start = false;
            life.first_event = h.group_of(p.begun_by).first;
        }
        ended_by = p.ended_by;
    }
    if (even_after_removal && ended_by == h.removal()) ended_by = none;
    life.running = ended_by == none;
    life.end = life.running ? horizon_ : h.episode().events[ended_by].at;
    if (!life.running) life.last_event = h.group_of(ended_by).last - 1;
    return life;
}

// ---- when a clause applies

Truth Judging::static_truth(NodeId node) const {
    KeptTruth& kept = static_truths_[node];
    if (kept.episode != episodes_) kept = {episodes_, Asking(*history_, Place{}).truth(node)};
    return kept.truth;
}

Answer Judging::ask(NodeId node, const Place& place) const {
    if (plan_.nodes[node].is_static) return {static_truth(node), never};
    Asking asking(*history_, place);
    const Truth truth = asking.truth(node);
    return {truth, asking.wake()};
}

Answer Judging::find_applies(ClauseId id, const Place& place, std::uint32_t event, Terms terms) const {
    Answer all{Truth::yes, never};
    const ClausePlan& plan = plan_.clauses[id];
    const EditionId edition = plan_.briefs[id].edition;
    if (edition != none && !governs(edition, place, terms, all.wake)) return {Truth::no, all.wake};
    for (NodeId node : plan.applies) {
        const Answer one = ask(node, place);
        all = {all.truth & one.truth, std::min(all.wake, one.wake)};
        if (all.truth == Truth::no) return all;
    }
    if (place.scope != none && history_->parts()[place.scope].perhaps_ended_by < place.before)
        all.truth = all.truth & Truth::unknown;
    for (ClauseId over : plan.overriders) {
        all.truth = all.truth & !overrides(over, id, place, event, terms, all.wake);
        if (all.truth == Truth::no) return all;
    }
    return all;
}

Truth Judging::overrides(ClauseId over, ClauseId under, const Place& place, std::uint32_t event, Terms terms,
                         Moment& wake) const {
    const ClauseBrief& brief = plan_.briefs[over];
    if (!brief.even_after_removal && history_->removal() < place.before) return Truth::no;
    if (brief.at_events() && event == none) return Truth::no;
    const auto for_part = [&](PartIndex part) {
        Place there = place;
        there.scope = part;
        const Truth asked =
            brief.at_events() ? history_->matches_any(brief.trigger, event, part) : Truth::yes;
        if (asked == Truth::no) return Truth::no;
        const Answer answer = applies(over, there, event, terms);
        wake = std::min(wake, answer.wake);
        return asked & answer.truth;
    };
    if (brief.for_each == none) return for_part(none);
    if (brief.for_each == plan_.briefs[under].for_each && place.scope != none) return for_part(place.scope);
    Truth some = Truth::no;
    if (!history_->count_known(brief.for_each))
        some = history_->count_unknown_because(brief.for_each) &
               (brief.at_events() ? history_->matches_any(brief.trigger, event, none) : Truth::yes);
    for (PartIndex p = 0; p < history_->parts().size() && some != Truth::yes; ++p) {
        if (history_->parts()[p].kind != brief.for_each) continue;
        const Truth alive = history_->alive(p, place.before);
        if (alive != Truth::no) some = some | (alive & for_part(p));
    }
    return some;
}

// The stretches over which the clause applies, or may apply, in order; those without duration left out. Found
// once for all clauses that share them. Valid until the next call.
std::span<const TruthStretch> Judging::stretches_of(const Subject& subject) {
    const std::uint32_t shared = subject.brief->stretches;
    const auto in = [&](std::size_t first, std::size_t count) {
        return std::span<const TruthStretch>(truth_stretches_).subspan(first, count);
    };
    if (shared != none && kept_stretches_[shared].episode == episodes_)
        return in(kept_stretches_[shared].first, kept_stretches_[shared].count);
    const std::size_t first = truth_stretches_.size();
    find_stretches(subject);
    const std::size_t count = truth_stretches_.size() - first;
    if (shared != none) kept_stretches_[shared] = {episodes_, first, count};
    return in(first, count);
}

void Judging::find_stretches(const Subject& subject) {
    const Life& life = subject.life;
    TruthStretch current;
    bool begun = false;
    const Terms terms = subject.brief->carried_on ? Terms::carried_on : Terms::in_force;
    const auto end_current = [&](Instant end, bool running, bool over_at_end, Truth next) {
        current.end = end;
        current.running = running;
        current.over_at_end = over_at_end;
        current.next = next;
        if (current.truth != Truth::no && (running || end > current.begin))
            truth_stretches_.push_back(current);
    };
    walk(
        *history_, subject.plan->applies_rests, life.start, life.end, life.running,
        [&](const Place& place) { return applies(subject.id, place, none, terms); },
        [&](const Place& place, Truth truth) {
            const Instant t = instant_of(place.moment);
            const bool same = known(truth) ? truth == current.truth : !known(current.truth);
            if (begun && same) return;
            const bool before_events = place.moment == at(t) && place.before <= history_->before(t);
            if (begun) end_current(t, false, before_events, truth);
            begun = true;
            current = {t, t, truth, false, false, Truth::no, place.moment == life.start.moment};
        });
    if (begun) end_current(life.end, life.running, false, Truth::no);
}

// At an instant, with no event at hand: windows see its events, states do not. What comes at the instant of
// the insertion comes after it.
Place Judging::at_instant(Instant t, PartIndex part) const {
    const std::uint32_t before = history_->before(t);
    return {at(t), t == history_->start() ? std::max(before, history_->start_index()) : before,
            history_->up_to(t), none, part};
}

// Whether a condition held at some moment from one instant to another (exclusive: to just before it). Asked
// as an exception is: at an instant, windows see its events and states do not.
Truth Judging::held_between(const Rests& rests, NodeId condition, PartIndex part, Instant from, Instant to,
                            bool exclusive) const {
    const History& h = *history_;
    const Moment last = exclusive ? just_before(to) : at(to);
    Truth held = Truth::no;
    for (Moment m = std::min(at(from), last); m <= last && held != Truth::yes;) {
        const Instant t = instant_of(m);
        const bool is_instant = m == at(t);
        Place place = at_instant(t, part);
        if (!is_instant) place = place_at(h, m, part);
        const Answer answer = ask(condition, place);
        held = held | answer.truth;
        Moment next = answer.wake;
        const std::uint32_t event = next_event(h, rests, place.before);
        if (event != none) {
            const Instant when = h.episode().events[event].at;
            next = std::min(next, when > t ? at(when) : just_after(when));
        }
        if (next == never) break;
        m = next;
    }
    return held;
}

// ---- answers

// The instants at which some of the events matched, or may have, in order. Found once an episode for all who
// await the same.
void Judging::collect(Run events, PartIndex part, bool in_view) {
    const bool shared = events.count != 0 && part == none && (in_view || !history_->edge());
    KeptHits& kept = shared ? kept_hits_[events.first] : own_hits_;
    if (!shared || kept.episode != episodes_) find_hits(events, part, in_view, kept.hits);
    kept.episode = episodes_;
    hits_ = kept.hits;
}

void Judging::find_hits(Run events, PartIndex part, bool in_view, std::vector<Hit>& hits) const {
    hits.clear();
    const History& h = *history_;
    for (const PatternId* p = plan_.begin(events); p != plan_.end(events); ++p)
        for (const Match& match : h.log(*p)) {
            if (in_view && h.edge() && match.event < h.start_index()) continue;
            const Truth truth = h.in_scope(*p, match, part);
            if (truth == Truth::no) continue;
            hits.push_back({h.episode().events[match.event].at, match.event, match.event, truth, none});
        }
    if (events.count > 1)
        std::sort(hits.begin(), hits.end(), [](const Hit& a, const Hit& b) { return a.event < b.event; });
    std::size_t kept = 0;
    for (const Hit& hit : hits) {
        if (kept == 0 || hits[kept - 1].at != hit.at) {
            hits[kept++] = hit;
            continue;
        }
        hits[kept - 1].add(hit.event, hit.truth);
    }
    hits.resize(kept);
    std::uint32_t certain = none;
    for (std::size_t i = kept; i-- > 0;) {
        if (hits[i].truth == Truth::yes) certain = static_cast<std::uint32_t>(i);
        hits[i].certain = certain;
    }
}

std::span<const Hit>::iterator Judging::hits_from(Instant t) const {
    return std::lower_bound(hits_.begin(), hits_.end(), t,
                            [](const Hit& hit, Instant i) { return hit.at < i; });
}

// The same instant's answer without one event: a trigger does not answer itself. Truth::no where none is
// left.
Hit Judging::without(const Hit& hit, Run events, PartIndex part, std::uint32_t event) const {
    Hit left{hit.at, none, none, Truth::no, none};
    for_matches_at(hit.at, events, part, [&](std::uint32_t e, Truth truth) {
        if (e != event) left.add(e, truth);
    });
    return left;
}

Limit Judging::limit_of(Instant from, const Span& span, const Span& grace) const {
    Limit limit;
    limit.due = limit.limit = add(from, span, plan_.zone);
    limit.exclusive = span.calendar;
    if (grace == Span{}) return limit;
    if (span.calendar && grace.calendar) {  // moves the midnight by so many dates
        const CivilDate date = add_days(add_months(plan_.zone.date_of(limit.due), grace.months), grace.days);
        limit.limit = plan_.zone.begin_of(date);
        return limit;
    }
    limit.limit = add(limit.due, grace, plan_.zone);
    limit.exclusive = false;
    return limit;
}

// Whether events of the clause may lie before what is in view. A part that began in view had none.
bool Judging::may_be_before_view(const Subject& subject) const {
    const Run events = subject.brief->events;
    const bool own = subject.brief->ends_with_part && history_->parts()[subject.part].begun_by != none;
    const bool known_anyway =
        history_->insertion_known() && std::all_of(plan_.begin(events), plan_.end(events), [&](PatternId p) {
            return plan_.patterns[p].kind == plan_.policy.insertion;
        });
    return history_->edge() && !own && !known_anyway;
}

// Whether the span before t reaches into what is not in view.
bool Judging::before_view(const Subject& subject, Instant t, const Span& span) const {
    return may_be_before_view(subject) && t < add(*history_->edge(), span, plan_.zone);
}

Truth Judging::unless(const Subject& subject, const Hit& hit) const {
    if (subject.plan->unless == none) return Truth::no;
    Truth any = Truth::no;
    for_matches_at(hit.at, subject.brief->events, subject.part, [&](std::uint32_t e, Truth) {
        any = any | ask(subject.plan->unless, at_event(*history_, e, subject.part)).truth;
    });
    return any;
}

// ---- concluding

void Judging::conclude(const Subject& subject, Opportunity& o, Truth doubt, const Limit* limit, bool open,
                       bool of_period) {
    if (limit != nullptr) o.due = limit->due, o.limit = limit->limit;
    if (o.outcome == Outcome::not_assessable && doubt == Truth::undocumented &&
        subject.brief->undocumented == UndocumentedCounts::not_met)
        o.outcome = Outcome::not_met;
    if (counts_against(o.outcome)) except(subject, o, limit, of_period);
    if (counts_against(o.outcome)) {
        const bool by_limit = o.outcome == Outcome::late || o.outcome == Outcome::missed;
        start_ladder(subject, subject.brief->otherwise_escalate,
                     by_limit && limit != nullptr ? limit->limit : o.closed.value_or(o.opened),
                     by_limit ? none : o.closed_by, Truth::yes);
    }
    put(2 * subject.id, open, of_period);
}

void Judging::except(const Subject& subject, Opportunity& o, const Limit* limit, bool of_period) {
    const bool over_time = (o.outcome == Outcome::late || o.outcome == Outcome::missed) && limit != nullptr;
    const Instant closed = o.closed.value_or(horizon_);
    const std::uint32_t event = o.closed_by != none                          ? o.closed_by
                                : subject.brief->demands<WithinEitherSide>() ? o.opened_by
                                                                             : none;
    Truth any = Truth::no;
    const Run exceptions = subject.brief->exceptions;
    for (std::uint32_t i = 0; i < exceptions.count; ++i) {
        const auto& [condition, rests] = plan_.exceptions[exceptions.first + i];
        Truth held = Truth::no;
        if (over_time)
            held = held_between(rests, condition, subject.part, of_period ? o.opened : limit->due,
                                limit->limit, limit->exclusive);
        else if (event != none)
            held = ask(condition, at_event(*history_, event, subject.part)).truth;
        else
            held = ask(condition, at_instant(closed, subject.part)).truth;
        any = any | held;
        if (held != Truth::yes) continue;
        o.before_exception = o.outcome;
        o.outcome = Outcome::excused;
        o.exception = i;
        return;
    }
    const bool stands =
        any == Truth::undocumented && subject.brief->undocumented == UndocumentedCounts::not_met;
    if (!known(any) && !stands) o.outcome = Outcome::not_assessable;
}

void Judging::start_ladder(const Subject& subject, LadderId ladder, Instant at, std::uint32_t event,
                           Truth sure) {
    if (ladder == none || sure == Truth::no || at < history_->start()) return;  // or not in view
    starts_.push_back({ladder, at, subject.id, subject.part, event, sure != Truth::yes, sure});
}

}  // namespace linelaw::runtime::engine
