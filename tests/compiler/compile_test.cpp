// What a text means once it is compiled: names where they stand, constants in their grains, layers, examples.
#include <algorithm>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <set>

#include "runtime/policy_json.hpp"
#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;
namespace rt = linelaw::runtime;

namespace {

// The compiled policy of a body that must have no error.
rt::Policy policy_of(const std::string& body) {
    auto compilation = compile_body(body);
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    return compilation.compiled->policy;
}

template <typename Node>
const Node& node(const rt::Policy& policy, rt::ExpressionId id) {
    REQUIRE(id < policy.expressions.size());
    const auto* found = std::get_if<Node>(&policy.expressions[id]);
    REQUIRE(found != nullptr);
    return *found;
}

const rt::Clause& clause(const rt::Policy& policy, std::string_view id) {
    const auto it =
        std::find_if(policy.clauses.begin(), policy.clauses.end(), [&](const auto& c) { return c.id == id; });
    REQUIRE(it != policy.clauses.end());
    return *it;
}

// The condition of `must COND` of the clause `c`.
const rt::Compare& demanded(const rt::Policy& policy) {
    return node<rt::Compare>(policy, std::get<rt::Holds>(clause(policy, "c").demand).condition);
}

std::string at_change(const std::string& demand) {
    return "clause c\n  \"At a change.\"\n  at dressing_change\n  must " + demand +
           "\n  reason \"A test.\"\n";
}

}  // namespace

TEST_CASE("The standard vocabulary and the demo's policy compile, with nothing to warn of") {
    for (const std::string path : {"policies/line-care.linelaw", "policies/demo/quillhaven.linelaw"}) {
        const auto compilation = compiler::compile(std::string(LINELAW_SOURCE_DIR) + '/' + path);
        INFO(said(compilation));
        CHECK(compilation.compiled);
        CHECK(findings_of(compilation).empty());
    }
}

TEST_CASE("A compiled policy is written, read and written again as the same bytes") {
    const auto compilation =
        compiler::compile(std::string(LINELAW_SOURCE_DIR) + "/policies/demo/quillhaven.linelaw");
    REQUIRE(compilation.compiled);
    const std::string json = rt::write_policy(compilation.compiled->policy);
    const auto read = rt::read_policy(json);
    if (!read) FAIL(read.error().message);
    CHECK(rt::write_policy(*read) == json);
}

TEST_CASE("A bare name at an event is the event's attribute, and before it the state") {
    const auto policy = policy_of(at_change("dressing is gauze"));
    CHECK(policy.fields[node<rt::EventAttribute>(policy, demanded(policy).left).field] == "dressing");
    const auto before = policy_of(at_change("state.dressing is gauze"));
    CHECK(before.states[node<rt::StateValue>(before, demanded(before).left).state].name == "dressing");
}

// By the calendar: February has 28 days, and an age is of two completed years until the third birthday.
TEST_CASE("Ages are the wrong way round only where nobody is of any age between them") {
    const auto codes = [](const std::string& low, const std::string& high) {
        const auto compilation =
            compile_body("clause c\n  \"Look.\"\n  for patient.age between " + low + " and " + high +
                         "\n  must site_assessment each calendar day\n  reason \"A test.\"\n");
        return said(compilation).find("range.order") != std::string::npos;
    };
    CHECK(codes("18 years", "12 years"));
    CHECK(codes("3 years", "12 months"));
    CHECK(codes("8 weeks", "7 days"));
    CHECK_FALSE(codes("1 month", "29 days"));
    CHECK_FALSE(codes("30 months", "2 years"));
    CHECK_FALSE(codes("18 years", "18 years"));
}

TEST_CASE("A term means what its names mean where it stands") {
    const auto policy = policy_of("term gauzy means dressing is gauze\n" + at_change("gauzy") +
                                  "clause d\n  \"Every 2 days.\"\n  while gauzy\n  must dressing_change at "
                                  "least every 2 days\n  reason \"A test.\"\n");
    node<rt::EventAttribute>(policy, demanded(policy).left);
    node<rt::StateValue>(policy, node<rt::Compare>(policy, clause(policy, "d").applies_while).left);
}

