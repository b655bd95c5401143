// Editions, baselines and comparisons of two policies.
#include <catch2/catch.hpp>
#include <map>

#include "tests/compiler/analysis/texts.hpp"

using namespace linelaw::compiler::analysis;
using linelaw::compiler::Compilation;
using Kind = Difference::Kind;

namespace {

std::string edition(const std::string& number, const std::string& from, const std::string& until) {
    std::string text = policy("");
    text.replace(text.find("edition 1"), 9, "edition " + number);
    text.replace(text.find("2026-03-01"), 10, from);
    text.replace(text.find("2027-02-28"), 10, until);
    return text;
}

std::vector<std::string> editions(const std::string& first, const std::string& second) {
    const Compilation a = compiled(first);
    const Compilation b = compiled(second);
    std::vector<std::string> codes;
    for (const auto& [index, d] : check_editions({&a, &b})) codes.push_back(d.code + ": " + d.message);
    return codes;
}

std::string review(const std::string& lines, const std::string& id = "review") {
    return "clause " + id + "\n  \"Test.\"\n  " + lines + "\n  reason \"test\"\n";
}
const std::string question = R"(
question review_interval
  "How often is it reviewed?"
  about review how often
  for every combination of line.kind

)";

Kind only_kind(const std::string& before, const std::string& after) {
    const Comparison c = compare(compiled(policy(question + before)), compiled(policy(question + after)));
    INFO(c.differences.size());
    REQUIRE(c.differences.size() == 1);
    return c.differences[0].kind;
}

std::vector<std::string> measured(const std::string& items, const std::string& baseline) {
    std::vector<std::string> found;
    for (const auto& d : measure_against(compiled(policy(items)), compiled(policy(baseline))))
        found.push_back(d.code + ": " + d.message);
    return found;
}

const std::string source = "source a \"A\"\n  by \"A\"\n\n";

}  // namespace

TEST_CASE("a list in another order is the same, and what may not come at all is never looser") {
    const std::string paced =
        "must dressing_change no more often than every 72 h unless site_assessment where "
        "(dressing_condition is one of ";
    CHECK(
        only_kind(
            review(
                "must review at least every 1 days\n  while site_assessment where (dressing_condition is one "
                "of damp, loose) in the last 12 h"),
            review(
                "must review at least every 1 days\n  while site_assessment where (dressing_condition is one "
                "of loose, damp) in the last 12 h")) == Kind::same);
    CHECK(measured(source + review(paced + "damp, loose) in the last 12 h"),
                   source + review(paced + "loose, damp) in the last 12 h"))
              .empty());
    for (const char* old :
         {"must culture no more often than every 12 h", "must culture at most 1 times in 12 h"}) {
        INFO(old);
        const Comparison c = compare(compiled(policy(review(old, "old"))),
                                     compiled(policy(review("must not culture", "old"))));
        REQUIRE_FALSE(c.differences.empty());
        for (const Difference& d : c.differences) CHECK(d.kind == Kind::stricter);
    }
    // What an exception of the new one lets pass was not let pass before.
    const Comparison excused = compare(
        compiled(policy(review("must dressing_change no more often than every 12 h"))),
        compiled(policy(
            review("must not dressing_change\n  except when event.antiseptic is alcohol because \"x\""))));
    CHECK(std::any_of(excused.differences.begin(), excused.differences.end(),
                      [](const Difference& d) { return d.kind == Kind::looser; }));
}

TEST_CASE("no day without an edition in force, and none with two") {
    CHECK(
        editions(edition("1", "2026-03-01", "2026-06-30"), edition("2", "2026-07-01", "2027-02-28")).empty());
    CHECK(editions(edition("1", "2026-03-01", "2026-06-30"), edition("2", "2026-06-30", "2027-02-28")) ==
          std::vector<std::string>{"conflict.edition: editions 1 and 2 are both in force on 2026-06-30"});
    CHECK(editions(edition("1", "2026-03-01", "2026-06-28"), edition("2", "2026-07-01", "2027-02-28")) ==
          std::vector<std::string>{"gap.edition: no edition is in force from 2026-06-29 to 2026-06-30"});
}

