// A small compiled policy and an episode to judge by it, made by hand so that the runtime's own tests need no
// compiler. Facility and care units are invented.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"
#include "runtime/time.hpp"

namespace small {

using namespace linelaw::runtime;

constexpr std::int64_t hour = microseconds_per_hour;
constexpr std::int64_t day = 24 * hour;

inline Instant instant(std::string_view text) {
    return read_instant(text).value();
}

inline Attribute attribute(std::string name, Type type, FieldId field = none) {
    Attribute a;
    a.name = std::move(name);
    a.type = std::move(type);
    a.field = field;
    return a;
}

inline ExpressionId put(Policy& policy, Expression expression) {
    policy.expressions.push_back(std::move(expression));
    return static_cast<ExpressionId>(policy.expressions.size() - 1);
}

inline ExpressionId compare(Policy& policy, Comparator comparator, Expression left, Expression right) {
    const ExpressionId l = put(policy, std::move(left));
    const ExpressionId r = put(policy, std::move(right));
    return put(policy, Compare{comparator, l, r});
}

enum Field : FieldId { dry_time, antiseptic, dressing, condition, notified, acknowledged_by, charting_delay };
enum Kind : EventKindId {
    insertion,
    removal,
    notification,
    acknowledgement,
    dressing_change,
    site_assessment,
    set_change
};
enum Symbol : SymbolId { chg_alcohol, povidone_iodine, transparent, gauze, intact, damp, picc, port };

// The event kinds of the small policy; clauses are added by each test.
inline Policy policy() {
    Policy p;
    p.title = "Quillhaven Regional: care of vascular access lines";
    p.edition = "4";
    p.time_zone = "UTC";
    p.content_hash = "0123456789abcdef";
    p.symbols = {"chg_alcohol", "povidone_iodine", "transparent", "gauze", "intact", "damp", "picc", "port"};
    p.fields = {"dry_time", "antiseptic",      "dressing",      "dressing_condition",
                "notified", "acknowledged_by", "charting_delay"};
    const auto kind = [&](std::string name, std::string title, std::vector<Attribute> attributes = {}) {
        EventKind k;
        k.name = std::move(name);
        k.title = std::move(title);
        k.attributes = std::move(attributes);
        k.slot_of_field.assign(p.fields.size(), none);
        for (std::uint32_t slot = 0; slot < k.attributes.size(); ++slot)
            k.slot_of_field[k.attributes[slot].field] = slot;
        p.event_kinds.push_back(std::move(k));
    };
    const Type seconds{TypeKind::duration, {}, 0, 1800 * microseconds_per_second, {}, {}, "s"};
    const Type antiseptics{TypeKind::one_of, {chg_alcohol, povidone_iodine}, 0, 0, {}, {}, ""};
    const Type dressings{TypeKind::one_of, {transparent, gauze}, 0, 0, {}, {}, ""};
    const Type conditions{TypeKind::one_of, {intact, damp}, 0, 0, {}, {}, ""};
    kind("insertion", "Insertion");
    kind("removal", "Removal");
    kind("notification", "Notification");
    kind("acknowledgement", "Acknowledgement");
    kind("dressing_change", "Dressing change",
         {attribute("dry_time", seconds, dry_time), attribute("antiseptic", antiseptics, antiseptic),
          attribute("dressing", dressings, dressing)});
    p.event_kinds[dressing_change].steps = {"hand_hygiene", "scrub", "dry", "apply_dressing"};
    kind("site_assessment", "Site assessment", {attribute("dressing_condition", conditions, condition)});
    kind("set_change", "Administration-set change");
    p.insertion = insertion;
    p.removal = removal;
    p.notification = notification;
    p.acknowledgement = acknowledgement;
    p.notified = notified;
    p.acknowledged_by = acknowledged_by;
    p.charting_delay = charting_delay;
    p.line = {attribute("kind", Type{TypeKind::one_of, {picc, port}, 0, 0, {}, {}, ""})};
    State state;
    state.name = "dressing";
    state.type = dressings;
    state.sources = {{dressing_change, dressing}};
    p.states = {state};
    p.roles = {"charge_nurse", "provider"};
    return p;
}

inline Clause clause(std::string id, std::string sentence, Demand demand,
                     Priority priority = Priority::major) {
    Clause c;
    c.id = std::move(id);
    c.sentence = std::move(sentence);
    c.demand = std::move(demand);
    c.priority = priority;
    return c;
}

inline Span days(std::int32_t n) {
    return Span{0, n, false, 0};
}
inline Span hours(std::int64_t n) {
    return Span{0, 0, false, n * hour};
}

// An episode with an insertion at 2 March 2026 08:00 UTC; events are added in order of time.
struct EpisodeMaker {
    const Policy& policy;
    Episode episode;

    explicit EpisodeMaker(const Policy& p, std::string key = "q-000017") : policy(p) {
        episode.key = std::move(key);
        episode.care_unit = "med-3";
        episode.line.assign(p.line.size(), Value{picc, Known::known});
        episode.inserted_at = instant("2026-03-02T08:00:00Z");
        event(insertion, *episode.inserted_at);
        episode.events.back().pointer = none;
    }
    // Values by slot; an empty one is undocumented.
    std::uint32_t event(EventKindId kind, Instant at, const std::vector<Value>& values = {}) {
        Event e;
        e.kind = kind;
        e.at = at;
        e.id = static_cast<std::uint32_t>(episode.texts.size());
        episode.texts.push_back("e" + std::to_string(episode.events.size()));
        e.pointer = static_cast<std::uint32_t>(episode.events.size()) - 1;
        e.values = static_cast<std::uint32_t>(episode.values.size());
        for (std::size_t slot = 0; slot < policy.event_kinds[kind].attributes.size(); ++slot) {
            episode.values.push_back(slot < values.size() ? values[slot] : Value{});
        }
        episode.events.push_back(e);
        return static_cast<std::uint32_t>(episode.events.size() - 1);
    }
};

inline Value known(std::int64_t number) {
    return Value{number, Known::known};
}

}  // namespace small
