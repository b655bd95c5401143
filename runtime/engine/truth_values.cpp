// Values in a condition: attributes, states, differences, and what a table gives.
#include <cstdlib>

#include "runtime/engine/truth.hpp"

namespace linelaw::runtime::engine {

Reading Asking::other_value(NodeId id) {
    const Node& n = plan_.nodes[id];
    const Episode& episode = history_.episode();
    switch (n.op) {
        case Op::unset:
            return {0, Standing::unset};
        case Op::span_constant: {  // of elapsed time, beside a duration
            const Span& span = plan_.spans[n.a];
            return {span.elapsed, span.civil() || span.calendar ? Standing::unknown : Standing::known};
        }
        case Op::text_constant:
        case Op::age_constant:
        case Op::age:
        case Op::facility:
        case Op::care_unit:
            return {0, Standing::unknown};  // these are compared, and are no numbers
        case Op::charting_delay: {
            if (place_.event == none) return {0, Standing::unknown};
            const Event& event = episode.events[place_.event];
            const Reading filled = event_reading(place_.event, n.a);  // by the record's reader
            if (event.recorded_at_set_aside) return {0, Standing::unknown};
            if (filled.standing != Standing::undocumented || !event.recorded_at) return filled;
            return {*event.recorded_at - event.at, Standing::known};
        }
        case Op::part_attribute:
            return part_reading(n);
        case Op::line_attribute:
            return reading_of(episode.line[n.a]);
        case Op::patient_attribute:
            return reading_of(episode.patient[n.a]);
        case Op::state: {
            const PartKindId of = plan_.policy.states[n.a].of;
            return history_.state(n.a, of == none ? none : part_at_hand(of), place_.before);
        }
        case Op::dwell:
        case Op::time_since:
            return clock_reading(n);
        case Op::count_of: {
            const Range range = count(n);
            if (range.low == range.high) return {range.low, Standing::known};
            return {0, standing_of(range.doubt)};
        }
        case Op::sum_of:
            return sum(n);
        case Op::difference: {
            const Reading l = value(n.a);
            const Reading r = value(n.b);
            return {std::abs(l.number - r.number), worse(l.standing, r.standing)};
        }
        case Op::change:
            return change(n);
        case Op::step_time:
            return step_time(n);
        case Op::step_in:
            return step_in(n);
        case Op::multiple: {
            const Fraction r = fraction(n);
            return {whole_of(r), r.standing};
        }
        case Op::table: {
            const Operand chosen = resolve(id);
            return chosen.failed != Standing::known ? Reading{0, chosen.failed} : value(chosen.node);
        }
        default: {  // a truth where a value is asked for: a flag
            const Truth t = truth(id);
            if (known(t)) return {t == Truth::yes ? 1 : 0, Standing::known};
            return {0, standing_of(t)};
        }
    }
}

PartIndex Asking::part_at_hand(PartKindId kind) const {
    if (place_.scope != none) {
        const PartIndex found = history_.ancestor(place_.scope, kind);
        if (found != none) return found;
    }
    return place_.event == none ? none : history_.ancestor(history_.part_of(place_.event), kind);
}

Reading Asking::part_reading(const Node& n) const {
    const PartIndex part = part_at_hand(n.a);
    if (part == none) return {0, Standing::unknown};
    const std::uint32_t begun_by = history_.parts()[part].begun_by;
    if (begun_by == none) return {};
    return event_reading(begun_by, plan_.policy.part_kinds[n.a].attributes[n.b].field);
}

// ---- tables

Truth Asking::cell(NodeId input, const Cell& c) {
    const auto is = [&](Comparator comparator, ExpressionId v) { return compare(input, comparator, v); };
    switch (c.kind) {
        case Cell::Kind::any:
            return Truth::yes;
        case Cell::Kind::compare:
            return is(c.comparator, c.values[0]);
        case Cell::Kind::range:
            return is(Comparator::at_least, c.values[0]) & is(Comparator::at_most, c.values[1]);
        case Cell::Kind::one_of:
            break;
    }
    Truth any = Truth::no;
    for (ExpressionId v : c.values) any = any | is(Comparator::is, v);
    return any;
}

bool Asking::same_constant(NodeId left, NodeId right) const {
    const Node& l = plan_.nodes[left];
    const Node& r = plan_.nodes[right];
    if (l.op != r.op || l.value != r.value) return false;
    if (l.op == Op::span_constant) return plan_.spans[l.a] == plan_.spans[r.a];
    if (l.op == Op::text_constant) return plan_.texts[l.a] == plan_.texts[r.a];
    return l.a == r.a;
}

// A table's value is one of its constants; everything else stands for itself. Known where every row that may
// fit gives the same.
Asking::Operand Asking::resolve_table(NodeId id) {
    const Node& n = plan_.nodes[id];
    const Table& table = plan_.policy.tables[n.a];
    NodeId given = none;
    bool certain = false;
    bool differ = false;
    Truth doubt = Truth::no;
    for (const Row& row : table.rows) {
        Truth fits = Truth::yes;
        for (std::size_t i = 0; i < row.given.size() && fits != Truth::no; ++i)
            fits = fits & cell(plan_.operands[n.run.first + i], row.given[i]);
        if (fits == Truth::no) continue;
        const NodeId answer = row.gives[n.b];
        if (given == none) given = answer;
        if (!same_constant(answer, given)) differ = true;
        if (fits == Truth::yes) certain = true;
        if (fits != Truth::yes) doubt = doubt == Truth::no ? fits : unknown_of(doubt, fits);
        if (fits == Truth::yes && table.first_row_wins) break;
    }
    if (given != none && !differ) return {given, Standing::known};
    if (given == none || (certain && doubt == Truth::no)) return {id, Standing::unknown};
    return {id, standing_of(doubt)};
}

}  // namespace linelaw::runtime::engine
