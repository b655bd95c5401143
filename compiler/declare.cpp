#include "compiler/declare.hpp"

#include <algorithm>
#include <map>

#include "compiler/read_type.hpp"
#include "compiler/types.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

void declared_twice(Work& work, std::string_view kind, const Name& name, Place before) {
    auto& d = work.report.add("name.duplicate",
                              "the " + std::string(kind) + ' ' + in_ticks(name.text) + " is declared twice",
                              name.place, "declared again");
    d.labels.push_back({before, "first declared here"});
}

std::uint32_t add_name(Work& work, Index& index, std::string_view kind, const Name& name, std::uint32_t id) {
    if (index.add(name.text, id, name.place)) return id;
    declared_twice(work, kind, name, index.find(name.text)->place);
    return runtime::none;
}

// Clauses, escalations and bundles share one room: `expect ID` and `accept … for ID` name any of them.
void check_one_room(Work& work, const Name& id) {
    for (const Index* index : {&work.names.clauses, &work.names.escalations, &work.names.bundles})
        if (const auto* other = index->find(id.text))
            if (other->place.begin != id.place.begin || other->place.text != id.place.text)
                declared_twice(work, "id", id, other->place);
}

class NameDeclarer {
  public:
    explicit NameDeclarer(Work& work) : work_(work), names_(work.names) {}

    void operator()(const EventItem& item) { open(names_.events, item.name, work_.policy().event_kinds); }
    void operator()(const PartItem& item) { open(names_.parts, item.name, work_.policy().part_kinds); }
    void operator()(const StateItem& item) {
        if (add_name(work_, names_.states, "state", item.name, count(names_.states)) == runtime::none) return;
        work_.policy().states.emplace_back().name = item.name.text;
    }
    void operator()(const RoleItem& item) {
        for (const auto& name : item.names)
            if (add_name(work_, names_.roles, "role", name, count(names_.roles)) != runtime::none) {
                work_.policy().roles.push_back(name.text);
                intern_symbol(work_, name.text);
            }
    }
    void operator()(const TermItem& item) {
        if (add_name(work_, names_.terms, "term", item.name, count(names_.terms)) != runtime::none)
            names_.term_items.push_back(&item);
    }
    void operator()(const TableItem& item) {
        add_name(work_, names_.tables, "table", item.name, count(names_.tables));
    }
    void operator()(const ShiftItem& item) {
        add_name(work_, names_.shifts, "shift", item.name, count(names_.shifts));
    }
    void operator()(const SourceItem& item) {
        add_name(work_, names_.sources, "source", item.name, count(names_.sources));
    }
    void operator()(const ClauseItem& item) {
        check_one_room(work_, item.id);
        add_name(work_, names_.clauses, "clause", item.id, count(names_.clauses));
    }
    void operator()(const EscalationItem& item) {
        check_one_room(work_, item.id);
        add_name(work_, names_.escalations, "escalation", item.id, count(names_.escalations));
    }
    void operator()(const BundleItem& item) {
        check_one_room(work_, item.id);
        add_name(work_, names_.bundles, "bundle", item.id, count(names_.bundles));
    }
    void operator()(const QuestionItem& item) {
        add_name(work_, names_.questions, "question", item.name, count(names_.questions));
    }
    template <typename Other>
    void operator()(const Other& other) {
        (void)other;
    }

  private:
    static std::uint32_t count(const Index& index) {
        return static_cast<std::uint32_t>(index.names().size());
    }

    // Events and parts: an extending vocabulary adds to them by writing them again (§2).
    template <typename Kinds>
    void open(Index& index, const Name& name, Kinds& kinds) {
        if (const auto* before = index.find(name.text)) {
            if (before->place.text == name.place.text && before->place.end != 0)
                declared_twice(work_, "name", name, before->place);
            return;
        }
        index.add(name.text, count(index), name.place);
        kinds.emplace_back().name = name.text;
    }

    Work& work_;
    Names& names_;
};

std::uint32_t built_in(Work& work, const std::string& name, const std::string& title) {
    auto& kinds = work.policy().event_kinds;
    if (const auto* known = work.names.events.find(name)) return known->id;
    const auto id = static_cast<std::uint32_t>(kinds.size());
    work.names.events.add(name, id, {});
    kinds.emplace_back().name = name;
    kinds.back().title = title;
    return id;
}

// ---- attributes

runtime::Type duration_of_charting() {
    runtime::Type type;
    type.kind = runtime::TypeKind::duration;
    constexpr std::int64_t year = std::int64_t{366} * 24 * runtime::microseconds_per_hour;
    type.low = -year;  // charted ahead of time
    type.high = year;
    type.unit = "min";
    return type;
}

