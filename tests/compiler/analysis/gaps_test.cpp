// Gaps, as language.md §5 says them.
#include <catch2/catch.hpp>
#include <sstream>

#include "tests/compiler/analysis/texts.hpp"

using namespace linelaw::compiler::analysis;

namespace {

const std::string transparent = R"(
clause dressing.transparent
  "Change a transparent dressing at least every 7 days."
  while    dressing is transparent
  must     dressing_change at least every 7 days
  reason "test"
)";
const std::string question = R"(
question dressing_interval
  "How often is the dressing changed?"
  about dressing_change how often
  for every combination of line.kind, dressing
)";

std::string review(const std::string& id, const std::string& lines) {
    return "clause " + id + "\n  \"Test.\"\n  " + lines + "\n  reason \"test\"\n";
}

}  // namespace

TEST_CASE("a response that is asked for by an event is answered by that event alone") {
    const auto gaps = [](const std::string& by, const std::string& demand) {
        return messages(
                   analysed(policy(
                       "question tip\n  \"When is the tip confirmed?\"\n  about response to insertion" + by +
                       "\n  for every combination of line.kind\n\n"
                       "clause a\n  \"Test.\"\n  after insertion\n  must " +
                       demand + "\n  reason \"test\"\n")),
                   "gap.question")
            .size();
    };
    CHECK(gaps("", "site_assessment within 24 h") == 0);
    CHECK(gaps(" by tip_confirmation", "site_assessment within 24 h") == 1);
    CHECK(gaps(" by tip_confirmation", "tip_confirmation within 24 h") == 0);
    CHECK(gaps(" by tip_confirmation or culture", "culture or review within 24 h") == 0);
    const std::string gauze = " by dressing_change where dressing is gauze";
    CHECK(gaps(gauze, "dressing_change where dressing is transparent within 24 h") == 1);
    CHECK(gaps(gauze, "dressing_change where dressing is gauze within 24 h") == 0);
    CHECK(gaps(gauze, "dressing_change within 24 h") == 0);
}

TEST_CASE("a question without an answer names the smallest situation") {
    const Analysis a = analysed(policy(question + transparent));
    INFO(everything(a));
    REQUIRE(messages(a, "gap.question").size() == 1);
    CHECK(messages(a, "gap.question")[0].find("where dressing is gauze") != std::string::npos);
    CHECK(situation(a, "gap.question", "dressing") == "gauze");
    CHECK(situation(a, "gap.question", "line.kind").empty());
}

TEST_CASE("a clause that leaves a question to judgement answers it, and so does one set aside") {
    const std::string judged = R"(
clause dressing.gauze
  "A gauze dressing is changed when needed."
  while  dressing is gauze
  leaves dressing_interval to judgement because "test"
)";
    CHECK(messages(analysed(policy(question + transparent + judged)), "gap.question").empty());
    const std::string aside = R"(
set aside question dressing_interval for dressing is gauze because "test"
)";
    CHECK(messages(analysed(policy(question + transparent + aside)), "gap.question").empty());
}

TEST_CASE("an unset state is a gap only where the question says so") {
    const std::string or_unset = R"(
question dressing_interval
  "How often is the dressing changed?"
  about dressing_change how often
  for every combination of dressing or unset
)";
    const std::string gauze = R"(
clause dressing.gauze
  "Change a gauze dressing at least every 2 days."
  while    dressing is gauze
  must     dressing_change at least every 2 days
  reason "test"
)";
    CHECK(messages(analysed(policy(question + transparent + gauze)), "gap.question").empty());
    const Analysis a = analysed(policy(or_unset + transparent + gauze));
    INFO(everything(a));
    REQUIRE(messages(a, "gap.question").size() == 1);
    CHECK(situation(a, "gap.question", "dressing") == "unset");
}

TEST_CASE("what the vocabulary calls never is no gap") {
    const std::string v = vocabulary("never line.kind is port and dressing is gauze because \"test\"\n");
    const std::string gauze = R"(
clause dressing.gauze
  "Change a gauze dressing at least every 2 days."
  for      line.kind is not port
  while    dressing is gauze
  must     dressing_change at least every 2 days
  reason "test"
)";
    CHECK(messages(analysed(policy(question + transparent + gauze), v), "gap.question").empty());
    CHECK(messages(analysed(policy(question + transparent + gauze)), "gap.question").size() == 1);
}

