// What would have met it, for each form of demand. The sentences were worked out by hand from the record and
// the clause; the finder only ever asks the engine about changed records.
#include "runtime/nearest.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <sstream>

#include "compiler/compile.hpp"
#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/records.hpp"
#include "tests/runtime/folder.hpp"

using namespace linelaw::runtime;

namespace {

const char* const vocabulary_text = R"(
vocabulary small
  edition 1
patient
  age : age 0 days .. 120 years
line
  kind : one of picc, port
  lumens : count 1 .. 5
  external_length : length 0 cm .. 60 cm in cm
part lumen "Lumen" line.lumens of them
event insertion "Insertion"
event dressing_change "Dressing change"
  dressing : one of transparent, gauze
  dry_time : duration 0 s .. 30 min in s
  external_length : length 0 cm .. 60 cm in cm
  steps : hand_hygiene, scrub, dry
event connector_change of lumen "Connector change"
event site_assessment "Site assessment"
  finding : one of intact, damp
event hand_hygiene "Hand hygiene"
event flush "Flush"
  volume : volume 0 mL .. 50 mL in mL
event infusion_start "Infusion start"
event tip_confirmation "Tip confirmation"
event look "Look"
  by : one of nurse, other
role provider, charge_nurse
)";
const char* const policy_text = R"(
policy "Small"
  edition 1
  in force from 2026-01-01
  time zone UTC
  uses vocabulary "small.linelaw"
  undocumented counts as not assessable

shift day   from 07:30 to 19:30
shift night from 19:30 to 07:30

clause weekly "Weekly, and not before four days."
  must dressing_change at least every 7 days no more often than every 4 days
clause calendar "Within two calendar days."
  must site_assessment at least every 2 calendar days
clause lumens "Each lumen."
  for each lumen
  must connector_change at least every 7 days
clause response "A damp dressing is changed within 2 hours."
  after site_assessment where finding is damp
  must dressing_change where dressing is gauze within 2 h
  otherwise escalate call
clause daily "Twice a day."
  must flush at least 2 times each calendar day
clause around "Hand hygiene about each flush."
  at flush
  must hand_hygiene within 10 min either side
clause before "Hand hygiene before."
  before dressing_change
  must have had hand_hygiene in the last 30 min
clause dry "Dry for 30 s."
  at dressing_change
  must dry_time at least 30 s
clause length "It moves no more than 2 cm."
  at dressing_change
  must change in external_length since insertion at most 2 cm
clause documented "Say what was put on, and how long it is."
  at dressing_change
  must document dressing, external_length
clause steps "Scrub, then dry."
  at dressing_change
  must follow steps hand_hygiene, scrub, dry in order
clause forbidden "No flush of more than 20 mL."
  must not flush where volume more than 20 mL
clause seldom "No more than two flushes in an hour."
  must flush at most 2 times in 1 h
clause apart "Flushes lie four hours apart."
  must flush no more often than every 4 h
clause watched "The site is looked at each shift."
  must look each shift
clause seen "What a nurse looks at is confirmed within two hours."
  after look
  must tip_confirmation within 2 h

escalation call "Somebody is called."
  first notify provider within 1 h
  no new infusion_start until tip_confirmation

bundle at_change "Each dressing change, all or none"
  of   before, dry, documented, steps
  each dressing_change

bundle day "The day, all or none"
  of   watched
  each calendar day

bundle nurses "A nurse's look, all or none"
  of   seen
  each look where by is nurse
)";

const Policy& policy() {
    static const Policy compiled = [] {
        const small::Folder folder;
        folder.write("small.linelaw", vocabulary_text);
        auto compilation = linelaw::compiler::compile(folder.write("policy.linelaw", policy_text));
        for (const auto& d : compilation.diagnostics) UNSCOPED_INFO(d.code << ": " << d.message);
        REQUIRE(compilation.compiled);
        return std::move(compilation.compiled->policy);
    }();
    return compiled;
}

