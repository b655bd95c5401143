// Conflicts that need no clock, as language.md §5 says them.
#include <algorithm>
#include <catch2/catch.hpp>

#include "tests/compiler/analysis/texts.hpp"

using namespace linelaw::compiler::analysis;

namespace {

std::string at_change(const std::string& id, const std::string& demand, const std::string& more = "") {
    return "clause " + id + "\n  \"Test.\"\n  at dressing_change" + more + "\n  must " + demand +
           "\n  reason \"test\"\n";
}

}  // namespace

TEST_CASE("demands at one event that no value satisfies together are a conflict that names both") {
    const Analysis a = analysed(policy(at_change("dry.long", "dry_time at least 60 s") +
                                       at_change("dry.short", "dry_time at most 30 s")));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict").size() == 1);
    CHECK(named(a, "conflict.values") == std::vector<std::string>{"`dry.long`", "`dry.short`"});
}

TEST_CASE("demands that agree, or that hold in different situations, are no conflict") {
    CHECK(messages(analysed(policy(at_change("a", "dry_time at least 60 s") +
                                   at_change("b", "dry_time at least 30 s"))),
                   "conflict")
              .empty());
    CHECK(messages(
              analysed(policy(at_change("a", "dry_time at least 60 s", " where antiseptic is alcohol") +
                              at_change("b", "dry_time at most 30 s", " where antiseptic is chg_alcohol"))),
              "conflict")
              .empty());
}

TEST_CASE("times between steps add up") {
    const std::string parts = at_change("scrubbed", "time from hand_hygiene to scrub at least 30 s") +
                              at_change("dried", "time from scrub to dry at least 60 s");
    const Analysis a =
        analysed(policy(parts + at_change("quick", "time from hand_hygiene to dry at most 60 s")));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict").size() == 1);
    CHECK(named(a, "conflict.order") == std::vector<std::string>{"`scrubbed`", "`dried`", "`quick`"});
    CHECK(messages(analysed(policy(parts + at_change("quick", "time from hand_hygiene to dry at most 90 s"))),
                   "conflict")
              .empty());
    // The time in a step counts too.
    CHECK(messages(analysed(policy(parts + at_change("quick", "time from hand_hygiene to dry at most 90 s") +
                                   at_change("long", "time in scrub at least 10 s"))),
                   "conflict")
              .size() == 1);
}

TEST_CASE("an exception that looks at the event at hand leaves the conflict where it does not hold") {
    const Analysis a =
        analysed(policy(at_change("dry.long",
                                  "dry_time at least 60 s\n  except when event.antiseptic is alcohol because "
                                  "\"test\"") +
                        at_change("dry.short", "dry_time at most 30 s")));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict").size() == 1);
    CHECK(named(a, "conflict.values") == std::vector<std::string>{"`dry.long`", "`dry.short`"});
    CHECK(messages(a, "internal").empty());
}

TEST_CASE("two keys at one event may be equal or not, as a demand of them asks") {
    CHECK(messages(
              analysed(policy("event double_check \"Double check\"\n  prepared_by : key\n  checked_by : key\n"
                              "clause two.people\n  \"Test.\"\n  at double_check\n"
                              "  must checked_by is not prepared_by\n  reason \"test\"\n")),
              "conflict")
              .empty());
}

TEST_CASE("three demands of which each two leave a value are a conflict of three") {
    const Analysis a = analysed(policy(at_change("a", "antiseptic is one of chg_alcohol, alcohol") +
                                       at_change("b", "antiseptic is one of alcohol, povidone_iodine") +
                                       at_change("c", "antiseptic is one of povidone_iodine, chg_alcohol")));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict").size() == 1);
    CHECK(named(a, "conflict.values").size() == 3);
}

TEST_CASE("an override ends a conflict, and a should makes it a note") {
    CHECK(messages(analysed(policy(at_change("a", "dry_time at least 60 s\n  overrides b") +
                                   at_change("b", "dry_time at most 30 s"))),
                   "conflict")
              .empty());
    std::string should = at_change("b", "dry_time at most 30 s");
    should.replace(should.find("must"), 4, "should");
    const Analysis a = analysed(policy(at_change("a", "dry_time at least 60 s") + should));
    INFO(everything(a));
    REQUIRE(a.diagnostics.size() >= 1);
    for (const auto& d : a.diagnostics)
        if (d.code == "conflict.values") CHECK(d.severity == linelaw::grammar::Severity::note);
    CHECK(messages(a, "conflict.values").size() == 1);
}

TEST_CASE("a conflict that a table brings about is found where its row says so") {
    const Analysis a = analysed(policy(R"(
table antiseptic_use
  given antiseptic      gives dry_time
  row   chg_alcohol     gives 30 s
  row   povidone_iodine gives 2 min
  row   alcohol         gives 30 s
)" + at_change("dry", "dry_time at least antiseptic_use.dry_time") +
                                       at_change("quick", "dry_time at most 1 min")));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict").size() == 1);
    CHECK(situation(a, "conflict.values", "dressing_change.antiseptic") == "povidone_iodine");
}