TEST_CASE("windows over some of the same events hang together, whatever their words") {
    const std::string ask =
        "question culture_interval\n  \"How often?\"\n  about culture how often\n"
        "  for dwell at least 1 day\n\n";
    const auto both = [&](const std::string& within, const std::string& without) {
        return analysed(policy(ask + "clause a\n  \"A.\"\n  while " + within +
                               "\n  must culture at least every 24 h\n  reason \"R\"\n" +
                               "clause b\n  \"B.\"\n  while " + without +
                               "\n  must culture at least every 48 h\n  reason \"R\"\n"));
    };
    const auto gaps = [&](const std::string& within, const std::string& without) {
        const Analysis analysis = both(within, without);
        INFO(everything(analysis));
        return messages(analysis, "gap.question").size();
    };
    const std::string looked = "site_assessment where (dressing_condition is ";
    CHECK(gaps(looked + "one of damp, loose) in the last 12 h",
               "no " + looked + "one of loose, damp) in the last 12 h") == 0);
    CHECK(gaps(looked + "one of damp, loose) in the last 12 h", "no " + looked + "damp) in the last 12 h") ==
          0);
    CHECK(gaps(looked + "damp) in the last 12 h or " + looked + "loose) in the last 12 h",
               "no " + looked + "one of damp, loose) in the last 12 h") == 0);
    CHECK(gaps("fever in the last 12 h or review in the last 12 h",
               "no any of fever, review in the last 12 h") == 0);
    // These leave a case out: it was found intact, or loose.
    CHECK(gaps(looked + "damp) in the last 12 h", "no site_assessment in the last 12 h") == 1);
    CHECK(gaps("fever in the last 12 h", "no any of fever, review in the last 12 h") == 1);
    const Analysis dead = analysed(
        policy("clause a\n  \"A.\"\n  while " + looked + "damp) in the last 12 h and no " + looked +
               "one of damp, loose) in the last 12 h\n  must culture at least every 24 h\n  reason \"R\"\n"));
    INFO(everything(dead));
    CHECK(messages(dead, "dead.clause").size() == 1);
}

TEST_CASE("ages in days and in months leave only the gaps that some birth date gives") {
    // 2 months are 59 to 62 days: older than 62 days is always at least 2 months, 61 days is not.
    const auto ages = [](const std::string& days) {
        return policy(R"(
question q
  "How often is the site looked at?"
  about site_assessment how often
  for every combination of line.kind

clause young
  "Look at the site each calendar day."
  for    patient.age less than 2 months
  must   site_assessment each calendar day
  reason "test"

clause old
  "Look at the site each calendar day."
  for    patient.age at least )" +
                      days + R"( days
  must   site_assessment each calendar day
  reason "test"
)");
    };
    CHECK(messages(analysed(ages("59")), "gap.question").empty());
    const Analysis a = analysed(ages("60"));
    INFO(everything(a));
    CHECK(messages(a, "gap.question").size() == 1);
}

TEST_CASE("30 months is at most 2 years, so nothing lies between 2 years and 3") {
    const auto ages = [](const std::string& bound) {
        return policy(R"(
question q
  "How often is the site looked at?"
  about site_assessment how often
  for every combination of line.kind

clause young
  "Look at the site each calendar day."
  for    patient.age at most )" +
                      bound + R"(
  must   site_assessment each calendar day
  reason "test"

clause old
  "Look at the site each calendar day."
  for    patient.age at least 3 years
  must   site_assessment each calendar day
  reason "test"
)");
    };
    CHECK(messages(analysed(ages("2 years")), "gap.question").empty());
    CHECK(messages(analysed(ages("24 months")), "gap.question").size() == 1);
}