TEST_CASE("an answer is stricter, looser, the same, dropped or added") {
    const std::string week = review("must review at least every 7 days");
    const std::string days = review("must review at least every 3 days");
    CHECK(only_kind(week, week) == Kind::same);
    CHECK(only_kind(week, days) == Kind::stricter);
    CHECK(only_kind(days, week) == Kind::looser);
    CHECK(only_kind(week, "") == Kind::dropped);
    CHECK(only_kind("", week) == Kind::added);
    CHECK(only_kind(week,
                    "clause review\n  \"Test.\"\n  leaves review_interval to judgement because \"test\"\n") ==
          Kind::looser);
    CHECK(only_kind(review("must review at least every 7 days no more often than every 4 days"), days) ==
          Kind::incomparable);
    std::string should = week;
    should.replace(should.find("must"), 4, "should");
    CHECK(only_kind(week, should) == Kind::looser);
}

TEST_CASE("ladders are weighed by whom they call, when, after what wait, and what they hold up") {
    const auto kinds = [](const std::string& first, const std::string& wait, const std::string& hold) {
        const auto with = [](const std::string& when, const std::string& after, const std::string& held) {
            return compiled(
                policy("role charge_nurse\n\nescalation hot\n  \"Hot.\"\n  first notify provider within " +
                       when + "\n  then notify charge_nurse within 30 min if not acknowledged within " +
                       after + "\n" + held +
                       "clause fever\n  \"Test.\"\n  after fever\n  then escalate hot\n"
                       "  reason \"test\"\n"));
        };
        const std::string no_set = "  no new set_change until tip_confirmation\n";
        const Comparison c =
            compare(with("1 h", "1 h", no_set), with(first, wait, hold.empty() ? no_set : ""));
        std::vector<Kind> all;
        for (const Difference& d : c.differences) all.push_back(d.kind);
        return all;
    };
    CHECK(kinds("1 h", "1 h", "").empty());
    CHECK(kinds("30 min", "1 h", "") == std::vector{Kind::stricter});
    CHECK(kinds("1 h", "30 min", "") == std::vector{Kind::stricter});
    CHECK(kinds("1 h", "3 days", "") == std::vector{Kind::looser});
    CHECK(kinds("30 min", "3 days", "") == std::vector{Kind::looser, Kind::stricter});
    CHECK(kinds("1 h", "1 h", "dropped") == std::vector{Kind::looser});
}

TEST_CASE("differences are told situation by situation") {
    const Comparison c = compare(
        compiled(policy(question + review("must review at least every 7 days"))),
        compiled(policy(question + review("for line.kind is port\n  must review at least every 7 days") +
                        review("for line.kind is not port\n  must review at least every 3 days", "others"))));
    REQUIRE(c.differences.size() == 2);
    for (const Difference& d : c.differences) {
        REQUIRE(d.situation.size() == 1);
        CHECK(d.situation[0].first == "line.kind");
        CHECK(d.kind == (d.situation[0].second == "port" ? Kind::same : Kind::stricter));
    }
}

TEST_CASE("the rows of a table are compared row by row") {
    const auto with = [](const std::string& alcohol, const std::string& iodine, const std::string& words) {
        return compiled(policy(
            words +
            "table drying\n  given antiseptic gives dry\n  row chg_alcohol gives 30 s\n  row alcohol gives " +
            alcohol + "\n  row povidone_iodine gives " + iodine +
            "\n\nclause dry\n  \"Test.\"\n  at dressing_change\n  must dry_time at least "
            "drying.dry\n  reason \"test\"\n"));
    };
    const std::string asked =
        "question dry_for\n  \"How long does it dry?\"\n  about dry_time at dressing_change\n"
        "  for every combination of antiseptic\n\n";
    for (const std::string& words : {std::string(), asked}) {
        const Comparison c = compare(with("30 s", "120 s", words), with("60 s", "90 s", words));
        std::map<std::string, Kind> found;
        for (const Difference& d : c.differences) {
            if (d.kind == Kind::same) continue;
            REQUIRE(d.situation.size() == 1);
            found[d.situation[0].second] = d.kind;
        }
        CHECK(found ==
              std::map<std::string, Kind>{{"alcohol", Kind::stricter}, {"povidone_iodine", Kind::looser}});
    }
}