TEST_CASE("a value both demanded and forbidden is a conflict") {
    const Analysis a = analysed(policy(at_change("alcohol", "antiseptic is alcohol") + R"(
clause no_alcohol
  "No alcohol on a port."
  for    line.kind is port
  must   not dressing_change where antiseptic is alcohol
  reason "test"
)"));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict").size() == 1);
    CHECK(messages(a, "conflict.forbidden").size() == 1);
    CHECK(situation(a, "conflict.forbidden", "line.kind") == "port");
}

TEST_CASE("a change and the lengths it is the change of are bound together") {
    // From at most 3 cm at insertion, a change of at most 1 cm never leads to 5 cm.
    const auto at_most = [](const std::string& inserted) {
        return policy(
            "clause still\n  \"Test.\"\n  at dressing_change\n"
            "  must change in external_length since insertion at most 1 cm\n  reason \"test\"\n"
            "clause far\n  \"Test.\"\n  for line.external_length at most " +
            inserted + "\n  at dressing_change\n  must external_length at least 5 cm\n  reason \"test\"\n");
    };
    const Analysis a = analysed(at_most("3 cm"));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict").size() == 1);
    CHECK(named(a, "conflict.values") == std::vector<std::string>{"`still`", "`far`"});
    const Analysis b = analysed(at_most("5 cm"));  // where it was less than 4 cm
    INFO(everything(b));
    REQUIRE(messages(b, "conflict").size() == 1);
    CHECK(situation(b, "conflict.values", "line.external_length") == "less than 4 cm");
}

TEST_CASE("orders of steps that cannot both be followed are a conflict") {
    const Analysis a = analysed(policy(at_change("a", "follow steps scrub, dry in order") +
                                       at_change("b", "follow steps dry, scrub in order")));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict.order").size() == 1);
    CHECK(messages(analysed(policy(at_change("a", "follow steps scrub, dry in order") +
                                   at_change("b", "follow steps dry, apply_dressing in order"))),
                   "conflict")
              .empty());
    const Analysis three = analysed(policy(at_change("a", "follow steps scrub, dry in order") +
                                           at_change("b", "follow steps dry, label in order") +
                                           at_change("c", "follow steps label, scrub in order")));
    REQUIRE(messages(three, "conflict.order").size() == 1);
    CHECK(named(three, "conflict.order").size() == 3);
}

TEST_CASE("a step listed twice may be done before and after") {
    CHECK(messages(analysed(policy(
                       at_change("a", "follow steps hand_hygiene, remove_dressing, hand_hygiene in order") +
                       at_change("b", "follow steps remove_dressing, hand_hygiene in order"))),
                   "conflict")
              .empty());
}

TEST_CASE("overlapping rows with different answers are a conflict of the rows") {
    const auto table = [](const std::string& head, const std::string& second) {
        return policy("table drying\n  " + head +
                      "given patient.age gives dry_time\n  row at least 2 months gives 30 s\n" + second +
                      at_change("dry", "dry_time at least drying.dry_time"));
    };
    const Analysis a = analysed(table("", "  row at most 18 years gives 60 s\n"));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict.table").size() == 1);
    CHECK(named(a, "conflict.table") == std::vector<std::string>{"row 1", "row 2"});
    CHECK(messages(analysed(table("", "  row at most 18 years gives 30 s\n")), "conflict").empty());
    CHECK(messages(analysed(table("", "  row less than 2 months gives 60 s\n")), "conflict").empty());
}

TEST_CASE(
    "a row that overlaps many with another answer is one finding that names them all, each with where") {
    const std::string rows =
        "table drying\n  given patient.age | antiseptic gives dry_time\n"
        "  row less than 1 years             | any      gives 30 s\n"
        "  row at least 1 years              | alcohol  gives 60 s\n"
        "  row at least 1 years              | one of chg_alcohol, povidone_iodine gives 30 s\n"
        "  row 6 months .. 2 years           | any      gives 90 s\n";
    const Analysis a = analysed(policy(rows + at_change("dry", "dry_time at least drying.dry_time")));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict.table").size() == 1);
    CHECK(messages(a, "conflict.table")[0] ==
          "row 4 of `drying` overlaps rows 1, 2 and 3 and gives another answer");
    CHECK(named(a, "conflict.table") == std::vector<std::string>{"row 4", "row 1", "row 2", "row 3"});
    const auto found = std::find_if(a.diagnostics.begin(), a.diagnostics.end(),
                                    [](const auto& d) { return d.code == "conflict.table"; });
    REQUIRE(found->notes.size() == 3);
    CHECK(found->notes[0] == "it overlaps row 1 where patient.age at least 6 months and less than 1 year");
    REQUIRE(found->witness);
    CHECK_FALSE(found->witness->situation.empty());
}

TEST_CASE("an overlap that one row's mend does not end is told by itself") {
    const Analysis a =
        analysed(policy("table drying\n  given patient.age gives dry_time\n"
                        "  row at least 2 months gives 30 s\n  row at most 18 years gives 60 s\n"
                        "  row 1 years .. 2 years gives 90 s\n" +
                        at_change("dry", "dry_time at least drying.dry_time")));
    INFO(everything(a));
    REQUIRE(messages(a, "conflict.table").size() == 1);
    CHECK(named(a, "conflict.table") == std::vector<std::string>{"row 1", "row 2", "row 3"});
    CHECK(messages(a, "conflict.table")[0].rfind("rows 1, 2 and 3 of `drying` overlap", 0) == 0);
}
