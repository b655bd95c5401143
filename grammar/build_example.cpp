// Ladders, bundles and examples.
#include <algorithm>
#include <string>
#include <utility>

#include "grammar/tree_builder.hpp"

namespace linelaw::grammar {

LadderStep TreeBuilder::ladder_step(NodeId id) {
    LadderStep step;
    step.roles = parts_.names(id);
    step.within = parts_.quantity_in(id);
    step.place = parts_.place(id);
    const NodeId unless = parts_.part(id, Kind::if_not_acknowledged);
    if (unless != no_node) step.if_not_acknowledged_within = parts_.quantity_in(unless);
    return step;
}

EscalationItem TreeBuilder::escalation_item(NodeId id) {
    EscalationItem ladder;
    ladder.id = parts_.name_in(id);
    ladder.sentence = parts_.text_in(id);
    ladder.place = parts_.place(id);
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        if (parts_.node(line).kind == Kind::ladder_hold) {
            const std::vector<NodeId> ends = parts_.parts(line, Kind::events);
            ladder.holds.push_back({parts_.events(ends[0]), parts_.events(ends[1]), parts_.place(line)});
        } else if (parts_.node(line).kind == Kind::ladder_step) {
            const bool is_first = parts_.words(line).front() == 'f';
            if (is_first != ladder.steps.empty() && !broken_) {
                parts_.say("syntax.line",
                           is_first
                               ? "only the first step of a ladder begins with `first`; later ones with `then`"
                               : "the first step of a ladder begins with `first`",
                           line);
            }
            ladder.steps.push_back(ladder_step(line));
            if (is_first && ladder.steps.back().if_not_acknowledged_within) {
                parts_.say("syntax.line", "the first step of a ladder waits for no acknowledgement",
                           parts_.part(line, Kind::if_not_acknowledged));
            }
        }
    }
    if (ladder.steps.empty()) {
        missing(id, "escalation `" + ladder.id.text + "` has no step: `first notify` is missing");
    }
    return ladder;
}

BundleItem TreeBuilder::bundle_item(NodeId id) {
    BundleItem bundle;
    std::vector<Name> names = parts_.names(id);
    if (!names.empty()) {
        bundle.id = std::move(names.front());
        bundle.of.assign(std::make_move_iterator(names.begin() + 1), std::make_move_iterator(names.end()));
    }
    bundle.title = parts_.text_in(id);
    bundle.place = parts_.place(id);
    if (bundle.of.empty())
        missing(id, "bundle `" + bundle.id.text + "` does not say which clauses it is `of`");
    std::optional<NodeId> said;
    for (const NodeId each : parts_.parts(id, Kind::bundle_each)) {
        once(said, each, "each");
        said = each;
        bundle.each_place = parts_.place(each);
        if (parts_.has(each, Kind::events)) {
            bundle.each = EachEvent{parts_.events_in(each)};
            continue;
        }
        const std::string word = parts_.words(parts_.first(each));
        if (word == "shift") bundle.each = EachShift{};
        if (word == "line") bundle.each = EachLine{};
    }
    if (!said)
        missing(id,
                "bundle `" + bundle.id.text + "` does not say how often it is counted: `each` is missing");
    return bundle;
}

Assignment TreeBuilder::assignment(NodeId id) {
    const NodeId what = parts_.first(id);
    Assignment assignment{parts_.name(what), {}, parts_.place(id)};
    const NodeId value = parts_.after(id, what);
    if (value == no_node) return assignment;
    if (parts_.node(value).kind == Kind::mark) {
        assignment.value.push_back({Reference{parts_.name(value)}, parts_.place(value)});
    } else {
        assignment.value.push_back(parts_.expression(value));
    }
    return assignment;
}

std::vector<Assignment> TreeBuilder::assignments(NodeId of) {
    std::vector<Assignment> assignments;
    for (const NodeId id : parts_.parts(of, Kind::assignment)) assignments.push_back(assignment(id));
    return assignments;
}

ExampleUntil TreeBuilder::moment(NodeId id) {
    const NodeId day = parts_.first(id);
    const std::string written = parts_.words(day);
    ExampleUntil moment;
    const bool whole =
        written.size() <= 5 &&
        written.find_first_not_of("0123456789", written[0] == '-' ? 1 : 0) == std::string::npos;
    if (whole) {
        moment.day = std::atoi(written.c_str());
    } else {
        parts_.say("syntax.date", "`" + written + "` is no day of an example: a whole number such as `3` is",
                   day);
    }
    moment.at = parts_.time_of_day(parts_.after(id, day));
    return moment;
}

ExampleEvent TreeBuilder::example_event(NodeId id) {
    ExampleEvent event;
    const ExampleUntil when = moment(parts_.part(id, Kind::moment));
    event.day = when.day;
    event.at = when.at;
    event.event = parts_.name_in(id);
    event.attributes = assignments(id);
    event.place = parts_.place(id);
    for (const NodeId steps : parts_.parts(id, Kind::steps)) {
        for (const NodeId one : parts_.parts(steps, Kind::example_step)) {
            ExampleStep step{parts_.name_in(one), {}, {}, {}};
            if (const NodeId at = parts_.part(one, Kind::step_at); at != no_node) {
                step.at = parts_.time_of_day(parts_.first(at));
            }
            if (const NodeId span = parts_.part(one, Kind::step_from_to); span != no_node) {
                const NodeId from = parts_.first(span);
                step.from = parts_.time_of_day(from);
                step.to = parts_.time_of_day(parts_.after(span, from));
            }
            event.steps.push_back(std::move(step));
        }
    }
    return event;
}

Expectation TreeBuilder::expectation(NodeId id) {
    Expectation expectation;
    expectation.id = parts_.name_in(id);
    expectation.outcome = parts_.name(parts_.part(id, Kind::outcome));
    expectation.place = parts_.place(id);
    if (const NodeId step = parts_.part(id, Kind::expectation_step); step != no_node) {
        expectation.step = parts_.number(parts_.first(step));
    }
    if (const NodeId times = parts_.part(id, Kind::times); times != no_node) {
        expectation.times = parts_.number(parts_.first(times));
    }
    return expectation;
}

ExampleItem TreeBuilder::example_item(NodeId id) {
    ExampleItem example;
    example.title = parts_.text_in(id);
    example.place = parts_.place(id);
    for (NodeId line = parts_.first(id); line != no_node; line = parts_.after(id, line)) {
        switch (parts_.node(line).kind) {
            case Kind::on_line:
                once(example.on, line, "on");
                example.on = parts_.date(parts_.first(line));
                break;
            case Kind::example_line:
                for (Assignment& one : assignments(line)) example.line.push_back(std::move(one));
                break;
            case Kind::example_patient:
                for (Assignment& one : assignments(line)) example.patient.push_back(std::move(one));
                break;
            case Kind::example_event:
                example.events.push_back(example_event(line));
                break;
            case Kind::observed_from:
                once(example.from, line, "observed from");
                example.from = moment(parts_.first(line));
                break;
            case Kind::observed_until:
                once(example.until, line, "until");
                example.until = moment(parts_.first(line));
                break;
            case Kind::expectation:
                example.expectations.push_back(expectation(line));
                break;
            default:
                break;
        }
    }
    return example;
}

}  // namespace linelaw::grammar
