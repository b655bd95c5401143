#include "sample_policy.hpp"

#include <initializer_list>
#include <string>
#include <string_view>

namespace linelaw::runtime {
namespace {

using Names = std::initializer_list<std::string_view>;

class Maker {
  public:
    Policy p;

    SymbolId symbol(std::string_view name) { return find_or_add(p.symbols, name); }
    FieldId field(std::string_view name) { return find_or_add(p.fields, name); }
    ExpressionId add(Expression x) {
        p.expressions.push_back(std::move(x));
        return static_cast<ExpressionId>(p.expressions.size() - 1);
    }

    static Attribute of(std::string_view name, TypeKind kind) {
        Attribute a;
        a.name = name;
        a.type.kind = kind;
        return a;
    }
    Attribute one_of(std::string_view name, Names values) {
        Attribute a = of(name, TypeKind::one_of);
        for (std::string_view value : values) a.type.values.push_back(symbol(value));
        return a;
    }
    static Attribute number(std::string_view name, TypeKind kind, const char* low, const char* high,
                            std::string_view unit = {}) {
        Attribute a = of(name, kind);
        const Unit plain = kind == TypeKind::number ? number_unit : count_unit;
        const Unit& u = unit.empty() ? plain : *find_unit(unit);
        a.type.low = grains_from_decimal(low, u).value();
        a.type.high = grains_from_decimal(high, u).value();
        a.type.unit = unit;
        return a;
    }

    EventKindId event(std::string_view name, std::vector<Attribute> attributes, Names steps = {}) {
        EventKind kind;
        kind.name = name;
        kind.title = std::string("The event ") + std::string(name);
        kind.attributes = std::move(attributes);
        for (Attribute& a : kind.attributes) a.field = field(a.name);
        for (std::string_view step : steps) kind.steps.emplace_back(step);
        p.event_kinds.push_back(std::move(kind));
        return static_cast<EventKindId>(p.event_kinds.size() - 1);
    }
    EventKind& kind(EventKindId id) { return p.event_kinds[id]; }

