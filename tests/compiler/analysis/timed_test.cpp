// Timed conflicts and corners from texts, as language.md §5 says them. Every one shown was replayed: a test
// that finds `internal.witness` fails.
#include <algorithm>
#include <catch2/catch.hpp>

#include "tests/compiler/analysis/texts.hpp"

using namespace linelaw::compiler::analysis;

namespace {

std::string clause(const std::string& id, const std::string& lines) {
    return "clause " + id + "\n  \"Test.\"\n  " + lines + "\n  reason \"test\"\n";
}
const std::string swab_event = "event swab \"Swab of the site\" also after removal\n";
const std::string infusion = "for each infusion where fluid is crystalloid\n  must ";

Analysis timed(const std::string& items, const std::string& more_words = "") {
    Analysis a = analysed(policy(items), vocabulary(more_words));
    INFO(everything(a));
    CHECK(messages(a, "internal").empty());
    return a;
}
std::size_t count(const Analysis& a, const std::string& code) {
    return messages(a, code).size();
}

}  // namespace

TEST_CASE(
    "a set changed at least every 72 h and no more often than every 96 h is a conflict") {  // facts D09, X703
    const Analysis a = timed(clause("set.regular", infusion + "set_change at least every 72 h") +
                             clause("set.rare", infusion + "set_change no more often than every 96 h"));
    INFO(everything(a));
    REQUIRE(count(a, "conflict") == 1);
    CHECK(named(a, "conflict.interval") == std::vector<std::string>{"`set.regular`", "`set.rare`"});
    CHECK(situation(a, "conflict.interval", "infusion.fluid") == "crystalloid");
    // With its grace the limit is what counts.
    CHECK(count(timed(clause("set.regular", infusion + "set_change at least every 72 h grace 24 h") +
                      clause("set.rare", infusion + "set_change no more often than every 96 h")),
                "conflict") == 0);
}

TEST_CASE("a leak excuses an early change, and is no way out of the routine") {
    const std::string least =
        clause("set.rare", infusion + "set_change no more often than every 96 h unless event.reason is leak");
    CHECK(count(timed(least + clause("set.regular", infusion + "set_change at least every 72 h")),
                "conflict") == 1);
    // The answer to what went wrong may say what went wrong.
    CHECK(count(timed(least + clause("set.fever",
                                     "for each infusion where fluid is crystalloid\n  after fever\n"
                                     "  must set_change within 2 h")),
                "conflict") == 0);
}

TEST_CASE("a response due while its event may not yet happen again is a conflict") {
    const Analysis a = timed(
        clause("wet",
               "after site_assessment where dressing_condition is damp\n  must dressing_change within 2 h") +
        clause("rare", "must dressing_change no more often than every 24 h"));
    INFO(everything(a));
    REQUIRE(count(a, "conflict") == 1);
    CHECK(named(a, "conflict.response") == std::vector<std::string>{"`wet`", "`rare`"});
}

TEST_CASE("a chain conflicts through as many clauses as it takes") {  // facts D14, X704
    const auto chain = [&](const std::string& shortest, const std::string& within = "1 h") {
        return timed(
            clause("set",
                   "for each infusion where fluid is nutrition\n  must set_change at least every 24 h") +
            clause("with_set",
                   "for each infusion where fluid is nutrition\n  after set_change\n  must connector_change "
                   "within " +
                       within) +
            clause("connector",
                   "for each lumen\n  must connector_change no more often than every " + shortest));
    };
    const Analysis a = chain("96 h");
    INFO(everything(a));
    REQUIRE(count(a, "conflict") == 1);
    CHECK(named(a, "conflict.interval").size() == 3);
    CHECK(situation(a, "conflict.interval", "infusion.fluid") == "nutrition");
    CHECK(count(chain("20 h"), "conflict") == 0);
    // Minutes beside days.
    const Analysis minutes = chain("96 h", "5 min");
    INFO(everything(minutes));
    REQUIRE(count(minutes, "conflict") == 1);
    CHECK(named(minutes, "conflict.interval").size() == 3);
    CHECK(minutes.exact.size() == 3);
    CHECK(minutes.not_done.empty());
    CHECK(count(chain("20 h", "5 min"), "conflict") == 0);
    CHECK(count(chain("20 h"), "corner") == 1);
}

TEST_CASE("A every 24 h, B within 1 h of A, B no more often than every 20 h is a corner") {
    const Analysis a = timed(clause("a", "must dressing_change at least every 24 h") +
                             clause("b", "after dressing_change\n  must flush within 1 h") +
                             clause("b.rare", "for each lumen\n  must flush no more often than every 20 h"));
    INFO(everything(a));
    CHECK(count(a, "conflict") == 0);
    REQUIRE(count(a, "corner") == 1);
    CHECK(count(a, "corner.interval") == 1);
}

