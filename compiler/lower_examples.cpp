// Examples to the records that they stand for. What is written in one is held against the vocabulary here, so
// that a misspelt attribute is an error of the policy and not a value that a reader sets aside.
#include <algorithm>
#include <nlohmann/json.hpp>

#include "compiler/lower.hpp"

namespace linelaw::compiler {

using namespace grammar;
using Json = nlohmann::ordered_json;

namespace {

class ExampleReader {
  public:
    ExampleReader(Work& work, const ExampleItem& item, std::size_t number)
        : work_(work), item_(item), zone_(runtime::Zone::of(work.policy().time_zone)) {
        record_["episode"] = "example-" + std::to_string(number);
    }

    void read() {
        if (!find_day_zero()) return;
        Json patient = Json::object();
        read_attributes(item_.patient, work_.policy().patient, {Owner::patient, runtime::none, 0},
                        "the patient", patient);
        Json line = Json::object();
        read_attributes(item_.line, work_.policy().line, {Owner::line, runtime::none, 0}, "the line", line);
        line["inserted_at"] = nullptr;
        line["removed_at"] = nullptr;
        Json events = Json::array();
        for (const auto& event : item_.events) events.push_back(read_event(event, line));
        if (line["inserted_at"].is_null() && !item_.from) {
            auto& d = work_.report.add("type.example",
                                       "the example has no insertion and does not say from when it is known",
                                       item_.title.place, "when does it begin");
            advise(d, "write a day, a time and `insertion`, or `observed from day N HH:MM`");
        }
        record_["patient"] = std::move(patient);
        record_["line"] = std::move(line);
        if (item_.from) record_["observed_from"] = instant(item_.from->day, item_.from->at);
        if (item_.until) record_["observed_until"] = instant(item_.until->day, item_.until->at);
        record_["events"] = std::move(events);
        Example example{item_.title.text, record_.dump(), {}, item_.title.place};
        for (const auto& expectation : item_.expectations)
            if (auto expected = read_expectation(expectation)) example.expected.push_back(*expected);
        work_.out.examples.push_back(std::move(example));
    }

  private:
    bool find_day_zero() {
        if (item_.on)
            day_zero_ = runtime::CivilDate{item_.on->year, item_.on->month, item_.on->day};
        else if (work_.policy().in_force_from)
            day_zero_ = *work_.policy().in_force_from;
        else {
            auto& d = work_.report.add(
                "type.example",
                "the example does not say which day its day 0 is, and the policy is in force "
                "from no day",
                item_.title.place, "day 0 of when");
            advise(d, "write `on` and a date in the example, or `in force from` in the policy");
            return false;
        }
        return true;
    }

    std::string instant(std::int32_t day, const TimeOfDay& at) const {
        const auto micros =
            at.hour * runtime::microseconds_per_hour + at.minute * runtime::microseconds_per_minute;
        return runtime::write_instant(zone_.at(runtime::add_days(day_zero_, day), micros));
    }

    // One value as a record bears it; nothing where it is not of its type.
    std::optional<Json> read_value(const Assignment& assignment, const Shape& shape) {
        if (assignment.value.empty()) {
            if (shape.kind == Shape::Kind::flag) return Json(true);
            auto& d =
                work_.report.add("type.example", in_ticks(assignment.attribute.text) + " is given no value",
                                 assignment.place, "no value follows");
            if (shape.has_place) d.labels.push_back({shape.declared, in_words(shape)});
            return std::nullopt;
        }
        const Expression& value = assignment.value.front();
        if (shape.kind == Shape::Kind::text || shape.kind == Shape::Kind::key) {
            if (const auto* text = std::get_if<Text>(&value.node)) return Json(text->text);
            work_.report.add("type.example",
                             in_ticks(assignment.attribute.text) + " is " + in_words(shape) +
                                 " and stands between quotation marks",
                             value.place, "not between quotation marks");
            return std::nullopt;
        }
        const auto constant = read_constant(value, shape, assignment.attribute.place, work_);
        if (!constant) return std::nullopt;
        if (const auto* age = std::get_if<runtime::AgeConstant>(&*constant)) {
            static constexpr const char* ucum[] = {"d", "wk", "mo", "a"};
            return Json{{"value", age->count}, {"unit", ucum[static_cast<std::size_t>(age->unit)]}};
        }
        const auto number = std::get<runtime::Constant>(*constant).value;
        if (shape.kind == Shape::Kind::flag) return Json(number != 0);
        if (shape.kind == Shape::Kind::one_of)
            return Json(work_.policy().symbols[static_cast<std::size_t>(number)]);
        if (shape.kind == Shape::Kind::time_of_day)
            return Json(std::string(work_.sources.slice(value.place)));
        return read_number(value, number, shape);
    }

    // The number of grains in the unit, as a reader of records takes it; nothing where no number of JSON says
    // it exactly.
    static std::optional<Json> exactly(std::int64_t grains, const runtime::Unit& unit) {
        const std::int64_t parts = grains - unit.offset_in_grains;
        const auto number = static_cast<double>(parts) / static_cast<double>(unit.grains_per_unit);
        std::int64_t read = 0;
        if (!runtime::grains_from_number(number, unit, read) || read != grains) return std::nullopt;
        if (parts % unit.grains_per_unit == 0) return Json(parts / unit.grains_per_unit);
        return Json(number);
    }