Episode episode_of(const std::string& events, const char* until = "2026-03-31T00:00:00Z",
                   const std::string& removed = "null") {
    RecordReader reader(policy());
    Episode episode;
    std::vector<Spoiled> set_aside;
    const std::string record =
        R"({"episode":"q-1","line":{"kind":"picc","lumens":1,"external_length":13,"inserted_at":"2026-03-02T08:00:00Z","removed_at":)" +
        (removed + "},\"observed_until\":\"" + std::string(until) + "\",\"events\":[" + events + "]}");
    const auto spoiled = reader.read(record, episode, set_aside);
    if (spoiled) FAIL(spoiled->code << " " << spoiled->pointer);
    return episode;
}
std::string event(const std::string& type, const std::string& at, const std::string& more = "") {
    return R"({"type":")" + type + R"(","at":"2026-03-)" + at + R"(:00Z")" +
           (more.empty() ? "" : "," + more) + "}";
}

// What is said of the first opportunity of this clause (or ladder) with this outcome.
std::string nearest(const Episode& episode, const std::string& clause, Outcome outcome,
                    std::uint32_t step = none) {
    const Policy& p = policy();
    Engine engine(p);
    NearestFinder finder(p);
    for (const Opportunity& o : engine.judge(episode)) {
        const std::string& id = o.origin == OriginKind::ladder   ? p.ladders[o.item].id
                                : o.origin == OriginKind::bundle ? p.bundles[o.item].id
                                                                 : p.clauses[o.item].id;
        if (id != clause || o.outcome != outcome || (step != none && o.step != step)) continue;
        const auto found = finder.find(episode, o);
        return found ? found->said : "";
    }
    return "no such opportunity";
}

std::string said_of(const Episode& episode, const std::string& bundle, Outcome outcome) {
    Engine engine(policy());
    const Judgement all = engine.judge(episode);
    for (const Opportunity& o : all)
        if (o.origin == OriginKind::bundle && policy().bundles[o.item].id == bundle && o.outcome == outcome)
            return FindingWriter(policy()).said(episode, o, all);
    return "no such opportunity";
}

}  // namespace

TEST_CASE("what came late would have met it by its limit") {
    CHECK(nearest(episode_of(event("dressing_change", "10T09:00")), "weekly", Outcome::late) ==
          "a dressing change by 9 March 2026 08:00 would have met it");
}

TEST_CASE("what never came would have met it by its limit; at a calendar limit, before it") {
    const Episode nothing = episode_of("");
    CHECK(nearest(nothing, "weekly", Outcome::missed) ==
          "a dressing change by 9 March 2026 08:00 would have met it");
    CHECK(nearest(nothing, "calendar", Outcome::missed) ==
          "a site assessment before 5 March 2026 00:00 would have met it");
    CHECK(nearest(nothing, "lumens", Outcome::missed) ==
          "a connector change by 9 March 2026 08:00 would have met it");
}

TEST_CASE("what came too early would have met it later") {
    CHECK(
        nearest(episode_of(event("dressing_change", "03T08:00") + "," + event("dressing_change", "05T08:00")),
                "weekly",
                Outcome::early) == "the dressing change at 7 March 2026 08:00 or later would have met it");
    CHECK(nearest(episode_of(event("flush", "03T08:00") + "," + event("flush", "03T10:30")), "apart",
                  Outcome::early) == "the flush at 12:00 or later would have met it");
}

TEST_CASE("what is still pending is told what will meet it") {
    CHECK(nearest(episode_of("", "2026-03-04T00:00:00Z"), "weekly", Outcome::pending) ==
          "a dressing change by 9 March 2026 08:00 will meet it");
}

TEST_CASE("an answer is told with the values that its condition asks for") {
    const std::string damp = event("site_assessment", "04T10:00", R"("finding":"damp")");
    CHECK(nearest(episode_of(damp), "response", Outcome::missed) ==
          "a dressing change with dressing gauze by 12:00 would have met it");
    CHECK(nearest(episode_of(damp + "," + event("dressing_change", "04T15:00", R"("dressing":"gauze")")),
                  "response", Outcome::late) == "a dressing change by 12:00 would have met it");
}