TEST_CASE("a response is asked for at each value that a question names") {
    const Analysis a = analysed(policy(R"(
question compromised
  "What is done when a dressing is damp or loose?"
  about response to site_assessment where dressing_condition is one of damp, loose
  for every combination of line.kind

clause damp
  "Change a damp dressing within 2 h."
  for    line.kind is not port
  after  site_assessment where dressing_condition is damp
  must   dressing_change within 2 h
  reason "test"
)"));
    INFO(everything(a));
    REQUIRE(messages(a, "gap.question").size() == 2);
}

TEST_CASE("a complication without a clause after it is a gap, and so is a value marked as one") {
    const std::string v = vocabulary("event occlusion \"Occlusion\" complication\n");
    const Analysis a = analysed(policy(transparent), v);
    INFO(everything(a));
    REQUIRE(messages(a, "gap.response").size() == 1);
    CHECK(messages(a, "gap.response")[0].find("`occlusion`") != std::string::npos);
    const Analysis b = analysed(policy(transparent + R"(
clause occlusion
  "An occlusion is cultured within 1 h."
  for    line.kind is not port
  after  occlusion
  must   culture within 1 h
  reason "test"
)"),
                                v);
    INFO(everything(b));
    REQUIRE(messages(b, "gap.response").size() == 1);
    CHECK(situation(b, "gap.response", "line.kind") == "port");
}

TEST_CASE("a clause that rests on what nobody is asked to chart is a gap") {
    const std::string dry = R"(
clause dry
  "Let the antiseptic dry 30 s."
  at     dressing_change
  must   dry_time at least 30 s
  reason "test"
)";
    CHECK(messages(analysed(policy(dry)), "gap.documentation").size() == 1);
    CHECK(messages(analysed(policy(dry + R"(
clause chart
  "Chart the drying."
  at     dressing_change
  must   document dry_time
  reason "test"
)")),
                   "gap.documentation")
              .empty());
}

TEST_CASE("hours in no shift are a gap, also over midnight") {
    const std::string use = R"(
clause site
  "Look at the site each shift."
  must   site_assessment each shift
  reason "test"
)";
    const Analysis a =
        analysed(policy("shift day from 07:00 to 19:00\nshift late from 19:00 to 23:00\n" + use));
    INFO(everything(a));
    REQUIRE(messages(a, "gap.shift").size() == 1);
    CHECK(messages(a, "gap.shift")[0] == "the hours from 23:00 to 07:00 are in no shift");
    CHECK(messages(analysed(policy("shift day from 07:00 to 19:30\nshift night from 19:00 to 07:30\n" + use)),
                   "gap.shift")
              .empty());
}

TEST_CASE("a table without a row for a combination is a gap where it is used") {
    const std::string table = R"(
table antiseptic_use
  given antiseptic      | patient.age           gives dry_time
  row   chg_alcohol     | at least 2 months     gives 30 s
  row   povidone_iodine | any                   gives 2 min

clause dry
  "Let the antiseptic dry fully."
  at     dressing_change
  must   dry_time at least antiseptic_use.dry_time
  reason "test"
)";
    const Analysis a = analysed(policy(table));
    INFO(everything(a));
    REQUIRE(messages(a, "gap.table").size() == 2);
}

TEST_CASE("a row that a table lacks is said once, at however many events the table is read") {
    const Analysis a = analysed(policy(R"(
event second_dressing "Another dressing"
  antiseptic : one of chg_alcohol, povidone_iodine, alcohol
  scrub_time : duration 0 s .. 10 min in s
  dry_time   : duration 0 s .. 30 min in s
table drying
  given antiseptic  gives time
  row   chg_alcohol gives 30 s
clause dry
  "Test."
  at     second_dressing or dressing_change
  must   dry_time at least drying.time
  reason "test"
clause scrub
  "Test."
  at     dressing_change
  must   scrub_time at least drying.time
  reason "test"
)"));
    INFO(everything(a));
    const auto gaps = messages(a, "gap.table");
    REQUIRE(gaps.size() == 1);
    CHECK(gaps.front().find("where antiseptic is one of") != std::string::npos);
}

TEST_CASE("more than 2 cm and less than 2 cm leave 2 cm out") {
    const auto moved = [](const std::string& less) {
        return policy(R"(
clause far
  "Test."
  at     dressing_change where change in external_length since insertion more than 2 cm
  must   document external_length
  reason "test"

clause near
  "Test."
  at     dressing_change where change in external_length since insertion )" +
                      less + R"(
  must   document dressing
  reason "test"
)");
    };
    const Analysis a = analysed(moved("less than 2 cm"));
    INFO(everything(a));
    REQUIRE(messages(a, "gap.boundary").size() == 1);
    CHECK(messages(a, "gap.boundary")[0] ==
          "`far` and `near` leave out change in external_length since insertion is 2 cm either way");
    CHECK(messages(analysed(moved("at most 2 cm")), "gap.boundary").empty());
    // What is done at an event and what follows it are one question: what the event calls for.
    std::string after = moved("less than 2 cm");
    const auto second = after.rfind("at     dressing_change");
    after.replace(second, 2, "after");
    after.replace(after.rfind("document dressing"), 17, "review within 2 h");
    INFO(after);
    CHECK(messages(analysed(after), "gap.boundary").size() == 1);
    // Without the same matter at hand, a wide range between two clauses is nobody's oversight.
    CHECK(messages(analysed(moved("less than 1 cm")), "gap.boundary").empty());
}