    // In the unit that was written last, which is the finest as people write; else in the attribute's own.
    std::optional<Json> read_number(const Expression& value, std::int64_t grains, const Shape& shape) {
        const runtime::Unit* unit = shape.whole ? &runtime::count_unit : &runtime::number_unit;
        const auto* quantity = std::get_if<Quantity>(&value.node);
        if (quantity != nullptr) unit = runtime::find_unit(quantity->terms.back().unit.text);
        const bool named = quantity != nullptr && unit != nullptr && !unit->ucum.empty();
        if (quantity != nullptr && !named) unit = runtime::find_unit(shape.unit);
        const auto number = exactly(grains, *unit);
        if (!number) {
            work_.report.add("unit.precision",
                             work_.report.quote(value.place) + " has more digits than a record is read with",
                             value.place, "too many digits");
            return std::nullopt;
        }
        return named ? Json{{"value", *number}, {"unit", unit->ucum}} : *number;
    }

    void unknown_attribute(const Name& name, const std::vector<runtime::Attribute>& attributes,
                           std::string_view whose, std::vector<std::string> candidates) {
        for (const auto& attribute : attributes) candidates.push_back(attribute.name);
        if (perhaps_lost(work_, name.text)) return;
        auto& d =
            work_.report.add("name.unknown", std::string(whose) + " has no attribute " + in_ticks(name.text),
                             name.place, "not declared");
        offer_near(d, name.text, name.place, candidates);
    }

    void read_attributes(const std::vector<Assignment>& assignments,
                         const std::vector<runtime::Attribute>& attributes, AttributeId owner,
                         std::string_view whose, Json& json) {
        for (const auto& assignment : assignments) {
            const auto* attribute = find_attribute(attributes, assignment.attribute.text);
            if (attribute == nullptr) {
                unknown_attribute(assignment.attribute, attributes, whose, {});
                continue;
            }
            owner.slot = static_cast<std::uint32_t>(attribute - attributes.data());
            if (auto value = read_value(assignment, shape_of(owner, *attribute)))
                json[attribute->name] = std::move(*value);
        }
    }
    Shape shape_of(AttributeId id, const runtime::Attribute& attribute) const {
        Shape shape = compiler::shape_of(attribute.type);
        const auto& declared = work_.names.attributes.at(id);
        if (declared.broken) shape = {};
        shape.name = attribute.name;
        shape.declared = declared.place;
        shape.has_place = declared.place.end != 0;
        return shape;
    }

    // `infusion "i1"`, `lumen 2`: which part an event is of, or the parent of the part that it begins.
    bool read_part(const Assignment& assignment, runtime::PartKindId part, Json& json) {
        for (; part != runtime::none; part = work_.policy().part_kinds[part].of) {
            const auto& kind = work_.policy().part_kinds[part];
            if (kind.name != assignment.attribute.text) continue;
            const auto* value = assignment.value.empty() ? nullptr : &assignment.value.front();
            const auto* text = value == nullptr ? nullptr : std::get_if<Text>(&value->node);
            const auto* number = value == nullptr ? nullptr : std::get_if<Number>(&value->node);
            const auto grains = number == nullptr
                                    ? std::nullopt
                                    : runtime::grains_from_decimal(number->text, runtime::count_unit);
            if (text != nullptr)
                json[kind.name] = text->text;
            else if (grains)
                json[kind.name] = *grains;
            else
                work_.report.add("type.example",
                                 "which " + in_ticks(kind.name) +
                                     " it is, is said by a name between quotation marks or "
                                     "a number",
                                 assignment.place, "neither");
            return true;
        }
        return false;
    }

    Json read_event(const ExampleEvent& event, Json& line) {
        Json json = {{"type", event.event.text}, {"at", instant(event.day, event.at)}};
        const auto id = use_name(work_, work_.names.events, "event", event.event);
        if (id == runtime::none) return json;
        if (id == work_.policy().insertion) line["inserted_at"] = json["at"];
        if (id == work_.policy().removal) line["removed_at"] = json["at"];
        const auto& kind = work_.policy().event_kinds[id];
        for (const auto& assignment : event.attributes) {
            if (read_part(assignment, kind.of, json)) continue;
            const auto* attribute = find_attribute(kind.attributes, assignment.attribute.text);
            if (attribute == nullptr) {
                std::vector<std::string> parts;
                if (kind.of != runtime::none) parts.push_back(work_.policy().part_kinds[kind.of].name);
                unknown_attribute(assignment.attribute, kind.attributes, in_ticks(kind.name), parts);
                continue;
            }
            const auto slot = static_cast<std::uint32_t>(attribute - kind.attributes.data());
            const Shape shape = shape_of({Owner::event, id, slot}, *attribute);
            if (attribute->field == work_.policy().charting_delay)
                read_delay(assignment, shape, event, json);
            else if (auto value = read_value(assignment, shape))
                json[attribute->name] = std::move(*value);
        }
        if (!event.steps.empty()) json["steps"] = read_steps(event, kind);
        return json;
    }