TEST_CASE("what a demand asks about is no part of the situation in which it is stricter") {
    const auto with = [](const std::string& least) {
        return compiled(policy(
            "clause dried\n  \"Test.\"\n  at dressing_change\n  must time from scrub to dry at least " +
            least + "\n  reason \"test\"\n"));
    };
    const Comparison c = compare(with("30 s"), with("40 s"));
    REQUIRE(c.differences.size() == 1);
    CHECK(c.differences[0].kind == Kind::stricter);
    CHECK(c.differences[0].situation.empty());
}

TEST_CASE("a policy looser than its baseline is said, unless it departs from the baseline's source") {
    const std::string base = source + review("must review at least every 7 days\n  source a");
    CHECK(measured(review("must review at least every 3 days"), base).empty());
    const std::vector<std::string> loose = measured(review("must review at least every 10 days"), base);
    REQUIRE(loose.size() == 1);
    CHECK(loose[0].find("loose.baseline") == 0);
    CHECK(measured("", base).size() == 1);
    CHECK(measured(source + review("must review at least every 10 days\n  departs from a because \"test\""),
                   base)
              .empty());
    // Only in the situation in which it is looser.
    const std::vector<std::string> port =
        measured(review("for line.kind is not port\n  must review at least every 7 days"), base);
    REQUIRE(port.size() == 1);
    CHECK(port[0].find("line.kind is port") != std::string::npos);
    // Where the baseline speaks at all goes without saying.
    const std::string narrow =
        source +
        review("for line.kind is not picc\n  while setting is icu\n  must review at least every 7 days");
    const std::vector<std::string> sensitive = measured(
        review("for chg_sensitivity\n  while setting is icu\n  must review at least every 7 days"), narrow);
    REQUIRE(sensitive.size() == 1);
    CHECK(sensitive[0].find("is not kept where patient.chg_sensitivity is no") != std::string::npos);
    const std::vector<std::string> all = measured("", narrow);
    REQUIRE(all.size() == 1);
    CHECK(all[0].find(" where ") == std::string::npos);
}

namespace {

// Kinds of the differences of one clause's lines, each with its case.
std::vector<Kind> kinds(const std::string& before, const std::string& after, const std::string& items = "") {
    std::vector<Kind> found;
    for (const Difference& d :
         compare(compiled(policy(items + review(before))), compiled(policy(items + review(after))))
             .differences)
        found.push_back(d.kind);
    return found;
}

}  // namespace

TEST_CASE("a policy does not differ from itself") {
    for (const std::string lines :
         {"before culture\n  must have had review since last transfer",
          "before culture\n  must have had review in the last 2 days since last transfer",
          "after fever\n  must removal within 24 h\n  except when refusal in the last 24 h because "
          "\"refused\"",
          "must review at least 2 times each shift", "must review each calendar day",
          "at dressing_change\n  must review within 2 h either side"}) {
        INFO(lines);
        CHECK(kinds(lines, lines, "shift day from 07:00 to 19:30\nshift night from 19:00 to 07:30\n\n")
                  .empty());
    }
    // Since the last transfer says more than ever.
    CHECK(kinds("before culture\n  must have had review",
                "before culture\n  must have had review since last transfer") ==
          std::vector<Kind>{Kind::stricter});
    CHECK(kinds("before culture\n  must have had review since last fever",
                "before culture\n  must have had review since last transfer")
              .size() == 2);
}

TEST_CASE("an exception that excuses more is looser, and no more than that") {
    const auto excused = [](const std::string& when) {
        return "after fever\n  must review within 24 h\n  except when " + when + " because \"refused\"";
    };
    CHECK(kinds(excused("refusal in the last 24 h"), excused("refusal in the last 48 h")) ==
          std::vector<Kind>{Kind::looser});
    CHECK(kinds(excused("refusal in the last 48 h"), excused("refusal in the last 24 h")) ==
          std::vector<Kind>{Kind::stricter});
    CHECK(kinds(excused("setting is one of icu, ward"), excused("setting is icu")) ==
          std::vector<Kind>{Kind::stricter});
    CHECK(kinds(excused("refusal in the last 24 h"), excused("setting is icu")).size() == 2);
}