TEST_CASE("two bounds of one interval rule that leave ages between them are a gap") {
    const auto ages = [](const std::string& old) {
        return policy(R"(
clause young
  "Test."
  for    patient.age less than 18 years
  must   review at least every 2 days
  reason "test"

clause old
  "Test."
  for    patient.age )" +
                      old + R"(
  must   review at least every 7 days
  reason "test"
)");
    };
    CHECK(messages(analysed(ages("more than 18 years")), "gap.boundary").size() == 1);
    CHECK(messages(analysed(ages("at least 18 years")), "gap.boundary").empty());
}

TEST_CASE(
    "a clause that can never apply, an exception that never excuses and a clause implied by another are "
    "said") {
    const Analysis dead = analysed(policy(
        review("a", "for line.kind is port and line.kind is picc\n  must review at least every 7 days") +
        review("b",
               "for line.kind is port\n  must review at least every 7 days\n"
               "  except when line.kind is picc because \"test\"")));
    INFO(everything(dead));
    CHECK(messages(dead, "dead.clause").size() == 1);
    CHECK(messages(dead, "dead.exception").size() == 1);
    const auto excused = [&](const std::string& exception) {
        return messages(
            analysed(policy(review("c", "for line.kind is port\n  must review at least every 7 days\n" +
                                            ("  except when " + exception) + " because \"test\""))),
            "dead.clause");
    };
    CHECK(excused("line.kind is one of port, picc").size() == 1);
    CHECK(excused("line.kind is port and line.lumens is 1").empty());
    const Analysis redundant = analysed(policy(review("every_week", "must review at least every 7 days") +
                                               review("twice", "must review at least every 3 days")));
    INFO(everything(redundant));
    REQUIRE(messages(redundant, "redundant.clause").size() == 1);
    CHECK(named(redundant, "redundant.clause")[0] == "`every_week`");
    // In its own situation the looser clause is implied; where only it applies it is not.
    CHECK(messages(
              analysed(policy(review("every_week", "must review at least every 7 days") +
                              review("twice", "for line.kind is port\n  must review at least every 3 days"))),
              "redundant")
              .empty());
}

TEST_CASE("what is nearly the same is not said to be implied") {
    const auto implied = [](const std::string& one, const std::string& other) {
        return messages(analysed(policy(review("a", one) + review("b", other))), "redundant.clause").size();
    };
    // A day may have 23 hours.
    CHECK(implied("must review at least every 24 h", "must review at least every 1 day") == 0);
    CHECK(implied("must review at least every 24 h", "must review at least every 2 days") == 1);
    // After a transfer to the ward, what was done before counts for the one and not for the other.
    const std::string icu = "while setting is icu\n  must review at least every 24 h";
    CHECK(implied(icu + " counted anew", icu) == 1);
    // Looked at on day 1 at 00:00, and in the unit from 23:30 on: due by 01:00 with the grace, and from 23:30
    // on anew where the limit without it has passed.
    CHECK(implied(icu, icu + " grace 1 h") == 0);
    CHECK(implied(icu, icu + " counted anew grace 1 h") == 1);
    CHECK(implied("for line.kind is picc\n  must review at least every 24 h",
                  "for line.kind is picc\n  must review at least every 24 h grace 1 h") == 1);
    const Analysis anew = analysed(policy(review("a", icu + " counted anew") + review("b", icu)));
    CHECK(named(anew, "redundant.clause")[0] == "`a`");
    // Who leaves the time out keeps the one, as nobody can tell, and not the other.
    const auto dries = [](const std::string& seconds, const std::string& undocumented) {
        return "at dressing_change\n  must dry_time at least " + seconds + "\n  undocumented counts as " +
               undocumented;
    };
    CHECK(implied(dries("30 s", "not assessable"), dries("20 s", "not met")) == 0);
    CHECK(implied(dries("30 s", "not met"), dries("20 s", "not met")) == 1);
    // So often in each of the stretches that make it up.
    CHECK(implied("must review at most 2 times in 1 h", "must review at most 4 times in 2 h") == 1);
    CHECK(implied("must review at most 2 times in 1 h", "must review at most 3 times in 2 h") == 0);
    // Reviews at 08:00, 12:00 and 16:00 are four hours apart, and three in eight hours.
    CHECK(implied("must review no more often than every 4 h", "must review at most 2 times in 8 h") == 0);
    CHECK(implied("must review no more often than every 25 h",
                  "must review no more often than every 1 day") == 1);
    CHECK(implied("must review no more often than every 24 h",
                  "must review no more often than every 1 day") == 0);
    // From 1 January the one ends on 2 March, and the other a day before.
    const std::string fever = "after fever\n  must review within ";
    CHECK(implied(fever + "1 month grace 30 days", fever + "2 months grace 1 day") == 0);
    CHECK(implied(fever + "1 month grace 1 day", fever + "2 months grace 1 day") == 1);
    CHECK(implied(fever + "7 days grace 25 h", fever + "8 days grace 1 h") == 0);
    // A short shift may end before the long one within which it begins.
    const std::string shifts = "shift long  from 07:00 to 19:00\nshift night from 19:00 to 07:00\n";
    const auto shift = [&](const std::string& more) {
        return messages(analysed(policy(shifts + more + review("a", fever + "the same shift") +
                                        review("b", fever + "the next shift"))),
                        "redundant.clause")
            .size();
    };
    CHECK(shift("") == 1);
    CHECK(shift("shift short from 09:00 to 12:00\n") == 0);
}

