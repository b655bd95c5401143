#include "runtime/findings_inputs.hpp"

#include <fmt/compile.h>
#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <string>

#include "runtime/overloaded.hpp"

namespace linelaw::runtime {
namespace {

class Collector {
  public:
    Collector(const Words& words, const Episode& episode, const Opportunity& opportunity)
        : policy_(words.policy()), episode_(episode), opportunity_(opportunity), zone_(words.zone()) {}

    // Reads `id` as it was asked at `now` about the event numbered `hand`, or about none.
    void read(ExpressionId id, std::uint32_t hand, Instant now, bool demanded) {
        if (id == none) return;
        hand_ = hand;
        now_ = now;
        demanded_ = demanded;
        visit(id);
    }
    void read_field(FieldId field, std::uint32_t hand, bool demanded) {
        hand_ = hand;
        demanded_ = demanded;
        event_attribute(field);
    }
    // Of parts that are judged one by one, where how many there are is not known.
    void read_count(const PartKind& kind) {
        demanded_ = false;
        if (kind.count_slot != none) line_attribute(kind.count_slot);
    }
    void read_steps(std::uint32_t hand, bool demanded) {
        hand_ = hand;
        demanded_ = demanded;
        steps();
    }
    std::vector<Input> take() { return std::move(inputs_); }

  private:
    void add(Input input) {
        for (const Input& other : inputs_)
            if (other.name == input.name && other.pointer == input.pointer) return;
        input.demanded = demanded_;
        inputs_.push_back(std::move(input));
    }

    void visit(ExpressionId id) {
        std::visit(
            overloaded{
                [&](const EventAttribute& e) { event_attribute(e.field); },
                [&](const PartAttribute& e) { part_attribute(e); },
                [&](const LineAttribute& e) { line_attribute(e.slot); },
                [&](const PatientAttribute& e) { patient_attribute(e.slot); },
                [&](const StateValue& e) { state(e.state); },
                [&](const Facility&) { named("facility", "/facility", episode_.facility); },
                [&](const CareUnit&) { named("care_unit", "/care_unit", episode_.care_unit); },
                [&](const Change& e) { change(e); },
                [&](const StepTime&) { steps(); },
                [&](const StepIn&) { steps(); },
                [&](const DifferenceOf& e) { visit(e.left), visit(e.right); },
                [&](const Multiple& e) { visit(e.operand); },
                [&](const TableValue& e) { visit_all(e.inputs); },
                [&](const And& e) { visit_all(e.operands); },
                [&](const Or& e) { visit_all(e.operands); },
                [&](const Not& e) { visit(e.operand); },
                [&](const Compare& e) { visit(e.left), visit(e.right); },
                [&](const OneOf& e) { visit(e.operand); },
                [&](const Documented& e) { visit(e.attribute); },
                [&](const auto&) {},  // constants, clocks and windows: their events are evidence of their own
            },
            policy_.expressions[id]);
    }
    void visit_all(const std::vector<ExpressionId>& ids) {
        for (const ExpressionId id : ids) visit(id);
    }

    void named(const char* name, const char* pointer, const std::string& text) {
        Input input;
        input.name = name;
        input.pointer = pointer;
        input.text = text;
        input.value.state = text.empty() ? Known::undocumented : Known::known;
        add(std::move(input));
    }

    void event_attribute(FieldId field) {
        if (hand_ == none) return;
        const Event& event = episode_.events[hand_];
        const EventKind& kind = policy_.event_kinds[event.kind];
        Input input;
        input.name = policy_.fields[field];
        if (field == policy_.charting_delay) {
            static const Type duration{TypeKind::duration, {}, 0, 0, {}, {}, "s"};
            input.type = &duration;
            input.pointer = pointer_of(policy_, event) + "/recorded_at";
            if (event.recorded_at) input.value = {*event.recorded_at - event.at, Known::known};
            if (event.recorded_at_set_aside) input.value.state = Known::set_aside;
            add(std::move(input));
            return;
        }
        if (field >= kind.slot_of_field.size() || kind.slot_of_field[field] == none) return;
        attribute_at(input, event, kind.slot_of_field[field]);
        add(std::move(input));
    }
    // Fills in the value that stands in a slot of an event, and its place.
    void attribute_at(Input& input, const Event& event, std::uint32_t slot) const {
        const Attribute& attribute = policy_.event_kinds[event.kind].attributes[slot];
        input.type = &attribute.type;
        input.value = episode_.value(event, slot);
        input.pointer =
            (event.pointer == none ? "/line" : fmt::format(FMT_COMPILE("/events/{}"), event.pointer)) + "/" +
            attribute.name;
    }

    void line_attribute(std::uint32_t slot) {
        Input input;
        input.name = "line." + policy_.line[slot].name;
        input.pointer = "/line/" + policy_.line[slot].name;
        input.type = &policy_.line[slot].type;
        input.value = episode_.line[slot];
        add(std::move(input));
    }