TEST_CASE("an event that must be done and may not be is a conflict where both apply") {
    const Analysis a = timed(clause("often", "must dressing_change at least every 7 days") +
                             clause("forbid", "for line.kind is port\n  must not dressing_change"));
    INFO(everything(a));
    REQUIRE(count(a, "conflict") == 1);
    CHECK(situation(a, "conflict.forbidden", "line.kind") == "port");
    CHECK(count(timed(clause("often", "for line.kind is picc\n  must dressing_change at least every 7 days") +
                      clause("forbid", "for line.kind is port\n  must not dressing_change")),
                "conflict") == 0);
}

TEST_CASE("what starts a clock is parted by its `where`") {
    const std::string forbid = clause("forbid", "must not review");
    const std::string damp = "site_assessment where dressing_condition is damp";
    CHECK(count(timed(forbid + clause("often", "while " + damp +
                                                   " in the last 24 h\n  must review at least every 4 h")),
                "conflict.forbidden") == 1);
    CHECK(count(timed(forbid + clause("often", "while time since " + damp +
                                                   " at most 24 h\n  must review at least every 4 h")),
                "conflict.forbidden") == 1);
    // Where it is always found intact nothing is asked.
    CHECK(count(timed(clause("wet", "while " + damp + " in the last 24 h\n  must not review") +
                      clause("well",
                             "while no " + damp + " in the last 24 h\n  must review at least every 4 h")),
                "conflict") == 0);
}

TEST_CASE("what starts a clock is parted by states, the line and the patient") {
    const std::string forbid = clause("forbid", "must not review");
    const auto often = [](const std::string& where) {
        return clause("often", "while site_assessment where " + where +
                                   " in the last 24 h\n  must review at least every 4 h");
    };
    for (const std::string where :
         {"dressing is gauze", "dressing is transparent", "line.kind is picc", "line.kind is port",
          "patient.age < 28 days", "setting is icu", "setting is outpatient",
          "(setting is ward and dressing_condition is damp)"}) {
        const Analysis a = timed(forbid + often(where));
        INFO(where << "\n" << everything(a));
        CHECK(count(a, "conflict.forbidden") == 1);
    }
    CHECK(situation(timed(forbid + often("line.kind is port")), "conflict.forbidden", "line.kind") == "port");
    // Where the state is another one nothing is asked.
    CHECK(count(timed(clause("forbid", "for line.kind is picc\n  must not review") +
                      often("line.kind is port")),
                "conflict") == 0);
}

TEST_CASE("a clock may run from the insertion, from a part's begin, and from what never comes") {
    const std::string forbid = clause("forbid", "must not review");
    const auto often = [](const std::string& condition, const std::string& of = "") {
        return clause("often", of + "while " + condition + "\n  must review at least every 4 h");
    };
    CHECK(count(timed(forbid + often("insertion in the last 24 h")), "conflict.forbidden") == 1);
    CHECK(count(timed(forbid + often("insertion in the last 2 h")), "conflict") == 0);
    CHECK(count(timed(clause("forbid", "while dwell at most 24 h\n  must not review") +
                      often("infusion_start in the last 24 h", "for each infusion\n  ")),
                "conflict.forbidden") == 1);
    // A line that is removed has no care left; one that never is reviewed is.
    CHECK(count(timed(forbid + often("removal in the last 24 h")), "conflict") == 0);
    CHECK(count(timed(forbid + often("no removal in the last 24 h")), "conflict.forbidden") == 1);
}

TEST_CASE("an event comes after what starts the clock that its clause looks at") {  // language.md 4.1
    const std::string forbid = clause("forbid", "must not review");
    for (const std::string condition : {"fever in the last 24 h", "no fever in the last 24 h",
                                        "time since fever at most 24 h", "insertion in the last 24 h"})
        for (const std::string demand : {"within 1 h", "within 1 calendar day"}) {
            const Analysis a = timed(
                forbid + clause("seen", "while " + condition + "\n  after culture\n  must review " + demand));
            INFO(condition << "\n" << everything(a));
            CHECK(count(a, "conflict.response") == 1);
        }
}

