#include "tests/differential/demands.hpp"

#include <algorithm>
#include <set>

namespace linelaw::literal {

using namespace grammar;

namespace {

Opening opening(const Judging& j, Instant opened, std::string outcome, std::optional<Instant> closed) {
    Opening o;
    o.clause = j.index;
    o.part = j.part;
    o.row.id = j.clause.id;
    if (j.part != nullptr) o.row.part = j.part->name;
    o.row.opened = opened;
    o.row.outcome = std::move(outcome);
    o.row.closed = closed;
    return o;
}

Opening unknown_opening(const Judging& j, Instant opened, std::optional<Instant> closed, Truth why) {
    Opening o = opening(j, opened, "not_assessable", closed);
    o.why = why;
    return o;
}

void with_limit(Opening& o, const Limit& limit) {
    o.row.due = limit.due;
    o.row.limit = limit.limit;
    o.exclusive = limit.exclusive;
}

// The matching events of one instant, taken together (§4.8 "Matching events of one instant are one answer").
struct Answer {
    Position position;        // of the first of them
    Truth truth = Truth::no;  // yes where one of them is certain
    std::vector<const Event*> events;
    const Event* event = nullptr;  // the first certain one, else the first
};

void put(Answer& a, const Event& e, Truth match) {
    const bool first = a.events.empty();
    if (first || (a.truth != Truth::yes && match == Truth::yes)) a.event = &e;
    a.truth = first                                          ? match
              : a.truth == Truth::yes || match == Truth::yes ? Truth::yes
                                                             : worse(a.truth, match);
    a.events.push_back(&e);
}

std::vector<Answer> answers(const Judging& j, const Events& events) {
    std::vector<Answer> out;
    for (const Event& e : j.record.events) {
        if (j.record.left_edge && e.position.t < *j.record.left_edge) continue;
        const Truth match = matches(events, e, j.book, j.record, j.part);
        if (match == Truth::no) continue;
        if (out.empty() || out.back().position.t != e.position.t)
            out.push_back({e.position, Truth::no, {}, nullptr});
        put(out.back(), e, match);
    }
    return out;
}

// Whether the time D before t reaches into what is not in view.
bool reaches_before_view(const Judging& j, const Events& events, Instant t, const Span& span) {
    return may_have_been_before_view(events, at_moment(j.book, j.record, {t, 2}, j.part)) &&
           t < j.book.zone.add(*j.record.left_edge, span);
}

// `unless` of the matching events of an instant, joined by or.
Truth unless_of(const Judging& j, const std::optional<Box<Expression>>& unless, const Answer& answer) {
    Truth out = Truth::no;
    if (unless)
        for (const Event* e : answer.events)
            out = either(out, holds(**unless, at_event(j.book, j.record, *e, j.part)));
    return out;
}

// §4.1 "Grace is added to the due instant, in its own kind"; §4.8 "A calendar-day limit is past at its
// midnight".
Limit limit_of(const Zone& zone, Instant due, bool calendar, const std::optional<Quantity>& grace) {
    Limit out{due, due, calendar};
    if (!grace) return out;
    const Span span = span_of(*grace);
    if (calendar && span.calendar) {
        out.limit = zone.begin_of(zone.date_of(due) + date::days(span.days));
        return out;
    }
    out.limit = zone.add(due, span);
    out.exclusive = calendar && span.zero();
    return out;
}

Limit limit_from(const Zone& zone, Instant start, const Span& span, const std::optional<Quantity>& grace) {
    return limit_of(zone, zone.add(start, span), span.calendar, grace);
}

}  // namespace

// ---- triggers

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

// ---- §4.3 at least every

namespace {

struct Open {
    Instant a = 0;
    Truth a_is_event = Truth::no;  // yes, no, or why that is uncertain
    bool at_edge = false;
};

class Interval {
  public:
    Interval(const Judging& j, const AtLeastEvery& demand, std::vector<Opening>& out)
        : j_(j),
          demand_(demand),
          every_(span_of(demand.every)),
          answers_(answers(j, demand.events)),
          out_(out) {}

