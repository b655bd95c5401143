#include "tests/differential/demands.hpp"

#include <algorithm>

#include "tests/differential/answers.hpp"

namespace linelaw::literal {

using namespace grammar;

namespace {

std::vector<Trigger> event_triggers(const Judging& j) {
    std::vector<Trigger> out;
    for (const Event& e : j.record.events) {
        const Truth kind = is_of_kind(*j.clause.events, e, j.part);
        if (kind == Truth::no) continue;
        const Truth match = both(kind, where_of(*j.clause.events, e, j.book, j.record, j.part));
        const Truth there = both(match, applies_at(j.book, j.clause, j.record, j.part, e));
        if (there != Truth::no)
            out.push_back(
                {e.position.t, there, &e, j.record.left_edge && e.position.t < *j.record.left_edge});
    }
    return out;
}

// §3 "the moment at which COND becomes true opens an opportunity (at insertion, if it holds there)"; §4.8.
std::vector<Trigger> once_triggers(const Judging& j) {
    std::vector<Trigger> out;
    Truth before = Truth::no;
    for (const Position& p : moments(j.book, j.clause, j.record, j.part)) {
        if (in_place(j.clause, j.record, j.part, p) == Truth::no) break;
        const Truth now = holds(*j.clause.once, at_moment(j.book, j.record, p, j.part));
        const bool turned_true = now == Truth::yes && before != Truth::yes;
        const bool turned_unknown = !is_known(now) && before == Truth::no;
        before = now;
        if (!turned_true && !turned_unknown) continue;
        const Truth there = both(now, applies(j.book, j.clause, j.record, j.part, p));
        const bool part_in_view = j.part != nullptr && j.part->begin != nullptr;
        const bool at_edge = j.record.left_edge && !part_in_view && p == j.record.start();
        if (there != Truth::no) out.push_back({p.t, there, nullptr, at_edge && there == Truth::yes});
    }
    return out;
}

}  // namespace

std::vector<Trigger> triggers(const Judging& j) {
    if (j.clause.trigger == Clause::Trigger::stretch) return {};
    return j.clause.trigger == Clause::Trigger::once ? once_triggers(j) : event_triggers(j);
}

namespace {

// ---- pairs, windows, periods

// §4.8 "A pair counts … when the clause applies just after the first and just before the second event".
void judge(const Judging& j, const NoMoreOftenThan& demand, std::vector<Opening>& out) {
    const Span shortest = span_of(demand.shortest);
    const auto list = answers(j, demand.events);
    for (std::size_t i = 0; i + 1 < list.size(); ++i) {
        const Answer& first = list[i];
        const Answer& second = list[i + 1];
        const Position after{first.position.t, 6};
        const Truth there = both(applies(j.book, j.clause, j.record, j.part, after),
                                 applies(j.book, j.clause, j.record, j.part, second.position));
        if (there == Truth::no) continue;
        const Instant bound = j.book.zone.add(first.position.t, shortest);
        Truth early = second.position.t < bound ? negate(unless_of(j, demand.unless, second)) : Truth::no;
        const Truth certain = both(both(first.truth, second.truth), there);
        Opening o = opening(j, first.position.t, early == Truth::yes ? "early" : "met", second.position.t);
        if (certain != Truth::yes || !is_known(early)) {
            o.row.outcome = "not_assessable";
            o.why = certain == Truth::yes ? early : is_known(early) ? certain : worse(certain, early);
        }
        o.row.due = bound;
        o.event = second.event;
        out.push_back(o);
    }
}

// §3 "each EVENT: not met if it is beyond the Nth in the D up to it"; §4.1 the event at hand counts here.
void judge(const Judging& j, const AtMostTimes& demand, std::vector<Opening>& out) {
    const Span window = span_of(demand.in);
    const int most = static_cast<int>(read_decimal(demand.times.text)->over);
    const auto list = answers(j, demand.events);
    for (const Answer& a : list) {
        const Truth there = applies_at(j.book, j.clause, j.record, j.part, *a.events.front());
        if (there == Truth::no) continue;
        int certain = 0;
        int possible = 0;
        Truth why = Truth::yes;
        for (const Answer& s : list) {
            if (!within(j.book.zone, s.position.t, a.position.t, window)) continue;
            ++possible;
            if (s.truth == Truth::yes)
                ++certain;
            else
                why = both(why, s.truth);
        }
        if (reaches_before_view(j, demand.events, a.position.t, window)) {
            possible = most + 1;
            why = Truth::unknown;
        }
        const Truth sure = both(there, a.truth);
        Opening o = opening(j, a.position.t, certain > most ? "not_met" : "met", a.position.t);
        if (sure != Truth::yes || (certain <= most && possible > most)) {
            o.row.outcome = "not_assessable";
            o.why = sure == Truth::yes ? why : is_known(why) ? sure : worse(sure, why);
        }
        o.event = a.event;
        out.push_back(o);
    }
}

}  // namespace

// §4.1 "Shifts and calendar days are [start, end)".
std::vector<Period> periods(const Book& book, grammar::Period kind, Instant from, Instant until) {
    std::vector<Period> out;
    const date::local_days last = book.zone.date_of(until) + date::days(1);
    for (date::local_days day = book.zone.date_of(from) - date::days(2); day <= last; day += date::days(1)) {
        if (kind == grammar::Period::calendar_day)
            out.push_back({book.zone.begin_of(day), book.zone.begin_of(day + date::days(1))});
        else
            for (const ShiftItem* shift : book.shifts) {
                const auto clock = [](const TimeOfDay& t) {
                    return t.hour * one_hour + t.minute * one_minute;
                };
                const Instant begin = clock(shift->from);
                const Instant end = clock(shift->to);
                out.push_back(
                    {book.zone.at(day, begin), book.zone.at(end <= begin ? day + date::days(1) : day, end)});
            }
    }
    out.erase(std::remove_if(out.begin(), out.end(),
                             [&](const Period& p) { return p.end <= from || p.start >= until; }),
              out.end());
    return out;
}

namespace {

// "each period that the clause applied through, whole: met, missed; one still running at the horizon:
// pending".
void judge_period(const Judging& j, const Stretch& s, const Period& p, int times,
                  const std::vector<Answer>& list, std::vector<Opening>& out) {
    const Instant h = j.record.horizon;
    const bool running = p.end > h;
    const bool through = s.ended ? s.end.t >= p.end : true;
    if (p.start >= h) return;
    // §4.8 "A stretch that turns unknown ends what is open as `not assessable`".
    const bool turns_unknown = !through && !is_known(s.then) && p.start < s.end.t;
    if (!through && !turns_unknown) return;
    if (s.begin.t > p.start) {
        if (s.at_edge && !turns_unknown)
            out.push_back(unknown_opening(j, s.begin.t, s.begin.t, Truth::unknown));
        return;
    }
    int certain = 0;
    int possible = 0;
    Truth why = Truth::yes;
    std::optional<Instant> reached_at;
    for (const Answer& a : list) {
        if (a.position.t < p.start || a.position.t >= p.end) continue;
        if (turns_unknown && !(a.position < s.end)) continue;
        ++possible;
        if (a.truth == Truth::yes && ++certain == times) reached_at = a.position.t;
        if (a.truth != Truth::yes) why = both(why, a.truth);
    }
    Opening o = opening(j, p.start, "missed", p.end);
    o.period = true;
    with_limit(o, {p.end, p.end, true});
    if (certain >= times) {
        o.row.outcome = "met";
        o.row.closed = reached_at;
    } else if (turns_unknown) {
        o.row.outcome = "not_assessable";
        o.row.closed = s.end.t;
        o.why = s.then;
    } else if (running) {
        o.row.outcome = "pending";
        o.row.closed.reset();
    } else if (possible >= times) {
        o.row.outcome = "not_assessable";
        o.why = why;
    }
    out.push_back(o);
}

void judge(const Judging& j, const EachPeriod& demand, std::vector<Opening>& out) {
    const int times = demand.times ? static_cast<int>(read_decimal(demand.times->text)->over) : 1;
    const auto list = answers(j, demand.events);
    for (const Stretch& s : stretches(j.book, j.clause, j.record, j.part)) {
        if (s.truth != Truth::yes) {
            out.push_back(unknown_opening(j, s.begin.t, s.begin.t, s.truth));
            continue;
        }
        for (const Period& p : periods(j.book, demand.period, s.begin.t, j.record.horizon + 1))
            judge_period(j, s, p, times, list, out);
    }
}

// ---- judged at an event

Opening judged(const Judging& j, const Trigger& t, Truth truth) {
    Opening o = opening(j, t.at, truth == Truth::yes ? "met" : "not_met", t.at);
    o.event = o.asked_by = t.event;
    if (is_known(truth)) return o;
    o.row.outcome = "not_assessable";
    o.why = truth;
    return o;
}

template <typename Judge>
void at_each(const Judging& j, std::vector<Opening>& out, const Judge& truth_at) {
    for (const Trigger& t : triggers(j)) {
        Opening o = judged(j, t, t.truth == Truth::yes ? truth_at(*t.event) : t.truth);
        out.push_back(o);
    }
}

void judge(const Judging& j, const Holds& demand, std::vector<Opening>& out) {
    at_each(j, out,
            [&](const Event& e) { return holds(demand.condition, at_event(j.book, j.record, e, j.part)); });
}

// §3 "met if every one is recorded, else not met"; §4.8 a value set aside is not assessable.
void judge(const Judging& j, const Document& demand, std::vector<Opening>& out) {
    at_each(j, out, [&](const Event& e) {
        Truth all = Truth::yes;
        for (const Name& a : demand.attributes) {
            const auto dot = a.text.find('.');
            const Value v = attribute_of(e, dot == std::string::npos ? a.text : a.text.substr(dot + 1));
            all = both(all, v.kind == Value::Kind::missing  ? Truth::no
                            : v.kind == Value::Kind::hidden ? Truth::unknown
                                                            : Truth::yes);
        }
        return all;
    });
}

// §4.8 "Steps with times are ordered by time, equal is in order; else by their place".
// A time set aside may be any: `possibly` in order, and not for certain.
bool in_order(const Mark& a, const Mark& b, bool possibly) {
    if (a.time_hidden || b.time_hidden) return possibly;
    const auto time = [](const Mark& m) { return m.at ? m.at : m.from ? m.from : m.to; };
    const auto ta = time(a);
    const auto tb = time(b);
    return ta && tb ? *ta <= *tb : a.place < b.place;
}

// Marks, all different, one for each listed step from `taken` on, in order after those `taken`. `possibly`: a
// step set aside may be any.
bool follows(const FollowSteps& demand, const std::vector<Mark>& marks, bool possibly,
             std::vector<const Mark*>& taken) {
    if (taken.size() == demand.steps.size()) return true;
    for (const Mark& m : marks) {
        if (m.step.empty() ? !possibly : m.step != demand.steps[taken.size()].text) continue;
        const bool fits = std::all_of(taken.begin(), taken.end(), [&](const Mark* before) {
            return before != &m && (!demand.in_order || in_order(*before, m, possibly));
        });
        if (!fits) continue;
        taken.push_back(&m);
        if (follows(demand, marks, possibly, taken)) return true;
        taken.pop_back();
    }
    return false;
}

void judge(const Judging& j, const FollowSteps& demand, std::vector<Opening>& out) {
    at_each(j, out, [&](const Event& e) {
        if (e.marks.empty()) return Truth::missing;
        const auto followed = [&](bool possibly) {
            std::vector<const Mark*> taken;
            return follows(demand, e.marks, possibly, taken);
        };
        return followed(false) ? Truth::yes : followed(true) ? Truth::unknown : Truth::no;
    });
}

// §3 "met if one of EVENTS came earlier (in that window), else not met".
void judge(const Judging& j, const HaveHad& demand, std::vector<Opening>& out) {
    at_each(j, out, [&](const Event& e) {
        return occurred(demand.events, demand.window ? *demand.window : Window{},
                        at_event(j.book, j.record, e, j.part));
    });
}

// §4.8 "`within D either side`: met; no longer due if the line ended by T + D; pending while T + D ≥ h; else
// not met".
Opening either_side(const Judging& j, const WithinEitherSide& demand, const Trigger& t) {
    const Span span = span_of(demand.within);
    const Zone& zone = j.book.zone;
    const Instant due = zone.add(t.at, span);
    Opening o = judged(j, t, Truth::yes);
    o.row.due = o.row.limit = due;
    std::optional<Truth> uncertain;
    for (const Event& e : j.record.events) {
        if (&e == t.event) continue;
        const bool near = within(zone, e.position.t, t.at, span) || within(zone, t.at, e.position.t, span);
        const Truth match = near ? matches(demand.events, e, j.book, j.record, j.part) : Truth::no;
        if (match == Truth::no) continue;
        const Instant at = std::max(t.at, e.position.t);
        if (match == Truth::yes) {
            o.row.closed = at;
            return o;
        }
        uncertain = uncertain ? worse(*uncertain, match) : match;
    }
    const bool reaches = reaches_before_view(j, demand.events, t.at, span);
    const std::optional<Instant> end = end_of_waiting(j, demand.events);
    const bool ended = end && *end <= due && *end <= j.record.horizon;
    if (uncertain || (reaches && (ended || due < j.record.horizon))) {
        o.row.outcome = "not_assessable";
        o.why = reaches ? Truth::unknown : *uncertain;
        o.row.closed = ended && !uncertain ? std::max(*end, t.at) : std::min(due, j.record.horizon);
    } else if (ended) {
        o.row.outcome = "no_longer_due";
        o.row.closed = std::max(*end, t.at);
    } else if (due >= j.record.horizon) {
        o.row.outcome = "pending";
        o.row.closed.reset();
    } else {
        o.row.outcome = "not_met";
        o.row.closed = due;
    }
    return o;
}

void judge(const Judging& j, const WithinEitherSide& demand, std::vector<Opening>& out) {
    for (const Trigger& t : triggers(j)) {
        out.push_back(t.truth == Truth::yes ? either_side(j, demand, t) : judged(j, t, t.truth));
    }
}

// §3 "each EVENT while the clause applies: not met, or met where COND is false".
void judge(const Judging& j, const Forbid& demand, std::vector<Opening>& out) {
    for (const Event& e : j.record.events) {
        const Truth kind = is_of_kind(demand.events, e, j.part);
        if (kind == Truth::no) continue;
        const Truth there = both(kind, applies_at(j.book, j.clause, j.record, j.part, e));
        if (there == Truth::no) continue;
        const Truth where = where_of(demand.events, e, j.book, j.record, j.part);
        const Truth verdict = there == Truth::yes ? negate(where)
                              : is_known(where)   ? there
                                                  : worse(there, where);
        out.push_back(judged(j, {e.position.t, there, &e, false}, verdict));
    }
}

void judge(const Judging&, const LeavesToJudgement&, std::vector<Opening>&) {}

}  // namespace

std::vector<Opening> open_all(const Judging& j) {
    std::vector<Opening> out;
    if (j.clause.demand == nullptr) return out;
    if (j.clause.must_not) {
        judge(j, Holds{*j.clause.must_not}, out);
    } else {
        std::visit([&](const auto& demand) { judge(j, demand, out); }, j.clause.demand->node);
    }
    for (Opening& o : out) settle(j, o);
    return out;
}

// ---- §4.6 exceptions

namespace {

Truth excepted(const Judging& j, const Ask& ask) {
    Truth out = Truth::no;
    for (const Expression* e : j.clause.exceptions) out = either(out, holds(*e, ask));
    return out;
}

Ask at_instant(const Judging& j, Position p) {
    return {&j.book, &j.record, p, true, nullptr, false, j.part};
}

// "it suffices that it held at some moment from due to limit"; of a period, at some moment of it.
Truth excepted_between(const Judging& j, Instant from, Instant to, bool exclusive) {
    std::vector<Instant> inside = {from};
    Instant before = from;  // the newest candidate before `to`, for an exclusive bound
    bool any_before = false;
    for (const Instant t : instants(j.book, j.clause, j.record)) {
        if (t < j.record.start().t || t > j.record.horizon) continue;
        if (t > from && t < to) inside.push_back(t);
        if (t < to && (!any_before || t > before)) {
            before = t;
            any_before = true;
        }
    }
    Truth out = Truth::no;
    if (exclusive && from >= to) return excepted(j, at_instant(j, {before, 6}));
    for (const Instant t : inside) {
        out = either(out, excepted(j, at_instant(j, {t, 2})));
        if (t < to) out = either(out, excepted(j, at_instant(j, {t, 6})));
    }
    if (!exclusive && to > from) out = either(out, excepted(j, at_instant(j, {to, 2})));
    return out;
}

Truth exception_of(const Judging& j, const Opening& o) {
    if (o.row.outcome == "not_met" || o.row.outcome == "early") {
        if (o.event == nullptr) return excepted(j, at_instant(j, {*o.row.closed, 2}));
        Ask ask = at_event(j.book, j.record, *o.event, j.part);
        ask.bare = false;
        return excepted(j, ask);
    }
    if (o.period) return excepted_between(j, o.row.opened, *o.row.limit, true);
    return excepted_between(j, *o.row.due, *o.row.limit, o.exclusive);
}

}  // namespace

void settle(const Judging& j, Opening& o) {
    std::string& outcome = o.row.outcome;
    if (outcome == "not_assessable" && o.why == Truth::missing && j.clause.missing_counts)
        outcome = "not_met";
    const bool against =
        outcome == "late" || outcome == "missed" || outcome == "early" || outcome == "not_met";
    if (!against || j.clause.exceptions.empty()) return;
    const Truth exception = exception_of(j, o);
    if (exception == Truth::yes) outcome = "excused";
    if (is_known(exception) || (exception == Truth::missing && j.clause.missing_counts)) return;
    outcome = "not_assessable";
    o.why = exception;
}

}  // namespace linelaw::literal