    void patient_attribute(std::uint32_t slot) {
        const Attribute& attribute = policy_.patient[slot];
        Input input;
        input.name = "patient." + attribute.name;
        input.pointer = "/patient/" + attribute.name;
        if (attribute.type.kind == TypeKind::age) {
            age(input);
        } else {
            input.type = &attribute.type;
            input.value = episode_.patient[slot];
        }
        add(std::move(input));
    }
    // In completed units: a birth date says more about a person than a finding needs.
    void age(Input& input) const {
        static constexpr const char* units[] = {"day", "week", "month", "year"};
        const auto counted = [](std::int32_t n, const char* unit) {
            return fmt::format(FMT_COMPILE("{} {}{}"), n, unit, n == 1 ? "" : "s");
        };
        switch (episode_.age.given) {
            case Age::Given::undocumented:
                return;
            case Age::Given::set_aside:
                input.value.state = Known::set_aside;
                return;
            case Age::Given::completed:
                input.text =
                    counted(episode_.age.completed, units[static_cast<std::size_t>(episode_.age.unit)]) +
                    " at insertion";
                break;
            case Age::Given::birth_date: {
                const CivilDate today = zone_.date_of(now_);
                const CivilDate birth = episode_.age.birth;
                std::int32_t months = (today.year - birth.year) * 12 + today.month - birth.month;
                if (today.day < birth.day) --months;
                input.text = months < 24 ? counted(months, "month") : counted(months / 12, "year");
                input.pointer = "/patient/birth_date";
                break;
            }
        }
        input.value.state = Known::known;
    }

    void part_attribute(const PartAttribute& e) {
        const PartKind& kind = policy_.part_kinds[e.part];
        const Event* begin = nullptr;
        for (const Event& event : episode_.events) {
            if (event.at > now_) break;
            const bool begins = std::find(kind.from.begin(), kind.from.end(), event.kind) != kind.from.end();
            if (begins && (opportunity_.part_kind != e.part || event.part == opportunity_.part))
                begin = &event;
        }
        if (begin == nullptr) return;
        const Attribute& attribute = kind.attributes[e.slot];
        const auto& slots = policy_.event_kinds[begin->kind].slot_of_field;
        if (attribute.field >= slots.size() || slots[attribute.field] == none) return;
        Input input;
        input.name = kind.name + "." + attribute.name;
        attribute_at(input, *begin, slots[attribute.field]);
        add(std::move(input));
    }

    void state(StateId id) {
        const State& state = policy_.states[id];
        Input input;
        input.name = "state." + state.name;
        input.type = &state.type;
        if (!state.sources.empty()) {
            valued_state(state, input);
        } else {
            switched_state(state, input);
        }
        add(std::move(input));
    }
    // An event at hand is judged in the state that held just before it.
    bool before_now(const Event& event) const {
        if (hand_ == none) return event.at <= now_;
        // Insertion is an instant of its own, before all others of that moment.
        return event.at < now_ || (event.at == now_ && event.kind == policy_.insertion &&
                                   episode_.events[hand_].kind != policy_.insertion);
    }

