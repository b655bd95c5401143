#include "runtime/nearest_edits.hpp"

#include <algorithm>
#include <cstdlib>
#include <set>

#include "runtime/findings_words.hpp"
#include "runtime/overloaded.hpp"

namespace linelaw::runtime {
namespace {

// Whether an event of this kind may stand at this instant.
bool may_stand(const Policy& policy, const Episode& episode, EventKindId kind, Instant at) {
    if (episode.inserted_at && at < *episode.inserted_at) return false;
    if (episode.observed_from && at < *episode.observed_from) return false;
    const bool after = policy.event_kinds[kind].also_after_removal || kind == policy.notification ||
                       kind == policy.acknowledgement;
    return !episode.removed_at || at <= *episode.removed_at || after;
}

// After the events of its instant, but before a removal there.
void insert_in_order(const Policy& policy, Episode& episode, const Event& event) {
    auto place = std::upper_bound(episode.events.begin(), episode.events.end(), event.at,
                                  [](Instant at, const Event& e) { return at < e.at; });
    while (place != episode.events.begin() && std::prev(place)->at == event.at &&
           std::prev(place)->kind == policy.removal)
        --place;
    episode.events.insert(place, event);
}

std::uint32_t slot_of(const Policy& policy, EventKindId kind, FieldId field) {
    const auto& slots = policy.event_kinds[kind].slot_of_field;
    return field < slots.size() ? slots[field] : none;
}

void set_values(const Policy& policy, Episode& episode, const Event& event,
                const std::vector<FieldValue>& values) {
    for (const auto& [field, value] : values) {
        const std::uint32_t slot = slot_of(policy, event.kind, field);
        if (slot != none) episode.values[event.values + slot] = value;
    }
}

// Goes through an expression and every one under it, tables' answers among them.
class Walk {
  public:
    Walk(const Policy& policy, std::set<FieldId>& fields, std::set<std::int64_t>& constants)
        : policy_(policy), fields_(fields), constants_(constants) {}
    void visit(ExpressionId id) {
        if (id == none) return;
        std::visit(overloaded{
                       [&](const Constant& e) { constants_.insert(e.value); },
                       [&](const EventAttribute& e) { fields_.insert(e.field); },
                       [&](const Change& e) { fields_.insert(e.field); },
                       [&](const DifferenceOf& e) { visit(e.left), visit(e.right); },
                       [&](const Multiple& e) { visit(e.operand); },
                       [&](const TableValue& e) {
                           visit_all(e.inputs);
                           for (const Row& row : policy_.tables[e.table].rows) {
                               visit(row.gives[e.column]);
                               for (const Cell& cell : row.given) visit_all(cell.values);
                           }
                       },
                       [&](const And& e) { visit_all(e.operands); },
                       [&](const Or& e) { visit_all(e.operands); },
                       [&](const Not& e) { visit(e.operand); },
                       [&](const Compare& e) { visit(e.left), visit(e.right); },
                       [&](const OneOf& e) { visit(e.operand), visit_all(e.values); },
                       [&](const Documented& e) { visit(e.attribute); },
                       [&](const auto&) {},
                   },
                   policy_.expressions[id]);
    }