TEST_CASE("what is found is not care's choice, whatever asks for a look") {
    const std::string rest = clause("rest",
                                    "must dressing_change no more often than every 8 days unless "
                                    "site_assessment where dressing_condition is "
                                    "damp in the last 12 h");
    const std::string film = clause("film", "must dressing_change at least every 7 days");
    for (const std::string look :
         {"must site_assessment each calendar day", "after transfer\n  must site_assessment within 24 h"}) {
        const Analysis a = timed(rest + film + clause("look", look));
        INFO(look << "\n" << everything(a));
        CHECK(count(a, "conflict.interval") == 1);
    }
    // Who asks for that very finding asks for what excuses.
    CHECK(
        count(timed(rest + film +
                    clause("wet", "must site_assessment where dressing_condition is damp each calendar day")),
              "conflict") == 0);
    // What is found may be the answer's reason.
    CHECK(count(timed(rest +
                      clause("wet",
                             "after site_assessment where dressing_condition is damp\n  must "
                             "dressing_change within 2 h") +
                      clause("look", "must site_assessment each calendar day")),
                "conflict") == 0);
}

TEST_CASE("a removal that some finding would ask for is no way out of the others") {
    const std::string both =
        clause("rest", "must dressing_change no more often than every 72 h") +
        clause("wet",
               "after site_assessment where dressing_condition is damp\n  must dressing_change within 2 h");
    const std::string afterwards =
        clause("after", "even after removal\n  after removal\n  must swab within 24 h");
    const std::string out = clause("out", "after culture\n  must removal within 24 h");
    for (const std::string& more : {std::string(), afterwards, out, afterwards + out}) {
        const Analysis a = timed(both + more, swab_event);
        INFO(everything(a));
        CHECK(count(a, "conflict.response") == 1);
    }
}

TEST_CASE("an exception that reads the event excuses that event, and is no way out of others") {
    const std::string leak = "\n  except when event.reason is leak because \"it leaks\"";
    const std::string often = clause("often", infusion + "set_change at least every 72 h");
    const std::string must = "for each infusion where fluid is crystalloid\n  must ";
    // A leak is nobody's to plan.
    CHECK(count(timed(often + clause("never", must + "not set_change" + leak)), "conflict.forbidden") == 1);
    CHECK(count(timed(clause("fever",
                             "for each infusion where fluid is crystalloid\n  after fever\n"
                             "  must set_change within 2 h") +
                      clause("never", must + "not set_change" + leak)),
                "conflict") == 0);
    CHECK(count(timed(often + clause("never", must + "not set_change where reason is routine" + leak)),
                "conflict") == 0);
    CHECK(count(timed(clause("routine", infusion + "set_change where reason is routine at least every 72 h") +
                      clause("never", must + "not set_change" + leak)),
                "conflict.forbidden") == 1);
    const Analysis most = timed(often + clause("seldom", must + "set_change at most 1 times in 96 h" + leak));
    CHECK(count(most, "conflict") == 0);
    CHECK(most.not_exact.size() == 1);
    CHECK(count(timed(clause("routine", infusion + "set_change where reason is routine at least every 72 h") +
                      clause("rare", must + "set_change no more often than every 96 h" + leak)),
                "conflict.interval") == 1);
}

TEST_CASE("what must have come before is held against its shortest interval") {
    const Analysis a =
        timed(clause("b", "must dressing_change at least every 24 h") +
              clause("first", "before dressing_change\n  must have had review in the last 1 h") +
              clause("rare", "must review no more often than every 30 h"));
    INFO(everything(a));
    REQUIRE(count(a, "conflict") == 1);
    CHECK(named(a, "conflict.interval").size() == 3);
}

TEST_CASE("each calendar day, each shift and at most N times are held against intervals") {
    const std::string shifts = "shift day from 07:00 to 19:30\nshift night from 19:00 to 07:30\n";
    CHECK(count(timed(clause("daily", "must review each calendar day") +
                      clause("rare", "must review no more often than every 36 h")),
                "conflict.interval") == 1);
    CHECK(count(timed(shifts + clause("shift", "must review each shift") +
                      clause("rare", "must review no more often than every 25 h")),
                "conflict.interval") == 1);
    // An event in the half hour that two shifts share answers both, once a day.
    CHECK(count(timed(shifts + clause("shift", "must review each shift") +
                      clause("rare", "must review no more often than every 24 h")),
                "conflict") == 0);
    CHECK(count(timed(shifts + clause("shift", "must review each shift") +
                      clause("rare", "must review no more often than every 8 h")),
                "conflict") == 0);
    CHECK(count(timed(clause("often", "must review at least every 6 h") +
                      clause("regular", "must review at most 3 times in 24 h")),
                "conflict.interval") == 1);
}

TEST_CASE("a hold of a ladder stands in the way of what it forbids") {
    const std::string ladder = R"(
escalation moved
  "It may have moved."
  first notify provider within 1 h
  no new set_change until tip_confirmation
)";
    const std::string every = clause("set", infusion + "set_change at least every 24 h");
    const std::string starts = clause("fever", "after fever\n  then escalate moved");
    CHECK(count(timed(ladder + every + starts), "conflict") == 0);  // the tip can be confirmed
    const Analysis a = timed(ladder + every + starts + clause("no_tip", "must not tip_confirmation"));
    INFO(everything(a));
    REQUIRE(count(a, "conflict.response") == 1);
    CHECK(named(a, "conflict.response").size() == 3);
}