    // A part as events name it. Nothing where none is at hand: then a state is the line's.
    using PartName = std::optional<std::string>;
    PartName name_of(PartKindId kind, std::uint32_t part) const {  // of an opportunity
        if (policy_.part_kinds[kind].count_slot != none) return std::to_string(part);
        return part < episode_.texts.size() ? PartName(episode_.texts[part]) : std::nullopt;
    }
    // Up from a part to the one of `wanted` that it is of, by what its first event says.
    PartName ancestor(PartKindId kind, PartName name, PartKindId wanted) const {
        while (name && kind != wanted) {
            const PartKind& of = policy_.part_kinds[kind];
            PartName above;
            for (const Event& event : episode_.events) {
                if (event.at > now_) break;
                const bool begins = std::find(of.from.begin(), of.from.end(), event.kind) != of.from.end();
                if (begins && event.part != none && episode_.texts[event.part] == *name)
                    above = event.parent == none ? std::nullopt : PartName(episode_.texts[event.parent]);
            }
            kind = of.of;
            name = kind == none ? std::nullopt : above;
        }
        return name;
    }
    // The part of this kind that the clause is about, else the one of the event at hand.
    PartName part_at_hand(PartKindId wanted) const {
        if (wanted == none) return std::nullopt;
        if (opportunity_.part_kind != none)
            if (PartName own = ancestor(opportunity_.part_kind,
                                        name_of(opportunity_.part_kind, opportunity_.part), wanted))
                return own;
        if (hand_ == none) return std::nullopt;
        const Event& event = episode_.events[hand_];
        const PartKindId kind = part_kind_of(event.kind);
        return kind == none || event.part == none
                   ? std::nullopt
                   : ancestor(kind, std::string(episode_.texts[event.part]), wanted);
    }
    // The kind of part that such an event is of, or begins, or ends.
    PartKindId part_kind_of(EventKindId kind) const {
        if (policy_.event_kinds[kind].of != none) return policy_.event_kinds[kind].of;
        const auto among = [kind](const std::vector<EventKindId>& kinds) {
            return std::find(kinds.begin(), kinds.end(), kind) != kinds.end();
        };
        for (PartKindId p = 0; p < policy_.part_kinds.size(); ++p)
            if (among(policy_.part_kinds[p].from) || among(policy_.part_kinds[p].until)) return p;
        return none;
    }
    // Whether an event sets the state of the part at hand. One that names none may be of any of several.
    bool sets_it(const State& state, const PartName& at_hand, const Event& event) const {
        if (!at_hand) return true;
        const PartKindId kind = part_kind_of(event.kind);
        if (kind == none) return false;
        if (event.part == none) {
            const std::uint32_t slot = policy_.part_kinds[kind].count_slot;
            return slot == none || episode_.line[slot].number == 1;
        }
        return ancestor(kind, std::string(episode_.texts[event.part]), state.of) == at_hand;
    }
    // Whether a part begins there that bears the name anew: what was set before was another's.
    bool begins_it(const State& state, const PartName& at_hand, const Event& event) const {
        if (!at_hand || event.part == none || episode_.texts[event.part] != *at_hand) return false;
        const std::vector<EventKindId>& from = policy_.part_kinds[state.of].from;
        return std::find(from.begin(), from.end(), event.kind) != from.end();
    }
    void valued_state(const State& state, Input& input) const {
        const Event* newest = nullptr;
        FieldId field = none;
        const PartName at_hand = part_at_hand(state.of);
        for (const Event& event : episode_.events) {
            if (!before_now(event)) break;
            if (begins_it(state, at_hand, event)) newest = nullptr;
            for (const StateSource& source : state.sources) {
                if (source.event == event.kind && sets_it(state, at_hand, event))
                    newest = &event, field = source.field;
            }
        }
        if (newest != nullptr) {
            attribute_at(input, *newest, policy_.event_kinds[newest->kind].slot_of_field[field]);
        } else if (state.initially == Initially::patient) {
            input.pointer = "/patient/" + policy_.patient[state.initial_slot].name;
            input.value = episode_.patient[state.initial_slot];
        } else if (state.initially == Initially::line) {
            input.pointer = "/line/" + policy_.line[state.initial_slot].name;
            input.value = episode_.line[state.initial_slot];
        } else {
            input.text = "unset";
            input.value.state = Known::known;
        }
    }
    void switched_state(const State& state, Input& input) const {
        input.value = {0, Known::known};
        const auto among = [](const Events& events, EventKindId kind) {
            return std::any_of(events.begin(), events.end(),
                               [&](const Pattern& p) { return p.event == kind; });
        };
        const PartName at_hand = part_at_hand(state.of);
        for (const Event& event : episode_.events) {
            if (!before_now(event)) break;
            if (begins_it(state, at_hand, event)) input.value.number = 0, input.pointer.clear();
            if (!sets_it(state, at_hand, event)) continue;
            const bool on = among(state.from, event.kind);
            if (!on && !among(state.until, event.kind)) continue;
            input.value.number = on ? 1 : 0;
            input.pointer = pointer_of(policy_, event);
        }
    }

    // The reading at hand and the one that it is compared with, which may be missing.
    void change(const Change& e) {
        event_attribute(e.field);
        if (e.since_last.empty()) {
            const bool on_line = e.line_slot != none && episode_.line[e.line_slot].state == Known::known;
            const bool inserted =
                !episode_.events.empty() && episode_.events.front().kind == policy_.insertion;
            const std::uint32_t slot =
                inserted ? policy_.event_kinds[policy_.insertion].slot_of_field[e.field] : none;
            const bool at_insertion =
                slot != none && episode_.value(episode_.events.front(), slot).state == Known::known;
            if (e.line_slot != none && (on_line || !at_insertion))
                line_attribute(e.line_slot);  // also where neither is known: it is what is missing
            else if (inserted)
                baseline(episode_.events.front(), e.field);
            return;
        }
        const Event* newest = nullptr;
        for (const Event& event : episode_.events) {
            if (event.at >= now_) break;
            const auto& slots = policy_.event_kinds[event.kind].slot_of_field;
            const bool is_one = std::any_of(e.since_last.begin(), e.since_last.end(),
                                            [&](const Pattern& p) { return p.event == event.kind; });
            if (is_one && slots[e.field] != none &&
                episode_.value(event, slots[e.field]).state == Known::known) {
                newest = &event;
            }
        }
        if (newest != nullptr) baseline(*newest, e.field);
    }
    void baseline(const Event& event, FieldId field) {
        const auto& slots = policy_.event_kinds[event.kind].slot_of_field;
        if (slots[field] == none) return;
        Input input;
        input.name = policy_.fields[field] + " before";
        attribute_at(input, event, slots[field]);
        add(std::move(input));
    }