TEST_CASE("a period is told how many more it lacked") {
    CHECK(nearest(episode_of(event("flush", "03T08:00")), "daily", Outcome::missed) ==
          "one more flush before 4 March 2026 00:00 would have met it");
    CHECK(nearest(episode_of(""), "daily", Outcome::missed) ==
          "2 more of flush before 4 March 2026 00:00 would have met it");
}

TEST_CASE("what had to be about or before an event is told with its window") {
    CHECK(nearest(episode_of(event("flush", "03T08:00")), "around", Outcome::not_met) ==
          "a hand hygiene between 3 March 2026 07:50 and 08:10 would have met it");
    CHECK(nearest(episode_of(event("dressing_change", "03T08:00")), "before", Outcome::not_met) ==
          "a hand hygiene by 3 March 2026 08:00, in the 30 min before it would have met it");
}

TEST_CASE("a value is told that would have met it, the nearest to what is recorded") {
    const auto change = [](const std::string& more) {
        return episode_of(event("dressing_change", "09T08:00", more));
    };
    CHECK(nearest(change(R"("dry_time":20)"), "dry", Outcome::not_met) ==
          "the dressing change with dry time 30 s would have met it");
    CHECK(nearest(change(R"("dressing":"gauze")"), "dry", Outcome::not_assessable) ==
          "the dressing change with dry time 30 s would have met it");
    CHECK(nearest(change(R"("external_length":15.5)"), "length", Outcome::not_met) ==
          "the dressing change with external length 15 cm would have met it");
    CHECK(nearest(change(R"("dressing":"gauze")"), "documented", Outcome::not_met) ==
          "the dressing change with its external length recorded would have met it");
    CHECK(nearest(change(R"("steps":["hand_hygiene","scrub"])"), "steps", Outcome::not_met) ==
          "the dressing change with dry recorded too would have met it");
    CHECK(nearest(change(R"("steps":["scrub","hand_hygiene","dry"])"), "steps", Outcome::not_met) ==
          "the dressing change with its steps in the order of the clause would have met it");
}

TEST_CASE("what should not have been is told with the value that would do, or that it had better not been") {
    CHECK(nearest(episode_of(event("flush", "03T08:00", R"("volume":25)")), "forbidden", Outcome::not_met) ==
          "the flush with volume 20 mL would have met it");
    CHECK(nearest(episode_of(event("flush", "03T08:00") + "," + event("flush", "03T08:10") + "," +
                             event("flush", "03T08:20")),
                  "seldom", Outcome::not_met) == "the flush at 09:01 or later would have met it");
    const std::string damp = event("site_assessment", "04T10:00", R"("finding":"damp")");
    CHECK(nearest(episode_of(damp + "," + event("infusion_start", "04T13:00")), "call", Outcome::not_met,
                  1) == "without this infusion start nothing would have counted against it");
}

TEST_CASE("a ladder's step is told whom to notify, and by when") {
    const std::string damp = event("site_assessment", "04T10:00", R"("finding":"damp")");
    CHECK(nearest(episode_of(damp), "call", Outcome::missed, 0) ==
          "a notification of the provider by 13:00 would have met it");
}