TEST_CASE("what ends a hold on what may happen by itself is not done without harm") {
    const std::string unanswerable =
        clause("hot", "after fever\n  must culture within 1 h") + clause("dry", "must not culture");
    const std::string held = R"(
escalation new
  "It is new."
  first notify provider within 1 h
  no new fever until review
)" + clause("starts", "at insertion\n  then escalate new");
    CHECK(named(timed(unanswerable), "conflict.response") == std::vector<std::string>{"`hot`", "`dry`"});
    CHECK(count(timed(unanswerable + held), "conflict") == 0);  // who never reviews has no fever
    const Analysis a = timed(unanswerable + held + clause("often", "must review at least every 24 h"));
    INFO(everything(a));
    CHECK(named(a, "conflict.response") == std::vector<std::string>{"`hot`", "`dry`", "`often`"});
}

TEST_CASE("a should in the set makes a note") {
    const Analysis a =
        timed(clause("regular", "must review at least every 24 h") +
              "clause rare\n  \"Test.\"\n  should review no more often than every 30 h\n  reason \"test\"\n");
    INFO(everything(a));
    REQUIRE(count(a, "conflict") == 1);
    for (const auto& d : a.diagnostics)
        if (d.code == "conflict.interval") CHECK(d.severity == linelaw::grammar::Severity::note);
}

TEST_CASE("an override ends a timed conflict") {
    CHECK(count(timed(clause("regular", "must review at least every 24 h\n  overrides rare") +
                      clause("rare", "must review no more often than every 30 h")),
                "conflict") == 0);
}

TEST_CASE("removing the line is no way out unless the demand names it") {
    const std::string least = clause("rare", "must dressing_change no more often than every 24 h");
    CHECK(count(timed(least + clause("fever", "after fever\n  must dressing_change within 2 h")),
                "conflict") == 1);
    CHECK(count(timed(least + clause("fever", "after fever\n  must dressing_change or removal within 2 h")),
                "conflict") == 0);
}

TEST_CASE("removing the line is a demand like another where a clause names it") {
    const std::string never_out = clause("kept", "must not removal");
    CHECK(count(timed(never_out + clause("fever", "after fever\n  must removal within 24 h")),
                "conflict.response") == 1);
    CHECK(count(timed(never_out + clause("wet", "must not dressing_change") +
                      clause("fever", "after fever\n  must dressing_change or removal within 2 h")),
                "conflict.response") == 1);
    CHECK(count(timed(clause("fever", "after fever\n  must removal within 2 h") +
                      clause("seen", "before removal\n  must have had review") +
                      clause("unseen", "must not review")),
                "conflict") == 1);
    // What keeps only some removals leaves the others.
    const std::string reasons = "event removal \"Removal\"\n  reason : one of completed, infection\n";
    const auto with = [&](const std::string& which) {
        std::string words = vocabulary();
        words.replace(words.find("event removal \"Removal\"\n"), 24, reasons);
        return analysed(policy(clause("fever", "after fever\n  must removal within 24 h") +
                               clause("kept", "must not removal where reason is " + which)),
                        words);
    };
    CHECK(count(with("completed"), "conflict") == 0);
    CHECK(count(with("one of completed, infection"), "conflict") == 1);
}

TEST_CASE("a clause overrides another at the very event that both are judged at, and at no other") {
    const std::string asked =
        clause("draw", "after fever\n  must dressing_change where dry_time at least 60 s within 10 min");
    const auto quick = [](const std::string& at) {
        return clause("quick", "at " + at + "\n  must dry_time at most 30 s\n  overrides draw");
    };
    const Analysis a = timed(asked + quick("dressing_change"));
    INFO(everything(a));
    CHECK(count(a, "conflict") == 1);
    for (const auto& d : a.diagnostics)
        for (const auto& mend : d.mends) CHECK(mend.text.find("overrides") == std::string::npos);
}

TEST_CASE("changing to another dressing is no way out of the dressing's interval") {
    CHECK(
        count(timed(clause("gauze", "while dressing is gauze\n  must dressing_change at least every 2 days") +
                    clause("rare", "must dressing_change no more often than every 3 days")),
              "conflict") == 1);
}