  private:
    static std::uint32_t find_or_add(std::vector<std::string>& list, std::string_view name) {
        for (std::uint32_t i = 0; i < list.size(); ++i)
            if (list[i] == name) return i;
        list.emplace_back(name);
        return static_cast<std::uint32_t>(list.size() - 1);
    }
};

Span days(std::int32_t n) {
    Span s;
    s.days = n;
    return s;
}
Span hours(std::int64_t n) {
    Span s;
    s.elapsed = n * microseconds_per_hour;
    return s;
}

Maker vocabulary() {
    Maker m;
    Policy& p = m.p;
    p.title = "Quillhaven Regional: care of vascular access lines";
    p.edition = "4";
    p.in_force_from = CivilDate{2026, 3, 1};
    p.in_force_until = CivilDate{2027, 2, 28};
    p.review_by = CivilDate{2027, 1, 15};
    p.owner = "Vascular access committee";
    p.time_zone = "America/Halifax";
    p.vocabulary = "line_care";
    p.vocabulary_edition = "1";
    p.charting_delay = m.field("charting_delay");

    Attribute age = Maker::of("age", TypeKind::age);
    age.type.age_high.months = 120 * 12;
    p.patient = {age, m.one_of("setting", {"icu", "ward", "outpatient", "home"}),
                 Maker::of("chg_sensitivity", TypeKind::flag), Maker::of("ward_code", TypeKind::text),
                 Maker::of("family", TypeKind::key)};
    p.line = {m.one_of("kind", {"picc", "midline", "nontunnelled_cvc", "port", "peripheral"}),
              Maker::number("lumens", TypeKind::count, "1", "5"),
              Maker::number("external_length", TypeKind::length, "0", "60", "cm")};

    const Attribute dressing =
        m.one_of("dressing", {"transparent", "chg_transparent", "gauze", "gauze_under_transparent"});
    const Attribute length = Maker::number("external_length", TypeKind::length, "0", "60", "cm");
    p.insertion =
        m.event("insertion", {dressing, Maker::of("ultrasound", TypeKind::flag)}, {"hand_hygiene", "drape"});
    p.removal = m.event("removal", {m.one_of("removal_reason", {"routine", "infection", "other"})});
    p.notification = m.event("notification", {m.one_of("notified", {"charge_nurse", "provider"})});
    m.kind(p.notification).also_after_removal = true;
    p.acknowledgement =
        m.event("acknowledgement", {m.one_of("acknowledged_by", {"charge_nurse", "provider"})});
    m.kind(p.acknowledgement).also_after_removal = true;
    p.notified = m.field("notified");
    p.acknowledged_by = m.field("acknowledged_by");
    p.roles = {"charge_nurse", "provider"};

    m.event("dressing_change",
            {dressing, m.one_of("antiseptic", {"chg_alcohol", "povidone_iodine"}),
             Maker::number("scrub_time", TypeKind::duration, "0", "600", "s"),
             Maker::number("dry_time", TypeKind::duration, "0", "1800", "s"), length},
            {"hand_hygiene", "scrub", "dry", "apply_dressing"});
    const EventKindId measurement =
        m.event("measurement", {m.one_of("arm_place", {"ten_cm_above_crease", "at_insertion_site"}),
                                Maker::number("arm_circumference", TypeKind::length, "5", "80", "cm"),
                                Maker::number("temperature", TypeKind::temperature, "30", "45", "degC"),
                                Maker::number("pain", TypeKind::number, "0", "10"),
                                Maker::number("saturation", TypeKind::percent, "0", "100", "%"),
                                Maker::number("heparin", TypeKind::concentration, "0", "5000", "units/mL"),
                                Maker::number("flush", TypeKind::volume, "0", "50", "mL"),
                                Maker::number("pump", TypeKind::rate, "0", "999", "mL/h"),
                                Maker::number("weight", TypeKind::mass, "0.3", "300", "kg"),
                                Maker::of("taken_at", TypeKind::time_of_day),
                                Maker::of("note", TypeKind::text), Maker::of("measured_by", TypeKind::key)});
    m.kind(measurement).attributes[1].comparable_by = m.field("arm_place");
    const EventKindId assessment =
        m.event("site_assessment", {m.one_of("dressing_condition", {"intact", "damp", "loose", "soiled"}),
                                    Maker::of("pus", TypeKind::flag)});
    m.kind(assessment).also_after_removal = true;
    m.kind(assessment).attributes[0].complications = {m.symbol("damp"), m.symbol("soiled")};
    m.kind(assessment).attributes[1].complication = true;
    const EventKindId fever = m.event("fever_alert", {});
    m.kind(fever).complication = true;
    m.event("transfer", {m.one_of("setting", {"icu", "ward", "outpatient", "home"})});
    m.event("refusal", {});
    m.event("sedation_start", {});
    m.event("sedation_stop", {});

    // Parts: lumens numbered by the line, infusions begun and ended by events.
    PartKind lumen;
    lumen.name = "lumen";
    lumen.title = "Lumen";
    lumen.count_slot = 1;
    PartKind infusion;
    infusion.name = "infusion";
    infusion.title = "Infusion";
    infusion.of = 0;
    infusion.attributes = {m.one_of("fluid", {"crystalloid", "nutrition", "lipid", "blood"})};
    infusion.attributes[0].field = m.field("fluid");
    const EventKindId start =
        m.event("infusion_start", {m.one_of("fluid", {"crystalloid", "nutrition", "lipid", "blood"})});
    const EventKindId stop = m.event("infusion_stop", {});
    infusion.from = {start};
    infusion.until = {stop};
    p.part_kinds = {lumen, infusion};
    m.kind(start).of = 1;
    m.kind(stop).of = 1;
    m.kind(m.event("set_change", {m.one_of("reason", {"routine", "leak", "contaminated", "other"})})).of = 1;
    m.kind(m.event("hub_scrub", {Maker::number("hub_scrub_time", TypeKind::duration, "0", "10", "min")})).of =
        0;

    State worn;
    worn.name = "dressing";
    worn.type = dressing.type;
    worn.sources = {{p.insertion, m.field("dressing")}, {4, m.field("dressing")}};
    State setting;
    setting.name = "setting";
    setting.type = p.patient[1].type;
    setting.sources = {{7 + 1, m.field("setting")}};
    setting.initially = Initially::patient;
    setting.initial_slot = 1;
    State sedated;
    sedated.name = "sedated";
    sedated.from = {{10, none}};
    sedated.until = {{11, none}};
    p.states = {worn, setting, sedated};
    p.shifts = {{"day", 7 * microseconds_per_hour, 19 * microseconds_per_hour},
                {"night", 19 * microseconds_per_hour, 7 * microseconds_per_hour}};

    for (EventKind& kind : p.event_kinds) {
        kind.attributes.push_back(Maker::of("charting_delay", TypeKind::duration));
        kind.attributes.back().field = p.charting_delay;
        kind.attributes.back().type.unit = "s";
        kind.slot_of_field.assign(p.fields.size(), none);
        for (std::uint32_t slot = 0; slot < kind.attributes.size(); ++slot)
            kind.slot_of_field[kind.attributes[slot].field] = slot;
    }
    return m;
}

}  // namespace

Policy sample_vocabulary() {
    return vocabulary().p;
}

Policy sample_policy() {
    Maker m = vocabulary();
    Policy& p = m.p;
    const EventKindId change = 4;
    const Events changes = {{change, none}};
    Window last_day;
    last_day.in_last = days(1);
    Window since_insertion;
    since_insertion.since = {{p.insertion, none}};

    // Values.
    const ExpressionId two_cm = m.add(Constant{20'000});
    const ExpressionId text = m.add(TextConstant{"quillhaven"});
    const ExpressionId week = m.add(SpanConstant{days(7)});
    const ExpressionId eighteen = m.add(AgeConstant{18, AgeUnit::years});
    const ExpressionId unset = m.add(Unset{});
    const ExpressionId dry_time = m.add(EventAttribute{m.field("dry_time")});
    const ExpressionId fluid = m.add(PartAttribute{1, 0});
    const ExpressionId line_length = m.add(LineAttribute{2});
    const ExpressionId age = m.add(PatientAttribute{0});
    const ExpressionId sensitive = m.add(PatientAttribute{2});
    const ExpressionId worn = m.add(StateValue{0});
    const ExpressionId facility = m.add(Facility{});
    const ExpressionId care_unit = m.add(CareUnit{});
    const ExpressionId dwell = m.add(Dwell{});
    const ExpressionId since = m.add(TimeSince{changes});
    const ExpressionId count = m.add(CountOf{changes, last_day});
    const ExpressionId sum = m.add(SumOf{change, m.field("scrub_time"), since_insertion});
    const ExpressionId circumference = m.add(EventAttribute{m.field("arm_circumference")});
    const ExpressionId difference = m.add(DifferenceOf{line_length, circumference});
    const ExpressionId moved = m.add(Change{ChangeKind::rise, m.field("external_length"), changes, 2});
    const ExpressionId between = m.add(StepTime{"scrub", "dry"});
    const ExpressionId in_step = m.add(StepIn{"scrub"});
    const ExpressionId half = m.add(Multiple{1, 2, dry_time});
    const ExpressionId by_table = m.add(TableValue{0, 0, {worn, age}});
    const ExpressionId picc = m.add(Constant{m.symbol("picc")});
    const ExpressionId kind = m.add(LineAttribute{0});
    const ExpressionId thirty = m.add(Constant{30 * microseconds_per_second});
    const ExpressionId transparent = m.add(Constant{m.symbol("transparent")});

    // Truths.
    const auto compare = [&](Comparator c, ExpressionId a, ExpressionId b) {
        return m.add(Compare{c, a, b});
    };
    const ExpressionId adult = compare(Comparator::at_least, age, eighteen);
    const ExpressionId is_picc = compare(Comparator::is, kind, picc);
    const ExpressionId here = compare(Comparator::is, facility, text);
    const ExpressionId elsewhere = compare(Comparator::is_not, care_unit, text);
    const ExpressionId bare = compare(Comparator::is, worn, unset);
    const ExpressionId covered = m.add(OneOf{worn, {transparent}});
    const ExpressionId old = compare(Comparator::more_than, dwell, week);
    const ExpressionId stale = compare(Comparator::at_most, since, week);
    const ExpressionId often = compare(Comparator::less_than, count, two_cm);
    const ExpressionId summed = compare(Comparator::at_least, sum, thirty);
    const ExpressionId far = compare(Comparator::more_than, difference, two_cm);
    const ExpressionId risen = compare(Comparator::more_than, moved, two_cm);
    const ExpressionId slow = compare(Comparator::at_least, between, thirty);
    const ExpressionId scrubbed = compare(Comparator::at_least, in_step, thirty);
    const ExpressionId dried = compare(Comparator::at_least, half, by_table);
    const ExpressionId lipid = compare(Comparator::is, fluid, m.add(Constant{m.symbol("lipid")}));
    const ExpressionId documented = m.add(Documented{dry_time});
    const ExpressionId occurred = m.add(Occurred{changes, last_day, true});
    const ExpressionId any_lipid = m.add(SomePart{1, lipid});
    const ExpressionId always = m.add(Always{true});
    const ExpressionId both = m.add(And{{adult, is_picc}});
    const ExpressionId either = m.add(Or{{both, sensitive, m.add(Not{far})}});
    p.governs = m.add(And{{here, elsewhere}});

    Table table;
    table.name = "antiseptic_use";
    table.inputs = {"dressing", "patient.age"};
    table.columns = {"dry_time"};
    Cell any;
    Cell at_least{Cell::Kind::compare, Comparator::at_least, {eighteen}};
    Cell one{Cell::Kind::one_of, Comparator::is, {transparent}};
    Cell range{Cell::Kind::range, Comparator::is, {eighteen, eighteen}};
    table.rows = {{{one, at_least}, {thirty}}, {{any, range}, {thirty}}};
    table.first_row_wins = true;
    p.tables = {table};
    p.sources = {{"hicpac_2011", "Guidelines for the Prevention of Intravascular Catheter-Related Infections",
                  "CDC/HICPAC", "2011"}};

    const auto clause = [&](std::string id, TriggerKind trigger, Demand demand) -> Clause& {
        Clause c;
        c.id = std::move(id);
        c.sentence = "The sentence of " + c.id + ".";
        c.trigger.kind = trigger;
        if (trigger != TriggerKind::stretch && trigger != TriggerKind::once) c.trigger.events = changes;
        if (trigger == TriggerKind::once) c.trigger.once = old;
        c.demand = std::move(demand);
        p.clauses.push_back(std::move(c));
        return p.clauses.back();
    };
    AtLeastEvery every{changes, days(7), true, hours(96), bare, hours(12)};
    Clause& first = clause("dressing.transparent", TriggerKind::stretch, every);
    first.priority = Priority::critical;
    first.for_each = 1;
    first.for_each_where = lipid;
    first.applies_for = either;
    first.applies_while = covered;
    first.even_after_removal = true;
    first.exceptions = {{occurred, "the patient's informed refusal is recorded"}};
    first.otherwise_escalate = 0;
    first.undocumented = UndocumentedCounts::not_met;
    first.sources = {{"hicpac_2011", "dressing regimens", "IB"}};
    first.departures = {{"hicpac_2011", "local practice"}};
    first.reason = "a reason";
    first.advice = "some advice";
    first.place = {"policy.linelaw", 12, 3};
    clause("b.no_more_often", TriggerKind::stretch, NoMoreOftenThan{changes, hours(24), any_lipid})
        .overrides = {0};
    clause("c.each", TriggerKind::stretch, EachPeriod{changes, 2, Period::shift}).should = true;
    clause("d.within", TriggerKind::after, Within{changes, hours(2), hours(1)});
    clause("e.within_shift", TriggerKind::once, Within{changes, Until::next_shift, {}});
    clause("f.either_side", TriggerKind::at, WithinEitherSide{changes, hours(1)});
    clause("g.had", TriggerKind::before, HaveHad{changes, last_day, false});
    clause("h.holds", TriggerKind::at, Holds{m.add(And{{dried, documented, slow, scrubbed, always}})});
    clause("i.document", TriggerKind::at, Document{{m.field("dry_time")}});
    clause("j.steps", TriggerKind::at, FollowSteps{{"scrub", "dry"}, true});
    clause("k.forbid", TriggerKind::stretch, Forbid{{{change, m.add(And{{stale, often, summed}})}}});
    clause("l.at_most", TriggerKind::stretch, AtMostTimes{changes, 3, days(1)});
    clause("m.judgement", TriggerKind::stretch, LeavesToJudgement{"dressing_interval"});
    Clause& moment = clause("n.moved", TriggerKind::at, NoDemand{});
    moment.trigger.events[0].where = risen;
    moment.then_escalate = 0;

    Ladder ladder;
    ladder.id = "catheter_migration";
    ladder.sentence = "The catheter may have moved.";
    ladder.steps = {{{1}, hours(1), {}}, {{0, 1}, hours(1), hours(1)}};
    ladder.holds = {{changes, {{p.removal, none}}}};
    ladder.place = {"policy.linelaw", 99, 1};
    p.ladders = {ladder};
    p.bundles = {
        {"insertion_practices", "Insertion practices, all or none", {7, 8}, BundleEach::event, changes, {}}};
    return m.p;
}

}  // namespace linelaw::runtime