TEST_CASE(
    "a text that was to be recorded is told, in a record without any text, and read by another clause") {
    const small::Folder folder;
    folder.write(
        "small.linelaw",
        "vocabulary t\n  edition 1\nline\n  kind : one of picc, port\nevent access \"Access\"\n  by : key\n");
    const auto compilation = linelaw::compiler::compile(
        folder.write("policy.linelaw",
                     "policy \"P\"\n  edition 1\n  in force from 2026-01-01\n  time zone UTC\n"
                     "  uses vocabulary \"small.linelaw\"\n  undocumented counts as not assessable\n"
                     "clause two \"Two people.\"\n  at access\n  must by is documented\n"
                     "clause charted \"Chart it.\"\n  at access\n  must document by\n"));
    REQUIRE(compilation.compiled);
    const Policy& p = compilation.compiled->policy;
    RecordReader reader(p);
    Episode episode;
    std::vector<Spoiled> set_aside;
    REQUIRE_FALSE(reader.read(R"({"episode":"e1","line":{"inserted_at":"2026-03-02T08:00:00Z"},)"
                              R"("events":[{"type":"access","at":"2026-03-03T08:00:00Z"}]})",
                              episode, set_aside));
    Engine engine(p);
    NearestFinder finder(p);
    std::vector<std::string> said;
    const Judgement judged = engine.judge(episode);
    for (const Opportunity& o : judged)
        if (const auto found = finder.find(episode, o)) said.push_back(found->said);
    CHECK(std::count(said.begin(), said.end(), "the access with its by recorded would have met it") >= 1);
}

TEST_CASE("what was met, or could not be helped by one change, says nothing") {
    const Episode kept = episode_of(event("dressing_change", "09T08:00"));
    CHECK(nearest(kept, "weekly", Outcome::met).empty());
    // The stretch ended with the record's end within the limit: nothing was due.
    CHECK(nearest(episode_of("", "2026-03-31T00:00:00Z", R"("2026-03-04T08:00:00Z")"), "weekly",
                  Outcome::no_longer_due)
              .empty());
}

// A bundle is met where each of its clauses is (§4.7). Here two are kept and two are not: 20 s of drying, and
// no hand hygiene in the 30 min before.
TEST_CASE("of a bundle, one change is said for each clause that was not kept") {
    const std::string kept =
        R"("dressing":"gauze","external_length":13,"steps":["hand_hygiene","scrub","dry"],"dry_time":)";
    const Episode two = episode_of(event("dressing_change", "05T10:00", kept + "20"));
    CHECK(nearest(two, "at_change", Outcome::not_met) ==
          "before: a hand hygiene by 5 March 2026 10:00, in the 30 min before it would have met it; and dry: "
          "the "
          "dressing change with dry time 30 s would have met it");
    const Episode one = episode_of(event("hand_hygiene", "05T09:50") + "," +
                                   event("dressing_change", "05T10:00", kept + "20"));
    CHECK(nearest(one, "at_change", Outcome::not_met) ==
          "dry: the dressing change with dry time 30 s would have met it");
}

// §4.8: a night's outcome is counted in the calendar day in which the night ends.
TEST_CASE("of a bundle each calendar day, the night that ended in it is named") {
    const Episode night_unseen =
        episode_of(event("look", "02T09:00") + "," + event("look", "02T20:00") + "," +
                       event("look", "03T09:00") + "," + event("look", "04T09:00"),
                   "2026-03-04T12:00:00Z");
    CHECK(said_of(night_unseen, "day", Outcome::not_met) ==
          "The day, all or none (4 March 2026): not every clause was kept: watched (missed).");
    CHECK(nearest(night_unseen, "day", Outcome::not_met) ==
          "watched: a look before 4 March 2026 07:30 would have met it");
}

TEST_CASE("of a bundle each event where, the occasions of other such events are not its own") {
    const Episode looks = episode_of(
        event("look", "03T09:00", R"("by":"nurse")") + "," + event("look", "03T10:00", R"("by":"other")"),
        "2026-03-03T18:00:00Z");
    CHECK(said_of(looks, "nurses", Outcome::not_met) ==
          "A nurse's look, all or none (3 March 2026 09:00): not every clause was kept: seen (missed).");
    Engine engine(policy());
    const Judgement all = engine.judge(looks);
    for (const Opportunity& o : all)
        if (o.origin == OriginKind::bundle && policy().bundles[o.item].id == "nurses")
            CHECK(all.members_of(o).size() == 1);
}
