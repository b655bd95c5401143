// What names stand for, and the states (language.md §2, §3).
#include <stdexcept>

#include "tests/differential/values.hpp"

namespace linelaw::literal {

using namespace grammar;
using Kind = Value::Kind;

namespace {

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
// The kind of part that the event at hand is one of, or begins or ends; and the part itself, if it is known.
const PartKind* kind_at_hand(const Ask& ask) {
    if (ask.hand == nullptr) return nullptr;
    const EventKind& k = *ask.hand->kind;
    const std::string& name = !k.of.empty() ? k.of : !k.begins.empty() ? k.begins : k.ends;
    return name.empty() ? nullptr : &ask.book->parts.at(name);
}
const Life* part_at_hand(const Ask& ask) {
    const auto& of = ask.hand->of;
    return of.size() == 1 && of.front().second == Truth::yes ? of.front().first : nullptr;
}

bool as_part(std::string_view name, const Ask& ask, Named& out) {
    for (const Life* life = ask.part; life != nullptr; life = life->parent)
        if (in_list(life->kind->attributes, name, Named::What::part, out)) return true;
    const PartKind* kind = kind_at_hand(ask);
    return kind != nullptr && in_list(kind->attributes, name, Named::What::part, out);
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

}  // namespace

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

namespace {

Value part_value(std::string_view name, const Ask& ask) {
    const auto of = [name](const Life& life) {
        return life.begin == nullptr ? Value{} : attribute_of(*life.begin, name);
    };
    for (const Life* life = ask.part; life != nullptr; life = life->parent)
        if (find_attribute(life->kind->attributes, name) != nullptr) return of(*life);
    const Life* life = part_at_hand(ask);
    return life == nullptr ? unknown_value(Truth::unknown) : of(*life);
}

}  // namespace

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

}  // namespace linelaw::literal