runtime::Attribute& add_attribute(Work& work, std::vector<runtime::Attribute>& attributes, AttributeId id,
                                  const std::string& name, Place place) {
    id.slot = static_cast<std::uint32_t>(attributes.size());
    work.names.attributes[id] = Declared{id.slot, place, false, false};
    auto& added = attributes.emplace_back();
    added.name = name;
    if (id.owner == Owner::event || id.owner == Owner::part) added.field = intern_field(work, name);
    return added;
}

bool has_text_order(const Type& type) {
    return type.kind == TypeKind::one_of;
}

void read_complications(Work& work, const grammar::Attribute& item, runtime::Attribute& attribute) {
    attribute.complication = item.complication;
    if (item.complication && item.type.kind != TypeKind::flag)
        work.report.add("type.declaration",
                        "a bare `complication` stands after a flag; after a list it names the values",
                        item.place, "not a flag");
    if (!item.complication_values.empty() && !has_text_order(item.type)) {
        work.report.add("type.declaration", "only values of a list can be complications",
                        item.complication_values.front().place, in_ticks(item.name.text) + " is no list");
        return;
    }
    for (const auto& value : item.complication_values) {
        Shape shape = shape_of(attribute.type);
        shape.name = attribute.name;
        const auto constant = read_constant({Reference{value}, value.place}, shape, item.name.place, work);
        if (constant)
            attribute.complications.push_back(
                static_cast<runtime::SymbolId>(std::get<runtime::Constant>(*constant).value));
    }
}

void declare_attribute(Work& work, std::vector<runtime::Attribute>& attributes, AttributeId owner,
                       const grammar::Attribute& item) {
    if (const auto* before = find_attribute(attributes, item.name.text)) {
        owner.slot = static_cast<std::uint32_t>(before - attributes.data());
        const auto& declared = work.names.attributes.at(owner);
        if (declared.place.end == 0)
            work.report.add("name.duplicate", "the attribute " + in_ticks(item.name.text) + " is built in",
                            item.name.place, "cannot be declared again");
        else
            declared_twice(work, "attribute", item.name, declared.place);
        return;
    }
    auto type = read_type(item.type, item.name.text, work);
    auto& added = add_attribute(work, attributes, owner, item.name.text, item.name.place);
    if (!type) {
        owner.slot = static_cast<std::uint32_t>(attributes.size() - 1);
        work.names.attributes[owner].broken = true;
        return;
    }
    added.type = std::move(*type);
    read_complications(work, item, added);
    const bool age_elsewhere = added.type.kind == runtime::TypeKind::age &&
                               (owner.owner != Owner::patient || item.name.text != "age");
    if (age_elsewhere)
        advise(work.report.add("type.declaration", "the only age is the patient's, `patient.age`",
                               item.type.place, "an age"),
               "declare a `duration`, or the event from which the time is counted, for `time since`");
}

// `comparable by A`: A is another attribute of the same event, with values that can be the same.
void link_comparable(Work& work, std::vector<runtime::Attribute>& attributes,
                     const std::vector<grammar::Attribute>& items) {
    for (const auto& item : items) {
        if (!item.comparable_by) continue;
        const Name& by = *item.comparable_by;
        auto attribute = std::find_if(attributes.begin(), attributes.end(),
                                      [&](const auto& a) { return a.name == item.name.text; });
        const auto* other = find_attribute(attributes, by.text);
        if (attribute == attributes.end()) continue;
        if (other == nullptr) {
            std::vector<std::string> candidates;
            for (const auto& a : attributes) candidates.push_back(a.name);
            unknown_name(work, "attribute", by, candidates);
        } else {
            attribute->comparable_by = other->field;
        }
    }
}

// ---- the items of the vocabulary

void declare_event(Work& work, const EventItem& item) {
    const auto* declared = work.names.events.find(item.name.text);
    if (declared == nullptr) return;
    auto& kind = work.policy().event_kinds[declared->id];
    kind.title = item.title.text;
    kind.also_after_removal = kind.also_after_removal || item.also_after_removal;
    kind.complication = kind.complication || item.complication;
    if (item.of) kind.of = use_name(work, work.names.parts, "part", *item.of);
    for (const auto& attribute : item.attributes)
        declare_attribute(work, kind.attributes, {Owner::event, declared->id, 0}, attribute);
    link_comparable(work, kind.attributes, item.attributes);
    for (const auto& step : item.steps) {
        if (std::find(kind.steps.begin(), kind.steps.end(), step.text) != kind.steps.end())
            work.report.add("name.duplicate", "the step " + in_ticks(step.text) + " is listed twice",
                            step.place, "listed again");
        else
            kind.steps.push_back(step.text);
    }
}

