// One change at a time to a policy's text: each is told, before and now, and whether it was weighed. What is
// expected of each is written by hand from what the change does.
#include <catch2/catch.hpp>

#include "compiler/analysis/analysis.hpp"
#include "tests/compiler/program.hpp"

using namespace linelaw::compiler;
using namespace linelaw::compiler::analysis;
using linelaw::tests::Folder;
using linelaw::tests::Ran;
using linelaw::tests::run;

namespace {

const std::string base = R"(policy "Quillhaven Regional: a test"
  edition 1
  in force from 2026-03-01 until 2100-01-01
  review by 2100-01-01
  time zone America/Halifax
  undocumented counts as not assessable

event dressing_change "Dressing change"
  antiseptic : one of chg, iodine
  dry_time : duration 0 s .. 10 min in s
event look "Look" complication
  found : one of clear, damp, loose
  length : length 0 cm .. 60 cm in cm
event refusal "Refusal"
event fever "Fever" complication
event infusion_start "Infusion started"
event tip_check "Tip checked"
role nurse, physician, team
line
  line_kind : one of port, picc

question damp "What is done when it is damp?"
  about response to look where found is damp

source manual "Manual"
  by "Council" year 2025

term bad means found is one of damp, loose

table drying
  given antiseptic gives dry
  row chg gives 30 s
  row iodine gives 2 min

clause dressing.damp
  "Change a damp dressing within 2 h."
  after look where found is damp
  must dressing_change within 2 h
  except when refusal in the last 12 h
    because "refused"
  priority critical
  source manual "1.4"

clause dressing.dry
  "Let it dry as long as the table says."
  at dressing_change
  must dry_time at least drying.dry
  undocumented counts as not met
  advice "Do not fan."
  reason "r"

clause moved
  "A moved line is reported."
  after look where length more than 2 cm or fever
  then escalate call
  reason "r"

escalation call
  "Something is wrong."
  first notify nurse within 1 h
  then notify team within 30 min if not acknowledged within 30 min
  no new infusion_start until tip_check
)";

std::string with(const std::string& from, const std::string& to) {
    std::string text = base;
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

Compilation compiled_text(const std::string& text) {
    auto out = compile("policy.linelaw", [&](const std::string&) { return std::optional(text); });
    for (const auto& d : out.diagnostics) UNSCOPED_INFO(d.message);
    REQUIRE(out.compiled);
    return out;
}

Comparison after(const std::string& from, const std::string& to) {
    return compare(compiled_text(base), compiled_text(with(from, to)));
}

// "clause `moved`: before → now", with how it was weighed.
std::vector<std::string> told(const Comparison& comparison) {
    static const char* const weighed[] = {"not weighed", "in part", "weighed"};
    std::vector<std::string> out;
    for (const auto& change : comparison.changes)
        out.push_back(place_in_words(change.written) + ": " + change.written.before + " → " +
                      change.written.now + ", " + weighed[static_cast<std::size_t>(change.weighed)]);
    return out;
}
std::vector<std::string> told(const std::string& from, const std::string& to) {
    return told(after(from, to));
}
using Told = std::vector<std::string>;

std::size_t same(const Comparison& comparison) {
    std::size_t n = 0;
    for (const auto& d : comparison.differences)
        if (d.kind == Difference::Kind::same && !d.touched) ++n;
    return n;
}

}  // namespace

TEST_CASE("nothing changed is nothing told, and all of it is the same") {
    const Comparison comparison = compare(compiled_text(base), compiled_text(base));
    CHECK(comparison.changes.empty());
    CHECK(same(comparison) ==
          2);  // the one question: damp alone, and damp with the line moved more than 2 cm
    // Blanks, line ends and comments are no change.
    CHECK(told("  must dressing_change within 2 h\n", "  must   dressing_change\n     within 2 h  # soon\n")
              .empty());
}