TEST_CASE("an event that a demand names and that ends the situation is a way out of it") {
    const std::string sedation =
        "event sedation_start \"Sedation started\"\nevent sedation_stop \"Sedation stopped\"\n"
        "state sedated from sedation_start until sedation_stop\n";
    const auto with = [&](const std::string& items) {
        Analysis a = analysed(policy(items), vocabulary(sedation));
        INFO(everything(a));
        CHECK(messages(a, "internal").empty());
        return a;
    };
    const std::string wake = clause("wake", "while sedated\n  after fever\n  must sedation_stop within 24 h");
    CHECK(count(with(wake + clause("rare", "must sedation_stop no more often than every 1 h")), "conflict") ==
          0);
    CHECK(count(with(wake + clause("never", "while sedated\n  must not sedation_stop")), "conflict") == 1);
    // A line that is dressed with gauze only until it is changed.
    CHECK(count(with(clause("off",
                            "while dressing is gauze\n  after fever\n"
                            "  must dressing_change where dressing is transparent within 2 h") +
                     clause("rare", "must dressing_change no more often than every 1 min")),
                "conflict") == 0);
    // An infusion that must be stopped ends with that.
    CHECK(count(with(clause("stop", "for each infusion\n  after fever\n  must infusion_stop within 2 h") +
                     clause("apart", "for each infusion\n  must infusion_stop no more often than every 1 h")),
                "conflict") == 0);
}

TEST_CASE("what only a stay longer than the patient is of that age brings about is no conflict") {
    const auto young = [](const std::string& days) {
        return timed(clause("often", "for patient.age less than " + days +
                                         " days\n  must review at least every 5 days") +
                     clause("rare", "must review no more often than every 9 days"));
    };
    CHECK(count(young("3"), "conflict") == 0);
    CHECK(count(young("5"), "conflict") == 0);  // due just as the child is too old for it
    CHECK(count(young("6"), "conflict") == 0);  // done on day 5, and not again
    CHECK(count(young("11"), "conflict") == 1);
    const Analysis a = young("11");
    CHECK(situation(a, "conflict.interval", "patient.age") == "less than 11 days");
}

TEST_CASE("situations in which the clauses differ by their clocks alone are told apart") {
    // Whichever of the two comes first: a stay of an hour has one review, a longer one has more.
    for (const std::string conflicting : {"icu", "ward"})
        for (const bool first : {true, false}) {
            const std::string forever = "(setting is " + conflicting + " and dwell at least 1 h)";
            const std::string an_hour = "(setting is not " + conflicting + " and dwell less than 1 h)";
            const Analysis a = timed(
                clause("often", "must review at least every 24 h") +
                clause("rare", "while " + (first ? forever + " or " + an_hour : an_hour + " or " + forever) +
                                   "\n  must review no more often than every 48 h"));
            INFO(everything(a));
            REQUIRE(count(a, "conflict") == 1);
            CHECK(situation(a, "conflict.interval", "setting") == conflicting);
        }
}

TEST_CASE("where an exception holds for good its clause is in nobody's way") {
    const Analysis a = timed(
        clause("often", "must review at least every 24 h\n  except when chg_sensitivity because \"test\"") +
        clause("rare", "must review no more often than every 48 h"));
    INFO(everything(a));
    REQUIRE(count(a, "conflict.interval") == 1);
    CHECK(situation(a, "conflict.interval", "patient.chg_sensitivity") == "no");
}

TEST_CASE("an exception that what sets a response off brings about leaves it free, as long as it holds") {
    const auto with_exception = [](const std::string& window, const std::string& demand) {
        return timed(clause("fever", "after fever\n  must review within 2 h") +
                     clause("rare", demand + "\n  except when fever in the last " + window +
                                        "\n    because \"a fever is looked at\""));
    };
    for (const std::string demand : {"must review no more often than every 24 h", "must not review"}) {
        const Analysis a = with_exception("12 h", demand);
        INFO(everything(a));
        CHECK(count(a, "conflict") == 0);
        CHECK(count(a, "corner") == 0);
        CHECK(a.not_exact.empty());
    }
    // It need not hold for as long as the response may take: a review in its first hour is excused.
    CHECK(count(with_exception("1 h", "must not review"), "conflict") == 0);
}

TEST_CASE("what keeps an event from happening also keeps it from setting something off") {
    const std::string chain = clause("seen", "after transfer\n  must review within 1 h") +
                              clause("rare", "must review no more often than every 20 h");
    CHECK(count(timed(chain), "conflict") == 1);
    CHECK(count(timed(chain + clause("stays", "must transfer no more often than every 24 h")), "conflict") ==
          0);
}

TEST_CASE("conditions on dwell and on the history are followed as clocks") {
    const Analysis a =
        timed(clause("late", "while dwell more than 5 days\n  must review at least every 12 h") +
              clause("rare", "must review no more often than every 24 h"));
    INFO(everything(a));
    CHECK(count(a, "conflict.interval") == 1);
    CHECK(count(timed(clause("late", "while dwell more than 5 days\n  must review at least every 12 h") +
                      clause("rare",
                             "while dwell at most 5 days\n  must review no more often than every 24 h")),
                "conflict") == 0);
}