std::vector<runtime::EventKindId> plain_events(Work& work, const Events& events) {
    std::vector<runtime::EventKindId> kinds;
    for (const auto& pattern : events) {
        const auto id = use_name(work, work.names.events, "event", pattern.event);
        if (pattern.where)
            work.report.add("type.declaration", "a part begins and ends at events, without `where`",
                            pattern.place, "a condition stands here");
        if (id != runtime::none) kinds.push_back(id);
    }
    return kinds;
}

// What a part declares is charted at its beginning, and what its beginning charts becomes its own.
void share_attributes(Work& work, runtime::PartKind& part, std::uint32_t part_id) {
    for (const auto event : part.from) {
        auto& kind = work.policy().event_kinds[event];
        for (std::uint32_t slot = 0; slot < part.attributes.size(); ++slot) {
            if (find_attribute(kind.attributes, part.attributes[slot].name) != nullptr) continue;
            const auto declared = work.names.attributes.at({Owner::part, part_id, slot});
            auto copy = part.attributes[slot];
            auto& added =
                add_attribute(work, kind.attributes, {Owner::event, event, 0}, copy.name, declared.place);
            copy.field = added.field;
            added = std::move(copy);
        }
        for (std::uint32_t slot = 0; slot < kind.attributes.size(); ++slot) {
            const auto attribute = kind.attributes[slot];
            if (find_attribute(part.attributes, attribute.name) != nullptr) continue;
            const auto declared = work.names.attributes.at({Owner::event, event, slot});
            add_attribute(work, part.attributes, {Owner::part, part_id, 0}, attribute.name, declared.place) =
                attribute;
        }
    }
}

void claim_events(Work& work, const std::vector<runtime::EventKindId>& events, std::uint32_t part_id,
                  const Events& written) {
    for (const auto event : events) {
        auto& kind = work.policy().event_kinds[event];
        if (kind.name == "insertion" || kind.name == "removal")
            work.report.add("type.declaration",
                            "a part cannot begin or end at " + in_ticks(kind.name) +
                                ", which is the line's own; it never outlives the line anyway",
                            written.front().place, "the line's own event");
        else if (kind.of == runtime::none)
            kind.of = part_id;
    }
}

void declare_count(Work& work, runtime::PartKind& part, const Name& count) {
    const std::string name = count.text.rfind("line.", 0) == 0 ? count.text.substr(5) : count.text;
    const auto& line = work.policy().line;
    const auto* attribute = find_attribute(line, name);
    if (attribute == nullptr) {
        std::vector<std::string> candidates;
        for (const auto& a : line) candidates.push_back("line." + a.name);
        unknown_name(work, "attribute", count, candidates);
        return;
    }
    part.count_slot = static_cast<std::uint32_t>(attribute - line.data());
    work.names.attributes[{Owner::line, runtime::none, part.count_slot}].used = true;
    if (attribute->type.kind != runtime::TypeKind::count)
        work.report.add("type.declaration", in_ticks(count.text) + " is no count and cannot number the parts",
                        count.place, in_words(shape_of(attribute->type)));
    else if (attribute->type.high > runtime::most_parts_counted)
        work.report.add("range.value",
                        in_ticks(count.text) + " can be up to " + std::to_string(attribute->type.high) +
                            ", and each part is judged for itself: of a line at most " +
                            std::to_string(runtime::most_parts_counted) + " can be numbered",
                        count.place, "more parts than a line has");
}

void declare_part(Work& work, const PartItem& item) {
    const auto* declared = work.names.parts.find(item.name.text);
    if (declared == nullptr) return;
    const auto id = declared->id;
    auto& part = work.policy().part_kinds[id];
    part.title = item.title.text;
    if (item.of) part.of = use_name(work, work.names.parts, "part", *item.of);
    for (const auto& attribute : item.attributes)
        declare_attribute(work, part.attributes, {Owner::part, id, 0}, attribute);
    link_comparable(work, part.attributes, item.attributes);
    if (item.count) {
        declare_count(work, part, *item.count);
        if (!item.attributes.empty())
            work.report.add("type.declaration",
                            "a part that is numbered has no beginning event to chart attributes at",
                            item.attributes.front().place, "cannot be charted");
        return;
    }
    for (const auto event : plain_events(work, item.from)) part.from.push_back(event);
    for (const auto event : plain_events(work, item.until)) part.until.push_back(event);
    claim_events(work, part.from, id, item.from);
    claim_events(work, part.until, id, item.until);
    share_attributes(work, part, id);
}

template <typename Item, typename Declare>
void each(Work& work, Declare declare) {
    for (const auto* item : work.layers.items)
        if (const auto* node = std::get_if<Item>(&item->node)) declare(work, *node);
}

