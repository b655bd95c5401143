#include "examples.hpp"

#include <algorithm>
#include <stdexcept>

namespace conformance {

using namespace linelaw::runtime;
namespace grammar = linelaw::grammar;

namespace {

std::int64_t microseconds(const grammar::TimeOfDay& t) {
    return (t.hour * 60 + t.minute) * microseconds_per_minute;
}

struct Builder {
    const Policy& policy;
    const Zone& zone;
    const grammar::ExampleItem& example;
    Episode episode;

    [[noreturn]] void fail(const std::string& what) const {
        throw std::runtime_error("example \"" + example.title.text + "\": " + what);
    }

    std::uint32_t text(const std::string& t) {
        for (std::uint32_t i = 0; i < episode.texts.size(); ++i)
            if (episode.texts[i] == t) return i;
        episode.texts.push_back(t);
        return static_cast<std::uint32_t>(episode.texts.size() - 1);
    }

    // "i1", i1 or 1, as a part's name.
    static std::string word(const grammar::Expression& e) {
        if (const auto* t = std::get_if<grammar::Text>(&e.node)) return t->text;
        if (const auto* n = std::get_if<grammar::Number>(&e.node)) return n->text;
        if (const auto* r = std::get_if<grammar::Reference>(&e.node)) return r->name.text;
        return {};
    }

    static std::int64_t grains(const std::string& number, const std::string& unit) {
        const Unit* found = find_unit(unit);
        const std::optional<std::int64_t> value =
            found == nullptr ? std::nullopt : grains_from_decimal(number, *found);
        if (!value) throw std::runtime_error("no number of " + unit + ": " + number);
        return *value;
    }

    Value value(const Type& type, const std::vector<grammar::Expression>& written) {
        if (written.empty()) return {1, Known::known};  // a bare flag
        const grammar::Expression& e = written.front();
        if (const auto* r = std::get_if<grammar::Reference>(&e.node)) {
            if (type.kind == TypeKind::flag) return {r->name.text == "yes" ? 1 : 0, Known::known};
            const auto found = std::find(policy.symbols.begin(), policy.symbols.end(), r->name.text);
            if (found == policy.symbols.end()) fail("no value " + r->name.text);
            return {found - policy.symbols.begin(), Known::known};
        }
        if (const auto* t = std::get_if<grammar::Text>(&e.node)) return {text(t->text), Known::known};
        if (const auto* t = std::get_if<grammar::TimeOfDay>(&e.node)) return {microseconds(*t), Known::known};
        if (const auto* n = std::get_if<grammar::Number>(&e.node)) {
            if (type.kind == TypeKind::key || type.kind == TypeKind::text)
                return {text(n->text), Known::known};
            if (type.kind == TypeKind::count) return {std::stoll(n->text), Known::known};
            if (type.kind == TypeKind::number)
                return {grains_from_decimal(n->text, Unit{"", "", Dimension::none, 1'000'000, 0}).value(),
                        Known::known};
            return {grains(n->text, type.unit), Known::known};
        }
        if (const auto* q = std::get_if<grammar::Quantity>(&e.node)) {
            std::int64_t sum = 0;
            for (const grammar::QuantityTerm& term : q->terms)
                sum += grains(term.number.text, term.unit.text);
            return {sum, Known::known};
        }
        fail("a value that examples cannot give");
    }

    Age age(const std::vector<grammar::Expression>& written) const {
        Age a;
        if (const auto* d = std::get_if<grammar::Date>(&written.front().node)) {
            a.given = Age::Given::birth_date;
            a.birth = {d->year, d->month, d->day};
            return a;
        }
        const auto* q = std::get_if<grammar::Quantity>(&written.front().node);
        if (q == nullptr || q->terms.size() != 1)
            fail("an age is one number of days, weeks, months or years");
        a.given = Age::Given::completed;
        a.completed = std::stoi(q->terms[0].number.text);
        const char unit = q->terms[0].unit.text.front();
        a.unit = unit == 'd'   ? AgeUnit::days
                 : unit == 'w' ? AgeUnit::weeks
                 : unit == 'm' ? AgeUnit::months
                               : AgeUnit::years;
        return a;
    }

    void assign(const std::vector<Attribute>& attributes, std::vector<Value>& values,
                const std::vector<grammar::Assignment>& assignments) {
        values.assign(attributes.size(), Value{});
        for (const grammar::Assignment& a : assignments) {
            if (a.attribute.text == "birth_date") {
                episode.age = age(a.value);
                continue;
            }
            const auto slot = std::find_if(attributes.begin(), attributes.end(),
                                           [&](const Attribute& b) { return b.name == a.attribute.text; });
            if (slot == attributes.end()) fail("no attribute " + a.attribute.text);
            if (slot->type.kind == TypeKind::age)
                episode.age = age(a.value);
            else
                values[static_cast<std::size_t>(slot - attributes.begin())] = value(slot->type, a.value);
        }
    }