TEST_CASE("a witness is an example that can be pasted into the policy") {
    const Analysis a = timed(clause("regular", "must review at least every 24 h") +
                             clause("rare", "must review no more often than every 30 h"));
    REQUIRE(a.diagnostics.size() == 1);
    REQUIRE(a.diagnostics[0].witness);
    const std::string example = a.diagnostics[0].witness->example;
    INFO(example);
    CHECK(example.find("expect  rare early") != std::string::npos);
    const std::string with = policy(clause("regular", "must review at least every 24 h") +
                                    clause("rare", "must review no more often than every 30 h")) +
                             example;
    CHECK(compiled(with).compiled->examples.size() == 1);
    CHECK(a.diagnostics[0].witness->outcomes ==
          std::vector<std::string>{"regular met (2 times)", "rare early", "regular pending"});
}

TEST_CASE(
    "a clause of which something is not followed is not counted as analysed exactly, and it is said why") {
    const auto ladder = [](const std::string& id, const std::string& later) {
        return "escalation " + id + "\n  \"Somebody is called.\"\n  first notify provider within 1 h\n" +
               later;
    };
    const std::string next = "  then notify provider within 1 h if not acknowledged within 1 h\n";
    const std::string items =
        clause("two.calls", "at dressing_change\n  then escalate long_way") +
        clause("one.call", "at dressing_change\n  then escalate short_way") +
        clause("only.if.broken",
               "must dressing_change at least every 7 days\n  otherwise escalate long_way") +
        clause("of.some.part", "after dressing_change\n  must set_change within 2 h") +
        ladder("long_way", next) + ladder("short_way", "");
    // Nothing stands in the way of a call, and nobody tells infusions apart.
    CHECK(timed(items).exact == std::vector<linelaw::runtime::ClauseId>{0, 1, 2, 3});
    const Analysis a =
        timed(items + clause("calls.apart", "must notification no more often than every 1 min") +
              clause("each.part", "for each infusion\n  must set_change no more often than every 1 h"));
    INFO(everything(a));
    REQUIRE(a.not_exact.size() == 2);
    CHECK(a.not_exact[0].clause == 0);
    CHECK(a.not_exact[0].why == "the calls of its escalation after the first are not followed");
    CHECK(a.not_exact[1].clause == 3);
    CHECK(a.not_exact[1].why == "it limits the events of a part without `for each`");
    CHECK(a.exact == std::vector<linelaw::runtime::ClauseId>{1, 2, 4, 5});
}

TEST_CASE("what restricts an event that shares an interval with a demanded one stays in the game") {
    const std::string shared = clause("daily", "must dressing_change at least every 36 h") +
                               clause("rare",
                                      "must dressing_change or review no more often than every "
                                      "24 h");
    CHECK(count(timed(shared), "corner") == 1);  // a review at an unlucky hour
    // Nobody may do that any more, so no history that breaks nothing leads there.
    CHECK(count(timed(shared + clause("never", "must not review")), "corner") == 0);
    CHECK(count(timed(shared + clause("prepared", "before review\n  must have had culture") +
                      clause("no_culture", "must not culture")),
                "corner") == 0);
}

TEST_CASE("an event that a condition looks back to is care's to choose where a clause asks for it") {
    const auto bathed = [](const std::string& hours, const std::string& routine) {
        return timed(clause("bath", routine) +
                     clause("dressing", "must dressing_change at least every 12 h") +
                     clause("dry", "while review in the last " + hours + "\n  must not dressing_change"));
    };
    const std::string daily = "must review at least every 24 h";
    const Analysis wet = bathed("13 h", daily);
    INFO(everything(wet));
    REQUIRE(count(wet, "conflict") == 1);  // 12 h < 13 h, and the bath must be
    CHECK(named(wet, "conflict.forbidden") == std::vector<std::string>{"`bath`", "`dressing`", "`dry`"});
    // A bath just after the dressing change is over before the next one is due.
    CHECK(count(bathed("6 h", daily), "conflict") == 0);
}