    void steps() {
        if (hand_ == none) return;
        const Event& event = episode_.events[hand_];
        Input input;
        input.name = "steps";
        input.pointer = pointer_of(policy_, event) + "/steps";
        for (std::uint32_t i = 0; i < event.step_count; ++i) {
            const StepMark& mark = episode_.steps[event.steps + i];
            if (i > 0) input.text += ", ";
            input.text += mark.step == none ? "a step that was set aside"
                                            : policy_.event_kinds[event.kind].steps[mark.step];
            if (mark.at) input.text += " " + write_local(*mark.at, zone_);
        }
        input.value.state = event.step_count == 0 ? Known::undocumented : Known::known;
        add(std::move(input));
    }

    const Policy& policy_;
    const Episode& episode_;
    const Opportunity& opportunity_;
    const Zone& zone_;
    std::uint32_t hand_ = none;
    Instant now_ = 0;
    bool demanded_ = false;
    std::vector<Input> inputs_;
};

// The `where` of the pattern that an event may have matched.
ExpressionId where_of(const Events& events, const Episode& episode, std::uint32_t event) {
    if (event == none) return none;
    for (const Pattern& pattern : events) {
        if (pattern.event == episode.events[event].kind) return pattern.where;
    }
    return none;
}

void read_demand(Collector& collector, const Clause& clause, const Episode& episode, const Opportunity& o,
                 std::uint32_t hand) {
    const std::uint32_t answer = o.closed_by;
    const Instant answered = answer == none ? o.opened : episode.events[answer].at;
    const auto answer_where = [&](const Events& events) {
        collector.read(where_of(events, episode, answer), answer, answered, true);
    };
    std::visit(overloaded{
                   [&](const AtLeastEvery& d) {
                       answer_where(d.events);
                       if (d.shortest) collector.read(d.unless, answer, answered, true);
                   },
                   [&](const NoMoreOftenThan& d) {
                       answer_where(d.events);
                       collector.read(d.unless, answer, answered, true);
                   },
                   [&](const EachPeriod& d) { answer_where(d.events); },
                   [&](const Within& d) { answer_where(d.events); },
                   [&](const Forbid& d) { answer_where(d.events); },
                   [&](const AtMostTimes& d) { answer_where(d.events); },
                   [&](const Holds& d) { collector.read(d.condition, hand, o.opened, true); },
                   [&](const Document& d) {
                       for (const FieldId field : d.fields) collector.read_field(field, hand, true);
                   },
                   [&](const FollowSteps&) { collector.read_steps(hand, true); },
                   [&](const auto&) {},
               },
               clause.demand);
}

}  // namespace

std::string pointer_of(const Policy& policy, const Event& event) {
    if (event.pointer != none) return fmt::format(FMT_COMPILE("/events/{}"), event.pointer);
    if (event.kind == policy.insertion) return "/line/inserted_at";
    return event.kind == policy.removal ? "/line/removed_at" : "/line";
}

std::uint32_t event_at_hand(const Policy& policy, const Opportunity& o) {
    if (o.origin != OriginKind::clause) return none;
    const TriggerKind kind = policy.clauses[o.item].trigger.kind;
    return kind == TriggerKind::at || kind == TriggerKind::before ? o.opened_by : none;
}

std::vector<Input> inputs_of(const Words& words, const Episode& episode, const Opportunity& o) {
    if (o.origin != OriginKind::clause) return {};
    const Policy& policy = words.policy();
    const Clause& clause = policy.clauses[o.item];
    Collector collector(words, episode, o);
    const std::uint32_t hand = event_at_hand(policy, o);
    read_demand(collector, clause, episode, o, hand);
    collector.read(where_of(clause.trigger.events, episode, o.opened_by), o.opened_by, o.opened, false);
    if (o.exception != none) {
        collector.read(clause.exceptions[o.exception].condition, hand, o.closed.value_or(o.opened), false);
    }
    collector.read(clause.trigger.once, none, o.opened, false);
    const Instant applied = std::max(o.opened, o.applies_from);
    if (clause.for_each != none && o.part_kind == none)
        collector.read_count(policy.part_kinds[clause.for_each]);
    collector.read(clause.for_each_where, none, applied, false);
    collector.read(clause.applies_for, none, applied, false);
    collector.read(clause.applies_while, none, applied, false);
    return collector.take();
}

}  // namespace linelaw::runtime
