// States and what can never be: the parts of a vocabulary that hold conditions or look across events.
#include <algorithm>

#include "compiler/lower.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

std::uint32_t slot_of(const std::vector<runtime::Attribute>& attributes, std::string_view name) {
    const auto* found = find_attribute(attributes, name);
    return found == nullptr ? runtime::none : static_cast<std::uint32_t>(found - attributes.data());
}

// `insertion.dressing` → the event and its attribute.
struct SourceOf {
    runtime::StateSource source;
    const runtime::Attribute* attribute = nullptr;
    bool broken = false;
};
SourceOf read_source(Work& work, const Name& name) {
    const auto dot = name.text.find('.');
    const Name event{name.text.substr(0, dot), name.place};
    const std::string rest = dot == std::string::npos ? "" : name.text.substr(dot + 1);
    if (rest.empty()) {
        work.report.add("type.declaration",
                        "a state takes its values from an attribute, as `insertion.dressing`", name.place,
                        "no attribute is named");
        return {{}, nullptr, true};
    }
    const auto kind = use_name(work, work.names.events, "event", event);
    if (kind == runtime::none) return {{}, nullptr, true};
    const auto& attributes = work.policy().event_kinds[kind].attributes;
    const auto slot = slot_of(attributes, rest);
    if (slot == runtime::none) {
        std::vector<std::string> candidates;
        for (const auto& a : attributes) candidates.push_back(event.text + '.' + a.name);
        unknown_name(work, "attribute", name, candidates);
        return {{}, nullptr, true};
    }
    auto& declared = work.names.attributes.at({Owner::event, kind, slot});
    declared.used = true;
    return {{kind, attributes[slot].field}, &attributes[slot], declared.broken};
}

bool join_types(runtime::Type& type, const runtime::Type& other) {
    if (type.kind != other.kind) return false;
    for (const auto value : other.values)
        if (std::find(type.values.begin(), type.values.end(), value) == type.values.end())
            type.values.push_back(value);
    type.low = std::min(type.low, other.low);
    type.high = std::max(type.high, other.high);
    return true;
}

void differ(Work& work, const Name& name, const runtime::Type& type, const runtime::Type& other,
            Place first) {
    auto& d = work.report.add("type.declaration",
                              in_ticks(name.text) + " is " + in_words(shape_of(other)) +
                                  ", and the state's first source is " + in_words(shape_of(type)),
                              name.place, in_words(shape_of(other)));
    d.labels.push_back({first, in_words(shape_of(type))});
}

// Answers whether the state's type is known.
bool link_sources(Work& work, const StateItem& item, runtime::State& state) {
    bool good = true;
    bool first = true;
    std::optional<runtime::PartKindId> of;
    for (const auto& name : item.sources) {
        const SourceOf source = read_source(work, name);
        if (source.broken) {
            good = false;
            continue;
        }
        if (first) state.type = source.attribute->type;
        if (!first && !join_types(state.type, source.attribute->type)) {
            differ(work, name, state.type, source.attribute->type, item.sources.front().place);
            good = false;
            continue;
        }
        first = false;
        state.sources.push_back(source.source);
        const auto part = work.policy().event_kinds[source.source.event].of;
        if (of && *of != part) {
            auto& d =
                work.report.add("type.declaration",
                                "a state is kept for each part or for the whole line, and these sources are "
                                "of both",
                                name.place, "of another part than the first");
            d.labels.push_back({item.sources.front().place, "the first source"});
            good = false;
        }
        of = part;
    }
    if (of) state.of = *of;
    return good;
}

bool link_initially(Work& work, const StateItem& item, runtime::State& state) {
    const Name& name = *item.initially;
    const bool patient = name.text.rfind("patient.", 0) == 0;
    const bool line = name.text.rfind("line.", 0) == 0;
    if (!patient && !line) {
        work.report.add("type.declaration", "a state starts from an attribute of the patient or the line",
                        name.place, "write `patient.` or `line.` before the attribute");
        return false;
    }
    const auto& attributes = patient ? work.policy().patient : work.policy().line;
    const auto slot = slot_of(attributes, name.text.substr(patient ? 8 : 5));
    if (slot == runtime::none) {
        std::vector<std::string> candidates;
        for (const auto& a : attributes) candidates.push_back((patient ? "patient." : "line.") + a.name);
        unknown_name(work, "attribute", name, candidates);
        return false;
    }
    auto& declared = work.names.attributes.at({patient ? Owner::patient : Owner::line, runtime::none, slot});
    declared.used = true;
    if (declared.broken) return false;
    if (!join_types(state.type, attributes[slot].type)) {
        differ(work, name, state.type, attributes[slot].type,
               item.sources.empty() ? item.name.place : item.sources.front().place);
        return false;
    }
    state.initially = patient ? runtime::Initially::patient : runtime::Initially::line;
    state.initial_slot = slot;
    return true;
}

template <typename Item, typename Do>
void each(Work& work, Do act) {
    for (const auto* item : work.layers.items)
        if (const auto* node = std::get_if<Item>(&item->node)) act(*node);
}

void lower_switch(Work& work, const StateItem& item) {
    const auto* declared = work.names.states.find(item.name.text);
    auto& state = work.policy().states[declared->id];
    if (item.from.empty()) return;
    const Context outside = outside_events("a state");
    auto from = lower_events(work, item.from, outside);
    auto until = lower_events(work, item.until, outside);
    if (from) state.from = std::move(*from);
    if (until) state.until = std::move(*until);
}

// A flag between two events is kept for each part where all its events are of that part.
void link_switch(Work& work, const StateItem& item, runtime::State& state) {
    std::optional<runtime::PartKindId> of;
    bool same = true;
    for (const auto* events : {&item.from, &item.until})
        for (const auto& pattern : *events)
            if (const auto* event = work.names.events.find(pattern.event.text)) {
                const auto part = work.policy().event_kinds[event->id].of;
                same = same && (!of || *of == part);
                of = part;
            }
    if (of && same) state.of = *of;
}

}  // namespace

void link_states(Work& work) {
    each<StateItem>(work, [&](const StateItem& item) {
        const auto* declared = work.names.states.find(item.name.text);
        if (declared == nullptr || declared->place.begin != item.name.place.begin) return;
        auto& state = work.policy().states[declared->id];
        bool good = true;
        if (item.sources.empty())
            link_switch(work, item, state);
        else
            good = link_sources(work, item, state);
        if (item.initially) good = link_initially(work, item, state) && good;
        if (!good) work.names.states.mark_broken(item.name.text);
    });
}

void lower_vocabulary(Work& work) {
    each<StateItem>(work, [&](const StateItem& item) { lower_switch(work, item); });
    each<NeverItem>(work, [&](const NeverItem& item) {
        const auto condition = lower_condition(work, item.condition, outside_events("`never`"));
        if (condition)
            work.out.nevers.push_back({*condition, item.because ? item.because->text : "", item.place});
    });
}

}  // namespace linelaw::compiler
