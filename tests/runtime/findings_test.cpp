// Findings: what is said to the nurse, and what the JSON and the CSV hold.
#include "runtime/findings.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "runtime/findings_words.hpp"
#include "runtime/review.hpp"
#include "tests/runtime/small_policy.hpp"

using namespace linelaw::runtime;
using namespace small;
using nlohmann::json;

namespace {

Opportunity opportunity(Outcome outcome, const char* opened, const char* due = nullptr,
                        const char* limit = nullptr, const char* closed = nullptr) {
    const auto maybe = [](const char* text) {
        return text == nullptr ? std::optional<Instant>() : std::optional<Instant>(instant(text));
    };
    Opportunity o;
    o.item = 0;
    o.outcome = outcome;
    o.opened = instant(opened);
    o.due = maybe(due);
    o.limit = limit == nullptr ? o.due : maybe(limit);
    o.closed = maybe(closed);
    return o;
}

std::string said(const Policy& p, const Episode& episode, const Opportunity& o) {
    return FindingWriter(p).said(episode, o);
}

json finding(const Policy& p, const Episode& episode, const Opportunity& o) {
    std::string out;
    FindingWriter(p).json(out, episode, o);
    REQUIRE(out.back() == '\n');
    return json::parse(out);
}

Policy weekly() {
    Policy p = policy();
    AtLeastEvery demand;
    demand.events = {{dressing_change, none}};
    demand.every = days(7);
    p.clauses = {
        clause("dressing.transparent", "Change a transparent dressing at least every 7 days.", demand)};
    return p;
}

Policy drying() {
    Policy p = policy();
    const ExpressionId enough =
        compare(p, Comparator::at_least, EventAttribute{dry_time}, Constant{30 * microseconds_per_second});
    p.clauses = {
        clause("antisepsis.dry", "Let the antiseptic dry for 30 s.", Holds{enough}, Priority::critical)};
    p.clauses[0].trigger = {TriggerKind::at, {{dressing_change, none}}, none};
    return p;
}

}  // namespace

TEST_CASE("a late change is said with its due time, its lateness and when it came") {
    const Policy p = weekly();
    EpisodeMaker maker(p);
    maker.event(dressing_change, instant("2026-03-02T08:30:00Z"));
    maker.event(dressing_change, instant("2026-03-09T13:30:00Z"));
    Opportunity o = opportunity(Outcome::late, "2026-03-02T08:30:00Z", "2026-03-09T08:30:00Z", nullptr,
                                "2026-03-09T13:30:00Z");
    o.opened_by = 1;
    o.closed_by = 2;
    CHECK(said(p, maker.episode, o) ==
          "The dressing change was due by 9 March 2026 08:30 and came 5 h late, at 13:30.");
    const json f = finding(p, maker.episode, o);
    CHECK(f["clause"] == "dressing.transparent");
    CHECK(f["outcome"] == "late");
    CHECK(f["priority"] == "major");
    CHECK(f["lateness_s"] == 5 * 3600);
    CHECK(f["opened"] == "2026-03-02T08:30:00Z");
    CHECK(f["part"].is_null());
    CHECK(f["edition"] == "4");
    CHECK(f["evidence"][0]["pointer"] == "/events/0");
    CHECK(f["evidence"][0]["id"] == "e1");
    CHECK(f["evidence"][1]["role"] == "closed");
    // That none came in between is evidence too.
    CHECK(f["evidence"][2]["role"] == "absent");
    CHECK(f["evidence"][2]["from"] == "2026-03-02T08:30:00Z");
    CHECK(f["evidence"][2]["until"] == "2026-03-09T13:30:00Z");
}

TEST_CASE("lateness counts from the end of the grace") {
    const Policy p = weekly();
    EpisodeMaker maker(p);
    Opportunity o = opportunity(Outcome::late, "2026-03-02T08:30:00Z", "2026-03-09T08:30:00Z",
                                "2026-03-09T20:30:00Z", "2026-03-09T20:35:00Z");
    CHECK(said(p, maker.episode, o) ==
          "The dressing change was due by 9 March 2026 08:30 (with grace, by 20:30) and came 5 min after "
          "that, at "
          "20:35.");
    CHECK(finding(p, maker.episode, o)["lateness_s"] == 300);
    o.outcome = Outcome::met;
    o.closed = instant("2026-03-09T20:00:00Z");
    CHECK(said(p, maker.episode, o) ==
          "The dressing change was due by 9 March 2026 08:30 (with grace, by 20:30) and came within the "
          "grace, at "
          "20:00.");
}

