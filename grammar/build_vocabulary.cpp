// The items of a vocabulary: types, attributes, parts, events, states, questions.
#include <cstdlib>
#include <string>
#include <string_view>
#include <utility>

#include "grammar/tree_builder.hpp"

namespace linelaw::grammar {

namespace {

TypeKind type_kind(std::string_view word) {
    constexpr std::pair<std::string_view, TypeKind> kinds[] = {
        {"flag", TypeKind::flag},       {"one of", TypeKind::one_of},
        {"count", TypeKind::count},     {"number", TypeKind::number},
        {"percent", TypeKind::percent}, {"age", TypeKind::age},
        {"length", TypeKind::length},   {"duration", TypeKind::duration},
        {"volume", TypeKind::volume},   {"rate", TypeKind::rate},
        {"mass", TypeKind::mass},       {"temperature", TypeKind::temperature},
        {"time", TypeKind::time},       {"concentration", TypeKind::concentration},
        {"text", TypeKind::text},       {"key", TypeKind::key},
    };
    for (const auto& [name, kind] : kinds) {
        if (name == word) return kind;
    }
    std::abort();  // the rules name the types
}

}  // namespace

Type TreeBuilder::type(NodeId id) {
    Type type;
    type.place = parts_.place(id);
    type.kind = type_kind(parts_.words(parts_.part(id, Kind::mark)));
    if (const NodeId values = parts_.part(id, Kind::values); values != no_node)
        type.values = parts_.names(values);
    if (const NodeId range = parts_.part(id, Kind::range); range != no_node) type.range = parts_.range(range);
    if (const NodeId unit = parts_.part(id, Kind::type_unit); unit != no_node) {
        type.unit = parts_.name(parts_.first(unit));
    }
    return type;
}

Attribute TreeBuilder::attribute(NodeId id) {
    Attribute attribute;
    attribute.name = parts_.name_in(id);
    attribute.type = type(parts_.part(id, Kind::type));
    attribute.place = parts_.place(id);
    for (NodeId more = parts_.first(id); more != no_node; more = parts_.after(id, more)) {
        if (parts_.node(more).kind == Kind::comparable) {
            once(attribute.comparable_by, more, "comparable by");
            attribute.comparable_by = parts_.name_in(more);
        } else if (parts_.node(more).kind == Kind::complication) {
            attribute.complication_values = parts_.names(more);
            attribute.complication = attribute.complication_values.empty();
        }
    }
    return attribute;
}

std::vector<Attribute> TreeBuilder::attributes(NodeId id) {
    std::vector<Attribute> attributes;
    for (const NodeId line : parts_.parts(id, Kind::attribute)) attributes.push_back(attribute(line));
    return attributes;
}

PartItem TreeBuilder::part_item(NodeId id) {
    PartItem part;
    part.name = parts_.name_in(id);
    part.title = parts_.text_in(id);
    part.place = parts_.place(id);
    part.attributes = attributes(id);
    if (const NodeId of = parts_.part(id, Kind::of_part); of != no_node) part.of = parts_.name_in(of);
    if (const NodeId count = parts_.part(id, Kind::part_count); count != no_node)
        part.count = parts_.name_in(count);
    if (const NodeId life = parts_.part(id, Kind::part_life); life != no_node) {
        const std::vector<NodeId> ends = parts_.parts(life, Kind::events);
        part.from = parts_.events(ends[0]);
        part.until = parts_.events(ends[1]);
    }
    return part;
}

EventItem TreeBuilder::event_item(NodeId id) {
    EventItem event;
    event.name = parts_.name_in(id);
    event.title = parts_.text_in(id);
    event.place = parts_.place(id);
    event.attributes = attributes(id);
    event.also_after_removal = parts_.has(id, Kind::after_removal);
    event.complication = parts_.has(id, Kind::complication);
    if (const NodeId of = parts_.part(id, Kind::of_part); of != no_node) event.of = parts_.name_in(of);
    for (const NodeId steps : parts_.parts(id, Kind::steps)) {
        if (!event.steps.empty()) parts_.say("syntax.repeated", "`steps` stands twice", steps, "again here");
        event.steps = parts_.names(steps);
    }
    return event;
}

StateItem TreeBuilder::state_item(NodeId id) {
    StateItem state;
    state.name = parts_.name_in(id);
    state.place = parts_.place(id);
    if (const NodeId sources = parts_.part(id, Kind::state_sources); sources != no_node) {
        state.sources = parts_.names(sources);
        const NodeId initially = parts_.part(id, Kind::initially);
        if (initially != no_node) state.initially = parts_.name_in(initially);
    } else {
        const std::vector<NodeId> ends = parts_.parts(id, Kind::events);
        state.from = parts_.events(ends[0]);
        state.until = parts_.events(ends[1]);
    }
    return state;
}

void TreeBuilder::question_about(NodeId id, QuestionItem& question) {
    switch (parts_.node(id).kind) {
        case Kind::how_often:
            question.about = HowOften{parts_.events_in(id)};
            break;
        case Kind::response_to:
            question.about = ResponseTo{parts_.events_in(id), {}};
            if (const NodeId by = parts_.part(id, Kind::answered_by); by != no_node)
                std::get<ResponseTo>(question.about).by = parts_.events_in(by);
            break;
        case Kind::escalation_of:
            question.about = EscalationOf{parts_.name_in(id)};
            break;
        default: {
            std::vector<Name> names = parts_.names(id);
            question.about = AttributeAt{std::move(names[0]), std::move(names[1])};
        }
    }
}

QuestionItem TreeBuilder::question_item(NodeId id) {
    QuestionItem question;
    question.name = parts_.name_in(id);
    question.title = parts_.text_in(id);
    question.place = parts_.place(id);
    std::optional<NodeId> about, combinations;
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        switch (parts_.node(line).kind) {
            case Kind::name:
            case Kind::string:
                break;
            case Kind::axes:
                once(combinations, line, "for every combination of");
                combinations = line;
                for (const NodeId axis : parts_.parts(line, Kind::axis)) {
                    question.every.push_back({parts_.name_in(axis), parts_.has(axis, Kind::mark)});
                }
                break;
            case Kind::for_line:
                once(question.for_condition, line, "for");
                question.for_condition = parts_.condition_in(line);
                break;
            default:
                once(about, line, "about");
                about = line;
                question_about(line, question);
        }
    }
    if (!about) missing(id, "question `" + question.name.text + "` does not say what it is `about`");
    return question;
}

}  // namespace linelaw::grammar
