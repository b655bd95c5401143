// Ladders (language.md §4.7): who is called, in what order, until somebody acknowledges, and what may not
// happen meanwhile. One run of a ladder at a time.
#include <algorithm>
#include <limits>
#include <tuple>

#include "runtime/engine/judging.hpp"

namespace linelaw::runtime::engine {

void Judging::run_ladders() {
    for (std::uint32_t i = 0; i < starts_.size(); ++i) starts_[i].place = i;
    const auto line = [this](const LadderStart& start) { return plan_.ladders[start.ladder].line; };
    // A clause that carries on another edition's stands where that one does.
    const auto clause = [this](const LadderStart& start) {
        ClauseId id = start.clause;
        while (plan_.clauses[id].carries_on != none) id = plan_.clauses[id].carries_on;
        return id;
    };
    std::sort(starts_.begin(), starts_.end(), [&](const LadderStart& a, const LadderStart& b) {
        if (line(a) != line(b)) return line(a) < line(b);
        const ClauseId x = clause(a);
        const ClauseId y = clause(b);
        return std::tie(a.at, a.unknown, x, a.part, a.event, a.place) <
               std::tie(b.at, b.unknown, y, b.part, b.event, b.place);
    });
    LadderId before = none;
    Instant open_until = 0;
    bool is_open = false;
    for (const LadderStart& start : starts_) {
        if (line(start) != before) is_open = false;
        before = line(start);
        if (start.at > horizon_ || (is_open && start.at <= open_until)) continue;  // joins the open run
        if (!start.unknown) {
            open_until = run_ladder(start);
            is_open = true;
            continue;
        }
        Opportunity& o = ladder_opportunity(start, 0, start.at);
        o.outcome = Outcome::not_assessable;
        o.closed = start.at;
        o.closed_by = start.event;
        conclude_ladder(start, o, start.doubt, false);
    }
}

Opportunity& Judging::ladder_opportunity(const LadderStart& start, std::uint32_t step, Instant opened) {
    Opportunity& o = next_opportunity();
    o.origin = OriginKind::ladder;
    o.item = start.ladder;
    o.step = step;
    o.started_by = start.clause;
    o.opened = opened;
    o.opened_by = step == 0 ? start.event : none;
    name_part(o, start.part);
    return o;
}

void Judging::conclude_ladder(const LadderStart& start, Opportunity& o, Truth doubt, bool open) {
    if (o.outcome == Outcome::not_assessable && doubt == Truth::undocumented &&
        plan_.policy.clauses[start.clause].undocumented == UndocumentedCounts::not_met)
        o.outcome = Outcome::not_met;
    put(2 * start.clause + 1, open, false);
}

// Whether a notification is of one of the step's roles. Before the step begins, one of a role that an earlier
// step names too is that step's.
Truth Judging::notifies(const Ladder& ladder, std::size_t step, Instant begin, std::uint32_t event) const {
    const auto earlier_too = [&](RoleId role) {
        return std::any_of(ladder.steps.begin(), ladder.steps.begin() + step, [&](const LadderStep& earlier) {
            return std::find(earlier.roles.begin(), earlier.roles.end(), role) != earlier.roles.end();
        });
    };
    const std::vector<RoleId>& roles = ladder.steps[step].roles;
    const Event& e = history_->episode().events[event];
    const std::uint32_t slot = plan_.slot(e.kind, plan_.policy.notified);
    const Value value = slot == none ? Value{} : history_->episode().value(e, slot);
    const auto counts = [&](RoleId role) { return e.at >= begin || !earlier_too(role); };
    if (std::none_of(roles.begin(), roles.end(), counts)) return Truth::no;
    if (value.state != Known::known)
        return value.state == Known::undocumented ? Truth::undocumented : Truth::unknown;
    return from_bool(std::any_of(roles.begin(), roles.end(), [&](RoleId role) {
        return plan_.symbol_of_role[role] == static_cast<SymbolId>(value.number) && counts(role);
    }));
}

// The first acknowledgement from an instant on (after it, where told), or none.
std::uint32_t Judging::acknowledgement(Instant from, bool after) const {
    if (plan_.policy.acknowledgement == none) return none;
    const auto& events = history_->events_of(plan_.policy.acknowledgement);
    const auto found = std::lower_bound(events.begin(), events.end(),
                                        after ? history_->up_to(from) : history_->before(from));
    return found == events.end() ? none : *found;
}

void Judging::find_notifications(const Ladder& ladder, std::size_t step, Instant from, Call& call) const {
    if (plan_.policy.notification == none) return;
    const auto& events = history_->events_of(plan_.policy.notification);
    for (auto next = std::lower_bound(events.begin(), events.end(), history_->before(from));
         next != events.end() && call.certain == none; ++next) {
        const Truth notified = notifies(ladder, step, call.start, *next);
        if (notified == Truth::yes)
            call.certain = *next;
        else if (notified != Truth::no && call.uncertain == none)
            call.uncertain = *next;
    }
}

// Answers until when the run is open.
Instant Judging::run_ladder(const LadderStart& start) {
    const Ladder& ladder = plan_.policy.ladders[start.ladder];
    const auto& events = history_->episode().events;
    const auto instant = [&](std::uint32_t event) { return events[event].at; };
    std::vector<Call>& calls = calls_;
    calls.clear();
    Instant begin = start.at;
    Instant awaited = start.at;  // when the next step would start beyond the horizon
    for (std::size_t i = 0; i < ladder.steps.size(); ++i) {
        Call call;
        call.start = begin;
        call.limit = limit_of(begin, ladder.steps[i].within, {});
        find_notifications(ladder, i, start.at, call);
        calls.push_back(call);
        if (i + 1 == ladder.steps.size()) break;
        const bool in_time = call.certain != none && !call.limit.past(instant(call.certain));
        const Instant heard = in_time ? std::max(instant(call.certain), begin) : call.limit.limit;
        const Instant next = add(heard, ladder.steps[i + 1].if_not_acknowledged_within, plan_.zone);
        const std::uint32_t acknowledged = acknowledgement(begin, false);
        if (acknowledged != none && instant(acknowledged) <= next) break;
        if (next > horizon_) {
            awaited = next;
            break;
        }
        begin = next;
    }
    Instant open_until = std::max(awaited, calls.empty() ? start.at : calls.back().limit.limit);
    for (std::uint32_t hold = 0; hold < ladder.holds.size(); ++hold)
        open_until = std::max(open_until, run_hold(start, hold));
    for (std::uint32_t i = 0; i < calls.size(); ++i) conclude_call(start, i, open_until);
    return open_until;
}

void Judging::conclude_call(const LadderStart& start, std::uint32_t step, Instant open_until) {
    const Call& call = calls_[step];
    const auto instant = [&](std::uint32_t event) { return history_->episode().events[event].at; };
    std::uint32_t ended = step == 0 ? none : acknowledgement(call.start, true);
    if (ended != none && instant(ended) > open_until) ended = none;
    const auto counts = [&](std::uint32_t event) {
        return event != none && instant(event) <= open_until &&
               (ended == none || instant(event) <= instant(ended));
    };
    Opportunity& o = ladder_opportunity(start, step, call.start);
    o.due = call.limit.due;
    o.limit = call.limit.limit;
    const auto close = [&](std::uint32_t event, Outcome outcome) {
        o.outcome = outcome;
        o.closed = std::max(instant(event), call.start);
        o.closed_by = event;
    };
    std::uint32_t certain = counts(call.certain) ? call.certain : none;
    std::uint32_t uncertain = counts(call.uncertain) ? call.uncertain : none;
    // As in `within`: an uncertain one is passed over where a certain one comes by the limit.
    if (certain != none && !call.limit.past(instant(certain))) uncertain = none;
    if (uncertain != none && (certain == none || instant(uncertain) < instant(certain))) certain = none;
    const std::uint32_t heard = certain != none ? certain : uncertain;
    if (heard != none) ended = none;
    Truth doubt = Truth::no;
    bool open = false;
    if (ended != none) {
        close(ended, call.limit.past(instant(ended)) ? Outcome::missed : Outcome::no_longer_due);
    } else if (certain != none) {
        close(certain, call.limit.past(instant(certain)) ? Outcome::late : Outcome::met);
    } else if (uncertain != none) {
        close(uncertain, call.limit.past(instant(uncertain)) ? Outcome::missed : Outcome::not_assessable);
        doubt = notifies(plan_.policy.ladders[start.ladder], step, call.start, uncertain);
    } else {
        open = horizon_ <= open_until;
        o.outcome = call.limit.past(horizon_) ? Outcome::missed : Outcome::pending;
        if (o.outcome == Outcome::missed) o.closed = horizon_;
    }
    conclude_ladder(start, o, doubt, open);
}

// `no new E until F`. Answers when the hold ends.
Instant Judging::run_hold(const LadderStart& start, std::uint32_t hold) {
    const LadderPlan& plan = plan_.ladders[start.ladder];
    const auto& events = history_->episode().events;
    const auto step = static_cast<std::uint32_t>(plan_.policy.ladders[start.ladder].steps.size()) + hold;
    const bool line_ended = history_->removal() != none;
    const Instant line_end = line_ended ? std::max(events[history_->removal()].at, start.at) : horizon_;
    std::uint32_t ended_by = none;
    collect(plan.hold_until[hold], none);
    const auto from_start = hits_from(start.at);
    if (from_start != hits_.end() && from_start->certain != none) {
        const Hit& hit = hits_[from_start->certain];
        if (!line_ended || hit.at < line_end) ended_by = hit.event;  // else the hold ends with the line
    }
    const bool running = ended_by == none && !line_ended;
    const Instant end = ended_by != none ? events[ended_by].at : line_end;
    bool any = false;
    collect(plan.hold_events[hold], none);
    for (auto next = hits_from(start.at); next != hits_.end(); ++next) {
        const Hit& hit = *next;
        if (ended_by != none ? hit.at >= end : hit.at > end) break;
        for_matches_at(hit.at, plan.hold_events[hold], none, [&](std::uint32_t e, Truth match) {
            if (e == start.event) return;
            any = true;
            Opportunity& o = ladder_opportunity(start, step, hit.at);
            o.outcome = match == Truth::yes ? Outcome::not_met : Outcome::not_assessable;
            o.closed = hit.at;
            o.opened_by = e;
            o.closed_by = e;
            conclude_ladder(start, o, match, false);
        });
    }
    if (!any) {
        Opportunity& o = ladder_opportunity(start, step, start.at);
        o.opened_by = start.event;
        o.outcome = running ? Outcome::pending : Outcome::met;
        if (!running) o.closed = end;
        o.closed_by = ended_by;
        conclude_ladder(start, o, Truth::no, running);
    }
    return running ? std::numeric_limits<Instant>::max() : end;
}

}  // namespace linelaw::runtime::engine