TEST_CASE("an override that never meets what it overrides is said") {
    const auto idle = [](const std::string& over, const std::string& under) {
        const std::string text = "clause over\n  \"Test.\"\n  " + over +
                                 "\n  overrides under\n  reason \"test\"\n" +
                                 "clause under\n  \"Test.\"\n  " + under + "\n  reason \"test\"\n";
        const Analysis a = analysed(policy(text));
        INFO(everything(a));
        return messages(a, "dead.override").size();
    };
    const std::string weekly = "must review at least every 7 days";
    CHECK(idle("for line.kind is port\n  " + weekly, "for line.kind is picc\n  " + weekly) == 1);
    CHECK(idle("for line.kind is port\n  " + weekly, weekly) == 0);
    const std::string dry = "at dressing_change\n  must dry_time at least 30 s";
    CHECK(idle(dry, "at site_assessment\n  must document dressing_condition") == 1);
    CHECK(idle(dry, "before dressing_change or site_assessment\n  must have had review in the last 1 day") ==
          0);
    CHECK(idle(dry, "after dressing_change\n  must review within 1 h") == 0);
    CHECK(idle("for line.kind is port\n  " + weekly, dry) == 0);
    // Both infusions may run at once.
    CHECK(idle("for each infusion where fluid is crystalloid\n  must set_change at least every 72 h",
               "at set_change where fluid is lipid\n  must document reason") == 0);
}

TEST_CASE("two answers to one question in one situation diverge unless one overrides") {
    const auto answers_of = [](const std::string& more) {
        return policy(question + transparent + R"(
clause dressing.port
  "Test."
  for      line.kind is port
  must     dressing_change at least every 3 days
)" + more + R"(  reason "test"
)");
    };
    const Analysis a = analysed(answers_of(""));
    INFO(everything(a));
    REQUIRE(messages(a, "diverging.answer").size() == 1);
    CHECK(situation(a, "diverging.answer", "line.kind") == "port");
    CHECK(messages(analysed(answers_of("  overrides dressing.transparent\n")), "diverging.answer").empty());
}

TEST_CASE("a table of answers stays within its width, whatever its cells say") {
    QuestionTable table;
    table.id = "dressing_interval";
    table.title = "How often?";
    table.headings = {"line.kind", "patient.chg_sensitivity", "patient.age", "dressing", "patient.setting"};
    table.rows.push_back({{"picc, midline, nontunnelled_cvc, tunnelled_cvc, dialysis_catheter", "true",
                           "from 2 months to under 18 years", "gauze, gauze_under_transparent", "any"},
                          "at least every 7 days grace 12 h",
                          {"c"},
                          QuestionRow::Mark::conflict});
    std::istringstream text(render_question_table(table, 120));
    std::string all;
    for (std::string line; std::getline(text, line); all += line + ' ') CHECK(line.size() <= 120);
    for (const char* word : {"dialysis_", "transparent", "CONFLICT", "grace", "years"}) {
        INFO(word << " in " << all);
        CHECK(all.find(word) != std::string::npos);
    }
}
