#include "tests/differential/record.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <stdexcept>

namespace linelaw::literal {

using grammar::TypeKind;
using nlohmann::json;

namespace {

int digits(std::string_view text, std::size_t at, std::size_t count) {
    int out = 0;
    for (std::size_t i = at; i < at + count; ++i) {
        if (i >= text.size() || text[i] < '0' || text[i] > '9') throw std::runtime_error("not a date-time");
        out = out * 10 + (text[i] - '0');
    }
    return out;
}

date::local_days read_date(std::string_view text) {
    const date::year_month_day day{date::year{digits(text, 0, 4)},
                                   date::month{static_cast<unsigned>(digits(text, 5, 2))},
                                   date::day{static_cast<unsigned>(digits(text, 8, 2))}};
    if (!day.ok()) throw std::runtime_error("no date of the calendar");
    return date::local_days{day};
}

}  // namespace

// RFC 3339; without an offset it is read in the policy's zone (records.md).
Instant read_instant(const std::string& text, const Zone& zone) {
    const date::local_days day = read_date(text);
    const Instant clock = digits(text, 11, 2) * one_hour + digits(text, 14, 2) * one_minute +
                          (text.size() > 18 && text[16] == ':' ? digits(text, 17, 2) : 0) * one_second;
    const std::size_t offset = text.find_first_of("Z+-", 11);
    if (offset == std::string::npos) return zone.at(day, clock);
    const Instant utc = std::chrono::microseconds(day.time_since_epoch()).count() + clock;
    if (text[offset] == 'Z') return utc;
    const Instant east = digits(text, offset + 1, 2) * one_hour + digits(text, offset + 4, 2) * one_minute;
    return text[offset] == '+' ? utc - east : utc + east;
}

namespace {

Value known_word(std::string_view word) {
    Value v;
    v.kind = Value::Kind::word;
    v.word = word;
    return v;
}
Value hidden() {
    Value v;
    v.kind = Value::Kind::hidden;
    return v;
}

Ratio bound(const grammar::Expression& e, const std::string& unit) {
    if (const auto* q = std::get_if<grammar::Quantity>(&e.node)) return number_of(*q);
    const Scale scale = *scale_of(unit);
    return *read_decimal(std::get<grammar::Number>(e.node).text) * scale.times + scale.plus;
}

// records.md: "a bare number is in the unit that the vocabulary declares"; a value of the wrong type, outside
// the range or in a unit of the wrong dimension is set aside.
Value read_number(const grammar::Type& type, const json& given) {
    std::string unit = type.unit ? type.unit->text : type.kind == TypeKind::percent ? "%" : "";
    if (type.kind == TypeKind::duration && unit.empty()) unit = "s";
    const std::string home = unit;
    const json* number = &given;
    if (given.is_object()) {
        if (!given.contains("value") || !given.contains("unit") || !given["unit"].is_string())
            return hidden();
        unit = given["unit"].get<std::string>();
        number = &given["value"];
    }
    const auto scale = scale_of(unit);
    if (!number->is_number() || !scale || scale->what != scale_of(home)->what) return hidden();
    Value v;
    v.kind = Value::Kind::number;
    v.number = *read_decimal(number->dump()) * scale->times + scale->plus;
    if (type.kind == TypeKind::count && v.number.under != 1) return hidden();
    if (type.range && (compare(v.number, bound(type.range->low, home)) < 0 ||
                       compare(v.number, bound(type.range->high, home)) > 0))
        return hidden();
    return v;
}

Value read_value(const grammar::Type& type, const json& given, Record& record) {
    if (given.is_null()) return {};
    switch (type.kind) {
        case TypeKind::flag:
            return given.is_boolean() ? known_word(given.get<bool>() ? "yes" : "no") : hidden();
        case TypeKind::one_of:
            if (given.is_string())
                for (const auto& name : type.values)
                    if (name.text == given.get_ref<const std::string&>()) return known_word(name.text);
            return hidden();
        case TypeKind::text:
        case TypeKind::key:
            if (!given.is_string()) return hidden();
            record.texts.push_back(given.get<std::string>());
            return known_word(record.texts.back());
        default:
            return read_number(type, given);
    }
}

const json* key(const json& object, const std::string& name) {
    if (!object.is_object()) return nullptr;
    const auto found = object.find(name);
    return found == object.end() ? nullptr : &*found;
}

date::local_days after_units(date::local_days born, int count, std::string_view unit) {
    if (unit == "a") return add_months(born, 12 * count);
    if (unit == "mo") return add_months(born, count);
    return born + date::days(unit == "wk" ? 7 * count : count);
}

// §4.1 age "given as a value … is the age at insertion in completed units": every birth date that gives it.
Value age_from_units(int count, std::string_view unit, date::local_days inserted) {
    Value v;
    v.kind = Value::Kind::age;
    const date::local_days guess = after_units(inserted, -count, unit);
    v.born_last = guess + date::days(5);
    while (after_units(v.born_last, count, unit) > inserted) v.born_last -= date::days(1);
    v.born_first = after_units(inserted, -(count + 1), unit) - date::days(5);
    while (after_units(v.born_first, count + 1, unit) <= inserted) v.born_first += date::days(1);
    return v;
}

// `known_from`: the insertion, or the left edge where nobody knows it. The line went in by then.
Value read_age(const json& patient, bool inserted, Instant known_from, const Zone& zone) {
    const json* birth = key(patient, "birth_date");
    if (birth != nullptr && birth->is_string()) {
        Value v;
        v.kind = Value::Kind::age;
        v.born_first = v.born_last = read_date(birth->get<std::string>());
        if (v.born_first > zone.date_of(known_from)) return hidden();
        return v;
    }
    const json* age = key(patient, "age");
    if (age == nullptr || age->is_null()) return {};
    const json* number = age->is_object() ? key(*age, "value") : age;
    const json* given_unit = age->is_object() ? key(*age, "unit") : nullptr;
    const std::string unit = given_unit != nullptr ? given_unit->get<std::string>() : "a";
    if (number == nullptr || !number->is_number_integer() || number->get<int>() < 0) return hidden();
    const int count = number->get<int>();
    if (count > (unit == "a" ? 120 : unit == "mo" ? 1440 : unit == "wk" ? 6261 : 43830)) return hidden();
    Value v = age_from_units(count, unit, zone.date_of(known_from));
    v.born_any_before = !inserted;
    return v;
}

void read_marks(const Book& book, const json& steps, const std::vector<std::string>& known, Event& event) {
    if (!steps.is_array()) {
        event.marks.push_back({});
        return;
    }
    int place = 0;
    for (const json& step : steps) {
        Mark mark;
        mark.place = place++;
        const json* name = step.is_object() ? key(step, "step") : &step;
        if (name != nullptr && name->is_string())
            for (const std::string& k : known)
                if (k == name->get_ref<const std::string&>()) mark.step = k;
        for (const auto& [word, slot] : {std::pair{"at", &mark.at}, {"from", &mark.from}, {"to", &mark.to}})
            if (const json* time = step.is_object() ? key(step, word) : nullptr) {
                if (time->is_string())
                    *slot = read_instant(time->get<std::string>(), book.zone);
                else  // §4.1 a value that cannot be used is set aside; of times, the random records write
                      // only numbers
                    mark.time_hidden = true;
            }
        event.marks.push_back(mark);
    }
}

std::string name_of(const json& object, const std::string& part) {
    const json* name = part.empty() ? nullptr : key(object, part);
    if (name == nullptr) return "";
    if (name->is_string()) return name->get<std::string>();
    return name->is_number_integer() ? name->dump() : "";
}

// One event; the line's keys fill what insertion and removal leave out (§4.8).
void read_event(const Book& book, const EventKind& kind, Instant at, const json& object, const json* line,
                Record& record) {
    Event e;
    e.kind = &kind;
    e.position = {at, kind.name == "insertion" ? 0 : kind.name == "removal" ? 4 : 2};
    e.order = static_cast<int>(record.events.size());
    for (const grammar::Attribute* a : kind.attributes) {
        const json* given = key(object, a->name.text);
        if (given == nullptr && line != nullptr) given = key(*line, a->name.text);
        e.values.push_back(given == nullptr ? Value{} : read_value(a->type, *given, record));
    }
    if (const json* recorded = key(object, "recorded_at")) {
        Value& delay = e.values[static_cast<std::size_t>(kind.slot("charting_delay"))];
        delay.kind = Value::Kind::number;
        delay.number = ratio(read_instant(recorded->get<std::string>(), book.zone) - at, one_second);
    }
    const json* steps = key(object, "steps");
    if (steps == nullptr && line != nullptr) steps = key(*line, "steps");
    if (steps != nullptr && !steps->is_null()) read_marks(book, *steps, kind.steps, e);
    e.part = name_of(object, !kind.of.empty() ? kind.of : !kind.begins.empty() ? kind.begins : kind.ends);
    if (!kind.begins.empty()) e.parent = name_of(object, book.parts.at(kind.begins).of);
    record.events.push_back(std::move(e));
}

bool alive_at(const Life& life, Instant t) {  // §2 a life is [begin, end] in instants
    return life.from.t <= t && t <= life.until.t;
}

// The lives that an event `of PART` may belong to: the one it names, or the only one alive, or each of
// several.
std::vector<Life*> candidates(Record& record, const std::string& part, const std::string& name, Instant t) {
    std::vector<Life*> out;
    for (Life& life : record.lives)
        if (life.kind->name == part && alive_at(life, t) && (name.empty() || life.name == name))
            out.push_back(&life);
    // "A part's name used again is a new part": the name is the newest's.
    if (!name.empty() && out.size() > 1) out = {out.back()};
    return out;
}

// §2 parts that are counted: "numbered from 1 and live as long as the line".
void count_parts(const Book& book, Record& record) {
    for (const auto& [name, part] : book.parts) {
        if (part.count.empty()) continue;
        const Value* count = nullptr;
        for (std::size_t i = 0; i < book.line.size(); ++i)
            if (book.line[i]->name.text == part.count) count = &record.line[i];
        if (count == nullptr || count->kind != Value::Kind::number) {
            const bool aside = count != nullptr && count->kind == Value::Kind::hidden;
            record.uncounted.emplace_back(&part, aside ? Truth::unknown : Truth::missing);
            continue;
        }
        for (int i = 1; i <= static_cast<int>(count->number.over); ++i) {
            Life life;
            life.kind = &part;
            life.name = std::to_string(i);
            life.from = record.inserted ? Position{*record.inserted, 0} : Position{*record.left_edge, 0};
            life.until = record.removed ? Position{*record.removed, 4} : Position{far_future, 0};
            record.lives.push_back(life);
        }
    }
}

void begin_life(const Book& book, Record& record, Event& e) {
    for (Life* old : candidates(record, e.kind->begins, e.part, e.position.t))
        if (!e.part.empty() && old->until > e.position) old->until = e.position;
    Life life;
    life.kind = &book.parts.at(e.kind->begins);
    life.name = e.part;
    life.begin = &e;
    life.from = e.position;
    life.until = record.removed ? Position{*record.removed, 4} : Position{far_future, 0};
    if (!life.kind->of.empty()) {
        const auto parents = candidates(record, life.kind->of, e.parent, e.position.t);
        if (parents.size() == 1) life.parent = parents.front();
        if (life.parent != nullptr) life.until = std::min(life.until, life.parent->until);
    }
    record.lives.push_back(life);
    e.of.emplace_back(&record.lives.back(), Truth::yes);
}

// §2 "from the event after `from` to the event after `until` that names it".
void end_life(Record& record, Event& e) {
    auto living = candidates(record, e.kind->ends, e.part, e.position.t);
    // Within an instant the record's order decides: what has ended cannot end again.
    living.erase(std::remove_if(living.begin(), living.end(),
                                [&e](const Life* life) { return life->until <= e.position; }),
                 living.end());
    if (living.size() == 1) {
        living.front()->until = std::min(living.front()->until, e.position);
        e.of.emplace_back(living.front(), Truth::yes);
        return;
    }
    for (Life* life : living) {
        if (!life->doubtful_after) life->doubtful_after = e.position;
        e.of.emplace_back(life, Truth::unknown);
    }
}

void make_lives(const Book& book, Record& record) {
    count_parts(book, record);
    for (Event& e : record.events) {
        if (!e.kind->begins.empty()) begin_life(book, record, e);
        if (!e.kind->ends.empty()) end_life(record, e);
    }
    for (Event& e : record.events) {
        if (e.kind->of.empty()) continue;
        const auto living = candidates(record, e.kind->of, e.part, e.position.t);
        for (const Life* life : living)
            e.of.emplace_back(life, living.size() == 1 ? Truth::yes : Truth::unknown);
    }
}

}  // namespace

void read_record(const Book& book, const json& record_json, Record& out) {
    out = Record{};
    const json nothing = json::object();
    const json& line = key(record_json, "line") != nullptr ? record_json["line"] : nothing;
    const json& patient = key(record_json, "patient") != nullptr ? record_json["patient"] : nothing;
    const auto instant = [&book](const json* j) {
        return j == nullptr || j->is_null() ? std::optional<Instant>{}
                                            : read_instant(j->get<std::string>(), book.zone);
    };
    out.inserted = instant(key(line, "inserted_at"));
    out.removed = instant(key(line, "removed_at"));
    const auto from = instant(key(record_json, "observed_from"));
    const auto until = instant(key(record_json, "observed_until"));
    if (from && (!out.inserted || *out.inserted < *from)) out.left_edge = from;
    if (!out.inserted && !out.left_edge) throw std::runtime_error("neither insertion nor left edge");
    if (until && out.removed && *out.removed > *until) out.removed.reset();

    for (const grammar::Attribute* a : book.patient) {
        const json* given = key(patient, a->name.text);
        if (a->type.kind == TypeKind::age)
            out.patient.push_back(read_age(patient, out.inserted.has_value(),
                                           out.inserted ? *out.inserted : *out.left_edge, book.zone));
        else
            out.patient.push_back(given == nullptr ? Value{} : read_value(a->type, *given, out));
    }
    for (const grammar::Attribute* a : book.line) {
        const json* given = key(line, a->name.text);
        out.line.push_back(given == nullptr ? Value{} : read_value(a->type, *given, out));
    }
    bool insertion = false;
    bool removal = false;
    const json* events = key(record_json, "events");
    for (const json& e : events == nullptr ? json::array() : *events) {
        const auto kind = book.kinds.find(e.at("type").get<std::string>());
        if (kind == book.kinds.end()) continue;
        const Instant at = *instant(&e.at("at"));
        if (until && at > *until) continue;
        const bool ends = kind->first == "insertion" || kind->first == "removal";
        if (out.left_edge && at < *out.left_edge && kind->first != "insertion") continue;
        insertion = insertion || kind->first == "insertion";
        removal = removal || kind->first == "removal";
        read_event(book, kind->second, at, e, ends ? &line : nullptr, out);
    }
    if (out.inserted && !insertion)
        read_event(book, book.kinds.at("insertion"), *out.inserted, nothing, &line, out);
    if (out.removed && !removal)
        read_event(book, book.kinds.at("removal"), *out.removed, nothing, &line, out);
    std::stable_sort(out.events.begin(), out.events.end(),
                     [](const Event& a, const Event& b) { return a.position < b.position; });
    out.horizon = until ? *until : out.left_edge ? *out.left_edge : *out.inserted;
    if (!until)
        for (const Event& e : out.events) out.horizon = std::max(out.horizon, e.position.t);
    make_lives(book, out);
}

}  // namespace linelaw::literal