    void judge(const Stretch& s) {
        open_ = start(s);
        for (const Answer& answer : answers_) {
            const bool inside = s.begin <= answer.position && answer.position < s.end;
            if (!inside || (answer.position.t == s.begin.t && !s.at_edge)) continue;
            if (!passed_over(answer, s)) take(answer, s);
        }
        end(s);
    }

  private:
    // "At the start of a stretch one opens at a: the newest matching event at or before the start, if its
    // limit lies after the start; else the start. (`counted anew` makes it the start always.)"
    Open start(const Stretch& s) const {
        Open open{s.begin.t, Truth::no, s.at_edge};
        if (s.at_edge) return open;
        const Answer* newest = nullptr;
        for (const Answer& a : answers_)
            if (a.position.t <= s.begin.t) newest = &a;
        if (newest == nullptr) return open;
        const Instant t = newest->position.t;
        const bool lives_on = limit_from(j_.book.zone, t, every_, demand_.grace).limit > s.begin.t;
        if (t == s.begin.t || (lives_on && !demand_.counted_anew)) return {t, newest->truth, false};
        return open;
    }

    Limit limit() const { return limit_from(j_.book.zone, open_->a, every_, demand_.grace); }

    // What a certain match at the answer's instant would give: met, late, early; nothing where nobody knows.
    std::optional<std::string> outcome_of(const Answer& answer, Truth& why) const {
        const Instant t = answer.position.t;
        if (demand_.shortest && open_->a_is_event != Truth::no &&
            t < j_.book.zone.add(open_->a, span_of(*demand_.shortest))) {
            const Truth early = both(open_->a_is_event, negate(unless_of(j_, demand_.unless, answer)));
            if (early == Truth::yes) return "early";
            if (early != Truth::no) {
                why = early;
                return std::nullopt;
            }
        }
        return limit().past(t) ? "late" : "met";
    }

    // §4.2 "unless a certain match by the limit gives the same outcome in every case".
    bool passed_over(const Answer& answer, const Stretch& s) const {
        if (answer.truth == Truth::yes || open_->at_edge || limit().past(answer.position.t)) return false;
        Truth why = Truth::missing;
        const auto mine = outcome_of(answer, why);
        for (const Answer& later : answers_) {
            if (later.position <= answer.position || later.truth != Truth::yes) continue;
            if (!(later.position < s.end) || limit().past(later.position.t)) return false;
            return mine && mine == outcome_of(later, why);
        }
        return false;
    }

    void close(std::string outcome, Instant at, Truth why, const Event* event) {
        Opening o = opening(j_, open_->a, std::move(outcome), at);
        o.why = why;
        o.event = event;
        if (!open_->at_edge) with_limit(o, limit());
        out_.push_back(o);
    }

    void take(const Answer& answer, const Stretch& s) {
        const Instant t = answer.position.t;
        Truth why = answer.truth;
        if (open_->at_edge) {
            close("not_assessable", t, Truth::unknown, nullptr);
        } else if (answer.truth == Truth::yes) {
            const auto outcome = outcome_of(answer, why);
            close(outcome.value_or("not_assessable"), t, why, answer.event);
        } else {
            close(limit().past(t) ? "missed" : "not_assessable", t, why, answer.event);
        }
        // "an event with which the stretch ends opens none".
        const bool ends_here = s.ended && s.end.t == t;
        open_ = Open{t, answer.truth, false};
        if (ends_here) open_.reset();
    }