void add_built_in_attributes(Work& work) {
    auto& policy = work.policy();
    const auto add_role = [&](runtime::EventKindId event, const std::string& name) {
        auto& kind = policy.event_kinds[event];
        if (find_attribute(kind.attributes, name) != nullptr) return intern_field(work, name);
        auto& added = add_attribute(work, kind.attributes, {Owner::event, event, 0}, name, {});
        // Where a policy has no roles there is no list to choose from.
        added.type.kind = policy.roles.empty() ? runtime::TypeKind::text : runtime::TypeKind::one_of;
        for (const auto& role : policy.roles) added.type.values.push_back(intern_symbol(work, role));
        return added.field;
    };
    policy.notified = add_role(policy.notification, "notified");
    policy.acknowledged_by = add_role(policy.acknowledgement, "acknowledged_by");
    policy.charting_delay = intern_field(work, "charting_delay");
    for (std::uint32_t e = 0; e < policy.event_kinds.size(); ++e)
        add_attribute(work, policy.event_kinds[e].attributes, {Owner::event, e, 0}, "charting_delay", {})
            .type = duration_of_charting();
}

// What is charted under one name is read as one kind of value, whichever event charts it.
void check_one_kind(Work& work) {
    std::map<runtime::FieldId, AttributeId> first;
    for (const auto& [id, declared] : work.names.attributes) {
        if (declared.broken || (id.owner != Owner::event && id.owner != Owner::part)) continue;
        const auto& here = attribute(work.policy(), id);
        const auto& before = first.try_emplace(here.field, id).first->second;
        const auto& there = attribute(work.policy(), before);
        if (here.type.kind == there.type.kind) continue;
        const Place elsewhere = work.names.attributes.at(before).place;
        auto& d = work.report.add(
            "type.declaration",
            in_ticks(here.name) + " is " + in_words(shape_of(here.type)) + " here and " +
                in_words(shape_of(there.type)) + " elsewhere; what is charted under one name is of one kind",
            declared.place.end != 0 ? declared.place : elsewhere, in_words(shape_of(here.type)));
        if (elsewhere.end != 0) d.labels.push_back({elsewhere, in_words(shape_of(there.type))});
        advise(d, "give one of the two a name of its own");
    }
}

// A term's name would hide, or be hidden by, an attribute, a state or an event.
void check_term_names(Work& work) {
    const auto clash = [&](const std::string& name, std::string_view what, Place place) {
        const auto* term = work.names.terms.find(name);
        if (term == nullptr) return;
        auto& d = work.report.add("name.ambiguous",
                                  "the term " + in_ticks(name) + " bears the name of " + std::string(what) +
                                      "; a bare " + in_ticks(name) + " could mean either",
                                  term->place, "the term");
        if (place.end != 0) d.labels.push_back({place, std::string(what)});
        advise(d, "give the term a name of its own");
    };
    for (const auto& [id, declared] : work.names.attributes)
        clash(attribute(work.policy(), id).name, "an attribute", declared.place);
    for (const auto& name : work.names.states.names())
        clash(name, "a state", work.names.states.find(name)->place);
    for (const auto& name : work.names.events.names())
        clash(name, "an event", work.names.events.find(name)->place);
}

}  // namespace

void declare_names(Work& work) {
    NameDeclarer declarer(work);
    for (const auto* item : work.layers.items) std::visit(declarer, item->node);
    auto& policy = work.policy();
    policy.insertion = built_in(work, "insertion", "Insertion");
    policy.removal = built_in(work, "removal", "Removal");
    policy.notification = built_in(work, "notification", "Notification");
    policy.acknowledgement = built_in(work, "acknowledgement", "Acknowledgement");
    // Calls may be made, and answered, after the line is out (§4.8).
    policy.event_kinds[policy.notification].also_after_removal = true;
    policy.event_kinds[policy.acknowledgement].also_after_removal = true;
}

void declare_vocabulary(Work& work) {
    auto& policy = work.policy();
    each<PatientBlock>(work, [&](Work& w, const PatientBlock& block) {
        for (const auto& a : block.attributes)
            declare_attribute(w, policy.patient, {Owner::patient, runtime::none, 0}, a);
        link_comparable(w, policy.patient, block.attributes);
    });
    each<LineBlock>(work, [&](Work& w, const LineBlock& block) {
        for (const auto& a : block.attributes)
            declare_attribute(w, policy.line, {Owner::line, runtime::none, 0}, a);
        link_comparable(w, policy.line, block.attributes);
    });
    each<EventItem>(work, declare_event);
    each<PartItem>(work, declare_part);
    add_built_in_attributes(work);
    check_one_kind(work);
    check_term_names(work);
    for (auto& kind : policy.event_kinds) {
        kind.slot_of_field.assign(policy.fields.size(), runtime::none);
        for (std::uint32_t slot = 0; slot < kind.attributes.size(); ++slot)
            kind.slot_of_field[kind.attributes[slot].field] = slot;
    }
}

}  // namespace linelaw::compiler
