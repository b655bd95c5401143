// The rest of a policy: header, sources, shifts, ladders, bundles, questions, and what it accepts.
#include <algorithm>

#include "compiler/lower.hpp"

namespace linelaw::compiler {

using namespace grammar;

runtime::TextPlace text_place(const Work& work, Place place) {
    const auto at = work.sources.locate(place.text, place.begin);
    return {work.layers.called.at(work.sources.text(place.text).name), at.line, at.column};
}

std::string number_text(const std::optional<Number>& number) {
    return number ? number->text : "";
}

namespace {

std::optional<runtime::CivilDate> date(const std::optional<Date>& written) {
    if (!written) return std::nullopt;
    return runtime::CivilDate{written->year, written->month, written->day};
}

void lower_header(Work& work) {
    auto& policy = work.policy();
    const auto& header = work.layers.header;
    policy.vocabulary = work.layers.vocabulary.name.text;
    policy.vocabulary_edition = number_text(work.layers.vocabulary.edition);
    if (!work.layers.is_policy) return;
    policy.title = header.title.text;
    policy.edition = number_text(header.edition);
    policy.in_force_from = date(header.in_force_from);
    policy.in_force_until = date(header.in_force_until);
    policy.review_by = date(header.review_by);
    if (header.review_by) work.out.review_place = header.review_by->place;
    if (policy.in_force_from && policy.in_force_until && *policy.in_force_until < *policy.in_force_from) {
        auto& d = work.report.add("range.order", "the policy is in force until a day before it begins",
                                  header.in_force_until->place, "the last day in force");
        d.labels.push_back({header.in_force_from->place, "the first"});
    }
    policy.owner = header.owner ? header.owner->text : "";
    if (header.time_zone) {
        policy.time_zone = header.time_zone->text;
        if (!runtime::Zone::find(policy.time_zone)) {
            auto& d = work.report.add("name.unknown", "there is no time zone " + in_ticks(policy.time_zone),
                                      header.time_zone->place, "not a time zone");
            advise(d, "write its region and its city, such as `America/Halifax`");
        }
    }
    if (header.governs) {
        Context context = outside_events("`governs`");
        context.governs = true;
        if (const auto condition = lower_condition(work, header.governs->condition, context))
            policy.governs = *condition;
    }
}

struct ItemReader {
    Work& work;
    const Item& whole;

    void operator()(const SourceItem& item) const {
        if (!first(work.names.sources, item.name)) return;
        work.policy().sources.push_back(
            {item.name.text, item.title.text, item.by ? item.by->text : "", number_text(item.year)});
    }
    void operator()(const ShiftItem& item) const {
        if (!first(work.names.shifts, item.name)) return;
        const auto micros = [](const TimeOfDay& t) {
            return t.hour * runtime::microseconds_per_hour + t.minute * runtime::microseconds_per_minute;
        };
        work.policy().shifts.push_back({item.name.text, micros(item.from), micros(item.to)});
        if (micros(item.from) == micros(item.to))
            work.report.add("range.zero", "the shift " + in_ticks(item.name.text) + " ends as it begins",
                            item.to.place, "the same time");
    }
    void operator()(const EscalationItem& item) const;
    void operator()(const BundleItem& item) const;
    void operator()(const QuestionItem& item) const;
    void operator()(const SetAsideQuestion& item) const {
        if (use_name(work, work.names.questions, "question", item.question) == runtime::none) return;
        for (auto& question : work.out.questions) {
            if (question.id != item.question.text) continue;
            runtime::ExpressionId condition = runtime::none;
            if (item.for_condition) {
                const auto read = lower_condition(work, *item.for_condition,
                                                  context_of(question, "a question that is set aside"));
                if (!read) return;
                condition = *read;
            }
            question.set_aside.emplace_back(condition, item.because.text);
        }
    }
    void operator()(const AcceptItem& item) const {
        Accepted accepted{item.code.text, {}, item.because.text, item.place};
        if (find_diagnostic_code(item.code.text) == nullptr) {
            std::vector<std::string> codes;
            for (const auto& code : diagnostic_codes()) codes.emplace_back(code.code);
            auto& d = work.report.add("name.unknown",
                                      "there is no finding " + in_ticks(item.code.text) + " to accept",
                                      item.code.place, "not a code");
            offer_near(d, item.code.text, item.code.place, codes);
            return;
        }
        for (const auto& id : item.ids) {
            if (!known_id(id)) return;
            accepted.ids.push_back(id.text);
        }
        work.out.accepted.push_back(std::move(accepted));
    }
    template <typename Other>
    void operator()(const Other& /*item*/) const {}

