// The numbers that a sentence says, the drift between a sentence and its rule, and reading back.
#include <algorithm>
#include <catch2/catch.hpp>

#include "compiler/numbers_in_sentence.hpp"
#include "compiler/read_back.hpp"
#include "runtime/time.hpp"
#include "runtime/values.hpp"
#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;
using compiler::count_key;
using compiler::day_key;
using compiler::shift_key;
using compiler::time_key;

namespace {

constexpr std::int64_t minute = runtime::microseconds_per_minute;
constexpr std::int64_t hour = runtime::microseconds_per_hour;
constexpr std::int64_t day = 24 * hour;

bool says(const std::string& sentence, const compiler::AmountKey& key) {
    const auto all = compiler::numbers_in(sentence);
    return std::any_of(all.begin(), all.end(), [&](const auto& said) {
        return std::find(said.readings.begin(), said.readings.end(), key) != said.readings.end();
    });
}

std::vector<std::string> drift(const std::string& sentence, const std::string& lines) {
    return findings_of(
        compile_body("clause c\n  \"" + sentence + "\"\n  " + lines + "\n  reason \"A test.\"\n"));
}
const std::vector<std::string> none;
const std::vector<std::string> one = {"drift.sentence"};

std::string read_back_of(const std::string& lines) {
    const auto compilation = compile_body("clause c\n  \"A test.\"\n  " + lines + "\n  reason \"A test.\"\n");
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    return compiler::read_back(*compilation.compiled);
}

}  // namespace

TEST_CASE("A number that is too large, or not whole, is no number of times a day") {
    CHECK(says("99999999999999999999 times a day", count_key("99999999999999999999")));
    CHECK_FALSE(says("1.5 times a day", time_key(day, 0)));
    CHECK(compiler::numbers_in("2000000000000 h 2000000000000 min").size() == 2);  // no sum of the two
    CHECK(says("2 times a day", time_key(12 * hour, 0)));
}