TEST_CASE("of a ladder the hold, the wait, the step and the sentence are told") {
    CHECK(told("  no new infusion_start until tip_check\n", "") ==
          Told{"escalation `call`: no new infusion_start until tip_check → , not weighed"});
    CHECK(told("acknowledged within 30 min", "acknowledged within 1 h") ==
          Told{"escalation `call`, wait before step 2: if not acknowledged within 30 min → "
               "if not acknowledged within 1 h, not weighed"});
    CHECK(told("Something is wrong.", "All is well.") ==
          Told{"escalation `call`: \"Something is wrong.\" → \"All is well.\", not weighed"});
    // Another role called is another demand on the one clause that starts the ladder: weighed where the
    // question asks for it.
    CHECK(told("first notify nurse", "first notify physician") ==
          Told{"escalation `call`, step 1: first notify nurse within 1 h → "
               "first notify physician within 1 h, in part"});
}

TEST_CASE("of a clause each line is told, and what the question does not ask is not weighed") {
    CHECK(told("priority critical", "priority minor") ==
          Told{"clause `dressing.damp`: priority critical → priority minor, not weighed"});
    CHECK(told("  except when refusal in the last 12 h\n    because \"refused\"\n", "") ==
          Told{"clause `dressing.damp`: except when refusal in the last 12 h because \"refused\" → , "
               "not weighed"});
    CHECK(told("refusal in the last 12 h", "refusal in the last 24 h") ==
          Told{"clause `dressing.damp`: except when refusal in the last 12 h because \"refused\" → "
               "except when refusal in the last 24 h because \"refused\", not weighed"});
    CHECK(told("  undocumented counts as not met\n", "") ==
          Told{"clause `dressing.dry`: undocumented counts as not met → , not weighed"});
    CHECK(told("Do not fan.", "Fan it dry.") ==
          Told{"clause `dressing.dry`: advice \"Do not fan.\" → advice \"Fan it dry.\", not weighed"});
    CHECK(told("\"1.4\"", "\"9.9\"") ==
          Told{"clause `dressing.damp`: source manual \"1.4\" → source manual \"9.9\", not weighed"});
    CHECK(told("A moved line is reported.", "A moved line is told.") ==
          Told{"clause `moved`: \"A moved line is reported.\" → \"A moved line is told.\", not weighed"});
    // Of this clause the question asks only what it does when it is damp too; the fever is beyond that.
    const Comparison fever = after(" or fever\n", "\n");
    CHECK(told(fever) == Told{"clause `moved`: after look where length more than 2 cm or fever → "
                              "after look where length more than 2 cm, not weighed"});
    CHECK(same(fever) == 1);  // damp alone
    // A clause that answers no question is weighed wherever it applies.
    CHECK(told("  at dressing_change\n", "  at dressing_change where antiseptic is chg\n") ==
          Told{"clause `dressing.dry`: at dressing_change → at dressing_change where antiseptic is chg, "
               "weighed"});
    CHECK(told("  at dressing_change\n", "  for line_kind is port\n  at dressing_change\n") ==
          Told{"clause `dressing.dry`:  → for line_kind is port, weighed"});
    // Within the question's scope the demand is weighed.
    CHECK(told("must dressing_change within 2 h", "must dressing_change within 4 h") ==
          Told{"clause `dressing.damp`: must dressing_change within 2 h → must dressing_change within 4 h, "
               "weighed"});
}

TEST_CASE("of the events that begin a response the question asks for a part, and the rest is not weighed") {
    const std::string wide =
        with("after look where found is damp\n", "after look where found is damp or fever\n");
    const Comparison comparison = compare(compiled_text(wide), compiled_text(base));
    CHECK(told(comparison) == Told{"clause `dressing.damp`: after look where found is damp or fever → "
                                   "after look where found is damp, not weighed"});
    CHECK(same(comparison) == 0);
}

