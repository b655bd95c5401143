#include "tests/differential/answers.hpp"

namespace linelaw::literal {

using namespace grammar;

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

}  // namespace linelaw::literal