TEST_CASE("Numbers with units are read in figures and in words") {
    CHECK(says("at least every 7 days", time_key(7 * day, 0)));
    CHECK(says("a 7-day dressing", time_key(7 * day, 0)));
    CHECK(says("for two minutes", time_key(2 * minute, 0)));
    CHECK(says("within half an hour", time_key(30 * minute, 0)));
    CHECK(says("after 1 h 30 min", time_key(90 * minute, 0)));
    CHECK(says("within 1.5 hours", time_key(90 * minute, 0)));
    CHECK(says("for 15 s.", time_key(15'000'000, 0)));
    CHECK(says("under two months of age", time_key(0, 2)));
    CHECK(says("within 5 to 7 days", time_key(5 * day, 0)));
    CHECK(says("within 5 to 7 days", time_key(7 * day, 0)));
    CHECK(
        says("more than 2 cm", compiler::physical_key(static_cast<int>(runtime::Dimension::length), 20'000)));
    CHECK(says("at most 38 °C",
               compiler::physical_key(static_cast<int>(runtime::Dimension::temperature), 38LL * 9'000'000)));
}

TEST_CASE("Equal times are equal, however they are said") {
    CHECK(time_key(48 * hour, 0) == time_key(2 * day, 0));
    CHECK(says("every week", time_key(7 * day, 0)));
    CHECK(says("weekly", time_key(7 * day, 0)));
    CHECK(says("once a week", time_key(7 * day, 0)));
    CHECK(says("daily", day_key()));
    CHECK(says("daily", time_key(day, 0)));
    CHECK(says("each calendar day", day_key()));
    CHECK(says("twice a day", time_key(12 * hour, 0)));
    CHECK(says("twice a day", count_key("2")));
    CHECK(says("three times each shift", shift_key()));
    CHECK(says("each shift", shift_key()));
    CHECK(says("by the end of the next shift", shift_key()));
}

TEST_CASE("A sentence that says what its rule says does not drift") {
    CHECK(drift("Change it at least every 7 days.",
                "must dressing_change at least every 7 days grace 12 h") == none);
    CHECK(drift("Change it weekly.", "must dressing_change at least every 7 days") == none);
    CHECK(drift("Change it every 48 hours.", "must dressing_change at least every 2 days") == none);
    CHECK(drift("Change q48h.", "must dressing_change at least every 2 days") == none);
    CHECK(drift("Look q 12 h.", "must site_assessment at least every 12 h") == none);
    CHECK(drift("Look q12h.", "must site_assessment at least every 8 h") != none);
    CHECK(drift("Change every other day.", "must dressing_change at least every 2 days") == none);
    CHECK(drift("Change every other day.", "must dressing_change at least every 3 days") != none);
    CHECK(drift("Look q12h, as table Q2 of the guide has it.", "must site_assessment at least every 12 h") ==
          none);
    CHECK(drift("Look daily.", "must site_assessment each calendar day") == none);
    CHECK(drift("Look twice a day.", "must site_assessment at least 2 times each calendar day") == none);
    CHECK(drift("Look twice a day.", "must site_assessment at least every 12 h") == none);
    CHECK(
        drift("At once, within 2 h of finding it loose.",
              "after site_assessment where dressing_condition is loose\n  must dressing_change within 2 h") ==
        none);
    CHECK(drift("Once it is in, confirm it within a day.",
                "after insertion\n  must tip_confirmation within 24 h") == none);
    CHECK(drift("Confirm it within a day.", "after insertion\n  must tip_confirmation within 24 h") == none);
}

TEST_CASE("A number of the demand or its trigger that the sentence does not say is drift") {
    CHECK(drift("Change it often.", "must dressing_change at least every 7 days") == one);
    CHECK(drift("Change it every 7 days.",
                "must dressing_change at least every 7 days no more often than every 96 h") == one);
    CHECK(drift("Take cultures after a fever.",
                "after fever where temperature at least 38.5 degC\n  must culture within 1 h") ==
          std::vector<std::string>{"drift.sentence", "drift.sentence"});
}

TEST_CASE("A number of the sentence that the rule does not say is drift") {
    CHECK(drift("Change it at least every 7 days, within 2 h of a leak.",
                "must dressing_change at least every 7 days") == one);
    CHECK(drift("Flush with 10 mL every 12 h.", "must flush at least every 12 h") == one);
}

TEST_CASE("A bound that the sentence takes in and the rule does not is drift, and the reverse") {
    const auto fever = [](const std::string& sentence, const std::string& bound) {
        return drift(sentence,
                     "after fever where temperature " + bound + " 38 degC\n  must culture within 1 h");
    };
    CHECK(fever("At 38 degC or more take it within 1 h.", "more than") == one);
    CHECK(fever("Take it within 1 h of at least 38 degC.", "more than") == one);
    CHECK(fever("Take it within 1 h of more than 38 degC.", "at least") == one);
    CHECK(fever("Take it within 1 h of at least 38 degC.", "at least") == none);
    CHECK(fever("Take it within 1 h of more than 38 degC.", "more than") == none);
    CHECK(fever("Take it within 1 h of no less than 38 degC.", "at least") == none);
    CHECK(fever("Not more than 38 degC, or take it within 1 h.", "more than") ==
          none);                                                          // the other way round
    CHECK(fever("Take it within 1 h of 38 degC.", "more than") == none);  // no bound is said
    CHECK(drift("Except at 38 degC or more.",
                "at fever where not temperature more than 38 degC\n  must document temperature") == none);
}

TEST_CASE("A bound or an interval that sentence and rule turn round is drift") {
    const auto at = [](const std::string& sentence, const std::string& condition) {
        return drift(sentence, "at dressing_change\n  must " + condition);
    };
    CHECK(at("Scrub for at least 30 s.", "scrub_time at most 30 s") == one);
    CHECK(at("Scrub for at most 30 s.", "scrub_time at least 30 s") == one);
    CHECK(at("Scrub for at least 30 s and at most 60 s.",
             "scrub_time at least 30 s and scrub_time at most 60 s") == none);
    CHECK(at("Scrub for no more than 30 s.", "scrub_time at most 30 s") == none);
    const auto every = [](const std::string& sentence, const std::string& demand) {
        return drift(sentence, "must dressing_change " + demand);
    };
    CHECK(every("Change it no more often than every 2 days.", "at least every 2 days") == one);
    CHECK(every("Change it at least every 2 days.", "no more often than every 2 days") == one);
    CHECK(every("Change it at least every 7 days and no more often than every 2 days.",
                "at least every 7 days no more often than every 2 days") == none);
    CHECK(every("Change it every 2 days.", "at least every 2 days") == none);
    CHECK(every("Change it at least every 5 to 7 days.",
                "at least every 7 days no more often than every 5 days") == none);
    // The same number in another place, without a bound of its own.
    CHECK(drift("A line in for at least 24 h is looked at, at most 24 h after a fever.",
                "for dwell at least 24 h\n  after fever\n  must site_assessment within 24 h") == none);
    CHECK(drift("Look at least once a day where lumens are at most 1.",
                "for line.lumens at most 1\n  must site_assessment each calendar day") == none);
}

TEST_CASE("A number that the sentence and the rule say differently is told once") {
    CHECK(drift("Change it every 5 days.", "must dressing_change at least every 7 days") == one);
    CHECK(drift("After 38 degC, take it within 2 h.",
                "after fever where temperature at least 38.5 degC\n  must culture within 1 h") ==
          std::vector<std::string>{"drift.sentence", "drift.sentence"});
    // Which of two times of the sentence is meant is not to be guessed.
    CHECK(drift("Change it every 5 days, and within 2 h of a leak.",
                "must dressing_change at least every 7 days") ==
          std::vector<std::string>{"drift.sentence", "drift.sentence", "drift.sentence"});
}

TEST_CASE("Grace, exceptions and conditions may stay unsaid, and may be said") {
    const std::string lines =
        "for patient.age at least 18 years\n  must dressing_change at least every 7 days grace 12 h\n  "
        "except when refusal in "
        "the last 24 h";
    CHECK(drift("Change it every 7 days.", lines) == none);
    CHECK(drift("From 18 years on, change it every 7 days; 12 h of grace; not when refused in the last 24 h.",
                lines) == none);
}

TEST_CASE("Reading back says when late begins and what ends the duty") {
    const auto text = read_back_of("must dressing_change at least every 7 days grace 12 h");
    CHECK(text.find("due 7 days after the one before, at the same time of day") != std::string::npos);
    CHECK(text.find("Late begins 12 h after that.") != std::string::npos);
    CHECK(text.find(
              "If the line is removed, or the clause stops applying, before late begins, the duty ends.") !=
          std::string::npos);
}

TEST_CASE("Reading back says which days do not count") {
    const auto text = read_back_of("must site_assessment each calendar day");
    CHECK(text.find("the one of the insertion and the one of the removal do not") != std::string::npos);
}

TEST_CASE("Reading back puts the units back") {
    const auto text = read_back_of(
        "for patient.age at least 18 years\n  at dressing_change\n  must external_length at most 25.4 mm and "
        "antiseptic is not "
        "alcohol");
    CHECK(text.find("`age` of the patient is at least 18 years") != std::string::npos);
    CHECK(text.find("its `external_length` is at most 2.54 cm") != std::string::npos);
    CHECK(text.find("its `antiseptic` is not `alcohol`") != std::string::npos);
}

// By hand, from what `not`, `and` and `or` mean.
TEST_CASE("Reading back keeps a negation with what it denies") {
    const auto where = [](const std::string& condition) {
        const auto text = read_back_of("for " + condition + "\n  must site_assessment each calendar day");
        const auto begin = text.find("  Where ");
        REQUIRE(begin != std::string::npos);
        return text.substr(begin + 8, text.find('\n', begin) - begin - 8);
    };
    const std::string age = "`age` of the patient is ";
    const std::string sensitive = "`chg_sensitivity` of the patient is ";
    CHECK(where("not patient.age at most 28 days and chg_sensitivity is no") ==
          age + "more than 28 days and " + sensitive + "no.");
    CHECK(where("not (patient.age at most 28 days and chg_sensitivity is no)") ==
          "not both: " + age + "at most 28 days, and " + sensitive + "no.");
    CHECK(where("not (patient.age at most 28 days or chg_sensitivity)") ==
          "neither " + age + "at most 28 days nor " + sensitive + "yes.");
    CHECK(where("not (patient.age at most 28 days and chg_sensitivity) and line.kind is port") ==
          "(not both: " + age + "at most 28 days, and " + sensitive +
              "yes) and `kind` of the line is `port`.");
    CHECK(where("not chg_sensitivity") == sensitive + "no.");
    CHECK(where("not line.kind is port") == "`kind` of the line is not `port`.");
    CHECK(where("not not line.kind is port") == "`kind` of the line is `port`.");
    CHECK(where("not line.lumens less than 2") == "`lumens` of the line is at least 2.");
    CHECK(where("not (line.lumens at least 2 and chg_sensitivity and line.kind is port)") ==
          "not all of these: `lumens` of the line is at least 2, and " + sensitive +
              "yes, and `kind` of the line is `port`.");
}

TEST_CASE("Reading back a clause that only starts an escalation says what is demanded by it") {
    const auto compilation = compile_body(
        "escalation calls \"The provider is called at once.\"\n  first notify provider within 30 min\n\n"
        "clause c\n  \"A test.\"\n  after site_assessment\n  then escalate calls\n  reason \"A test.\"\n");
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    const auto text = compiler::read_back(*compilation.compiled);
    CHECK(text.find("Nothing is demanded") == std::string::npos);
    CHECK(text.find("What is demanded are the calls of the escalation") != std::string::npos);
}

// U+00A0 and U+202F, which word processors write between a number and its unit, look like a plain blank.
TEST_CASE("A word processor's blank between a number and its unit is read as the blank that is seen") {
    const std::string rule = "must dressing_change at least every 7 days";
    for (const char* blank : {"\xC2\xA0", "\xE2\x80\xAF"}) {
        CHECK(drift("Change it every 7" + std::string(blank) + "days.", rule) == none);
        CHECK_FALSE(drift("Change it every 8" + std::string(blank) + "days.", rule) == none);
    }
}

TEST_CASE("Reading back says what a missing record counts as") {
    CHECK(read_back_of("at flush\n  must volume at least 5 mL\n  undocumented counts as not met")
              .find("What is not charted counts as not done.") != std::string::npos);
    // Only of a value is it not known; an event that is not charted did not happen, and a value that is to be
    // charted was not (language.md 4.2).
    CHECK(read_back_of("at flush\n  must document volume").find("is not recorded, and counts against.") !=
          std::string::npos);
    CHECK(read_back_of("must dressing_change each calendar day")
              .find("An event that is not charted counts as not done") != std::string::npos);
    CHECK(read_back_of("at flush\n  must volume at least 5 mL")
              .find("  A value that is not charted cannot be judged") != std::string::npos);
}

TEST_CASE("Every kind of clause can be read back") {
    const auto compilation =
        compiler::compile(std::string(LINELAW_SOURCE_DIR) + "/policies/demo/quillhaven.linelaw");
    REQUIRE(compilation.compiled);
    for (const auto& clause : compilation.compiled->policy.clauses) {
        const auto text = compiler::read_back(compilation.compiled->policy, clause);
        INFO(text);
        CHECK(text.rfind(clause.id, 0) == 0);
        CHECK(text.size() > 60);
    }
}