  private:
    // False for an item whose name was declared before: that was said.
    static bool first(const Index& index, const Name& name) {
        const auto* declared = index.find(name.text);
        return declared != nullptr && declared->place.begin == name.place.begin &&
               declared->place.text == name.place.text;
    }
    bool known_id(const Name& id) const {
        std::vector<std::string> all;
        for (Index* index :
             {&work.names.clauses, &work.names.escalations, &work.names.bundles, &work.names.questions,
              &work.names.tables, &work.names.terms, &work.names.states, &work.names.events}) {
            if (index->find(id.text) != nullptr) return true;
            all.insert(all.end(), index->names().begin(), index->names().end());
        }
        unknown_name(work, "clause", id, all);
        return false;
    }
    Context context_of(const Question& question, std::string where) const {
        const bool at =
            question.about == Question::About::attribute_at || question.about == Question::About::response_to;
        Context context = at_events(work, kinds_of(question.events), std::move(where), outside_events(""));
        if (!at) context.at_hand.clear();
        return context;
    }
};

void ItemReader::operator()(const EscalationItem& item) const {
    if (!first(work.names.escalations, item.id)) return;
    auto& ladder = work.policy().ladders.emplace_back();
    work.out.ladder_places.push_back(item.id.place);
    ladder.id = item.id.text;
    ladder.sentence = item.sentence.text;
    ladder.place = text_place(work, item.id.place);
    for (const auto& step : item.steps) {
        runtime::LadderStep lowered;
        for (const auto& role : step.roles) {
            const auto id = use_name(work, work.names.roles, "role", role);
            if (id != runtime::none) lowered.roles.push_back(id);
        }
        if (const auto span = read_span(step.within, "within", work.report)) lowered.within = *span;
        if (step.if_not_acknowledged_within)
            if (const auto span =
                    read_span(*step.if_not_acknowledged_within, "if not acknowledged within", work.report))
                lowered.if_not_acknowledged_within = *span;
        if (!step.if_not_acknowledged_within && !ladder.steps.empty())
            advise(
                work.report.add("type.demand",
                                "call " + std::to_string(ladder.steps.size() + 1) + " of the escalation " +
                                    in_ticks(item.id.text) + " does not say when it begins",
                                step.within.place, "and if nobody answers the call before?"),
                "say how long the call before may stay without an acknowledgement: `then notify ROLE within "
                "30 min if not acknowledged within 30 min`");
        ladder.steps.push_back(std::move(lowered));
    }
    const Context outside = outside_events("a hold");
    for (const auto& hold : item.holds) {
        auto events = lower_events(work, hold.events, outside);
        auto until = lower_events(work, hold.until, outside);
        if (events && until) ladder.holds.push_back({std::move(*events), std::move(*until)});
    }
    if (item.steps.empty() && item.holds.empty())
        work.report.add("type.demand",
                        "the escalation " + in_ticks(item.id.text) + " calls nobody and holds nothing",
                        item.id.place, "no step");
}

void ItemReader::operator()(const BundleItem& item) const {
    if (!first(work.names.bundles, item.id)) return;
    auto& bundle = work.policy().bundles.emplace_back();
    bundle.id = item.id.text;
    bundle.title = item.title.text;
    bundle.place = text_place(work, item.id.place);
    for (const auto& clause : item.of) {
        const auto id = use_name(work, work.names.clauses, "clause", clause);
        if (id != runtime::none) bundle.of.push_back(id);
    }
    if (std::holds_alternative<EachCalendarDay>(item.each)) {
        bundle.each = runtime::BundleEach::calendar_day;
    } else if (std::holds_alternative<EachShift>(item.each)) {
        bundle.each = runtime::BundleEach::shift;
        if (work.names.shifts.names().empty())
            work.report.add("name.unknown", "the policy speaks of shifts and declares none", item.id.place,
                            "which shifts");
    } else if (const auto* events = std::get_if<EachEvent>(&item.each)) {
        bundle.each = runtime::BundleEach::event;
        if (auto lowered = lower_events(work, events->events, outside_events("a bundle")))
            bundle.events = std::move(*lowered);
    }
}

void ItemReader::operator()(const QuestionItem& item) const {
    if (!first(work.names.questions, item.name)) return;
    Question question;
    question.id = item.name.text;
    question.title = item.title.text;
    question.place = item.place;
    const Context outside = outside_events("a question");
    bool good = true;
    const auto take = [&](const Events& events) {
        auto lowered = lower_events(work, events, outside);
        good = good && lowered;
        if (lowered) question.events = std::move(*lowered);
    };
    if (const auto* how_often = std::get_if<HowOften>(&item.about)) {
        take(how_often->events);
    } else if (const auto* attribute = std::get_if<AttributeAt>(&item.about)) {
        question.about = Question::About::attribute_at;
        take({{attribute->event, std::nullopt, attribute->event.place}});
        if (good) {
            const Field field = resolve_field(work, attribute->attribute, context_of(question, "a question"));
            question.field = field.field;
            good = field.field != runtime::none;
        }
    } else if (const auto* response = std::get_if<ResponseTo>(&item.about)) {
        question.about = Question::About::response_to;
        take(response->events);
        if (!response->by.empty()) {
            auto by = lower_events(work, response->by, outside);
            good = good && by;
            if (by) question.by = std::move(*by);
        }
    } else {
        question.about = Question::About::escalation;
        question.ladder = use_name(work, work.names.escalations, "escalation",
                                   std::get<EscalationOf>(item.about).escalation);
        good = question.ladder != runtime::none;
    }
    if (question.events.empty() && question.about != Question::About::escalation)
        return;  // what is at hand is unknown
    const Context context = context_of(question, "a question");
    for (const auto& axis : item.every) {
        const Resolved resolved = resolve(work, axis.name, context);
        if (const auto* value = std::get_if<ResolvedValue>(&resolved))
            question.every.push_back({intern(work, value->node, axis.name.place), axis.or_unset});
        else if (!std::holds_alternative<Unresolved>(resolved))
            work.report.add(
                "type.condition",
                "a question covers attributes and states, and " + in_ticks(axis.name.text) + " is neither",
                axis.name.place, "no attribute and no state");
    }
    if (item.for_condition)
        if (const auto condition = lower_condition(work, *item.for_condition, context))
            question.applies_for = *condition;
    if (good) work.out.questions.push_back(std::move(question));
}

}  // namespace

void lower_items(Work& work) {
    lower_header(work);
    // Questions before what sets them aside, wherever they stand.
    const auto sets_aside = [](const Item* item) {
        return std::holds_alternative<SetAsideQuestion>(item->node);
    };
    for (const bool second : {false, true})
        for (const auto* item : work.layers.items)
            if (sets_aside(item) == second) std::visit(ItemReader{work, *item}, item->node);
}

}  // namespace linelaw::compiler