TEST_CASE("a missed change says how it ended: with the line, or with the record") {
    const Policy p = weekly();
    EpisodeMaker maker(p);
    maker.episode.removed_at = instant("2026-03-11T09:00:00Z");
    maker.event(removal, *maker.episode.removed_at);
    const Opportunity removed = opportunity(Outcome::missed, "2026-03-02T08:30:00Z", "2026-03-09T08:30:00Z",
                                            nullptr, "2026-03-11T09:00:00Z");
    CHECK(
        said(p, maker.episode, removed) ==
        "The dressing change was due by 9 March 2026 08:30 and had not come when the line was removed, on 11 "
        "March 2026 at 09:00, 2 days past the limit.");
    EpisodeMaker open(p);
    open.episode.observed_until = instant("2026-03-09T10:30:00Z");
    const Opportunity missed = opportunity(Outcome::missed, "2026-03-02T08:30:00Z", "2026-03-09T08:30:00Z",
                                           nullptr, "2026-03-09T10:30:00Z");
    CHECK(said(p, open.episode, missed) ==
          "The dressing change was due by 9 March 2026 08:30 and had not come by the end of the record, on 9 "
          "March 2026 at 10:30, 2 h past the limit.");
    const Opportunity pending = opportunity(Outcome::pending, "2026-03-08T08:30:00Z", "2026-03-15T08:30:00Z");
    CHECK(said(p, open.episode, pending) ==
          "The dressing change was due by 15 March 2026 08:30; the record ends before that, on 9 March 2026 "
          "at 10:30.");
}

TEST_CASE("a value that decided is shown with its place and its unit") {
    const Policy p = drying();
    EpisodeMaker maker(p);
    const std::uint32_t change = maker.event(dressing_change, instant("2026-03-05T10:40:00Z"),
                                             {known(20 * microseconds_per_second), known(chg_alcohol)});
    Opportunity o =
        opportunity(Outcome::not_met, "2026-03-05T10:40:00Z", nullptr, nullptr, "2026-03-05T10:40:00Z");
    o.opened_by = o.closed_by = change;
    CHECK(said(p, maker.episode, o) ==
          "At the dressing change on 5 March 2026 at 10:40, this was asked for: dry time at least 30 s. "
          "Recorded: dry "
          "time 20 s, which does not meet it.");
    const json f = finding(p, maker.episode, o);
    CHECK(f["evidence"][1] == json({{"role", "value"},
                                    {"attribute", "dry_time"},
                                    {"pointer", "/events/0/dry_time"},
                                    {"value", 20},
                                    {"unit", "s"}}));
}

TEST_CASE("what could not be judged says what was not recorded") {
    const Policy p = drying();
    EpisodeMaker maker(p);
    const std::uint32_t change = maker.event(dressing_change, instant("2026-03-05T10:40:00Z"));
    Opportunity o = opportunity(Outcome::not_assessable, "2026-03-05T10:40:00Z");
    o.opened_by = change;
    CHECK_THAT(said(p, maker.episode, o), Catch::Contains("the dry time was not recorded"));
    const json f = finding(p, maker.episode, o);
    CHECK(f["evidence"][1]["value"].is_null());
    CHECK(f["evidence"][1]["why"] == "not recorded");
    maker.episode.values[maker.episode.events[change].values].state = Known::set_aside;
    CHECK_THAT(said(p, maker.episode, o), Catch::Contains("the value of dry time was set aside"));
}

TEST_CASE("an excused outcome says what it would have been and why it is excused") {
    Policy p = weekly();
    p.clauses[0].exceptions = {{put(p, Always{true}), "the patient's informed refusal is recorded"}};
    EpisodeMaker maker(p);
    Opportunity o = opportunity(Outcome::excused, "2026-03-02T08:30:00Z", "2026-03-09T08:30:00Z", nullptr,
                                "2026-03-09T13:30:00Z");
    o.before_exception = Outcome::late;
    o.exception = 0;
    CHECK(said(p, maker.episode, o) ==
          "The dressing change was due by 9 March 2026 08:30 and came 5 h late, at 13:30. This would be "
          "late, but is "
          "excused: the patient's informed refusal is recorded.");
    CHECK(finding(p, maker.episode, o)["would_be"] == "late");
}