TEST_CASE("two clauses that no care keeps are found beside others that are too much together") {
    const auto limited = [](const std::string& shortest) {
        Limits little;
        little.timed_states = 1500;  // positions: enough for two of them, not for all four
        Analysis a = analyse(
            compiled(policy(clause("regular", "must dressing_change at least every 12 h") +
                            clause("rare", "must dressing_change no more often than every " + shortest) +
                            clause("wet",
                                   "after site_assessment where dressing_condition is damp\n"
                                   "  must dressing_change within 10 min") +
                            clause("few", "must dressing_change or culture at most 4 times in 24 h"))),
            little);
        INFO(everything(a));
        CHECK(messages(a, "internal").empty());
        CHECK_FALSE(a.not_done.empty());  // and it is said that more was not looked for
        return a;
    };
    const Analysis a = limited("24 h");
    INFO(everything(a));
    CHECK(named(a, "conflict.interval") == std::vector<std::string>{"`regular`", "`rare`"});
    CHECK(count(limited("1 min"), "conflict") == 0);
}

// The clocks of this zone go forward on the second Sunday of March and back on the first of November (IANA
// time zone database, America/Halifax): a day of 23 h on 2026-03-08, one of 25 h on 2026-11-01.
TEST_CASE("what clashes only across a change of the clocks is a note with its date") {
    const auto in_halifax = [](const std::string& items) {
        std::string text = policy(items);
        text.replace(text.find("time zone UTC"), 13, "time zone America/Halifax");
        const Analysis a = analysed(text);
        INFO(everything(a));
        CHECK(messages(a, "internal").empty());
        for (const auto& d : a.diagnostics)
            if (d.code.rfind("conflict.", 0) == 0) CHECK(d.severity == linelaw::grammar::Severity::note);
        return a;
    };
    const auto two = [](const std::string& limit, const std::string& interval) {
        return clause("often", "must review at least every " + limit) +
               clause("rare", "must review no more often than every " + interval);
    };
    const std::vector<std::string> spring = messages(in_halifax(two("2 days", "48 h")), "conflict.interval");
    REQUIRE(spring.size() == 1);
    CHECK(spring[0] ==
          "no care keeps `often` and `rare` together over the change of the clocks on 2026-03-08, when a day "
          "has 23 h");
    const std::vector<std::string> autumn = messages(in_halifax(two("48 h", "2 days")), "conflict.interval");
    REQUIRE(autumn.size() == 1);
    CHECK(autumn[0].find("on 2026-11-01, when a day has 25 h") != std::string::npos);
    // Both counted alike, or an hour left between them.
    CHECK(count(in_halifax(two("2 days", "2 days")), "conflict") == 0);
    CHECK(count(in_halifax(two("48 h", "48 h")), "conflict") == 0);
    CHECK(count(in_halifax(two("2 days grace 1 h", "48 h")), "conflict") == 0);
    CHECK(count(in_halifax(two("2 days grace 30 min", "48 h")), "conflict") == 1);
    CHECK(count(timed(two("2 days", "48 h")), "conflict") == 0);  // no clocks change
    // A response, and one clause by itself.
    CHECK(count(in_halifax(clause("hot", "after fever\n  must review within 1 days") +
                           clause("rare", "must review no more often than every 24 h")),
                "conflict.response") == 1);
    CHECK(
        count(in_halifax(clause("both", "must review at least every 7 days no more often than every 168 h")),
              "conflict.interval") == 1);
}

// The runtime opens it at 48 h exactly, so that it is due at 72 h exactly, when a review is forbidden still.
TEST_CASE("what begins more than so long after the insertion is counted from there") {
    const auto both = [](const std::string& a, const std::string& b) {
        return timed(clause("due", a) + clause("rest", b));
    };
    const std::string forbidden = "while dwell at most 72 h\n  must not review";
    CHECK(count(both("once dwell more than 48 h\n  must review within 24 h", forbidden), "conflict") == 1);
    CHECK(count(both("once dwell at least 48 h\n  must review within 24 h", forbidden), "conflict") == 1);
    CHECK(count(both("while dwell more than 48 h\n  must review at least every 24 h", forbidden),
                "conflict") == 1);
    CHECK(count(both("once dwell more than 48 h\n  must review within 25 h", forbidden), "conflict") == 0);
    // A review at 48 h exactly answers the one, and the other forbids what comes after it.
    CHECK(count(both("once dwell more than 48 h\n  must review within 24 h",
                     "while dwell more than 48 h\n  must not review"),
                "conflict") == 0);
    CHECK(count(both("once dwell more than 48 h\n  must review within 24 h",
                     "while dwell at least 48 h\n  must not review"),
                "conflict") == 1);
}