    void end(const Stretch& s) {
        if (!open_) return;
        const Instant x = s.ended ? s.end.t : j_.record.horizon;
        if (open_->at_edge && x == open_->a) return;  // known for no time at all
        if (open_->at_edge) return close("not_assessable", x, Truth::unknown, nullptr);
        if (limit().past(x)) return close("missed", x, Truth::no, nullptr);
        if (s.ended && !is_known(s.then)) return close("not_assessable", x, s.then, nullptr);
        close(s.ended ? "no_longer_due" : "pending", x, Truth::no, nullptr);
        if (!s.ended) out_.back().row.closed.reset();
    }

    const Judging& j_;
    const AtLeastEvery& demand_;
    Span every_;
    std::vector<Answer> answers_;
    std::vector<Opening>& out_;
    std::optional<Open> open_;
};

// §4.2 "A stretch over which `for` or `while` is unknown gives one opportunity".
void judge(const Judging& j, const AtLeastEvery& demand, std::vector<Opening>& out) {
    Interval interval(j, demand, out);
    for (const Stretch& s : stretches(j.book, j.clause, j.record, j.part)) {
        if (s.truth == Truth::yes)
            interval.judge(s);
        else
            out.push_back(unknown_opening(j, s.begin.t, s.begin.t, s.truth));
    }
}

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
            o.why = sure != Truth::yes ? sure : why;
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

// ---- §4.4 responses

// "An opportunity whose awaited events all need the line … ends with the line"; §4.8 "Awaited events all of
// the part: the opportunity ends with the part".
std::optional<Instant> end_of_waiting(const Judging& j, const Events& events) {
    bool need_line = true;
    bool all_of_part = j.part != nullptr;
    for (const EventPattern& p : events) {
        const EventKind& k = j.book.kinds.at(p.event.text);
        if (k.name == "removal" || k.after_removal) need_line = false;
        if (j.part != nullptr) {
            const std::string& part = j.part->kind->name;
            if (k.of != part && k.begins != part && k.ends != part) all_of_part = false;
        }
    }
    if (all_of_part && j.part->until.t <= j.record.horizon) return j.part->until.t;
    if (need_line && j.record.removed) return j.record.removed;
    return std::nullopt;
}

// The events that a condition rests on: in its windows, or setting its states (for `once`).
struct KindsIn {
    const Book& book;
    std::set<std::string>& out;
    void add(const Events& events) {
        for (const EventPattern& p : events) {
            out.insert(p.event.text);
            if (p.where) add(**p.where);
        }
    }
    void add(const Window& w) {
        if (w.since) add(*w.since);
    }
    void add(const Box<Expression>& e) { add(*e); }
    void add(const std::vector<Expression>& list) {
        for (const auto& e : list) add(e);
    }
    void add(const Expression& e) {
        std::visit([this](const auto& n) { node(n); }, e.node);
    }
    void node(const Reference& r) {
        const auto dot = r.name.text.find('.');
        const std::string name = dot == std::string::npos ? r.name.text : r.name.text.substr(dot + 1);
        if (const auto term = book.terms.find(r.name.text); term != book.terms.end()) add(*term->second);
        const auto state = book.states.find(name);
        if (state == book.states.end() || (dot != std::string::npos && r.name.text.substr(0, dot) != "state"))
            return;
        for (const auto& [event, attribute] : state->second.sources) out.insert(event);
        add(state->second.item->from);
        add(state->second.item->until);
    }
    void node(const And& x) { add(x.operands); }
    void node(const Or& x) { add(x.operands); }
    void node(const Not& x) { add(x.operand); }
    void node(const Comparison& x) {
        add(x.left);
        add(x.right);
    }
    void node(const OneOf& x) { add(x.left); }
    void node(const Between& x) { add(x.left); }
    void node(const Documented& x) { node(Reference{x.attribute}); }
    void node(const Occurred& x) {
        add(x.events);
        add(x.window);
    }
    void node(const TimeSince& x) { add(x.events); }
    void node(const CountOf& x) {
        add(x.events);
        add(x.window);
    }
    void node(const SumOf& x) {
        out.insert(x.event.text);
        add(x.window);
    }
    void node(const DifferenceOf& x) {
        add(x.left);
        add(x.right);
    }
    void node(const SomePart& x) {
        for (const auto& [name, kind] : book.kinds)
            if (kind.begins == x.part.text || kind.ends == x.part.text) out.insert(name);
        if (x.where) add(*x.where);
    }
    template <typename Other>
    void node(const Other&) {}
};

// "From the trigger at T, due = T + D": or the end of the shift or day. Nothing: in no shift.
std::optional<Limit> response_limit(const Judging& j, const Within& demand, Instant t) {
    if (const auto* q = std::get_if<Quantity>(&demand.within))
        return limit_from(j.book.zone, t, span_of(*q), demand.grace);
    const Until until = std::get<Until>(demand.within);
    if (until == Until::same_calendar_day) {
        const Instant end = j.book.zone.begin_of(j.book.zone.date_of(t) + date::days(1));
        return limit_of(j.book.zone, end, true, demand.grace);
    }
    // §4.8 "`the same shift` is the one that began last, `the next shift` the first to begin after".
    std::optional<Period> found;
    bool in_a_shift = false;
    for (const Period& p : periods(j.book, grammar::Period::shift, t - 72 * one_hour, t + 72 * one_hour)) {
        in_a_shift = in_a_shift || (p.start <= t && t < p.end);
        const bool fits = until == Until::same_shift ? p.start <= t && t < p.end : p.start > t;
        const bool better =
            !found || (until == Until::same_shift ? p.start > found->start : p.start < found->start);
        if (fits && better) found = p;
    }
    if (!found || !in_a_shift) return std::nullopt;
    return limit_of(j.book.zone, found->end, true, demand.grace);
}

// "met by the first matching event in [T, limit] other than the trigger itself, late after; without one by
// the horizon h: pending if h ≤ limit, else missed"; §4.2 for uncertain ones.
Opening respond(const Judging& j, const Within& demand, const Trigger& trigger,
                const std::set<std::string>& own) {
    const auto maybe = response_limit(j, demand, trigger.at);
    if (!maybe) return unknown_opening(j, trigger.at, trigger.at, Truth::unknown);
    const Limit limit = *maybe;
    const std::optional<Instant> end = end_of_waiting(j, demand.events);
    Opening o = opening(j, trigger.at, "pending", std::nullopt);
    with_limit(o, limit);
    const auto close = [&o](std::string outcome, Instant at) {
        o.row.outcome = std::move(outcome);
        o.row.closed = at;
        return o;
    };
    std::vector<Answer> list;
    for (Answer& a : answers(j, demand.events)) {
        if (a.position.t < trigger.at) continue;
        Answer kept{a.position, Truth::no, {}, nullptr};
        for (const Event* e : a.events) {
            if (e == trigger.event) continue;
            if (trigger.event == nullptr && a.position.t == trigger.at && own.count(e->kind->name) != 0)
                continue;
            put(kept, *e, matches(demand.events, *e, j.book, j.record, j.part));
        }
        if (!kept.events.empty() && (!end || kept.position.t <= *end)) list.push_back(kept);
    }
    for (std::size_t i = 0; i < list.size(); ++i) {
        const Instant t = list[i].position.t;
        o.event = list[i].event;
        if (list[i].truth == Truth::yes) return close(limit.past(t) ? "late" : "met", t);
        if (limit.past(t)) return close("missed", t);
        const bool settled =
            std::any_of(list.begin() + static_cast<std::ptrdiff_t>(i), list.end(),
                        [&](const Answer& a) { return a.truth == Truth::yes && !limit.past(a.position.t); });
        o.why = list[i].truth;
        if (!settled) return close("not_assessable", t);
    }
    o.event = nullptr;
    if (end && *end <= j.record.horizon)
        return close(limit.past(*end) ? "missed" : "no_longer_due", std::max(*end, trigger.at));
    return limit.past(j.record.horizon) ? close("missed", j.record.horizon) : o;
}

// §4.1 "opportunities that would have opened before [the left edge] close not assessable at their first
// matching event".
Opening respond_before_edge(const Judging& j, const Within& demand) {
    const Instant edge = *j.record.left_edge;
    const auto end = end_of_waiting(j, demand.events);
    for (const Answer& a : answers(j, demand.events))
        if (a.position.t >= edge) return unknown_opening(j, edge, a.position.t, Truth::unknown);
    return unknown_opening(j, edge, end ? *end : j.record.horizon, Truth::unknown);
}

void judge(const Judging& j, const Within& demand, std::vector<Opening>& out) {
    std::set<std::string> own;
    KindsIn kinds{j.book, own};
    if (j.clause.once != nullptr) kinds.add(*j.clause.once);
    for (const Trigger& t : triggers(j)) {
        if (t.before_view)
            out.push_back(respond_before_edge(j, demand));
        else if (t.truth == Truth::yes)
            out.push_back(respond(j, demand, t, own));
        else {
            out.push_back(unknown_opening(j, t.at, t.at, t.truth));
            out.back().event = t.event;
        }
    }
}

// ---- judged at an event

Opening judged(const Judging& j, const Trigger& t, Truth truth) {
    Opening o = opening(j, t.at, truth == Truth::yes ? "met" : "not_met", t.at);
    o.event = t.event;
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
bool in_order(const Mark& a, const Mark& b) {
    const auto time = [](const Mark& m) { return m.at ? m.at : m.from ? m.from : m.to; };
    const auto ta = time(a);
    const auto tb = time(b);
    return ta && tb ? *ta <= *tb : a.place < b.place;
}

// Marks, all different, one for each listed step from `next` on, in order after those `taken`.
bool follows(const std::vector<Name>& steps, bool ordered, const std::vector<Mark>& marks,
             std::vector<const Mark*>& taken) {
    if (taken.size() == steps.size()) return true;
    for (const Mark& m : marks) {
        if (m.step != steps[taken.size()].text) continue;
        const bool fits = std::all_of(taken.begin(), taken.end(), [&](const Mark* before) {
            return before != &m && (!ordered || in_order(*before, m));
        });
        if (!fits) continue;
        taken.push_back(&m);
        if (follows(steps, ordered, marks, taken)) return true;
        taken.pop_back();
    }
    return false;
}

void judge(const Judging& j, const FollowSteps& demand, std::vector<Opening>& out) {
    at_each(j, out, [&](const Event& e) {
        if (e.marks.empty()) return Truth::missing;
        std::vector<const Mark*> taken;
        if (follows(demand.steps, demand.in_order, e.marks, taken)) return Truth::yes;
        const bool aside =
            std::any_of(e.marks.begin(), e.marks.end(), [](const Mark& m) { return m.step.empty(); });
        return aside ? Truth::unknown : Truth::no;
    });
}

// §3 "met if one of EVENTS came earlier (in that window), else not met".
void judge(const Judging& j, const HaveHad& demand, std::vector<Opening>& out) {
    at_each(j, out, [&](const Event& e) {
        return occurred(demand.events, demand.window ? *demand.window : Window{},
                        at_event(j.book, j.record, e, j.part));
    });
}

// §4.8 "`within D either side`: met; pending while T + D ≥ h; else no longer due if the line ended by T + D;
// else not met".
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
    if (uncertain || (reaches && due < j.record.horizon)) {
        o.row.outcome = "not_assessable";
        o.why = reaches ? Truth::unknown : *uncertain;
        o.row.closed = std::min(due, j.record.horizon);
    } else if (due >= j.record.horizon) {
        o.row.outcome = "pending";
        o.row.closed.reset();
    } else if (end && *end <= due) {
        o.row.outcome = "no_longer_due";
        o.row.closed = due;
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