TEST_CASE("A bare name that no event records is the line's, else the patient's") {
    const auto line = policy_of(at_change("kind is picc"));
    CHECK(line.line[node<rt::LineAttribute>(line, demanded(line).left).slot].name == "kind");
    const auto patient = policy_of(at_change("weight at least 3 kg"));
    CHECK(patient.patient[node<rt::PatientAttribute>(patient, demanded(patient).left).slot].name == "weight");
}

TEST_CASE("At an event of a part a bare name may be the part's") {
    const auto policy = policy_of(
        "clause c\n  \"At a set change.\"\n  at set_change\n  must fluid is not lipid\n  reason \"A "
        "test.\"\n");
    const auto& attribute = node<rt::PartAttribute>(policy, demanded(policy).left);
    CHECK(policy.part_kinds[attribute.part].name == "infusion");
    CHECK(policy.part_kinds[attribute.part].attributes[attribute.slot].name == "fluid");
}

TEST_CASE("What a part declares is charted at its beginning event") {
    const auto policy = policy_of(at_change("dressing is gauze"));
    const auto start = std::find_if(policy.event_kinds.begin(), policy.event_kinds.end(),
                                    [](const auto& k) { return k.name == "infusion_start"; });
    REQUIRE(start != policy.event_kinds.end());
    CHECK(std::any_of(start->attributes.begin(), start->attributes.end(),
                      [](const auto& a) { return a.name == "fluid"; }));
    CHECK(policy.part_kinds[start->of].name == "infusion");
}

