// language.md §4.4: what an event or a moment asks for within a time.
#include <algorithm>
#include <set>

#include "tests/differential/answers.hpp"

namespace linelaw::literal {

using namespace grammar;

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

namespace {

// The events that a condition rests on: in its windows, or setting its states (for `once`).
struct KindsIn {
    const Book& book;
    std::set<std::string>& out;
    const EventKind* at_hand =
        nullptr;  // in a `where`, whose bare names are the event's own before a state's
    void add(const Events& events) {
        for (const EventPattern& p : events) {
            out.insert(p.event.text);
            if (p.where) KindsIn{book, out, &book.kinds.at(p.event.text)}.add(**p.where);
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
        if (dot == std::string::npos && at_hand != nullptr && at_hand->slot(name) >= 0) return;
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
        out.insert("removal");  // a part ends with the line
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

}  // namespace

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
        if (!t.before_view) out.back().asked_by = t.event;
    }
}

}  // namespace linelaw::literal