TEST_CASE("steps that were not recorded are named") {
    Policy p = policy();
    p.clauses = {
        clause("change.steps", "Follow the steps.", FollowSteps{{"hand_hygiene", "scrub", "dry"}, true})};
    p.clauses[0].trigger = {TriggerKind::at, {{dressing_change, none}}, none};
    EpisodeMaker maker(p);
    const std::uint32_t change = maker.event(dressing_change, instant("2026-03-05T10:40:00Z"));
    maker.episode.steps = {{1, {}, {}, {}}};
    maker.episode.events[change].step_count = 1;
    Opportunity o = opportunity(Outcome::not_met, "2026-03-05T10:40:00Z");
    o.opened_by = o.closed_by = change;
    CHECK(said(p, maker.episode, o) ==
          "At the dressing change on 5 March 2026 at 10:40, steps were not recorded: hand hygiene and dry.");
    maker.episode.steps = {{2, {}, {}, {}}, {1, {}, {}, {}}, {0, {}, {}, {}}};
    maker.episode.events[change].step_count = 3;
    CHECK(said(p, maker.episode, o) ==
          "At the dressing change on 5 March 2026 at 10:40, every step was recorded, but not in this order: "
          "hand "
          "hygiene, scrub and dry.");
}

TEST_CASE("a response is said with what it answers") {
    Policy p = policy();
    Within demand;
    demand.events = {{dressing_change, none}};
    demand.within = hours(2);
    p.clauses = {clause("dressing.compromised", "Change a damp dressing within 2 hours.", demand)};
    p.clauses[0].trigger = {TriggerKind::after, {{site_assessment, none}}, none};
    EpisodeMaker maker(p);
    const std::uint32_t found = maker.event(site_assessment, instant("2026-03-05T10:00:00Z"), {known(damp)});
    Opportunity o = opportunity(Outcome::missed, "2026-03-05T10:00:00Z", "2026-03-05T12:00:00Z", nullptr,
                                "2026-03-05T18:00:00Z");
    o.opened_by = found;
    maker.episode.observed_until = instant("2026-03-05T18:00:00Z");
    CHECK(
        said(p, maker.episode, o) ==
        "After the site assessment on 5 March 2026 at 10:00, a dressing change was due by 5 March 2026 12:00 "
        "and had "
        "not come by the end of the record, on 5 March 2026 at 18:00, 6 h past the limit.");
}

TEST_CASE("every outcome of every demand is said in whole sentences") {
    Policy p = policy();
    const ExpressionId yes = put(p, Always{true});
    const Events changes = {{dressing_change, none}};
    AtLeastEvery every;
    every.events = changes;
    every.every = days(7);
    every.shortest = hours(96);
    Within within;
    within.events = changes;
    within.within = Until::same_shift;
    p.shifts = {{"day", 7 * hour, 19 * hour}};
    const std::vector<Demand> demands = {every,
                                         NoMoreOftenThan{changes, hours(96), none},
                                         EachPeriod{changes, 1, Period::shift},
                                         within,
                                         WithinEitherSide{changes, hours(1)},
                                         HaveHad{changes, Window{hours(1), {}}, false},
                                         Holds{yes},
                                         Document{{dry_time, antiseptic}},
                                         FollowSteps{{"scrub"}, false},
                                         Forbid{changes},
                                         AtMostTimes{changes, 2, hours(24)}};
    for (const Demand& demand : demands) p.clauses.push_back(clause("a.clause", "A sentence.", demand));
    Ladder ladder;
    ladder.id = "a.ladder";
    ladder.sentence = "The catheter may have moved.";
    ladder.steps = {{{1}, hours(1), {}}};
    ladder.holds = {{{{set_change, none}}, {{removal, none}}}};
    p.ladders = {ladder};
    p.bundles = {{"a.bundle", "All or none", {0, 1}, BundleEach::line, {}, {}}};
    EpisodeMaker maker(p);
    const std::uint32_t change = maker.event(dressing_change, instant("2026-03-05T10:40:00Z"));
    const auto whole = [&](const Opportunity& o) {
        const std::string text = said(p, maker.episode, o);
        INFO(text);
        CHECK(text.size() > 20);
        CHECK(text.back() == '.');
        CHECK(std::isupper(static_cast<unsigned char>(text[0])));
        CHECK(text.find('_') == std::string::npos);
        CHECK(text.find("  ") == std::string::npos);
        CHECK(text.find("..") == std::string::npos);
        CHECK(finding(p, maker.episode, o)["said"] == text);
    };
    for (std::size_t i = 0; i < outcome_count; ++i) {
        Opportunity o = opportunity(static_cast<Outcome>(i), "2026-03-05T07:00:00Z", "2026-03-05T09:00:00Z",
                                    "2026-03-05T10:00:00Z", "2026-03-05T10:40:00Z");
        o.before_exception = Outcome::missed;
        if (o.outcome == Outcome::pending) o.closed.reset();
        o.opened_by = o.closed_by = change;
        for (std::uint32_t c = 0; c < p.clauses.size(); ++c) {
            o.item = c;
            whole(o);
        }
        o.item = 0;
        o.origin = OriginKind::ladder;
        for (o.step = 0; o.step < 2; ++o.step) whole(o);
        o.origin = OriginKind::bundle;
        whole(o);
    }
    // A call of whom is not known, where what is undocumented counts as not met.
    Opportunity call = opportunity(Outcome::not_met, "2026-03-05T07:00:00Z", "2026-03-05T08:00:00Z",
                                   "2026-03-05T08:00:00Z", "2026-03-05T07:30:00Z");
    call.origin = OriginKind::ladder;
    call.step = 0;
    CHECK_THAT(FindingWriter(p).said(maker.episode, call),
               Catch::EndsWith("; a notification was recorded, but not of whom."));
}