TEST_CASE("tables, terms, the head and sources are told") {
    CHECK(told("row iodine gives 2 min", "row iodine gives 90 s") ==
          Told{"table `drying`: row iodine gives 2 min → row iodine gives 90 s, weighed"});
    CHECK(told("one of damp, loose\n\ntable", "one of damp, clear\n\ntable") ==
          Told{"term `bad`: term bad means found is one of damp, loose → "
               "term bad means found is one of damp, clear, not weighed"});
    CHECK(told("America/Halifax", "America/Vancouver") ==
          Told{"head: time zone America/Halifax → time zone America/Vancouver, not weighed"});
    CHECK(told("until 2100-01-01", "until 2099-12-31") ==
          Told{"head: in force from 2026-03-01 until 2100-01-01 → in force from 2026-03-01 until "
               "2099-12-31, not weighed"});
    CHECK(told("year 2025", "year 2017") ==
          Told{"source `manual`: source manual \"Manual\" by \"Council\" year 2025 → "
               "source manual \"Manual\" by \"Council\" year 2017, not weighed"});
    const Comparison judged = after("counts as not assessable", "counts as not met");
    CHECK(told(judged) == Told{"head: undocumented counts as not assessable → "
                               "undocumented counts as not met, not weighed"});
    CHECK(same(judged) == 0);  // the clause that answers has no line of its own on it
}

TEST_CASE("what a change touches is not called the same, and what it does not touch is") {
    CHECK(same(after("priority critical", "priority minor")) == 0);
    CHECK(same(after("Do not fan.", "Fan it dry.")) == 2);  // that clause does not answer the question
}

TEST_CASE("compare exits 1 for a change that is not weighed, or in part, and says so in both forms") {
    const Folder folder;
    const std::string old = folder.write("old.linelaw", base);
    const std::string hold =
        folder.write("hold.linelaw", with("  no new infusion_start until tip_check\n", ""));
    const Ran same_text = run("PROGRAM compare " + old + " " + old);
    CHECK(same_text.status == 0);
    CHECK(same_text.output.find("\n2 the same\n") != std::string::npos);
    CHECK(same_text.output.find("changed") == std::string::npos);
    const Ran ran = run("PROGRAM compare " + old + " " + hold);
    INFO(ran.output);
    CHECK(ran.status == 1);
    CHECK(ran.output.find("\nchanged, weighed only in part: read each\n"
                          "  escalation `call`, left out: `no new infusion_start until tip_check`\n") !=
          std::string::npos);
    CHECK(ran.output.find("1 change of the text not weighed") != std::string::npos);
    const Ran json = run("PROGRAM compare --format json " + old + " " + hold);
    CHECK(json.status == 1);
    CHECK(json.output.find("\"weighed\": \"in part\"") != std::string::npos);
    const std::string minor = folder.write("minor.linelaw", with("priority critical", "priority minor"));
    const Ran words = run("PROGRAM compare " + old + " " + minor);
    CHECK(words.status == 1);
    CHECK(words.output.find(
              "\nchanged, not weighed: whether it is stricter or looser was not looked at, read each\n"
              "  clause `dressing.damp`: `priority critical` → `priority minor`\n") != std::string::npos);
    CHECK(run("PROGRAM compare --format json " + old + " " + minor).output.find("\"weighed\": \"no\"") !=
          std::string::npos);
}

TEST_CASE("one situation of several is told as an instance, a whole one is not") {
    const auto first = [](const Comparison& comparison) {
        for (const auto& d : comparison.differences)
            if (d.kind != Difference::Kind::same) return d;
        FAIL("no difference");
        return Difference{};
    };
    // What is given up is every change with iodine, and nothing else.
    const Difference one =
        first(after("  at dressing_change\n", "  at dressing_change where antiseptic is chg\n"));
    CHECK_FALSE(one.instance);
    // Given up with iodine at a port, and with either antiseptic at a picc: no one situation says it all.
    const Difference several = first(after(
        "  at dressing_change\n", "  for line_kind is port\n  at dressing_change where antiseptic is chg\n"));
    CHECK(several.instance);
}