TEST_CASE("A constant on the left is put on the right, with its comparison turned round") {
    const auto policy = policy_of(at_change("2 cm less than external_length"));
    CHECK(demanded(policy).comparator == rt::Comparator::more_than);
    CHECK(node<rt::Constant>(policy, demanded(policy).right).value == 20'000);  // micrometres
}

TEST_CASE("Lengths, times and temperatures are kept exactly, in their grains") {
    const auto inch = policy_of(at_change("external_length at most 1 inch"));
    CHECK(node<rt::Constant>(inch, demanded(inch).right).value == 25'400);  // 2.54 cm by definition
    const auto time = policy_of(at_change("dry_time at least 1 min 30 s"));
    CHECK(node<rt::Constant>(time, demanded(time).right).value == 90'000'000);
    const auto fever = policy_of(
        "clause c\n  \"A fever.\"\n  at fever\n  must temperature at least 100.4 degF\n  reason \"A "
        "test.\"\n");
    CHECK(node<rt::Constant>(fever, demanded(fever).right).value ==
          38LL * 9'000'000);  // 100.4 degF is 38 degC
}

TEST_CASE("A difference of temperatures has no offset: 9 degF apart is 5 degC apart") {
    const auto policy = policy_of(
        "event reading \"Reading\"\n  before : temperature 30 degC .. 43 degC in degC\n  later : temperature "
        "30 degC .. 43 "
        "degC in degC\n"
        "clause c\n  \"A reading.\"\n  at reading\n  must difference of before and later at most 9 degF\n  "
        "reason \"A "
        "test.\"\n");
    CHECK(node<rt::Constant>(policy, demanded(policy).right).value == 5LL * 9'000'000);
}

TEST_CASE("An age is compared in the unit that is written") {
    const auto policy = policy_of(at_change("patient.age at most 24 months"));
    const auto& age = node<rt::AgeConstant>(policy, demanded(policy).right);
    CHECK(age.count == 24);
    CHECK(age.unit == rt::AgeUnit::months);
}

TEST_CASE("Dwell is compared with a span, days and hours kept apart") {
    const auto policy = policy_of(at_change("dwell at most 1 week 12 h"));
    const auto& span = node<rt::SpanConstant>(policy, demanded(policy).right).span;
    CHECK(span == rt::Span{0, 7, false, 12 * rt::microseconds_per_hour});
}

TEST_CASE("A change since insertion has the line's value as its baseline, where the line has one") {
    const auto policy = policy_of(at_change("change in external_length since insertion at most 2 cm"));
    const auto& change = node<rt::Change>(policy, demanded(policy).left);
    REQUIRE(change.line_slot != rt::none);
    CHECK(policy.line[change.line_slot].name == "external_length");
    CHECK(change.since_last.empty());
}

TEST_CASE("`must not` forbids an event, and denies a condition") {
    const auto forbid =
        policy_of("clause c\n  \"No transfer.\"\n  must not transfer\n  reason \"A test.\"\n");
    CHECK(std::holds_alternative<rt::Forbid>(clause(forbid, "c").demand));
    const auto deny = policy_of(at_change("not patient.chg_sensitivity"));
    node<rt::Not>(deny, std::get<rt::Holds>(clause(deny, "c").demand).condition);
}

TEST_CASE("Expressions written alike are one") {
    const auto policy = policy_of(
        "clause c\n  \"Every 7 days.\"\n  for line.kind is picc\n  must dressing_change at least every 7 "
        "days\n  reason \"A "
        "test.\"\n"
        "clause d\n  \"Every 6 days.\"\n  for kind is picc\n  must flush at least every 6 days\n  reason \"A "
        "test.\"\n");
    CHECK(clause(policy, "c").applies_for == clause(policy, "d").applies_for);
}

TEST_CASE("A table is read with the inputs of the place where it is read") {
    const auto policy = policy_of(
        "table dry\n  given antiseptic | patient.age gives dry_time\n  row chg_alcohol | at least 2 months "
        "gives 30 s\n  "
        "row alcohol | 3 months .. 2 years gives 60 s\n" +
        at_change("dry_time at least dry.dry_time"));
    const auto& value = node<rt::TableValue>(policy, demanded(policy).right);
    REQUIRE(value.inputs.size() == 2);
    node<rt::EventAttribute>(policy, value.inputs[0]);
    node<rt::PatientAttribute>(policy, value.inputs[1]);
    const auto& rows = policy.tables[value.table].rows;
    REQUIRE(rows.size() == 2);
    CHECK(rows[0].given[1].kind == rt::Cell::Kind::compare);
    CHECK(node<rt::AgeConstant>(policy, rows[1].given[1].values[0]).unit == rt::AgeUnit::months);
    CHECK(node<rt::Constant>(policy, rows[1].gives[0]).value == 60'000'000);
}

TEST_CASE("The events that every policy has are there without a vocabulary") {
    const auto compilation = compile_files({{"policy.linelaw", "policy \"Bare\"\n  edition 1\n"}});
    REQUIRE(compilation.compiled);
    const auto& policy = compilation.compiled->policy;
    CHECK(policy.event_kinds[policy.insertion].name == "insertion");
    CHECK(policy.event_kinds[policy.removal].name == "removal");
    CHECK(policy.event_kinds[policy.notification].also_after_removal);
    CHECK(policy.fields[policy.notified] == "notified");
    for (const auto& kind : policy.event_kinds) CHECK(kind.slot_of_field[policy.charting_delay] != rt::none);
}

TEST_CASE("A demand has priority major, a recommendation advisory, unless told otherwise") {
    const auto policy = policy_of(
        "clause c\n  \"Every 7 days.\"\n  must dressing_change at least every 7 days\n  reason \"A test.\"\n"
        "clause d\n  \"Every 7 days.\"\n  should dressing_change at least every 7 days\n  reason \"A "
        "test.\"\n"
        "clause e\n  \"Every 7 days.\"\n  priority minor\n  should dressing_change at least every 7 days\n  "
        "reason \"A test.\"\n");
    CHECK(clause(policy, "c").priority == rt::Priority::major);
    CHECK(clause(policy, "d").priority == rt::Priority::advisory);
    CHECK(clause(policy, "d").should);
    CHECK(clause(policy, "e").priority == rt::Priority::minor);
}

TEST_CASE("How the undocumented counts is the policy's, unless the clause says otherwise") {
    const auto policy = policy_of(at_change("dressing is gauze") +
                                  "clause d\n  \"At a change.\"\n  at dressing_change\n  must dressing is "
                                  "gauze\n  undocumented counts as not met\n  "
                                  "reason \"A test.\"\n");
    CHECK(clause(policy, "c").undocumented == rt::UndocumentedCounts::not_assessable);
    CHECK(clause(policy, "d").undocumented == rt::UndocumentedCounts::not_met);
}

TEST_CASE("An `at` clause with a broken condition still has the errors of its demand said") {
    const auto compilation = compile_body(
        "clause c\n  \"At a change.\"\n  at dressing_change where dresing is gauze\n  must dry_tme at least "
        "30 s\n  reason "
        "\"A test.\"\n");
    CHECK(findings_of(compilation) == std::vector<std::string>{"name.unknown", "name.unknown"});
}

TEST_CASE("A name that a syntax error may have taken away is not said to be unknown") {
    const auto compilation = compile_body(
        "term adult means patient.age at most at least 18 years\n"
        "clause c\n  \"Every 7 days.\"\n  for adult\n  must dressing_change at least every 7 days\n  reason "
        "\"A test.\"\n");
    for (const auto& code : findings_of(compilation)) CHECK(code.rfind("syntax.", 0) == 0);
}

TEST_CASE("Lines that a stray word took from their clause are an error, never a crash") {
    for (const std::string stray : {"cm document.hub\n", "2 min antisepsis.sensitive\n"})
        for (const std::string demand :
             {"document hub_scrub_time", "antiseptic is one of povidone_iodine, alcohol"}) {
            const auto compilation = compile_body("clause document.sets\n  source committee\n" + stray +
                                                  "  must " + demand + "\n");
            CHECK_FALSE(compilation.compiled);
        }
}

TEST_CASE("Nothing is said of names while the vocabulary cannot be read") {
    const auto compilation = compile_files(
        {{"policy.linelaw",
          "policy \"Lost\"\n  edition 1\n  uses vocabulary \"nowhere.linelaw\"\nclause c\n  \"Every 7 "
          "days.\"\n  must dressing_change at least every 7 days\n"}});
    CHECK(codes_of(compilation) == std::vector<std::string>{"name.file"});
}

TEST_CASE("A layer takes its base's items, replaces and drops clauses, and adds its own") {
    const std::string base =
        header +
        "clause a\n  \"Every 7 days.\"\n  must dressing_change at least every 7 days\n  reason \"A test.\"\n"
        "clause b\n  \"Every 6 days.\"\n  must flush at least every 6 days\n  reason \"A test.\"\n";
    const auto compilation = compile_files(
        {{"base.linelaw", base},
         {"policy.linelaw",
          "policy \"Ward\"\n  edition 2\n  review by 2027-01-15\n  builds on \"base.linelaw\"\n"
          "replace clause a\n  \"Every 5 days.\"\n  must dressing_change at least every 5 days\n  reason \"A "
          "test.\"\n"
          "drop clause b because \"no lumens here\"\n"
          "clause c\n  \"Every 4 days.\"\n  must lock at least every 4 days\n  reason \"A test.\"\n"}});
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    const auto& policy = compilation.compiled->policy;
    REQUIRE(policy.clauses.size() == 2);
    CHECK(policy.title == "Ward");
    CHECK(policy.edition == "2");
    CHECK(policy.time_zone == "America/Halifax");  // the base's
    CHECK(policy.clauses[0].id == "a");
    CHECK(std::get<rt::AtLeastEvery>(policy.clauses[0].demand).every.days == 5);
    CHECK(policy.clauses[0].place.file == "policy.linelaw");
    CHECK(policy.clauses[1].id == "c");
}

TEST_CASE("A policy is the same from whichever folder it is compiled, and bears no path of the machine") {
    const std::string clause = " must dressing_change at least every 7 days\n  reason \"A test.\"\n";
    std::string policy =
        header + "  builds on \"../base/all.linelaw\"\nclause b\n  \"Every 7 days.\"\n " + clause;
    policy.insert(policy.find("line-care.linelaw"), "../");
    const std::string base =
        policy.substr(0, policy.find("  builds on")) + "clause a\n  \"Every 7 days.\"\n " + clause;
    const std::string vocabulary = text_of_file("policies/line-care.linelaw");
    const auto compiled = [&](const std::string& path, const std::string& root) {
        const auto compilation =
            compiler::compile(path, [&](const std::string& file) -> std::optional<std::string> {
                if (file == path) return policy;
                if (file == root + "base/all.linelaw") return base;
                if (file == root + "line-care.linelaw") return vocabulary;
                return std::nullopt;
            });
        INFO(said(compilation));
        REQUIRE(compilation.compiled);
        const auto& made = compilation.compiled->policy;
        REQUIRE(made.clauses.size() == 2);
        CHECK(made.clauses[0].place.file == "../base/all.linelaw");
        CHECK(made.clauses[1].place.file == "ward.linelaw");
        return rt::write_policy(made);
    };
    const std::string here = compiled("ward.linelaw", "../");
    CHECK(compiled("../wards/ward.linelaw", "../") == here);
    CHECK(compiled("wards/ward.linelaw", "") == here);
    CHECK(compiled("./ward.linelaw", "../") == here);
    CHECK(compiled("/srv/policies/wards/ward.linelaw", "/srv/policies/") == here);
}

TEST_CASE("What is charted under one name is of one kind at every event and part") {
    const auto codes = [](const std::string& items) { return codes_of(compile_body(items)); };
    const std::string look = "event look \"Look\"\n  grade : one of low, high\n";
    const std::vector<std::string> refused = {"type.declaration"};
    CHECK(codes(look + "event weigh \"Weigh\"\n  grade : length 0 cm .. 9 cm in cm\n") == refused);
    CHECK(codes(look + "event tell \"Tell\"\n  grade : text\n") == refused);
    CHECK(codes(look + "event start \"Start\"\nevent stop \"Stop\"\n"
                       "part pump \"Pump\" from start until stop\n  grade : count 1 .. 3\n") == refused);
    // Another list is of the same kind; both are only never asked for.
    CHECK(codes(look + "event smell \"Smell\"\n  grade : one of faint, high\n") ==
          std::vector<std::string>{"unused.attribute", "unused.attribute"});
}

TEST_CASE("A change from what the line bears is from the same kind of value") {
    const std::string body =
        "line\n  girth : flag\nevent tape \"Tape\"\n  girth : length 5 cm .. 80 cm in cm\n"
        "clause c\n  \"Swelling.\"\n  at tape\n  must rise in girth since insertion at most 3 cm\n"
        "  reason \"A test.\"\n";
    CHECK(codes_of(compile_body(body)) == std::vector<std::string>{"type.compare"});
}

TEST_CASE("A vocabulary that extends another adds attributes and steps to its events") {
    const auto compilation = compile_files(
        {{"ours.linelaw",
          "vocabulary ours\n  edition 1\n  extends \"line-care.linelaw\"\nevent dressing_change \"Dressing "
          "change\"\n  second "
          ": flag\n  steps : hand_over\nevent photo \"Photograph\"\n"},
         {"policy.linelaw",
          "policy \"Ours\"\n  edition 1\n  review by 2027-01-15\n  time zone America/Halifax\n  uses "
          "vocabulary "
          "\"ours.linelaw\"\n  undocumented counts as not assessable\n"
          "clause c\n  \"At a change.\"\n  at dressing_change\n  must second and dressing is gauze\n  reason "
          "\"A test.\"\n"
          "clause d\n  \"At a change.\"\n  at dressing_change\n  must follow steps hand_hygiene, hand_over\n "
          " reason \"A "
          "test.\"\n"
          "clause e\n  \"Every 7 days.\"\n  must photo at least every 7 days\n  reason \"A test.\"\n"}});
    INFO(said(compilation));
    CHECK(findings_of(compilation).empty());
    CHECK(compilation.compiled);
}

TEST_CASE("`governs` speaks of the facility, and nothing else does") {
    const auto policy = policy_of(at_change("dressing is gauze"));
    CHECK(policy.governs == rt::none);
    auto governed = header;
    governed.insert(governed.find("  time zone"), "  governs facility is \"quillhaven\"\n");
    const auto compilation = compile_files({{"policy.linelaw", governed + at_change("dressing is gauze")}});
    REQUIRE(compilation.compiled);
    const auto& compare =
        node<rt::Compare>(compilation.compiled->policy, compilation.compiled->policy.governs);
    node<rt::Facility>(compilation.compiled->policy, compare.left);
    CHECK(node<rt::TextConstant>(compilation.compiled->policy, compare.right).text == "quillhaven");
}

TEST_CASE("An example is the record that it looks like") {
    const auto compilation =
        compile_body(at_change("dressing is gauze") +
                     "example \"one\"\n  line kind picc, external_length 13 cm, lumens 2\n  patient age 54 "
                     "years, chg_sensitivity no\n"
                     "  day 0 08:00 insertion dressing transparent\n"
                     "  day 7 09:30 dressing_change dressing gauze, dry_time 1 min 30 s, charting_delay 2 h, "
                     "steps (scrub from 09:20 to "
                     "09:21, dry)\n"
                     "  day 8 10:00 infusion_start infusion \"i1\", lumen 2, fluid lipid\n"
                     "  until day 9 00:00\n  expect c met 1 times\n");
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    REQUIRE(compilation.compiled->examples.size() == 1);
    const auto record = nlohmann::json::parse(compilation.compiled->examples[0].record);
    CHECK(record["patient"]["age"] == nlohmann::json({{"value", 54}, {"unit", "a"}}));
    CHECK(record["patient"]["chg_sensitivity"] == false);
    CHECK(record["line"]["external_length"] == nlohmann::json({{"value", 13}, {"unit", "cm"}}));
    CHECK(record["line"]["lumens"] == 2);
    // Halifax is 4 h behind UTC on 1 March 2026 and 3 h from 8 March on (the IANA database).
    CHECK(record["line"]["inserted_at"] == "2026-03-01T12:00:00Z");
    CHECK(record["line"]["removed_at"].is_null());
    CHECK(record["observed_until"] == "2026-03-10T03:00:00Z");
    const auto& change = record["events"][1];
    CHECK(change["at"] == "2026-03-08T12:30:00Z");
    CHECK(change["dressing"] == "gauze");
    CHECK(change["dry_time"] == nlohmann::json({{"value", 90}, {"unit", "s"}}));
    CHECK(change["recorded_at"] == "2026-03-08T14:30:00Z");
    CHECK(change["steps"][0] ==
          nlohmann::json(
              {{"step", "scrub"}, {"from", "2026-03-08T12:20:00Z"}, {"to", "2026-03-08T12:21:00Z"}}));
    CHECK(change["steps"][1] == "dry");
    CHECK(record["events"][2]["infusion"] == "i1");
    CHECK(record["events"][2]["lumen"] == 2);
    const auto& expected = compilation.compiled->examples[0].expected.at(0);
    CHECK(expected.outcome == rt::Outcome::met);
    CHECK(expected.times == 1U);
}

TEST_CASE("A value in an example is the same number in its record, however it is written") {
    // As a reader takes it, in grains: JSON knows no leading zero, and a third of a minute is no decimal.
    const auto dry_time = [](const std::string& written, const std::string& unit) {
        const auto compilation = compile_body(
            "event wait \"A wait\"\n  lasting : duration 0 s .. 3 h in " + unit +
            "\nclause c\n  \"A wait.\"\n  at wait\n  must lasting at least 1 s\n  reason \"A test.\"\n"
            "example \"one\"\n  day 0 08:00 insertion\n  day 1 08:00 wait lasting " +
            written + "\n  expect c met\n");
        INFO(said(compilation));
        REQUIRE(compilation.compiled);
        const auto record = nlohmann::json::parse(compilation.compiled->examples.at(0).record);
        const auto& value = record["events"][1]["lasting"];
        const bool named = value.is_object();
        const auto* read =
            named ? rt::find_unit_by_ucum(value["unit"].get<std::string>()) : rt::find_unit(unit);
        REQUIRE(read != nullptr);
        std::int64_t grains = 0;
        REQUIRE(rt::grains_from_number((named ? value["value"] : value).get<double>(), *read, grains));
        return grains;
    };
    CHECK(dry_time("030 s", "s") == 30'000'000);
    CHECK(dry_time("00 s", "s") == 0);
    CHECK(dry_time("0.000001 s", "h") == 1);
    CHECK(dry_time("1 min 20 s", "min") == 80'000'000);
    CHECK(dry_time("20 s 1 min", "h") == 80'000'000);
    CHECK(dry_time("2 h 59 min 59.999999 s", "h") == 10'799'999'999);
}

TEST_CASE("A part's number in an example may have zeros before it, and is whole") {
    const auto record_of = [](const std::string& lumen) {
        return compile_body(at_change("dressing is gauze") +
                            "example \"one\"\n  line lumens 2\n  day 0 08:00 insertion\n  day 1 08:00 "
                            "infusion_start infusion \"i1\", lumen " +
                            lumen + ", fluid lipid\n  expect c met 0 times\n");
    };
    const auto good = record_of("02");
    INFO(said(good));
    REQUIRE(good.compiled);
    CHECK(nlohmann::json::parse(good.compiled->examples.at(0).record)["events"][1]["lumen"] == 2);
    CHECK(codes_of(record_of("1.5")) == std::vector<std::string>{"type.example"});
    CHECK(codes_of(record_of("99999999999999999999")) == std::vector<std::string>{"type.example"});
}

TEST_CASE("A value in an example that no JSON number says exactly is an error") {
    const auto compilation = compile_body(
        "event reading \"A reading\"\n  value : number 0 .. 9000000000000\n"
        "clause c\n  \"A reading.\"\n  at reading\n  must value at least 1\n  reason \"A test.\"\n"
        "example \"one\"\n  day 0 08:00 insertion\n  day 1 08:00 reading value 8999999999999.999999\n"
        "  expect c met\n");
    CHECK(codes_of(compilation) == std::vector<std::string>{"unit.precision"});
}

TEST_CASE("Terms count towards how deep a condition nests, wherever they are declared") {
    const auto chain = [](int length, const std::string& step, bool downwards) {
        std::string terms;
        for (int i = 1; i <= length; ++i) {
            const std::string term =
                "term t" + std::to_string(i) + " means " + step + "t" + std::to_string(i - 1) + "\n";
            terms = downwards ? term + terms : terms + term;
        }
        return compile_body("term t0 means line.kind is picc\n" + terms +
                            "clause c\n  \"A change.\"\n  for t" + std::to_string(length) +
                            "\n  at dressing_change\n  must dressing is gauze\n  reason \"A test.\"\n");
    };
    const std::vector<std::string> nesting = {"syntax.nesting"};
    for (const bool downwards : {false, true}) {
        CHECK(findings_of(chain(190, "", downwards)).empty());
        CHECK(findings_of(chain(5, "not not not not not not not not not not ", downwards)).empty());
        for (const auto& deep : {chain(3'000, "", downwards), chain(150, "not not ", downwards)}) {
            CHECK_FALSE(deep.compiled);
            const auto codes = findings_of(deep);
            REQUIRE_FALSE(codes.empty());
            CHECK(codes.size() <= 3'000 / 200);  // not again for each term above it
            CHECK(std::set<std::string>(codes.begin(), codes.end()) ==
                  std::set<std::string>{"syntax.nesting"});
            CHECK(said(deep).find("with `term`") == std::string::npos);  // no way out of it
        }
    }
}

TEST_CASE("A term that nothing uses is as large as it is, whatever was read before it") {
    const auto compilation = compile_body(
        "term small means line.kind is picc\nterm other means not (small)\n"
        "clause c\n  \"A change.\"\n  at dressing_change where (dressing is gauze or dressing is "
        "transparent)\n"
        "  must not (dressing is gauze or dressing is transparent or dressing is documented)\n  reason \"A "
        "test.\"\n");
    const auto codes = codes_of(compilation);
    CHECK(std::count(codes.begin(), codes.end(), "syntax.nesting") == 0);
    CHECK(compilation.compiled);
}

TEST_CASE("Terms that double with each are bounded by what they come to, and read once") {
    std::string terms = "term t0 means line.kind is picc\n";
    for (int i = 1; i <= 60; ++i)
        terms += "term t" + std::to_string(i) + " means t" + std::to_string(i - 1) + " and t" +
                 std::to_string(i - 1) + "\n";
    const auto doubling = [&](const std::string& top) {
        return compile_body(terms + "clause c\n  \"A change.\"\n  for " + top +
                            "\n  at dressing_change\n  must dressing is gauze\n  reason \"A test.\"\n");
    };
    CHECK(codes_of(doubling("t60")).front() == "syntax.nesting");
    CHECK_FALSE(doubling("t60").compiled);
}

TEST_CASE("A time longer than a compiled policy's reader takes is an error at its place") {
    const auto once = [](const std::string& time) {
        return compile_body("clause c\n  \"A change after long dwell.\"\n  once dwell more than " + time +
                            "\n  must dressing_change within 2 h\n  reason \"A test.\"\n");
    };
    for (const std::string longest :
         {"1000 years", "12000 months", "365243 days", "8765832 h", "365242 days 24 h"}) {
        INFO(longest);
        const auto good = once(longest);
        INFO(said(good));
        REQUIRE(good.compiled);
        CHECK(rt::read_policy(rt::write_policy(good.compiled->policy)));
    }
    for (const std::string longer :
         {"1001 years", "12001 months", "365244 days", "8765833 h", "1000000 days", "99999999999 days",
          "9000000000000 s 9000000000000 s", "600 years 600 years", "9223372036854775807 h"}) {
        INFO(longer);
        const auto codes = findings_of(once(longer));
        CHECK(std::set<std::string>(codes.begin(), codes.end()) == std::set<std::string>{"unit.precision"});
    }
    std::string many;
    for (int i = 0; i < 300; ++i) many += "1000 years ";
    CHECK_FALSE(once(many).compiled);
}
