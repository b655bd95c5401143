#include "tests/differential/applies.hpp"

#include <algorithm>

namespace linelaw::literal {

Truth in_place(const Clause& clause, const Record& record, const Life* part, Position position) {
    const Position start = record.left_edge ? Position{*record.left_edge, 0} : Position{*record.inserted, 0};
    const bool insertion_before_edge =
        record.left_edge && record.inserted && position == Position{*record.inserted, 0};
    if (position < start && !insertion_before_edge) return Truth::no;
    if (record.removed && position > Position{*record.removed, 4} && !clause.even_after_removal)
        return Truth::no;
    if (part == nullptr) return Truth::yes;
    if (part->begin == nullptr && clause.even_after_removal) return Truth::yes;
    if (position < part->from || position > part->until) return Truth::no;
    return part->doubtful_after && *part->doubtful_after < position ? Truth::unknown : Truth::yes;
}

namespace {

// `for`, `while`, `for each … where`, in place; without what overrides it.
Truth own(const Book& book, const Clause& clause, const Record& record, const Life* part, Position position) {
    Truth out = in_place(clause, record, part, position);
    if (out == Truth::no) return out;
    const Ask ask = at_moment(book, record, position, part);
    for (const grammar::Expression* c : clause.conditions) out = both(out, holds(*c, ask));
    if (clause.each != nullptr && clause.each->where) out = both(out, holds(*clause.each->where, ask));
    return out;
}

// §4.6 "A `for each` clause overrides another of the same PART for that part, any other clause where it
// applies to some living part."
template <typename Applies>
Truth for_parts(const Book& book, const Clause& over, const Clause& under, const Record& record,
                const Life* part, Position position, const Event* event, const Applies& does) {
    if (over.each == nullptr) return does(nullptr);
    if (under.each != nullptr && under.each->part.text == over.each->part.text) return does(part);
    Truth out = Truth::no;
    for (const Life& life : record.lives)
        if (life.kind->name == over.each->part.text && position > life.from) out = either(out, does(&life));
    if (in_place(over, record, nullptr, position) == Truth::no) return out;
    for (const auto& [kind, why] : record.uncounted)
        if (kind->name == over.each->part.text)
            out = either(out, event != nullptr && over.judged_at_events()
                                  ? both(why, matches(*over.events, *event, book, record, nullptr))
                                  : why);
    return out;
}

}  // namespace

Truth applies(const Book& book, const Clause& clause, const Record& record, const Life* part,
              Position position) {
    Truth out = own(book, clause, record, part, position);
    for (const int i : clause.overridden_by) {
        const Clause& over = book.clauses[static_cast<std::size_t>(i)];
        if (out == Truth::no || over.judged_at_events()) continue;
        out = both(
            out, negate(for_parts(book, over, clause, record, part, position, nullptr, [&](const Life* life) {
                return applies(book, over, record, life, position);
            })));
    }
    return out;
}

Truth applies_at(const Book& book, const Clause& clause, const Record& record, const Life* part,
                 const Event& event) {
    Truth out = own(book, clause, record, part, event.position);
    for (const int i : clause.overridden_by) {
        const Clause& over = book.clauses[static_cast<std::size_t>(i)];
        if (out == Truth::no) break;
        out = both(
            out,
            negate(for_parts(book, over, clause, record, part, event.position, &event, [&](const Life* life) {
                const Truth there = over.judged_at_events()
                                        ? both(matches(*over.events, event, book, record, life),
                                               applies_at(book, over, record, life, event))
                                        : applies(book, over, record, life, event.position);
                return there;
            })));
    }
    return out;
}

namespace {

// Midnights at which an age that a condition compares may pass a bound: every midnight of the line's time
// would do; those of birthdays in days, months and years are among them.
void add_midnights(const Book& book, const Record& record, std::vector<Instant>& out) {
    const bool has_age = std::any_of(record.patient.begin(), record.patient.end(),
                                     [](const Value& v) { return v.kind == Value::Kind::age; });
    if (!has_age) return;
    date::local_days day = book.zone.date_of(record.start().t);
    const date::local_days last = book.zone.date_of(record.horizon);
    for (; day <= last; day += date::days(1)) out.push_back(book.zone.begin_of(day));
}

}  // namespace

namespace {

// When the line, or the part, is gone.
std::optional<Instant> end_of_life(const Clause& clause, const Record& record, const Life* part) {
    std::optional<Instant> end;
    if (record.removed && !clause.even_after_removal) end = record.removed;
    const bool own_end = part != nullptr && (part->begin != nullptr || !clause.even_after_removal);
    if (own_end && part->until.t <= record.horizon && (!end || part->until.t < *end)) end = part->until.t;
    return end;
}

}  // namespace

std::vector<Instant> instants(const Book& book, const Clause& clause, const Record& record) {
    std::vector<Instant> anchors;
    if (record.inserted) anchors.push_back(*record.inserted);
    if (record.left_edge) anchors.push_back(*record.left_edge);
    for (const Event& e : record.events) anchors.push_back(e.position.t);
    std::vector<Instant> out = anchors;
    for (const Span& span : clause.spans)
        for (const Instant a : anchors) out.push_back(book.zone.add(a, span));
    if (!clause.spans.empty()) add_midnights(book, record, out);
    out.push_back(record.horizon);
    std::sort(out.begin(), out.end());
    out.erase(std::unique(out.begin(), out.end()), out.end());
    return out;
}

std::vector<Position> moments(const Book& book, const Clause& clause, const Record& record,
                              const Life* part) {
    const Position start = part != nullptr && part->begin != nullptr
                               ? Position{part->from.t, part->from.t == record.horizon ? 5 : 6}
                               : record.start();
    const std::optional<Instant> end = end_of_life(clause, record, part);
    std::vector<Position> out;
    for (const Instant t : instants(book, clause, record)) {
        if (t < start.t || t > record.horizon || (end && t >= *end)) continue;
        // At the horizon what its events changed is seen, but no clock has gone further.
        for (const int sub : {1, 2, 5, 6}) {
            if (sub == 1 && record.inserted != t) continue;
            if (sub == (t == record.horizon ? 6 : 5)) continue;
            if (Position{t, sub} >= start) out.push_back({t, sub});
        }
    }
    // What else happens at the instant of the end is not looked at: the stretch ends with the line.
    if (end && *end <= record.horizon && Position{*end, 6} >= start) out.push_back({*end, 6});
    return out;
}

std::vector<Stretch> stretches(const Book& book, const Clause& clause, const Record& record,
                               const Life* part) {
    std::vector<Stretch> out;
    Stretch now;
    bool any = false;
    const auto close = [&](Position end, bool ended, Truth then) {
        now.end = end;
        now.ended = ended;
        now.then = then;
        const bool no_length = ended && now.begin.t == end.t;
        if (any && now.truth != Truth::no && !no_length) out.push_back(now);
    };
    const auto list = moments(book, clause, record, part);
    for (const Position& p : list) {
        const Truth t = applies(book, clause, record, part, p);
        if (any && t == now.truth) continue;
        if (any && !is_known(t) && !is_known(now.truth)) continue;  // one unknown stretch
        close(p, true, t);
        now = Stretch{};
        now.truth = t;
        now.begin = p;
        const bool part_in_view = part != nullptr && part->begin != nullptr;
        now.at_edge = record.left_edge && p == list.front() && !part_in_view;
        any = true;
    }
    close({record.horizon, 9}, false, Truth::no);
    return out;
}

}  // namespace linelaw::literal