TEST_CASE("a clock that an event's `where` looks at is followed as one that `while` looks at") {
    const auto both = [](const std::string& a, const std::string& b) {
        return count(timed(clause("due", a) + clause("rest", b)), "conflict");
    };
    const std::string daily = "must review at least every 24 h";
    CHECK(both(daily, "must not review where dwell at least 48 h") == 1);
    CHECK(both(daily, "while dwell at least 48 h\n  must not review") == 1);
    CHECK(both(daily, "must not review where dwell less than 20 h") == 0);
    CHECK(both("after fever\n  must review within 1 h", "must not review where dwell more than 2 days") == 1);
    CHECK(both("after fever where dwell at least 2 days\n  must review within 1 h", "must not review") == 1);
    CHECK(both("after fever where dwell at least 2 days\n  must review within 1 h",
               "while dwell less than 3 days\n  must not review") == 1);
    CHECK(both("after fever where dwell at least 3 days\n  must review within 1 h",
               "while dwell less than 3 days\n  must not review") == 0);
    // Asked for by its clock it cannot be said so, and that is said.
    const Analysis open = timed(clause("due", "must review where dwell at least 1 day at least every 24 h") +
                                clause("rest", "must not review"));
    CHECK(open.not_exact.size() == 1);
}

TEST_CASE("what an event may come with is no demand on its values, and forbids it where something asks") {
    const std::string late = clause("late", "at review\n  must dwell at least 2 days");
    CHECK(count(timed(late), "conflict") == 0);
    CHECK(count(timed(clause("port", "at review\n  must line.kind is port")), "conflict") == 0);
    const Analysis asked = timed(late + clause("daily", "must review at least every 24 h"));
    CHECK(count(asked, "conflict") == 1);
    CHECK(count(timed(late + clause("weekly", "must review at least every 7 days")), "conflict") == 0);
}

TEST_CASE("an `unless` that a demand asks for by itself is planned, any other is not") {
    const std::string rest =
        clause("rest", "must dressing_change no more often than every 48 h unless event.dressing is gauze");
    CHECK(count(timed(rest +
                      clause("gauze", "must dressing_change where dressing is gauze at least every 24 h")),
                "conflict") == 0);
    CHECK(count(timed(rest + clause("daily", "must dressing_change at least every 24 h")), "conflict") == 1);
}

TEST_CASE("where else the same clauses conflict is told beside the situation shown") {
    const Analysis a =
        timed(clause("some",
                     "for line.kind is picc or patient.chg_sensitivity\n  must review at least every 24 h") +
              clause("none_at_all", "must not review"));
    REQUIRE(count(a, "conflict") == 1);
    const auto found = std::find_if(a.diagnostics.begin(), a.diagnostics.end(),
                                    [](const auto& d) { return d.code.rfind("conflict.", 0) == 0; });
    REQUIRE(found->notes.size() == 1);
    // With all that it needs: of a picc alone the note would be false.
    const Analysis icu = timed(
        clause("some", "for line.kind is picc\n  must review at least every 12 h") +
        clause("none_at_all",
               "while setting is icu or dressing is gauze\n  must review no more often than every 24 h"));
    REQUIRE(count(icu, "conflict") == 1);
    const auto said = std::find_if(icu.diagnostics.begin(), icu.diagnostics.end(),
                                   [](const auto& d) { return d.code.rfind("conflict.", 0) == 0; });
    REQUIRE(said->notes.size() == 1);
    CHECK(said->notes[0].find("line.kind is picc") != std::string::npos);
    CHECK(said->notes[0].find(said->message.find("gauze") == std::string::npos ? "gauze" : "icu") !=
          std::string::npos);
}

// An exception is asked at the event that comes too early, not at the one before it: a review that a fever
// brought about still keeps the next one from coming.
TEST_CASE("an exception of a shortest interval excuses the early event, and not the one before it") {
    const std::string rest = "must review no more often than every 24 h\n  ";
    const std::string fever = clause("fever", "after fever\n  must review within 30 min");
    const std::string first = clause("first", "once dwell more than 4 h\n  must review within 1 h");
    for (const std::string excused :
         {"except when fever in the last 1 h because \"test\"", "unless fever in the last 1 h"}) {
        const std::string excused_rest =
            excused.rfind("unless", 0) == 0
                ? clause("rest", "must review no more often than every 24 h " + excused)
                : clause("rest", rest + excused);
        const Analysis three = timed(excused_rest + fever + first);
        INFO(everything(three));
        CHECK(count(three, "conflict") == 1);
        CHECK(named(three, "conflict.response").size() == 3);
        CHECK(three.not_exact.empty());
        CHECK(count(timed(excused_rest + fever), "conflict") == 0);
        CHECK(count(timed(excused_rest + first), "conflict") == 0);
    }
    // At 47 h and at 49 h after the insertion: the second is too early, and not in the first two days.
    const Analysis days =
        timed(clause("rest", "must review no more often than every 24 h unless dwell less than 48 h") +
              clause("late", "once dwell at least 47 h\n  must review within 30 min") +
              clause("later", "once dwell at least 49 h\n  must review within 30 min"));
    INFO(everything(days));
    CHECK(count(days, "conflict") == 1);
}
