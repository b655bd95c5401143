#include "tests/differential/windows.hpp"

#include <algorithm>

namespace linelaw::literal {

using namespace grammar;
using Kind = Value::Kind;

// §4.1 what the asking moment sees: windows, clocks and counts.
bool sees(const Ask& ask, const Event& e) {
    if (&e == ask.hand) return false;
    return e.position < ask.position || (ask.sees_instant && e.position == ask.position);
}

bool all_of_part(const Events& events, const Book& book, const Life* part) {
    if (part == nullptr) return false;
    return std::all_of(events.begin(), events.end(), [&](const EventPattern& p) {
        const EventKind& k = book.kinds.at(p.event.text);
        const std::string& name = part->kind->name;
        return k.of == name || k.begins == name || k.ends == name;
    });
}

// Where `time since` and `no EVENTS in the last D` count from before the first: the part's beginning for the
// part's own events, else insertion (none: unknown).
std::optional<Instant> beginning(const Events& events, const Ask& ask) {
    if (all_of_part(events, *ask.book, ask.part) && ask.part->begin != nullptr) return ask.part->from.t;
    return ask.record->inserted;
}

bool may_have_been_before_view(const Events& events, const Ask& ask) {
    if (!ask.record->left_edge) return false;
    const bool only_insertion = std::all_of(events.begin(), events.end(), [](const EventPattern& p) {
        return p.event.text == "insertion";  // which is known, if it is
    });
    if (only_insertion && ask.record->inserted) return false;
    return !(all_of_part(events, *ask.book, ask.part) && ask.part->begin != nullptr);
}

bool reached(const Zone& zone, Instant t, Instant anchor, const Span& span) {
    return t >= zone.add(anchor, span);
}

bool within(const Zone& zone, Instant s, Instant t, const Span& span) {
    if (s > t) return false;
    const Instant end = zone.add(s, span);
    return span.calendar ? t < end : t <= end;
}

Truth lives(const Life& life, Position position) {
    if (!(life.from < position && position <= life.until)) return Truth::no;
    if (life.parent != nullptr && lives(*life.parent, position) == Truth::unknown) return Truth::unknown;
    return life.doubtful_after && *life.doubtful_after < position ? Truth::unknown : Truth::yes;
}

Value attribute_of(const Event& event, std::string_view attribute) {
    const int slot = event.kind->slot(attribute);
    return slot < 0 ? Value{} : event.values[static_cast<std::size_t>(slot)];
}

// ---- events and windows

Truth is_of_kind(const Events& events, const Event& event, const Life* part) {
    for (const EventPattern& p : events) {
        if (p.event.text != event.kind->name) continue;
        if (part == nullptr) return Truth::yes;
        const std::string& name = part->kind->name;
        if (event.kind->of != name && event.kind->begins != name && event.kind->ends != name)
            return Truth::yes;
        for (const auto& [life, belongs] : event.of)
            if (life == part) return belongs;
        return Truth::no;
    }
    return Truth::no;
}

Truth where_of(const Events& events, const Event& event, const Book& book, const Record& record,
               const Life* part) {
    Truth out = Truth::no;
    for (const EventPattern& p : events) {
        if (p.event.text != event.kind->name) continue;
        out = either(out, p.where ? holds(**p.where, at_event(book, record, event, part)) : Truth::yes);
    }
    return out;
}

Truth matches(const Events& events, const Event& event, const Book& book, const Record& record,
              const Life* part) {
    const Truth kind = is_of_kind(events, event, part);
    return kind == Truth::no ? kind : both(kind, where_of(events, event, book, record, part));
}

Count count_of(const Events& events, const std::optional<Span>& in_the_last, const Ask& ask,
               Instant not_before) {
    Count out;
    bool uncertain = false;
    const Zone& zone = ask.book->zone;
    const Instant now = ask.position.clock();
    for (const Event& e : ask.record->events) {
        if (!sees(ask, e) || e.position.t < not_before) continue;
        if (in_the_last && !within(zone, e.position.t, now, *in_the_last)) continue;
        const Truth match = matches(events, e, *ask.book, *ask.record, ask.part);
        if (match == Truth::no) continue;
        ++out.high;
        if (match == Truth::yes) ++out.low;
        if (!is_known(match)) {
            out.why = uncertain ? worse(out.why, match) : match;
            uncertain = true;
        }
    }
    // §4.1 "windows that reach before it are unknown unless a match lies inside".
    if (!may_have_been_before_view(events, ask)) return out;
    const Instant edge = *ask.record->left_edge;
    const bool reaches = not_before < edge && (!in_the_last || now < zone.add(edge, *in_the_last));
    if (reaches) {
        out.open_above = true;
        out.why = Truth::unknown;
    }
    return out;
}

Anchors anchors_of(const Events& events, const Ask& ask) {
    Anchors out;
    bool uncertain = false;
    bool view_ends = may_have_been_before_view(events, ask);
    const std::optional<Instant> edge = ask.record->left_edge;
    const auto end_view = [&] {  // what nobody sees may have been at any time up to the left edge
        out.list.push_back({*edge, Truth::unknown});
        out.why = Truth::unknown;
        uncertain = true;
        view_ends = false;
    };
    for (auto e = ask.record->events.rbegin(); e != ask.record->events.rend(); ++e) {
        if (!sees(ask, *e)) continue;
        const Truth match = matches(events, *e, *ask.book, *ask.record, ask.part);
        if (match == Truth::no) continue;
        if (view_ends && e->position.t < *edge) end_view();
        out.list.push_back({e->position.t, match});
        if (match == Truth::yes) return out;
        out.why = uncertain ? worse(out.why, match) : match;
        uncertain = true;
    }
    const std::optional<Instant> begin = beginning(events, ask);
    out.any_before = !begin;
    if (view_ends) end_view();
    if (begin) out.list.push_back({*begin, Truth::yes});
    return out;
}

// The window's beginnings: `since` gives them, else there is one, long ago.
Anchors window_anchors(const Window& window, const Ask& ask) {
    if (!window.since) return {{{-far_future, Truth::yes}}, false, Truth::missing};
    Anchors out = anchors_of(*window.since, ask);
    if (out.any_before) out.list.push_back({-far_future, Truth::unknown});
    return out;
}

Truth occurred_since(const Events& events, const std::optional<Span>& last, const Ask& ask, Instant since) {
    const Count count = count_of(events, last, ask, since);
    if (count.low > 0) return Truth::yes;
    return count.high > 0 || count.open_above ? count.why : Truth::no;
}

Truth occurred(const Events& events, const Window& window, const Ask& ask) {
    std::optional<Span> last;
    if (window.in_the_last) last = span_of(*window.in_the_last);
    return where_all_agree(window_anchors(window, ask),
                           [&](Instant since) { return occurred_since(events, last, ask, since); });
}

// §4.1 "`no EVENTS in the last D` is false until the line has been in for D".
Truth in_for(const Events& events, const Window& window, const Ask& ask) {
    if (!window.in_the_last) return Truth::yes;
    const Span last = span_of(*window.in_the_last);
    const Instant now = ask.position.clock();
    const std::optional<Instant> begin = beginning(events, ask);
    if (begin) return truth(reached(ask.book->zone, now, *begin, last));
    return reached(ask.book->zone, now, *ask.record->left_edge, last) ? Truth::yes : Truth::unknown;
}

}  // namespace linelaw::literal
