#include "compiler/resolve.hpp"

#include <algorithm>

namespace linelaw::compiler {

using grammar::Name;

Context outside_events(std::string where, runtime::PartKindId part) {
    Context context;
    context.part = part;
    context.where = std::move(where);
    return context;
}

Context at_events(const Work& work, std::vector<runtime::EventKindId> events, std::string where,
                  const Context& outer) {
    Context context;
    context.part = outer.part;
    context.where = std::move(where);
    if (!events.empty()) {
        const auto of = work.policy().event_kinds[events.front()].of;
        const bool agree = std::all_of(events.begin(), events.end(),
                                       [&](auto e) { return work.policy().event_kinds[e].of == of; });
        if (agree && of != runtime::none) context.part = of;
    }
    context.at_hand = std::move(events);
    return context;
}

namespace {

struct Split {
    std::string owner;  // "event", "state", "part", "line", "patient", or the first word of another id
    std::string rest;
};
Split split(const std::string& text) {
    const auto dot = text.find('.');
    if (dot == std::string::npos) return {"", text};
    return {text.substr(0, dot), text.substr(dot + 1)};
}

Shape shape_of_attribute(Work& work, AttributeId id) {
    auto& declared = work.names.attributes.at(id);
    declared.used = true;
    if (declared.broken) return {};
    Shape shape = shape_of(attribute(work.policy(), id).type);
    shape.name = attribute(work.policy(), id).name;
    shape.declared = declared.place;
    shape.has_place = declared.place.end != 0;
    return shape;
}

// The same name at several events: values and ranges of all of them.
void widen(Shape& shape, const Shape& other) {
    for (const auto value : other.values)
        if (std::find(shape.values.begin(), shape.values.end(), value) == shape.values.end())
            shape.values.push_back(value);
    if (shape.range && other.range) {
        shape.range->first = std::min(shape.range->first, other.range->first);
        shape.range->second = std::max(shape.range->second, other.range->second);
    }
}

std::uint32_t slot_in(const std::vector<runtime::Attribute>& attributes, std::string_view name) {
    const auto* found = find_attribute(attributes, name);
    return found == nullptr ? runtime::none : static_cast<std::uint32_t>(found - attributes.data());
}

struct AtHand {
    std::vector<AttributeId> have;
    std::vector<runtime::EventKindId> lack;
};
AtHand at_hand(const Work& work, std::string_view name, const Context& context) {
    AtHand found;
    for (const auto event : context.at_hand) {
        const auto slot = slot_in(work.policy().event_kinds[event].attributes, name);
        if (slot == runtime::none)
            found.lack.push_back(event);
        else
            found.have.push_back({Owner::event, event, slot});
    }
    return found;
}

std::vector<std::string> event_names(const Work& work, const std::vector<runtime::EventKindId>& events) {
    std::vector<std::string> names;
    for (const auto event : events) names.push_back(work.policy().event_kinds[event].name);
    return names;
}

// The events that record an attribute of this name.
std::vector<std::string> recorders(const Work& work, std::string_view name) {
    std::vector<std::string> names;
    for (const auto& kind : work.policy().event_kinds)
        if (find_attribute(kind.attributes, name) != nullptr) names.push_back(kind.name);
    return names;
}

void add_all(std::vector<std::string>& out, const std::vector<runtime::Attribute>& attributes,
             std::string_view prefix = "") {
    for (const auto& a : attributes) out.push_back(std::string(prefix) + a.name);
}

Field field_at_hand(Work& work, const Name& name, const std::string& bare, const AtHand& found) {
    Field field;
    if (!found.lack.empty()) {
        std::vector<runtime::EventKindId> having;
        for (const auto& id : found.have) having.push_back(id.kind);
        auto& d =
            work.report.add("name.ambiguous",
                            in_ticks(bare) + " is recorded at " + in_ticks(event_names(work, having), "and") +
                                " but not at " + in_ticks(event_names(work, found.lack), "and"),
                            name.place, "not recorded at every event that may be at hand");
        advise(d, "write a clause for each of the events, or `state.` before a name that is also a state");
        return field;
    }
    for (const auto& id : found.have) {
        const Shape shape = shape_of_attribute(work, id);
        if (shape.kind == Shape::Kind::broken) return {};
        if (field.field == runtime::none) {
            field.field = attribute(work.policy(), id).field;
            field.shape = shape;
        } else {
            widen(field.shape, shape);
        }
    }
    return field;
}

Resolved value(runtime::Expression node, Shape shape, std::string name) {
    if (shape.kind == Shape::Kind::broken) return Unresolved{};
    shape.name = std::move(name);
    return ResolvedValue{std::move(node), std::move(shape)};
}

Resolved event_value(Work& work, const Name& name, const std::string& bare, const AtHand& found) {
    const Field field = field_at_hand(work, name, bare, found);
    if (field.field == runtime::none) return Unresolved{};
    return value(runtime::EventAttribute{field.field}, field.shape, name.text);
}

// Where no part is at hand a state set by a part's events is the line's: the newest value of any of them.
Resolved state_value(Work& work, const Name& name, const Declared& declared) {
    const auto& state = work.policy().states[declared.id];
    if (declared.broken) return Unresolved{};
    Shape shape = shape_of(state.type);
    shape.declared = declared.place;
    shape.has_place = true;
    return value(runtime::StateValue{declared.id}, std::move(shape), name.text);
}

// An attribute of the part at hand or of one that it is of.
Resolved part_value(Work& work, const Name& name, const std::string& bare, const Context& context) {
    for (auto part = context.part; part != runtime::none; part = work.policy().part_kinds[part].of) {
        const auto slot = slot_in(work.policy().part_kinds[part].attributes, bare);
        if (slot != runtime::none)
            return value(runtime::PartAttribute{part, slot},
                         shape_of_attribute(work, {Owner::part, part, slot}), name.text);
    }
    return Unresolved{};
}

Resolved line_value(Work& work, const Name& name, std::uint32_t slot) {
    return value(runtime::LineAttribute{slot}, shape_of_attribute(work, {Owner::line, runtime::none, slot}),
                 name.text);
}
Resolved patient_value(Work& work, const Name& name, std::uint32_t slot) {
    return value(runtime::PatientAttribute{slot},
                 shape_of_attribute(work, {Owner::patient, runtime::none, slot}), name.text);
}

// An attribute of a part where none is at hand.
bool of_absent_part(Work& work, const Name& name, const Context& context) {
    if (!context.at_hand.empty() && context.bare_sees_event) return false;
    for (const auto& part : work.policy().part_kinds)
        if (find_attribute(part.attributes, name.text) != nullptr) {
            auto& d = work.report.add("name.at_hand",
                                      in_ticks(name.text) + " is an attribute of the part " +
                                          in_ticks(part.name) + ", and none is at hand in " + context.where,
                                      name.place, "of which one");
            advise(d, "write `for each " + part.name + "` in the clause, or `any " + part.name + " where …`");
            return true;
        }
    return false;
}

// A bare name that means nothing here: what it is elsewhere, and what could stand here instead.
void unknown_here(Work& work, const Name& name, const Context& context) {
    if (of_absent_part(work, name, context)) return;
    const auto events = recorders(work, name.text);
    if (!events.empty() && context.at_hand.empty()) {
        auto& d = work.report.add("name.at_hand",
                                  in_ticks(name.text) + " is recorded at " + in_ticks(events, "and") +
                                      ", and no event is at hand in " + context.where,
                                  name.place, "of which event");
        advise(d, "ask for it in a `where` after the event, or declare a state that keeps its newest value");
        return;
    }
    if (!events.empty() && !context.bare_sees_event) {
        auto& d =
            work.report.add("name.at_hand",
                            "a bare " + in_ticks(name.text) + " in " + context.where +
                                " is a state or an attribute of the part, line or patient, and there is none",
                            name.place, "recorded at an event");
        d.mends.push_back({"write " + in_ticks("event." + name.text) + " for the event at hand", name.place,
                           "event." + name.text, false});
        return;
    }
    if (!events.empty()) {
        auto& d = work.report.add("name.unknown",
                                  in_ticks(name.text) + " is recorded at " + in_ticks(events, "and") +
                                      ", not at " + in_ticks(event_names(work, context.at_hand), "or"),
                                  name.place, "not recorded at this event");
        offer_near(d, name.text, name.place, names_in_reach(work, context));
        return;
    }
    if (work.names.events.find(name.text) != nullptr) {
        work.names.events.use(name.text);
        auto& d = work.report.add(
            "type.condition", in_ticks(name.text) + " is an event, and an event by itself is no condition",
            name.place, "an event");
        advise(d, "what is done at it or because of it begins with the line " + in_ticks("at " + name.text) +
                      " or " + in_ticks("after " + name.text));
        advise(d, "as a condition, say when it happened: " + in_ticks(name.text + " in the last 24 h"));
        advise(d,
               "what must have come before something is written " + in_ticks("must have had " + name.text));
        return;
    }
    if ((name.text == "facility" || name.text == "care_unit") && !context.governs) {
        work.report.add("name.unknown", in_ticks(name.text) + " may stand only in `governs`", name.place,
                        "not here");
        return;
    }
    unknown_name(work, "attribute", name, names_in_reach(work, context));
}

Resolved resolve_bare(Work& work, const Name& name, const Context& context) {
    if (context.bare_sees_event) {
        const AtHand found = at_hand(work, name.text, context);
        if (!found.have.empty()) return event_value(work, name, name.text, found);
    }
    if (const auto* state = work.names.states.use(name.text)) return state_value(work, name, *state);
    for (auto part = context.part; part != runtime::none; part = work.policy().part_kinds[part].of)
        if (find_attribute(work.policy().part_kinds[part].attributes, name.text) != nullptr)
            return part_value(work, name, name.text, context);
    if (const auto slot = slot_in(work.policy().line, name.text); slot != runtime::none)
        return line_value(work, name, slot);
    if (const auto slot = slot_in(work.policy().patient, name.text); slot != runtime::none)
        return patient_value(work, name, slot);
    if (const auto* term = work.names.terms.use(name.text))
        return ResolvedTerm{work.names.term_items[term->id]};
    if (context.governs && (name.text == "facility" || name.text == "care_unit")) {
        Shape shape;
        shape.kind = Shape::Kind::place;
        if (name.text == "facility") return value(runtime::Facility{}, shape, name.text);
        return value(runtime::CareUnit{}, shape, name.text);
    }
    unknown_here(work, name, context);
    return Unresolved{};
}

Resolved resolve_event(Work& work, const Name& name, const std::string& bare, const Context& context) {
    if (context.at_hand.empty()) {
        auto& d = work.report.add("name.at_hand", "no event is at hand in " + context.where, name.place,
                                  "`event.` of which event");
        advise(d, "ask for it in a `where` after the event, or declare a state that keeps its newest value");
        return Unresolved{};
    }
    const AtHand found = at_hand(work, bare, context);
    if (!found.have.empty()) return event_value(work, name, bare, found);
    std::vector<std::string> candidates;
    for (const auto event : context.at_hand)
        add_all(candidates, work.policy().event_kinds[event].attributes, "event.");
    const auto events = recorders(work, bare);
    if (perhaps_lost(work, bare)) return Unresolved{};
    auto& d = work.report.add("name.unknown",
                              in_ticks(bare) + " is not recorded at " +
                                  in_ticks(event_names(work, context.at_hand), "or") +
                                  (events.empty() ? "" : "; it is recorded at " + in_ticks(events, "and")),
                              name.place, "not recorded at this event");
    offer_near(d, name.text, name.place, candidates);
    return Unresolved{};
}

Resolved resolve_owned(Work& work, const Name& name, const Split& parts, const Context& context) {
    std::vector<std::string> candidates;
    if (parts.owner == "state") {
        if (const auto* state = work.names.states.use(parts.rest)) return state_value(work, name, *state);
        for (const auto& state : work.names.states.names()) candidates.push_back("state." + state);
        unknown_name(work, "state", name, candidates);
        return Unresolved{};
    }
    if (parts.owner == "part") {
        if (context.part == runtime::none) {
            auto& d = work.report.add("name.at_hand", "no part is at hand in " + context.where, name.place,
                                      "`part.` of which part");
            advise(d, "write `for each PART` in the clause");
            return Unresolved{};
        }
        for (auto part = context.part; part != runtime::none; part = work.policy().part_kinds[part].of) {
            if (find_attribute(work.policy().part_kinds[part].attributes, parts.rest) != nullptr)
                return part_value(work, name, parts.rest, context);
            add_all(candidates, work.policy().part_kinds[part].attributes, "part.");
        }
    } else if (parts.owner == "line") {
        if (const auto slot = slot_in(work.policy().line, parts.rest); slot != runtime::none)
            return line_value(work, name, slot);
        add_all(candidates, work.policy().line, "line.");
    } else {
        if (const auto slot = slot_in(work.policy().patient, parts.rest); slot != runtime::none)
            return patient_value(work, name, slot);
        add_all(candidates, work.policy().patient, "patient.");
    }
    if (!perhaps_lost(work, parts.rest)) {
        auto& d = work.report.add("name.unknown",
                                  "the " + parts.owner + " has no attribute " + in_ticks(parts.rest),
                                  name.place, "not declared");
        offer_near(d, name.text, name.place, candidates);
    }
    return Unresolved{};
}

Resolved resolve_column(Work& work, const Name& name, const Split& parts) {
    const auto* table = work.names.tables.use(parts.owner);
    if (table == nullptr) {
        std::vector<std::string> candidates;
        for (std::size_t t = 0; t < work.policy().tables.size(); ++t)
            for (const auto& column : work.policy().tables[t].columns)
                candidates.push_back(work.policy().tables[t].name + '.' + column);
        const std::string owner = what_is(work, parts.owner);
        if (perhaps_lost(work, parts.owner)) return Unresolved{};
        auto& d = work.report.add("name.unknown",
                                  "there is no attribute, state or table column " + in_ticks(name.text),
                                  name.place, "not declared");
        if (!owner.empty()) d.notes.push_back(in_ticks(parts.owner) + " is " + owner);
        for (std::string_view prefix : {"event.", "state.", "part.", "line.", "patient."})
            candidates.push_back(std::string(prefix) + parts.rest);
        offer_near(d, name.text, name.place, candidates);
        return Unresolved{};
    }
    const auto& columns = work.policy().tables[table->id].columns;
    const auto it = std::find(columns.begin(), columns.end(), parts.rest);
    if (it != columns.end())
        return ResolvedColumn{table->id, static_cast<std::uint32_t>(it - columns.begin())};
    if (table->broken) return Unresolved{};
    std::vector<std::string> candidates;
    for (const auto& column : columns) candidates.push_back(parts.owner + '.' + column);
    auto& d = work.report.add("name.unknown",
                              "the table " + in_ticks(parts.owner) + " gives no " + in_ticks(parts.rest),
                              name.place, "not one of its columns");
    d.labels.push_back({table->place, "the table"});
    offer_near(d, name.text, name.place, candidates);
    return Unresolved{};
}

}  // namespace

std::vector<std::string> names_in_reach(const Work& work, const Context& context) {
    std::vector<std::string> names;
    if (context.bare_sees_event)
        for (const auto event : context.at_hand) add_all(names, work.policy().event_kinds[event].attributes);
    for (const auto& name : work.names.states.names()) names.push_back(name);
    for (auto part = context.part; part != runtime::none; part = work.policy().part_kinds[part].of)
        add_all(names, work.policy().part_kinds[part].attributes);
    add_all(names, work.policy().line);
    add_all(names, work.policy().patient);
    for (const auto& name : work.names.terms.names()) names.push_back(name);
    if (context.governs) names.insert(names.end(), {"facility", "care_unit"});
    return names;
}

Resolved resolve(Work& work, const Name& name, const Context& context) {
    const Split parts = split(name.text);
    if (parts.owner.empty()) return resolve_bare(work, name, context);
    if (parts.owner == "event") return resolve_event(work, name, parts.rest, context);
    if (parts.owner == "state" || parts.owner == "part" || parts.owner == "line" || parts.owner == "patient")
        return resolve_owned(work, name, parts, context);
    return resolve_column(work, name, parts);
}

Field resolve_field(Work& work, const Name& name, const Context& context) {
    Split parts = split(name.text);
    if (parts.owner != "event") parts.rest = name.text;
    if (context.at_hand.empty()) {
        unknown_here(work, name, context);
        return {};
    }
    const AtHand found = at_hand(work, parts.rest, context);
    if (!found.have.empty()) {
        Field field = field_at_hand(work, name, parts.rest, found);
        field.shape.name = name.text;
        return field;
    }
    const Name bare{parts.rest, name.place};
    Context seen = context;
    seen.bare_sees_event = true;
    if (recorders(work, parts.rest).empty()) {
        std::vector<std::string> candidates;
        for (const auto event : context.at_hand)
            add_all(candidates, work.policy().event_kinds[event].attributes);
        unknown_name(work, "attribute", bare, candidates);
    } else {
        unknown_here(work, bare, seen);
    }
    return {};
}

}  // namespace linelaw::compiler
