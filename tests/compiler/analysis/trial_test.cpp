// Editions tried on small episodes: what the weighing misses is shown, what it says wrongly is marked. Each
// case was reasoned from the reference; that the shown episodes are so is asked of the engines themselves.
#include "compiler/trial.hpp"

#include <catch2/catch.hpp>

#include "runtime/engine.hpp"
#include "runtime/records.hpp"
#include "tests/compiler/analysis/texts.hpp"

namespace linelaw::compiler {

using analysis::Comparison;
using analysis::Difference;
using Kind = Difference::Kind;

namespace {

const std::string words = analysis::vocabulary(R"(
event bath "Bath"
question bathing "How often is the patient bathed?"
  about bath how often
  for   setting is icu
)");

std::string clause(const std::string& lines, const std::string& id = "the.rule") {
    return "clause " + id + "\n  \"A sentence.\"\n" + lines + "\n  reason \"test\"\n";
}

struct Editions {
    Compilation before;
    Compilation after;
    Comparison comparison;
    Editions(const std::string& old, const std::string& now)
        : before(analysis::compiled(analysis::policy(old), words)),
          after(analysis::compiled(analysis::policy(now), words)),
          comparison(compared(before, after)) {}

    std::vector<const Difference*> told(Kind kind) const {
        std::vector<const Difference*> out;
        for (const Difference& d : comparison.differences)
            if (d.kind == kind) out.push_back(&d);
        return out;
    }
    std::size_t count(Kind kind) const { return told(kind).size(); }
};

std::size_t against(const Compilation& edition, const std::string& record) {
    runtime::RecordReader reader(edition.compiled->policy);
    runtime::Engine engine(edition.compiled->policy);
    runtime::Episode episode;
    std::vector<runtime::Spoiled> set_aside;
    REQUIRE_FALSE(reader.read(record, episode, set_aside));
    std::size_t n = 0;
    for (const runtime::Opportunity& o : engine.judge(episode))
        n += runtime::counts_against(o.outcome) ? 1 : 0;
    return n;
}

// Every example of every difference, by both editions' own engines.
void check_examples(const Editions& editions) {
    for (const Difference& d : editions.comparison.differences) {
        if (d.breaks_before) {
            CHECK(against(editions.before, d.breaks_before->episode) > 0);
            CHECK(against(editions.after, d.breaks_before->episode) == 0);
        }
        if (d.breaks_after) {
            CHECK(against(editions.after, d.breaks_after->episode) > 0);
            CHECK(against(editions.before, d.breaks_after->episode) == 0);
        }
    }
}

}  // namespace

// The question asks of the intensive care unit only, and so the weighing sees a longer interval there.
TEST_CASE("what a clause gives up where its question does not ask is shown") {
    const Editions e(clause("  while setting is one of icu, home\n  must bath at least every 3 days"),
                     clause("  while setting is one of icu, ward\n  must bath at least every 2 days"));
    CHECK(e.count(Kind::stricter) == 1);
    const auto looser = e.told(Kind::looser);
    REQUIRE(looser.size() == 1);
    CHECK(looser[0]->by_trial);
    CHECK(looser[0]->clauses_before == std::vector<std::string>{"the.rule"});
    REQUIRE(looser[0]->breaks_before);
    CHECK(looser[0]->breaks_before->example.find("setting home") != std::string::npos);
    check_examples(e);
}

TEST_CASE("a demand on each part and one on all of them are not taken for the same") {
    const Editions e(clause("  for each lumen\n  must connector_change at least every 7 days"),
                     clause("  must connector_change at least every 6 days"));
    CHECK(e.count(Kind::looser) + e.count(Kind::dropped) == 1);
    CHECK(e.count(Kind::stricter) + e.count(Kind::added) == 1);
    check_examples(e);
}

// Without its row the dry time of alcohol cannot be judged (§4.8), and counts against nobody.
TEST_CASE("a row of a table that is left out is looser, not stricter") {
    const auto table = [](const std::string& rows) {
        return "table drying\n  given antiseptic\n  gives seconds\n  row chg_alcohol gives 30 s\n" + rows +
               "\n" + clause("  at   dressing_change\n  must dry_time at least drying.seconds");
    };
    const Editions e(table("  row alcohol gives 40 s\n"), table(""));
    CHECK(e.count(Kind::looser) >= 1);
    for (const Difference* d : e.told(Kind::stricter)) CHECK(d->unshown);
}

TEST_CASE("other shifts are not taken for the same, and each edition's routine is counted by its own") {
    const auto shifts = [](const std::string& lines) {
        return lines + "\n" + clause("  must site_assessment each shift");
    };
    const std::string two = "shift day   from 07:00 to 19:00\nshift night from 19:00 to 07:00\n";
    const std::string three =
        "shift day     from 07:00 to 15:00\nshift evening from 15:00 to 23:00\nshift night   from 23:00 to "
        "07:00\n";
    const Editions more(shifts(two), shifts(three));
    CHECK(more.count(Kind::stricter) == 1);
    CHECK(more.count(Kind::same) == 0);
    check_examples(more);
    for (const Difference& d : more.comparison.differences) {
        if (d.work_before.empty() || d.work_after.empty()) continue;
        CHECK(d.work_before[0].per_1000 == Approx(2000));
        CHECK(d.work_after[0].per_1000 == Approx(3000));
    }
    const Editions fewer(shifts(three), shifts(two));
    CHECK(fewer.count(Kind::looser) == 1);
}

TEST_CASE("an example tells of the event that is new among those that set a clause off") {
    const Editions e(clause("  after fever\n  must culture within 1 h"),
                     clause("  after fever or refusal\n  must culture within 1 h"));
    const auto stricter = e.told(Kind::stricter);
    REQUIRE(stricter.size() == 1);
    REQUIRE(stricter[0]->breaks_after);
    CHECK(stricter[0]->breaks_after->example.find("refusal") != std::string::npos);
    CHECK(stricter[0]->breaks_after->example.find("fever") == std::string::npos);
    check_examples(e);
}

TEST_CASE("must in place of should is stricter, though both are judged alike") {
    const Editions e(clause("  should bath at least every 3 days"),
                     clause("  must   bath at least every 3 days"));
    for (const Difference& d : e.comparison.differences) CHECK_FALSE(d.unshown);
}

// Who does not draw the culture breaks the one that stays, too.
TEST_CASE("a clause that another implies is not said to be dropped when it is left out") {
    const std::string strict = clause("  after fever\n  must culture within 2 h");
    const std::string loose = clause("  after fever\n  must culture within 3 h", "the.other");
    const Editions e(strict + loose, strict);
    CHECK(e.count(Kind::dropped) + e.count(Kind::looser) == 0);
    const Editions back(strict, strict + loose);
    CHECK(back.count(Kind::added) + back.count(Kind::stricter) == 0);
    const Editions other(strict + loose, loose);
    CHECK(other.count(Kind::dropped) + other.count(Kind::looser) == 1);
    check_examples(other);
}

TEST_CASE("the same text is tried by nothing") {
    const std::string same = clause("  must bath at least every 3 days");
    const Editions e(same, same);
    CHECK(e.comparison.tried == 0);
    CHECK(e.count(Kind::stricter) + e.count(Kind::looser) == 0);
}

// Of limits that are counted otherwise, by how soon and how late each can end.
TEST_CASE("limits counted otherwise are weighed by how soon and how late they end") {
    const auto kind = [](const std::string& old, const std::string& now) {
        const Editions e(clause("  after fever\n  must culture within " + old),
                         clause("  after fever\n  must culture within " + now));
        std::string out;
        for (const Difference& d : e.comparison.differences)
            out += d.kind == Kind::looser ? "looser " : d.kind == Kind::stricter ? "stricter " : "other ";
        return out;
    };
    CHECK(kind("48 h", "3 calendar days") == "looser ");
    CHECK(kind("the same calendar day", "1 calendar day") == "looser ");
    CHECK(kind("2 calendar days", "24 h") == "stricter ");
    CHECK(kind("24 h", "1 day").empty());  // but for an hour over a change of the clocks
}

}  // namespace linelaw::compiler