    Instant on(std::int32_t day, const grammar::TimeOfDay& t) const {
        return instant_of(policy, zone, example, day, microseconds(t));
    }

    void add(const grammar::ExampleEvent& written) {
        const auto kind = std::find_if(policy.event_kinds.begin(), policy.event_kinds.end(),
                                       [&](const EventKind& k) { return k.name == written.event.text; });
        if (kind == policy.event_kinds.end()) fail("no event " + written.event.text);
        Event event;
        event.kind = static_cast<EventKindId>(kind - policy.event_kinds.begin());
        event.at = on(written.day, written.at);
        event.values = static_cast<std::uint32_t>(episode.values.size());
        episode.values.resize(episode.values.size() + kind->attributes.size());
        for (const grammar::Assignment& a : written.attributes) {
            const auto part = std::find_if(policy.part_kinds.begin(), policy.part_kinds.end(),
                                           [&](const PartKind& p) { return p.name == a.attribute.text; });
            const auto slot = std::find_if(kind->attributes.begin(), kind->attributes.end(),
                                           [&](const Attribute& b) { return b.name == a.attribute.text; });
            if (slot != kind->attributes.end()) {
                episode.values[event.values + static_cast<std::size_t>(slot - kind->attributes.begin())] =
                    value(slot->type, a.value);
            } else if (part != policy.part_kinds.end()) {
                name_part(event, static_cast<PartKindId>(part - policy.part_kinds.begin()),
                          text(word(a.value.front())));
            } else {
                fail("no attribute " + a.attribute.text + " of " + written.event.text);
            }
        }
        event.steps = static_cast<std::uint32_t>(episode.steps.size());
        for (const grammar::ExampleStep& step : written.steps) {
            StepMark mark;
            const auto found = std::find(kind->steps.begin(), kind->steps.end(), step.step.text);
            if (found == kind->steps.end()) fail("no step " + step.step.text);
            mark.step = static_cast<std::uint32_t>(found - kind->steps.begin());
            if (step.at) mark.at = on(written.day, *step.at);
            if (step.from) mark.from = on(written.day, *step.from);
            if (step.to) mark.to = on(written.day, *step.to);
            episode.steps.push_back(mark);
        }
        event.step_count = static_cast<std::uint32_t>(written.steps.size());
        if (event.kind == policy.insertion) episode.inserted_at = event.at;
        if (event.kind == policy.removal) episode.removed_at = event.at;
        episode.events.push_back(event);
    }

    // The part that the event is one of, or begins or ends; else the parent of that part.
    void name_part(Event& event, PartKindId named, std::uint32_t name) const {
        PartKindId own = policy.event_kinds[event.kind].of;
        for (PartKindId p = 0; p < policy.part_kinds.size(); ++p) {
            const PartKind& kind = policy.part_kinds[p];
            const auto has = [&](const std::vector<EventKindId>& kinds) {
                return std::find(kinds.begin(), kinds.end(), event.kind) != kinds.end();
            };
            if (has(kind.from) || has(kind.until)) own = p;
        }
        (named == own ? event.part : event.parent) = name;
    }

    Episode build() {
        episode.key = "example";
        assign(policy.line, episode.line, example.line);
        assign(policy.patient, episode.patient, example.patient);
        for (const grammar::ExampleEvent& e : example.events) add(e);
        const auto order = [&](const Event& e) {
            return e.kind == policy.insertion ? 0 : e.kind == policy.removal ? 2 : 1;
        };
        std::stable_sort(episode.events.begin(), episode.events.end(), [&](const Event& a, const Event& b) {
            return a.at != b.at ? a.at < b.at : order(a) < order(b);
        });
        for (std::uint32_t i = 0; i < episode.events.size(); ++i) episode.events[i].pointer = i;
        if (example.from) episode.observed_from = on(example.from->day, example.from->at);
        if (example.until) episode.observed_until = on(example.until->day, example.until->at);
        return std::move(episode);
    }
};

}  // namespace

Instant instant_of(const Policy& policy, const Zone& zone, const grammar::ExampleItem& example,
                   std::int32_t day, std::int64_t time_of_day) {
    CivilDate first = policy.in_force_from.value_or(CivilDate{2026, 1, 5});
    if (example.on) first = {example.on->year, example.on->month, example.on->day};
    return zone.at(add_days(first, day), time_of_day);
}

Episode episode_of(const Policy& policy, const Zone& zone, const grammar::ExampleItem& example) {
    return Builder{policy, zone, example, {}}.build();
}

}  // namespace conformance