  private:
    void visit_all(const std::vector<ExpressionId>& ids) {
        for (const ExpressionId id : ids) visit(id);
    }
    const Policy& policy_;
    std::set<FieldId>& fields_;
    std::set<std::int64_t>& constants_;
};

// Everything known of this field in the record: of its events, and of the line's attribute of that name.
std::set<std::int64_t> recorded(const Policy& policy, const Episode& episode, FieldId field) {
    std::set<std::int64_t> out;
    for (const Event& event : episode.events) {
        const std::uint32_t slot = slot_of(policy, event.kind, field);
        if (slot == none) continue;
        const Value& value = episode.value(event, slot);
        if (value.state == Known::known) out.insert(value.number);
    }
    for (std::uint32_t slot = 0; slot < policy.line.size() && slot < episode.line.size(); ++slot) {
        if (policy.line[slot].name == policy.fields[field] && episode.line[slot].state == Known::known)
            out.insert(episode.line[slot].number);
    }
    return out;
}

}  // namespace

std::optional<Episode> with_moved(const Policy& policy, const Episode& episode, std::uint32_t event,
                                  Instant to) {
    Event moved = episode.events[event];
    if (moved.kind == policy.insertion || moved.kind == policy.removal) return std::nullopt;
    if (!may_stand(policy, episode, moved.kind, to)) return std::nullopt;
    Episode out = without(episode, event);
    if (moved.recorded_at) moved.recorded_at = *moved.recorded_at - moved.at + to;
    for (std::uint32_t i = 0; i < moved.step_count; ++i) {
        StepMark& mark = out.steps[moved.steps + i];
        for (auto* t : {&mark.at, &mark.from, &mark.to}) {
            if (*t) *t = **t - moved.at + to;
        }
    }
    moved.at = to;
    insert_in_order(policy, out, moved);
    return out;
}

std::optional<Episode> with_added(const Policy& policy, const Episode& episode, EventKindId kind, Instant at,
                                  PartKindId part_kind, std::uint32_t part,
                                  const std::vector<FieldValue>& values) {
    if (kind == policy.insertion || kind == policy.removal) return std::nullopt;
    if (!may_stand(policy, episode, kind, at)) return std::nullopt;
    Episode out = episode;
    Event event;
    event.kind = kind;
    event.at = at;
    event.pointer = none;
    event.values = static_cast<std::uint32_t>(out.values.size());
    out.values.resize(out.values.size() + policy.event_kinds[kind].attributes.size());
    event.steps = static_cast<std::uint32_t>(out.steps.size());
    if (part_kind != none && policy.event_kinds[kind].of == part_kind) {
        event.part = part;
        if (policy.part_kinds[part_kind].count_slot != none) {  // the opportunity bears its number
            event.part = static_cast<std::uint32_t>(out.texts.size());
            out.texts.push_back(std::to_string(part));
        }
    }
    set_values(policy, out, event, values);
    insert_in_order(policy, out, event);
    return out;
}

Episode without(const Episode& episode, std::uint32_t event) {
    Episode out = episode;
    out.events.erase(out.events.begin() + event);
    return out;
}

Episode with_values(const Policy& policy, const Episode& episode, std::uint32_t event,
                    const std::vector<FieldValue>& values) {
    Episode out = episode;
    set_values(policy, out, out.events[event], values);
    return out;
}

Episode with_steps(const Episode& episode, std::uint32_t event, const std::vector<std::uint32_t>& steps) {
    Episode out = episode;
    Event& e = out.events[event];
    e.steps = static_cast<std::uint32_t>(out.steps.size());
    e.step_count = static_cast<std::uint32_t>(steps.size());
    for (const std::uint32_t step : steps) {
        StepMark mark;
        mark.step = step;
        out.steps.push_back(mark);
    }
    return out;
}

std::vector<Value> values_to_try(const Policy& policy, const Episode& episode,
                                 const std::vector<ExpressionId>& from, FieldId field, const Type& type,
                                 const Value& present) {
    std::set<std::int64_t> numbers;
    if (type.kind == TypeKind::flag) {
        numbers = {0, 1};
    } else if (type.kind == TypeKind::one_of) {
        numbers.insert(type.values.begin(), type.values.end());
    } else if (type.kind != TypeKind::text && type.kind != TypeKind::key) {
        std::set<FieldId> fields;
        std::set<std::int64_t> constants;
        Walk walk(policy, fields, constants);
        for (const ExpressionId id : from) walk.visit(id);
        for (const std::int64_t known : recorded(policy, episode, field)) {
            for (const std::int64_t c : constants) numbers.insert({known + c, known - c});
            numbers.insert(known);
        }
        numbers.insert(constants.begin(), constants.end());
    }
    std::vector<Value> out;
    for (const std::int64_t number : numbers) {
        const bool plain = type.kind == TypeKind::flag || type.kind == TypeKind::one_of;
        if (plain || type.kind == TypeKind::time_of_day || (number >= type.low && number <= type.high))
            out.push_back({number, Known::known});
    }
    if (present.state == Known::known) {
        std::stable_sort(out.begin(), out.end(), [&](const Value& a, const Value& b) {
            return std::llabs(a.number - present.number) < std::llabs(b.number - present.number);
        });
    }
    constexpr std::size_t most = 24;
    if (out.size() > most) out.resize(most);
    return out;
}

std::vector<FieldId> fields_read(const Policy& policy, ExpressionId expression) {
    std::set<FieldId> fields;
    std::set<std::int64_t> constants;
    Walk(policy, fields, constants).visit(expression);
    return {fields.begin(), fields.end()};
}

}  // namespace linelaw::runtime