TEST_CASE("a bundle says which of its clauses was not kept") {
    Policy p = drying();
    p.bundles = {{"practices",
                  "Dressing practices, all or none",
                  {0},
                  BundleEach::event,
                  {{dressing_change, none}},
                  {}}};
    EpisodeMaker maker(p);
    Opportunity clause_o =
        opportunity(Outcome::not_met, "2026-03-05T10:40:00Z", nullptr, nullptr, "2026-03-05T10:40:00Z");
    Opportunity o = clause_o;
    o.origin = OriginKind::bundle;
    CHECK(FindingWriter(p).said(maker.episode, o, {{clause_o, o}, {{o.item, o.opened, 0}}}) ==
          "Dressing practices, all or none (5 March 2026 10:40): not every clause was kept: antisepsis.dry "
          "(not met).");
    CHECK(priority_of(p, o) == Priority::critical);
}

TEST_CASE("an identity is the same for the same opportunity and no other") {
    const Policy p = weekly();
    EpisodeMaker maker(p);
    EpisodeMaker other(p, "q-000018");
    Opportunity o = opportunity(Outcome::late, "2026-03-02T08:30:00Z");
    const std::string id = finding_id(p, maker.episode, o);
    CHECK(id.size() == 16);
    CHECK(finding_id(p, maker.episode, o) == id);
    CHECK(finding_id(p, other.episode, o) != id);
    Opportunity met = o;
    met.outcome = Outcome::met;  // an identity outlives a correction of the record
    CHECK(finding_id(p, maker.episode, met) == id);
    Opportunity second = o;
    second.nth = 1;  // two flushes in one minute
    CHECK(finding_id(p, maker.episode, second) != id);
    o.opened += 1;
    CHECK(finding_id(p, maker.episode, o) != id);
}

TEST_CASE("a CSV row is RFC 4180 and no formula") {
    Policy p = weekly();
    p.clauses[0].sentence = "Say \"7 days\", not more.";
    EpisodeMaker maker(p, "=1+1");
    maker.episode.care_unit = "med, 3";
    std::string out(csv_header());
    FindingWriter(p).csv(out, maker.episode,
                         opportunity(Outcome::late, "2026-03-02T08:30:00Z", "2026-03-09T08:30:00Z", nullptr,
                                     "2026-03-09T13:30:00Z"));
    CHECK_THAT(out, Catch::Contains(",\"'=1+1\",,\"med, 3\","));
    CHECK_THAT(out, Catch::EndsWith(",\"Say \"\"7 days\"\", not more.\"\r\n"));
    CHECK(std::count(out.begin(), out.end(), '\n') == 2);
}

TEST_CASE("a CSV row tells whether it is new, and what a person ruled") {
    const Policy p = weekly();
    EpisodeMaker maker(p);
    const Opportunity late = opportunity(Outcome::late, "2026-03-02T08:30:00Z", "2026-03-09T08:30:00Z",
                                         nullptr, "2026-03-09T13:30:00Z");
    const Settlement ruling{Outcome::excused, "=on paper, at 08:00"};
    std::string out;
    FindingWriter(p).csv(out, maker.episode, late, {}, {&ruling, "new"});
    CHECK_THAT(out, Catch::Contains(",18000,new,excused,\"'=on paper, at 08:00\","));
    out.clear();
    FindingWriter(p).csv(out, maker.episode, late);
    CHECK_THAT(out, Catch::Contains(",18000,,,,"));
}

TEST_CASE("a part is called by its name, its number, or by neither where it bears none") {
    Policy policy;
    policy.part_kinds.resize(2);
    policy.part_kinds[0].name = "infusion";
    policy.part_kinds[1].name = "lumen";
    policy.part_kinds[1].count_slot = 0;
    const Words words(policy);
    Episode episode;
    episode.texts.push_back("i2");
    CHECK(words.part(0, 0, episode) == "infusion i2");
    CHECK(words.part(0, none, episode) == "infusion");
    CHECK(words.part(1, 3, episode) == "lumen 3");
}