TEST_CASE("who looks in every shift looks on every day, where a shift lies within one") {
    const std::string within = "shift day from 07:00 to 19:30\nshift night from 19:00 to 07:30\n\n";
    CHECK(kinds("must review each shift", "must review each calendar day", within) ==
          std::vector<Kind>{Kind::looser});
    CHECK(kinds("must review each shift", "must review at least 2 times each calendar day", within).size() ==
          2);
    CHECK(kinds("must review each shift", "must review each calendar day",
                "shift night from 19:00 to 07:00\n\n")
              .size() == 2);
}

TEST_CASE("what is due after an event keeps what is due on either side of it") {
    const std::string around = "at dressing_change\n  must review within 2 h either side";
    CHECK(kinds(around, "after dressing_change\n  must review within 1 h") ==
          std::vector<Kind>{Kind::stricter});
    CHECK(kinds("after dressing_change\n  must review within 1 h", around) ==
          std::vector<Kind>{Kind::looser});
    CHECK(kinds(around, "after dressing_change\n  must review within 3 h").size() == 2);
    CHECK(measured(review("after dressing_change\n  must review within 1 h"),
                   source + review(around + "\n  source a"))
              .empty());
}

TEST_CASE("one look counts for two shifts where they overlap") {
    const auto a_day = [](const std::string& shifts) {
        const Comparison c =
            compare(compiled(policy(shifts + question + review("must review each calendar day"))),
                    compiled(policy(shifts + question + review("must review each shift"))));
        REQUIRE(c.differences.size() == 1);
        REQUIRE(c.differences[0].work_after.size() == 1);
        return c.differences[0].work_after[0].per_1000 / 1000;
    };
    CHECK(a_day("shift day from 07:00 to 19:00\nshift night from 19:00 to 07:00\n") == Approx(2));
    CHECK(a_day("shift day from 07:00 to 19:30\nshift night from 19:00 to 07:30\n") == Approx(1));
    CHECK(a_day("shift a from 06:00 to 14:30\nshift b from 14:00 to 22:30\nshift c from 22:00 to 06:30\n") ==
          Approx(2));
    CHECK(a_day("shift a from 06:00 to 14:00\nshift b from 14:00 to 22:00\nshift c from 22:00 to 06:00\n") ==
          Approx(3));
}

TEST_CASE("a change is told in work, per 1,000 line-days at the least") {
    const Comparison c =
        compare(compiled(policy(question + review("must review at least every 7 days"))),
                compiled(policy(question + review("must review at least every 2 days grace 12 h"))));
    REQUIRE(c.differences.size() == 1);
    const Difference& d = c.differences[0];
    REQUIRE(d.work_before.size() == 1);
    REQUIRE(d.work_after.size() == 1);
    CHECK(d.work_before[0].what == "review");
    CHECK(d.work_before[0].per_1000 == Approx(1000.0 / 7));   // every 168 h
    CHECK(d.work_after[0].per_1000 == Approx(1000.0 / 2.5));  // every 60 h
}

TEST_CASE("a history beside a difference keeps one policy and breaks the other") {
    const std::string week = review("must review at least every 7 days");
    const std::string days = review("must review at least every 3 days");
    const Comparison stricter = compare(compiled(policy(question + week)), compiled(policy(question + days)));
    REQUIRE(stricter.differences.size() == 1);
    const Difference& d = stricter.differences[0];
    CHECK(d.only_before.empty());
    CHECK(d.only_after.size() == 1);
    CHECK_FALSE(d.breaks_before);
    REQUIRE(d.breaks_after);
    CHECK(d.breaks_after->outcomes == std::vector<std::string>{"review missed"});
    const Comparison looser = compare(compiled(policy(question + days)), compiled(policy(question + week)));
    REQUIRE(looser.differences.size() == 1);
    CHECK(looser.differences[0].breaks_before);
    CHECK_FALSE(looser.differences[0].breaks_after);
}

TEST_CASE("where neither policy gives what the other asks, both are said") {
    const Comparison c =
        compare(compiled(policy(question +
                                review("must review at least every 7 days no more often than every 4 days"))),
                compiled(policy(question + review("must review at least every 3 days"))));
    REQUIRE(c.differences.size() == 1);
    CHECK(c.differences[0].kind == Kind::incomparable);
    CHECK(c.differences[0].only_before.size() == 1);
    CHECK(c.differences[0].only_after.size() == 1);
}