    // Records bear no delay: they bear when the event was charted.
    void read_delay(const Assignment& assignment, const Shape& shape, const ExampleEvent& event, Json& json) {
        if (assignment.value.empty()) return;
        const auto constant =
            read_constant(assignment.value.front(), shape, assignment.attribute.place, work_);
        if (!constant) return;
        const auto at = runtime::read_instant(instant(event.day, event.at));
        json["recorded_at"] = runtime::write_instant(*at + std::get<runtime::Constant>(*constant).value);
    }

    Json read_steps(const ExampleEvent& event, const runtime::EventKind& kind) {
        Json steps = Json::array();
        for (const auto& step : event.steps) {
            if (std::find(kind.steps.begin(), kind.steps.end(), step.step.text) == kind.steps.end()) {
                if (perhaps_lost(work_, step.step.text)) continue;
                auto& d = work_.report.add("name.unknown",
                                           in_ticks(kind.name) + " has no step " + in_ticks(step.step.text),
                                           step.step.place, "not one of its steps");
                offer_near(d, step.step.text, step.step.place, kind.steps);
                if (d.mends.empty() && !kind.steps.empty())
                    d.notes.push_back("its steps are " + in_ticks(kind.steps, "and"));
                continue;
            }
            if (!step.at && !step.from && !step.to) {
                steps.push_back(step.step.text);
                continue;
            }
            Json json = {{"step", step.step.text}};
            if (step.at) json["at"] = instant(event.day, *step.at);
            if (step.from) json["from"] = instant(event.day, *step.from);
            if (step.to) json["to"] = instant(event.day, *step.to);
            steps.push_back(std::move(json));
        }
        return steps;
    }

    std::optional<Expected> read_expectation(const Expectation& expectation) {
        Expected expected;
        expected.place = expectation.place;
        if (!find_expected(expectation, expected)) return std::nullopt;
        std::string outcome = expectation.outcome.text;
        std::replace(outcome.begin(), outcome.end(), ' ', '_');
        const auto name = std::find(runtime::outcome_names.begin(), runtime::outcome_names.end(), outcome);
        if (name == runtime::outcome_names.end()) {
            std::vector<std::string> names;
            for (std::string word : {"met", "late", "missed", "early", "not met", "excused", "no longer due",
                                     "pending", "not assessable"})
                names.push_back(std::move(word));
            auto& d =
                work_.report.add("name.unknown", "there is no outcome " + in_ticks(expectation.outcome.text),
                                 expectation.outcome.place, "not an outcome");
            d.notes.push_back("the outcomes are " + in_ticks(names, "and"));
            offer_near(d, expectation.outcome.text, expectation.outcome.place, names, Offered::value);
            return std::nullopt;
        }
        expected.outcome = static_cast<runtime::Outcome>(name - runtime::outcome_names.begin());
        if (expectation.times && expectation.times->text == "0") expected.times = 0;
        if (expectation.times && expectation.times->text != "0") {
            expected.times = read_times(*expectation.times, work_.report);
            if (!expected.times) return std::nullopt;
        }
        return expected;
    }

    bool find_expected(const Expectation& expectation, Expected& expected) {
        const auto take = [&](Index& index, runtime::OriginKind origin) {
            const auto* declared = index.find(expectation.id.text);
            if (declared == nullptr) return false;
            expected.origin = origin;
            expected.item = declared->id;
            return true;
        };
        if (!take(work_.names.clauses, runtime::OriginKind::clause) &&
            !take(work_.names.escalations, runtime::OriginKind::ladder) &&
            !take(work_.names.bundles, runtime::OriginKind::bundle)) {
            std::vector<std::string> ids;
            for (const Index* index : {&work_.names.clauses, &work_.names.escalations, &work_.names.bundles})
                ids.insert(ids.end(), index->names().begin(), index->names().end());
            unknown_name(work_, "clause", expectation.id, ids);
            return false;
        }
        if (!expectation.step) return true;
        const auto step = read_times(*expectation.step, work_.report);
        if (!step) return false;
        if (expected.origin != runtime::OriginKind::ladder ||
            *step > work_.policy().ladders[expected.item].steps.size() +
                        work_.policy().ladders[expected.item].holds.size()) {  // holds follow the steps
            work_.report.add(
                "type.example",
                in_ticks(expectation.id.text) + " has no step " + in_ticks(expectation.step->text),
                expectation.step->place, "no such step");
            return false;
        }
        expected.step = *step - 1;
        return true;
    }

    Work& work_;
    const ExampleItem& item_;
    runtime::Zone zone_;
    runtime::CivilDate day_zero_;
    Json record_;
};

}  // namespace

void lower_examples(Work& work) {
    std::size_t number = 0;
    for (const auto* item : work.layers.items)
        if (const auto* example = std::get_if<ExampleItem>(&item->node))
            ExampleReader(work, *example, ++number).read();
}

}  // namespace linelaw::compiler
