#include "runtime/record_schema.hpp"

#include <algorithm>
#include <limits>
#include <nlohmann/json.hpp>

#include "runtime/values.hpp"

namespace linelaw::runtime {
namespace {

using json = nlohmann::ordered_json;

json or_null(json schema) {
    return {{"anyOf", json::array({std::move(schema), {{"type", "null"}}})}};
}
json text() {
    return {{"type", "string"}};
}
// What a pattern can see of a date and of an instant: that February has no 30th, and when the clocks change,
// it cannot.
constexpr const char* date = "[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])";
std::string instant_pattern() {
    const std::string minute = "([01][0-9]|2[0-3]):[0-5][0-9]";
    const std::string fraction = "(\\.[0-9]+)?";
    const std::string offset = "[+-]" + minute;
    // A leap second ends a day of UTC.
    return std::string("^") + date + "[Tt ](" + minute + ":[0-5][0-9]" + fraction + "([Zz]|" + offset +
           ")?|23:59:60" + fraction + "[Zz]|" + minute + ":60" + fraction + offset + ")$";
}
json instant() {
    return {{"type", "string"},
            {"pattern", instant_pattern()},
            {"description", "RFC 3339; without an offset, on the clocks of the policy's zone"}};
}
json name() {
    return {{"anyOf", json::array({{{"type", "string"}, {"minLength", 1}},
                                   {{"type", "integer"},
                                    {"minimum", 0},
                                    {"maximum", std::numeric_limits<std::uint64_t>::max()}}})}};
}
json object(json properties) {
    return {{"type", "object"}, {"properties", std::move(properties)}, {"additionalProperties", false}};
}
json value_and_unit(json value, json units) {
    json out = object({{"value", std::move(value)}, {"unit", {{"enum", std::move(units)}}}});
    out["required"] = {"value", "unit"};
    return out;
}

// A number's bound as JSON: a decimal that is read as this number.
json bound(std::int64_t grains, const Unit& unit) {
    return json::parse(write_decimal(grains, unit));
}

json number(const Type& type, const Unit& unit) {
    json bare = {{"type", type.kind == TypeKind::count ? "integer" : "number"},
                 {"minimum", bound(type.low, unit)},
                 {"maximum", bound(type.high, unit)}};
    if (unit.name.empty()) return bare;
    bare["description"] = "in " + std::string(unit.name);
    json choices = json::array({bare});
    for (const Unit& other : units()) {
        if (other.dimension != unit.dimension) continue;
        json names = json::array({other.name});
        if (!other.ucum.empty() && other.ucum != other.name) names.insert(names.begin(), other.ucum);
        if (other.dimension == Dimension::concentration)
            names.insert(names.begin(), {"[USP'U]/mL", "[iU]/mL"});
        choices.push_back(value_and_unit({{"type", "number"}}, names));
    }
    return {{"anyOf", choices}};
}

// The most completed units of an age in the range, or a little more where a month's length decides.
json age(const Type& type) {
    const std::int64_t months = type.age_high.months + 12;
    const std::int64_t days = type.age_high.days + 1;
    const auto in = [](std::int64_t most, json names) {
        return value_and_unit({{"type", "integer"}, {"minimum", 0}, {"maximum", most}}, std::move(names));
    };
    const std::int64_t years = (type.age_high.months + type.age_high.days / 28) / 12;
    return {{"anyOf", json::array({{{"type", "integer"},
                                    {"minimum", 0},
                                    {"maximum", years},
                                    {"description", "completed years at insertion"}},
                                   in(years, {"a", "years", "year"}),
                                   in(months + days / 28, {"mo", "months", "month"}),
                                   in((months * 31 + days) / 7, {"wk", "weeks", "week"}),
                                   in(months * 31 + days, {"d", "days", "day"})})}};
}

json value_schema(const Policy& policy, const Type& type) {
    switch (type.kind) {
        case TypeKind::flag:
            return {{"type", "boolean"}};
        case TypeKind::one_of: {
            json words = json::array();
            for (SymbolId symbol : type.values) words.push_back(policy.symbols[symbol]);
            return {{"enum", words}};
        }
        case TypeKind::count:
            return number(type, count_unit);
        case TypeKind::number:
            return number(type, number_unit);
        case TypeKind::age:
            return age(type);
        case TypeKind::time_of_day:
            return {{"type", "string"}, {"pattern", "^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?$"}};
        case TypeKind::text:
            return text();
        case TypeKind::key:
            return {{"type", "string"}, {"description", "a key: compared with other keys, never printed"}};
        default:
            return number(type, *find_unit(type.kind == TypeKind::percent ? "%" : type.unit));
    }
}

// The first of a name stays: it is the one that the reader asks.
void add_attributes(json& properties, const Policy& policy, const std::vector<Attribute>& attributes) {
    for (const Attribute& attribute : attributes) {
        if (attribute.field != none && attribute.field == policy.charting_delay) continue;
        if (!properties.contains(attribute.name))
            properties[attribute.name] = or_null(value_schema(policy, attribute.type));
    }
}

json steps(const EventKind& kind) {
    const json names = {{"enum", kind.steps}};
    json timed = object({{"step", names},
                         {"at", or_null(instant())},
                         {"from", or_null(instant())},
                         {"to", or_null(instant())}});
    timed["required"] = {"step"};
    return or_null({{"type", "array"}, {"items", {{"anyOf", json::array({names, timed})}}}});
}

bool begins(const PartKind& part, EventKindId event) {
    return std::find(part.from.begin(), part.from.end(), event) != part.from.end();
}

json event(const Policy& policy, EventKindId id) {
    const EventKind& kind = policy.event_kinds[id];
    json properties = {{"id", or_null(name())},
                       {"type", {{"const", kind.name}}},
                       {"at", instant()},
                       {"recorded_at", or_null(instant())}};
    if (!kind.steps.empty()) properties["steps"] = steps(kind);
    if (kind.of != none) {
        const PartKind& part = policy.part_kinds[kind.of];
        properties[part.name] = or_null(name());
        if (begins(part, id) && part.of != none)
            properties[policy.part_kinds[part.of].name] = or_null(name());
    }
    add_attributes(properties, policy, kind.attributes);
    json out = object(std::move(properties));
    out["required"] = {"type", "at"};
    if (!kind.title.empty()) out["title"] = kind.title;
    return out;
}

json patient(const Policy& policy) {
    json properties = {{"key", or_null(text())}};
    const bool has_age = std::any_of(policy.patient.begin(), policy.patient.end(),
                                     [](const Attribute& a) { return a.type.kind == TypeKind::age; });
    if (has_age)
        properties["birth_date"] = or_null({{"type", "string"}, {"pattern", std::string("^") + date + "$"}});
    add_attributes(properties, policy, policy.patient);
    return object(std::move(properties));
}

json line(const Policy& policy) {
    const EventKind& insertion = policy.event_kinds[policy.insertion];
    json properties = {{"inserted_at", or_null(instant())}, {"removed_at", or_null(instant())}};
    if (!insertion.steps.empty()) properties["steps"] = steps(insertion);
    add_attributes(properties, policy, policy.line);
    add_attributes(properties, policy, insertion.attributes);
    add_attributes(properties, policy, policy.event_kinds[policy.removal].attributes);
    return object(std::move(properties));
}

}  // namespace

std::string record_schema(const Policy& policy) {
    json kinds = json::array();
    json definitions = json::object();
    for (EventKindId id = 0; id < policy.event_kinds.size(); ++id) {
        const std::string& kind = policy.event_kinds[id].name;
        definitions[kind] = event(policy, id);
        kinds.push_back({{"$ref", "#/$defs/" + kind}});
    }
    json schema = {{"$schema", "https://json-schema.org/draft/2020-12/schema"},
                   {"title", "Episode records for " + policy.title},
                   {"description", "One object an episode: one line in one patient. Vocabulary " +
                                       policy.vocabulary + ", edition " + policy.vocabulary_edition + "."}};
    const json record = object({{"episode", {{"type", "string"}, {"minLength", 1}}},
                                {"facility", or_null(text())},
                                {"care_unit", or_null(text())},
                                {"patient", or_null(patient(policy))},
                                {"line", or_null(line(policy))},
                                {"observed_from", or_null(instant())},
                                {"observed_until", or_null(instant())},
                                {"events", or_null({{"type", "array"}, {"items", {{"anyOf", kinds}}}})}});
    schema.update(record);
    schema["required"] = {"episode"};
    const json known = {{"type", "string"}};
    const std::string& insertion = policy.event_kinds[policy.insertion].name;
    schema["anyOf"] =
        json::array({{{"required", {"line"}},
                      {"properties",
                       {{"line",
                         {{"type", "object"},
                          {"required", {"inserted_at"}},
                          {"properties", {{"inserted_at", known}}}}}}}},
                     {{"required", {"observed_from"}}, {"properties", {{"observed_from", known}}}},
                     {{"required", {"events"}},
                      {"properties",
                       {{"events",
                         {{"type", "array"},
                          {"contains",
                           {{"type", "object"},
                            {"required", {"type"}},
                            {"properties", {{"type", {{"const", insertion}}}}}}}}}}}}});
    schema["$defs"] = std::move(definitions);
    return schema.dump(2) + '\n';
}

}  // namespace linelaw::runtime
