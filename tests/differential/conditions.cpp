#include "tests/differential/conditions.hpp"

#include <algorithm>
#include <cassert>
#include <stdexcept>

namespace linelaw::literal {

using namespace grammar;
using Kind = Value::Kind;

namespace {

Value known(Ratio number) {
    Value v;
    v.kind = Kind::number;
    v.number = number;
    return v;
}
Value word(std::string_view text) {
    Value v;
    v.kind = Kind::word;
    v.word = text;
    return v;
}
Value unknown_value(Truth why) {
    Value v;
    v.kind = why == Truth::missing ? Kind::missing : Kind::hidden;
    return v;
}
bool is_unknown(const Value& v) {
    return v.kind == Kind::missing || v.kind == Kind::hidden;
}
Truth why_unknown(const Value& v) {
    return v.kind == Kind::missing ? Truth::missing : Truth::unknown;
}

// §4.1 what the asking moment sees: windows, clocks and counts.
bool sees(const Ask& ask, const Event& e) {
    if (&e == ask.hand) return false;
    return e.position < ask.position || (ask.sees_instant && e.position == ask.position);
}

}  // namespace

bool all_of_part(const Events& events, const Book& book, const Life* part) {
    if (part == nullptr) return false;
    return std::all_of(events.begin(), events.end(), [&](const EventPattern& p) {
        const EventKind& k = book.kinds.at(p.event.text);
        const std::string& name = part->kind->name;
        return k.of == name || k.begins == name || k.ends == name;
    });
}

namespace {

// Where `time since` and `no EVENTS in the last D` count from before the first: the part's beginning for the
// part's own events, else insertion (none: unknown).
std::optional<Instant> beginning(const Events& events, const Ask& ask) {
    if (all_of_part(events, *ask.book, ask.part) && ask.part->begin != nullptr) return ask.part->from.t;
    return ask.record->inserted;
}
}  // namespace

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

namespace {

struct Anchor {
    Instant at = 0;
    Truth why = Truth::yes;  // yes: certainly an event; else why it may be none
};

// The instants from which a clock over EVENTS may count, newest first: every uncertain match newer than the
// newest certain one, and that one, or, where there is none, the beginning. `any_before`: or any time before.
struct Anchors {
    std::vector<Anchor> list;
    bool any_before = false;
    Truth why = Truth::missing;
};
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

// One answer where every anchor agrees, else unknown for the anchors' reason.
template <typename Answer>
Truth where_all_agree(const Anchors& anchors, const Answer& answer) {
    std::optional<Truth> out;
    for (const Anchor& a : anchors.list) {
        const Truth t = answer(a.at);
        if (out && *out != t)
            return is_known(*out) && is_known(t) ? anchors.why : worse(worse(*out, t), anchors.why);
        out = t;
    }
    if (anchors.any_before && *out != answer(-far_future)) return anchors.why;
    return *out;
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

}  // namespace

Truth occurred(const Events& events, const Window& window, const Ask& ask) {
    std::optional<Span> last;
    if (window.in_the_last) last = span_of(*window.in_the_last);
    return where_all_agree(window_anchors(window, ask),
                           [&](Instant since) { return occurred_since(events, last, ask, since); });
}

namespace {

// §4.1 "`no EVENTS in the last D` is false until the line has been in for D".
Truth in_for(const Events& events, const Window& window, const Ask& ask) {
    if (!window.in_the_last) return Truth::yes;
    const Span last = span_of(*window.in_the_last);
    const Instant now = ask.position.clock();
    const std::optional<Instant> begin = beginning(events, ask);
    if (begin) return truth(reached(ask.book->zone, now, *begin, last));
    return reached(ask.book->zone, now, *ask.record->left_edge, last) ? Truth::yes : Truth::unknown;
}

// ---- values

Value state_from_sources(const State& state, const Ask& ask) {
    for (auto e = ask.record->events.rbegin(); e != ask.record->events.rend(); ++e) {
        if (!(e->position < ask.position)) continue;
        for (const auto& [kind, attribute] : state.sources) {
            if (kind != e->kind->name) continue;
            if (!state.of.empty()) {
                Truth belongs = Truth::no;
                for (const auto& [life, b] : e->of)
                    if (life == ask.part) belongs = b;
                if (belongs == Truth::no) continue;
                if (!is_known(belongs)) return unknown_value(Truth::unknown);
            }
            if (ask.record->left_edge && e->position.t < *ask.record->left_edge)
                return unknown_value(Truth::unknown);
            return attribute_of(*e, attribute);
        }
    }
    Value unset;
    unset.kind = Kind::unset;
    return unset;
}

// §2 "`state X from EVENTS until EVENTS` is a flag": followed from its beginning, event by event.
Value flag_between(const State& state, bool unknown_at_first, const Ask& ask) {
    const Life* part = state.of.empty() ? nullptr : ask.part;
    Truth on = unknown_at_first ? Truth::unknown : Truth::no;
    for (const Event& e : ask.record->events) {
        if (!(e.position < ask.position)) break;
        if (ask.record->left_edge && e.position.t < *ask.record->left_edge) continue;
        const Truth starts = matches(state.item->from, e, *ask.book, *ask.record, part);
        const Truth stops = matches(state.item->until, e, *ask.book, *ask.record, part);
        on = either(starts, both(negate(stops), on));
    }
    return is_known(on) ? word(on == Truth::yes ? "yes" : "no") : unknown_value(on);
}

}  // namespace

Value state_value(const State& state, const Ask& ask) {
    const bool part_in_view = !state.of.empty() && ask.part != nullptr && ask.part->begin != nullptr;
    const std::optional<Instant> left = ask.record->left_edge;
    const bool edge = left && ask.position >= Position{*left, 2} && !part_in_view;
    if (!state.of.empty() && ask.part == nullptr) throw std::runtime_error("a part's state without a part");
    if (state.item->sources.empty()) return flag_between(state, edge, ask);
    Value v = state_from_sources(state, ask);
    if (v.kind != Kind::unset) return v;
    if (edge) return unknown_value(Truth::unknown);
    if (!state.item->initially) return v;
    const std::string& name = state.item->initially->text;
    const auto dot = name.find('.');
    const bool patient = name.substr(0, dot) == "patient";
    const auto& list = patient ? ask.book->patient : ask.book->line;
    for (std::size_t i = 0; i < list.size(); ++i)
        if (list[i]->name.text == name.substr(dot + 1))
            return (patient ? ask.record->patient : ask.record->line)[i];
    return v;
}

namespace {

// What a name stands for at the place of use (§3): the event at hand, a state, then part, line, patient.
struct Named {
    enum class What { nothing, event, state, part, line, patient, term, table } what = What::nothing;
    const Type* type = nullptr;  // none for a flag between events, a term, a table
    std::size_t slot = 0;
    const State* state = nullptr;
    const Expression* term = nullptr;
    const TableItem* table = nullptr;
    std::size_t column = 0;
};

bool in_list(const std::vector<const Attribute*>& list, std::string_view name, Named::What what, Named& out) {
    for (std::size_t i = 0; i < list.size(); ++i)
        if (list[i]->name.text == name) {
            out.what = what;
            out.slot = i;
            out.type = &list[i]->type;
            return true;
        }
    return false;
}

bool as_event(std::string_view name, const Ask& ask, Named& out) {
    return ask.hand != nullptr && in_list(ask.hand->kind->attributes, name, Named::What::event, out);
}
bool as_state(std::string_view name, const Ask& ask, Named& out) {
    const auto state = ask.book->states.find(std::string(name));
    if (state == ask.book->states.end()) return false;
    out.what = Named::What::state;
    out.state = &state->second;
    out.type = state->second.type;
    return true;
}
bool as_part(std::string_view name, const Ask& ask, Named& out) {
    for (const Life* life = ask.part; life != nullptr; life = life->parent)
        if (in_list(life->kind->attributes, name, Named::What::part, out)) return true;
    return false;
}
bool as_table(std::string_view name, std::string_view column, const Ask& ask, Named& out) {
    const auto table = ask.book->tables.find(std::string(name));
    if (table == ask.book->tables.end()) return false;
    out.what = Named::What::table;
    out.table = table->second;
    for (std::size_t i = 0; i < table->second->gives.size(); ++i)
        if (table->second->gives[i].text == column) out.column = i;
    return true;
}

Named resolve(const std::string& full, const Ask& ask) {
    Named out;
    const auto dot = full.find('.');
    if (dot != std::string::npos) {
        const std::string_view owner = std::string_view(full).substr(0, dot);
        const std::string_view name = std::string_view(full).substr(dot + 1);
        if (owner == "event") as_event(name, ask, out);
        if (owner == "state") as_state(name, ask, out);
        if (owner == "part") as_part(name, ask, out);
        if (owner == "line") in_list(ask.book->line, name, Named::What::line, out);
        if (owner == "patient") in_list(ask.book->patient, name, Named::What::patient, out);
        if (out.what == Named::What::nothing) as_table(owner, name, ask, out);
        return out;
    }
    if (ask.bare && as_event(full, ask, out)) return out;
    if (as_state(full, ask, out) || as_part(full, ask, out)) return out;
    if (in_list(ask.book->line, full, Named::What::line, out)) return out;
    if (in_list(ask.book->patient, full, Named::What::patient, out)) return out;
    const auto term = ask.book->terms.find(full);
    if (term != ask.book->terms.end()) {
        out.what = Named::What::term;
        out.term = term->second;
    }
    return out;
}

Value table_value(const Named& named, const Ask& ask);

Value part_value(std::string_view name, const Ask& ask) {
    for (const Life* life = ask.part; life != nullptr; life = life->parent)
        if (life->begin != nullptr && find_attribute(life->kind->attributes, name) != nullptr)
            return attribute_of(*life->begin, name);
    return {};
}

Value named_value(const std::string& full, const Ask& ask) {
    const Named named = resolve(full, ask);
    switch (named.what) {
        case Named::What::event:
            return ask.hand->values[named.slot];
        case Named::What::state:
            return state_value(*named.state, ask);
        case Named::What::part:
            return part_value(std::string_view(full).substr(full.find('.') + 1), ask);
        case Named::What::line:
            return ask.record->line[named.slot];
        case Named::What::patient:
            return ask.record->patient[named.slot];
        case Named::What::table:
            return table_value(named, ask);
        case Named::What::term:
        case Named::What::nothing:
            break;
    }
    if (named.what == Named::What::nothing && (full == "yes" || full == "no")) return word(full);
    // An exception may speak of the event judged where there is none: of parts that nobody counted.
    if (full.rfind("event.", 0) == 0 && ask.hand == nullptr) return unknown_value(Truth::unknown);
    throw std::runtime_error("no value: " + full);
}

// ---- comparisons

Truth with_order(int order, Comparator c) {
    switch (c) {
        case Comparator::at_least:
            return truth(order >= 0);
        case Comparator::at_most:
            return truth(order <= 0);
        case Comparator::more_than:
            return truth(order > 0);
        case Comparator::less_than:
            return truth(order < 0);
        case Comparator::is:
            return truth(order == 0);
        case Comparator::is_not:
            return truth(order != 0);
    }
    return Truth::no;
}

// From "at least" and "more than" the six comparisons follow.
template <typename AtLeast, typename MoreThan>
Truth from_two(Comparator c, const AtLeast& at_least, const MoreThan& more_than) {
    switch (c) {
        case Comparator::at_least:
            return at_least();
        case Comparator::less_than:
            return negate(at_least());
        case Comparator::more_than:
            return more_than();
        case Comparator::at_most:
            return negate(more_than());
        case Comparator::is:
            return both(at_least(), negate(more_than()));
        case Comparator::is_not:
            return negate(both(at_least(), negate(more_than())));
    }
    return Truth::no;
}

// §4.8 "`dwell` and `time since` are compared with days by adding the days to their anchor".
Truth compare_clock(const Value& clock, Comparator c, const Span& span, const Ask& ask) {
    const Instant now = ask.position.clock();
    Anchors anchors;
    for (const Instant a : clock.anchors) anchors.list.push_back({a, Truth::yes});
    anchors.any_before = clock.any_before;
    anchors.why = clock.why;
    const auto order = [&](Instant anchor) {
        if (anchor == -far_future) return 1;
        const Instant bound = ask.book->zone.add(anchor, span);
        return now < bound ? -1 : now > bound || span.calendar ? 1 : 0;
    };
    return from_two(
        c, [&] { return where_all_agree(anchors, [&](Instant a) { return truth(order(a) >= 0); }); },
        [&] { return where_all_agree(anchors, [&](Instant a) { return truth(order(a) > 0); }); });
}

date::local_days age_bound(date::local_days born, int count, const std::string& unit) {
    if (unit.rfind("year", 0) == 0) return add_months(born, 12 * count);
    if (unit.rfind("month", 0) == 0) return add_months(born, count);
    return born + date::days(unit.rfind("week", 0) == 0 ? 7 * count : count);
}

// §4.1 "Ages are compared in completed units of the constant", at the date of the moment.
Truth compare_age(const Value& age, Comparator c, const Quantity& q, const Ask& ask) {
    const date::local_days today = ask.book->zone.date_of(ask.position.clock());
    const int count = static_cast<int>(read_decimal(q.terms.front().number.text)->over);
    const std::string& unit = q.terms.front().unit.text;
    const auto completed = [&](int n) {
        const bool first = age.born_any_before || today >= age_bound(age.born_first, n, unit);
        const bool last = today >= age_bound(age.born_last, n, unit);
        return first == last ? truth(first) : Truth::unknown;
    };
    return from_two(
        c, [&] { return completed(count); }, [&] { return completed(count + 1); });
}

Truth compare_range(const Value& left, Comparator c, const Ratio& right) {
    const Truth low = with_order(compare(left.number, right), c);
    if (c == Comparator::is || c == Comparator::is_not) {
        const bool above = compare(left.number, right) > 0;
        const bool below = !left.open_above && compare(left.high, right) < 0;
        return above || below ? truth(c == Comparator::is_not) : left.why;
    }
    const Truth high = left.open_above ? truth(c == Comparator::at_least || c == Comparator::more_than)
                                       : with_order(compare(left.high, right), c);
    return low == high ? low : left.why;
}

Truth compare_values(const Value& left, Comparator c, const Value& right) {
    if (is_unknown(left) && is_unknown(right)) return worse(why_unknown(left), why_unknown(right));
    if (is_unknown(left)) return why_unknown(left);
    if (is_unknown(right)) return why_unknown(right);
    // §2 "no comparison with it holds but `is not`".
    if (left.kind == Kind::unset || right.kind == Kind::unset) return truth(c == Comparator::is_not);
    if (left.kind == Kind::word) return truth((left.word == right.word) == (c == Comparator::is));
    if (left.kind == Kind::range) return compare_range(left, c, right.number);
    return with_order(compare(left.number, right.number), c);
}

// The right side of a comparison: "a value of `one of` wins over an attribute's name".
Value right_value(const Expression& right, const Type* left_type, const Ask& ask) {
    const auto* reference = std::get_if<Reference>(&right.node);
    if (reference != nullptr && left_type != nullptr)
        for (const Name& v : left_type->values)
            if (v.text == reference->name.text) return word(v.text);
    if (const auto* text = std::get_if<Text>(&right.node)) return word(text->text);
    return value_of(right, ask);
}

const Type* type_of(const Expression& e, const Ask& ask) {
    const auto* reference = std::get_if<Reference>(&e.node);
    if (reference == nullptr) return nullptr;
    const Named named = resolve(reference->name.text, ask);
    return named.type;
}

// A bare number against an attribute with a unit is in that unit.
Truth compare_expressions(const Expression& left, Comparator c, const Expression& right, const Ask& ask) {
    const auto* name = std::get_if<Reference>(&left.node);
    if (ask.hand == nullptr && name != nullptr && name->name.text.rfind("event.", 0) == 0)
        return Truth::unknown;
    const Value l = value_of(left, ask);
    if (const auto* q = std::get_if<Quantity>(&right.node)) {
        if (l.kind == Kind::clock) return compare_clock(l, c, span_of(*q), ask);
        if (l.kind == Kind::age) return compare_age(l, c, *q, ask);
        if (is_unknown(l)) return why_unknown(l);
    }
    return compare_values(l, c, right_value(right, type_of(left, ask), ask));
}

// ---- tables

Truth fits(const Cell& cell, const Value& input, const Name& name, const Ask& ask) {
    const Expression left{Reference{name}, name.place};
    const auto compare_to = [&](Comparator c, const Expression& right) {
        if (input.kind == Kind::age && std::holds_alternative<Quantity>(right.node))
            return compare_age(input, c, std::get<Quantity>(right.node), ask);
        if (is_unknown(input)) return why_unknown(input);
        return compare_values(input, c, right_value(right, type_of(left, ask), ask));
    };
    if (const auto* x = std::get_if<CompareCell>(&cell.node)) return compare_to(x->comparator, *x->value);
    if (const auto* x = std::get_if<RangeCell>(&cell.node))
        return both(compare_to(Comparator::at_least, x->range.low),
                    compare_to(Comparator::at_most, x->range.high));
    if (const auto* x = std::get_if<OneOfCell>(&cell.node)) {
        Truth out = Truth::no;
        for (const Expression& v : x->values) out = either(out, compare_to(Comparator::is, v));
        return out;
    }
    return Truth::yes;
}

bool same_value(const Value& a, const Value& b) {
    return a.kind == b.kind && a.word == b.word && compare(a.number, b.number) == 0;
}

// §4.8 "A table without a fitting row is unknown; an unknown input where every possible row agrees is known".
Value table_value(const Named& named, const Ask& ask) {
    std::vector<Value> inputs;
    for (const Name& given : named.table->given) inputs.push_back(named_value(given.text, ask));
    std::optional<Value> answer;
    std::optional<Truth> why;
    bool differ = false;
    bool certain = false;
    for (const TableRow& row : named.table->rows) {
        Truth fit = Truth::yes;
        for (std::size_t i = 0; i < row.given.size(); ++i)
            fit = both(fit, fits(row.given[i], inputs[i], named.table->given[i], ask));
        if (fit == Truth::no) continue;
        if (!is_known(fit)) why = why ? worse(*why, fit) : fit;
        const Expression& gives = row.gives[named.column];
        Value given;
        if (const auto* reference = std::get_if<Reference>(&gives.node))
            given = word(reference->name.text);
        else
            given = value_of(gives, ask);
        if (answer && !same_value(*answer, given)) differ = true;
        if (!answer) answer = given;
        certain = certain || fit == Truth::yes;
        if (fit == Truth::yes && named.table->first_row_wins) break;
    }
    if (!answer) return unknown_value(Truth::unknown);
    return differ ? unknown_value(why.value_or(Truth::unknown)) : *answer;
}

// ---- expressions

Value clock_over(const Anchors& anchors) {
    Value v;
    v.kind = Kind::clock;
    for (const Anchor& a : anchors.list) v.anchors.push_back(a.at);
    v.any_before = anchors.any_before;
    v.why = anchors.why;
    return v;
}

Value evaluate(const Dwell&, const Ask& ask) {
    Anchors anchors;
    anchors.why = Truth::unknown;
    anchors.list.push_back(
        {ask.record->inserted ? *ask.record->inserted : *ask.record->left_edge, Truth::yes});
    anchors.any_before = !ask.record->inserted;
    return clock_over(anchors);
}

Value evaluate(const TimeSince& x, const Ask& ask) {
    return clock_over(anchors_of(x.events, ask));
}

Value evaluate(const CountOf& x, const Ask& ask) {
    std::optional<Span> last;
    if (x.window.in_the_last) last = span_of(*x.window.in_the_last);
    const Anchors anchors = window_anchors(x.window, ask);
    std::optional<Count> total;
    std::optional<Truth> why;
    const auto add_reason = [&why](Truth t) { why = why ? worse(*why, t) : t; };
    for (const Anchor& a : anchors.list) {
        const Count c = count_of(x.events, last, ask, a.at);
        if (c.low != c.high || c.open_above) add_reason(c.why);
        if (total && (total->low != c.low || total->high != c.high)) add_reason(anchors.why);
        if (!total) total = c;
        total->low = std::min(total->low, c.low);
        total->high = std::max(total->high, c.high);
        total->open_above = total->open_above || c.open_above;
    }
    total->why = why.value_or(Truth::unknown);
    Value v = known(Ratio{total->low, 1});
    if (total->low == total->high && !total->open_above) return v;
    v.kind = Kind::range;
    v.high = Ratio{total->high, 1};
    v.open_above = total->open_above;
    v.why = total->why;
    return v;
}

// A sum is known where every event and every value in the window is.
Value evaluate(const SumOf& x, const Ask& ask) {
    Events events;
    events.push_back({x.event, std::nullopt, x.event.place});
    const Zone& zone = ask.book->zone;
    const Anchors anchors = window_anchors(x.window, ask);
    std::optional<Span> last;
    if (x.window.in_the_last) last = span_of(*x.window.in_the_last);
    std::optional<Value> out;
    for (const Anchor& a : anchors.list) {
        Value sum = known({0, 1});
        std::optional<Truth> why;
        if (count_of(events, last, ask, a.at).open_above) why = Truth::unknown;
        for (const Event& e : ask.record->events) {
            if (!sees(ask, e) || e.position.t < a.at) continue;
            if (last && !within(zone, e.position.t, ask.position.clock(), *last)) continue;
            const Truth match = matches(events, e, *ask.book, *ask.record, ask.part);
            if (match == Truth::no) continue;
            const Value v = attribute_of(e, x.attribute.text);
            if (!is_known(match)) why = why ? worse(*why, match) : match;
            if (is_unknown(v)) why = why ? worse(*why, why_unknown(v)) : why_unknown(v);
            if (v.kind == Kind::number) sum.number = sum.number + v.number;
        }
        if (why) sum = unknown_value(*why);
        if (out && !same_value(*out, sum)) return unknown_value(anchors.why);
        out = sum;
    }
    return *out;
}

Value subtract(const Value& a, const Value& b) {
    if (is_unknown(a) && is_unknown(b)) return unknown_value(worse(why_unknown(a), why_unknown(b)));
    if (is_unknown(a)) return a;
    if (is_unknown(b)) return b;
    if (a.kind == Kind::unset || b.kind == Kind::unset) return a.kind == Kind::unset ? a : b;
    return known(a.number - b.number);
}
Value absolute(Value v) {
    if (v.number.over < 0) v.number.over = -v.number.over;
    return v;
}

Value evaluate(const DifferenceOf& x, const Ask& ask) {
    return absolute(subtract(value_of(*x.left, ask), value_of(*x.right, ask)));
}

// §2 "`comparable by A`: two readings are compared only where their A is the same; else unknown".
Truth comparable(const Value& mine, const Value& theirs) {
    if (is_unknown(mine) && is_unknown(theirs)) return worse(why_unknown(mine), why_unknown(theirs));
    if (is_unknown(mine) || is_unknown(theirs)) return why_unknown(is_unknown(mine) ? mine : theirs);
    return mine.kind == theirs.kind && mine.word == theirs.word && compare(mine.number, theirs.number) == 0
               ? Truth::yes
               : Truth::unknown;
}

struct Baseline {
    Value reading;
    Value by;  // of `comparable by`
};

// §3 "The baseline of `since insertion` is line.A where the record gives it, else A at the insertion event".
Baseline insertion_baseline(const Name& attribute, const std::string& by, const Ask& ask) {
    const Event* insertion = nullptr;
    for (const Event& e : ask.record->events)
        if (e.kind->name == "insertion") insertion = &e;
    Baseline out;
    const auto line = [&](const std::string& name) {
        for (std::size_t i = 0; i < ask.book->line.size(); ++i)
            if (ask.book->line[i]->name.text == name) return ask.record->line[i];
        return Value{};
    };
    out.reading = line(attribute.text);
    out.by = line(by);
    if (insertion != nullptr && out.reading.kind == Kind::missing)
        out.reading = attribute_of(*insertion, attribute.text);
    if (insertion != nullptr && out.by.kind == Kind::missing) out.by = attribute_of(*insertion, by);
    return out;
}

// §4.8 "`since last EVENT` is the last that recorded A".
std::optional<Baseline> last_baseline(const Events& events, const Name& attribute, const std::string& by,
                                      const Ask& ask) {
    for (auto e = ask.record->events.rbegin(); e != ask.record->events.rend(); ++e) {
        if (!sees(ask, *e)) continue;
        const Truth match = matches(events, *e, *ask.book, *ask.record, ask.part);
        if (match == Truth::no) continue;
        const Value reading = attribute_of(*e, attribute.text);
        if (is_unknown(reading)) continue;
        if (!is_known(match)) return Baseline{unknown_value(match), {}};
        return Baseline{reading, attribute_of(*e, by)};
    }
    return std::nullopt;
}

Value evaluate(const Change& x, const Ask& ask) {
    const Value mine = attribute_of(*ask.hand, x.attribute.text);
    const int slot = ask.hand->kind->slot(x.attribute.text);
    const Attribute* declared = ask.hand->kind->attributes[static_cast<std::size_t>(slot)];
    const std::string by = declared->comparable_by ? declared->comparable_by->text : "";
    Baseline base;
    if (x.since_last) {
        const auto found = last_baseline(*x.since_last, x.attribute, by, ask);
        if (found)
            base = *found;
        else if (ask.record->left_edge)
            base.reading = unknown_value(Truth::unknown);
    } else {
        base = insertion_baseline(x.attribute, by, ask);
    }
    if (is_unknown(mine) || is_unknown(base.reading)) return subtract(mine, base.reading);
    if (!by.empty()) {
        const Truth same = comparable(attribute_of(*ask.hand, by), base.by);
        if (same != Truth::yes) return unknown_value(same);
    }
    Value v = subtract(mine, base.reading);
    if (x.kind == ChangeKind::change) return absolute(v);
    if (x.kind == ChangeKind::fall) v.number.over = -v.number.over;
    if (v.number.over < 0) v.number = {0, 1};
    return v;
}

const Mark* find_mark(const Event& e, const std::string& step) {
    for (const Mark& m : e.marks)
        if (m.step == step) return &m;
    return nullptr;
}

// §4.8: from A's `to` (else its time) to B's time, first marks of each.
Value evaluate(const StepTime& x, const Ask& ask) {
    const Mark* from = find_mark(*ask.hand, x.from.text);
    const Mark* to = find_mark(*ask.hand, x.to.text);
    if (from == nullptr || to == nullptr) return {};
    const auto start = from->to ? from->to : from->at ? from->at : from->from;
    const auto end = to->at ? to->at : to->from ? to->from : to->to;
    if (!start || !end) return {};
    return known(ratio(*end - *start, one_second));
}

// §4.8 "`time in STEP` needs `from` and `to` in the record's step".
Value evaluate(const StepIn& x, const Ask& ask) {
    const Mark* mark = find_mark(*ask.hand, x.step.text);
    if (mark == nullptr || !mark->from || !mark->to) return {};
    return known(ratio(*mark->to - *mark->from, one_second));
}

Value evaluate(const Multiple& x, const Ask& ask) {
    Value v = value_of(*x.operand, ask);
    if (v.kind == Kind::number) v.number = v.number * *read_decimal(x.factor.text);
    return v;
}

Value evaluate(const Reference& x, const Ask& ask) {
    return named_value(x.name.text, ask);
}
Value evaluate(const Quantity& x, const Ask&) {
    return known(number_of(x));
}
Value evaluate(const Number& x, const Ask&) {
    return known(*read_decimal(x.text));
}
template <typename Other>
Value evaluate(const Other&, const Ask&) {
    throw std::runtime_error("not a value");
}

// ---- conditions

Truth test(const And& x, const Ask& ask) {
    Truth out = Truth::yes;
    for (const Expression& o : x.operands) out = both(out, holds(o, ask));
    return out;
}
Truth test(const Or& x, const Ask& ask) {
    Truth out = Truth::no;
    for (const Expression& o : x.operands) out = either(out, holds(o, ask));
    return out;
}
Truth test(const Not& x, const Ask& ask) {
    return negate(holds(*x.operand, ask));
}
Truth test(const Comparison& x, const Ask& ask) {
    return compare_expressions(*x.left, x.comparator, *x.right, ask);
}
Truth test(const OneOf& x, const Ask& ask) {
    Truth out = Truth::no;
    for (const Expression& v : x.values)
        out = either(out, compare_expressions(*x.left, Comparator::is, v, ask));
    return x.negated ? negate(out) : out;
}
Truth test(const Between& x, const Ask& ask) {
    return both(compare_expressions(*x.left, Comparator::at_least, *x.low, ask),
                compare_expressions(*x.left, Comparator::at_most, *x.high, ask));
}
Truth test(const Documented& x, const Ask& ask) {
    const Value v = named_value(x.attribute.text, ask);
    const Truth out = v.kind == Kind::missing  ? Truth::no
                      : v.kind == Kind::hidden ? Truth::unknown
                                               : Truth::yes;
    return x.negated ? negate(out) : out;
}
Truth test(const Occurred& x, const Ask& ask) {
    const Truth out = occurred(x.events, x.window, ask);
    return x.negated ? both(negate(out), in_for(x.events, x.window, ask)) : out;
}
Truth test(const SomePart& x, const Ask& ask) {
    Truth out = Truth::no;
    for (const Life& life : ask.record->lives) {
        if (life.kind->name != x.part.text) continue;
        Ask inside = ask;
        inside.part = &life;
        const Truth alive = lives(life, ask.position);
        if (alive == Truth::no) continue;
        out = either(out, x.where ? both(alive, holds(**x.where, inside)) : alive);
    }
    for (const auto& [part, why] : ask.record->uncounted)
        if (part->name == x.part.text) out = either(out, why);
    // One that began before the left edge may still be there.
    if (ask.record->left_edge && ask.book->parts.at(x.part.text).count.empty())
        out = either(out, Truth::unknown);
    return x.negated ? negate(out) : out;
}
Truth test(const Reference& x, const Ask& ask) {
    const Named named = resolve(x.name.text, ask);
    if (named.what == Named::What::term) return holds(*named.term, ask);
    const Value v = named_value(x.name.text, ask);
    if (is_unknown(v)) return why_unknown(v);
    return truth(v.word == "yes");
}
template <typename Other>
Truth test(const Other&, const Ask&) {
    throw std::runtime_error("not a condition");
}

}  // namespace

Truth holds(const Expression& condition, const Ask& ask) {
    return std::visit([&ask](const auto& node) { return test(node, ask); }, condition.node);
}

Value value_of(const Expression& expression, const Ask& ask) {
    return std::visit([&ask](const auto& node) { return evaluate(node, ask); }, expression.node);
}

}  // namespace linelaw::literal
