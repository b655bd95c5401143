// Cases worked by hand, run through the whole program: a policy text, a record, what it must come to. They
// are built from published intervals and from the reference's sentences, not from the program's output.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "tests/demo/outside.hpp"

using namespace outside;

namespace {

// The outcomes of one record, "clause outcome" each, in the order of opening.
std::vector<std::string> outcomes(const std::string& items, const std::string& record,
                                  const std::string& zone = "UTC") {
    const Folder folder;
    write(folder / "line-care.linelaw", read(demo_vocabulary()));
    write(
        folder / "policy.linelaw",
        "policy \"Worked examples\"\n  edition 1\n  in force from 2026-01-01 until 2027-12-31\n  time zone " +
            zone + "\n  uses vocabulary \"line-care.linelaw\"\n  undocumented counts as not assessable\n" +
            items);
    write(folder / "records.ndjson", record + "\n");
    const Run run = linelaw(
        letting_stand({"audit", (folder / "policy.linelaw").string(), (folder / "records.ndjson").string(),
                       "--findings", "all", "--out", (folder / "audit").string()}));
    INFO(run.err);
    REQUIRE((run.status == 0 || run.status == 1));
    INFO(read(folder / "audit" / "quarantine.ndjson"));
    REQUIRE(read(folder / "audit" / "quarantine.ndjson").empty());
    std::multimap<std::string, std::string> by_opening;
    for (const auto& [line, times] :
         found(folder / "audit" / "findings.ndjson")) {  // "w ITEM OPENED OUTCOME"
        const std::size_t outcome = line.rfind(' ');
        const std::size_t opened = line.rfind(' ', outcome - 1);
        for (int i = 0; i < times; ++i) {
            by_opening.emplace(line.substr(opened, outcome - opened),
                               line.substr(2, opened - 2) + line.substr(outcome));
        }
    }
    std::vector<std::string> all;
    for (const auto& [opened, said] : by_opening) all.push_back(said);
    return all;
}

std::string record(const std::string& line, const std::string& events, const std::string& more = "") {
    return fmt::format(
        R"({{"episode":"w","patient":{{"age":{{"value":50,"unit":"a"}}}},"line":{{"kind":"picc",{}}},"events":[{}]{}}})",
        line, events, more);
}

std::string event(const std::string& type, const std::string& at, const std::string& values = "") {
    static int number = 0;
    return fmt::format(R"({{"id":"e{}","type":"{}","at":"{}"{}{}}})", ++number, type, at,
                       values.empty() ? "" : ",", values);
}

using Said = std::vector<std::string>;

// What `check` finds with this code, one message each.
Said checked(const std::string& code, const std::string& policy) {
    const Folder folder;
    write(folder / "line-care.linelaw", read(demo_vocabulary()));
    write(folder / "policy.linelaw", policy);
    const Run run = linelaw({"check", (folder / "policy.linelaw").string(), "--format", "json"});
    INFO(run.err);
    REQUIRE(run.status == 1);
    const nlohmann::json report = nlohmann::json::parse(run.out);
    Said messages;
    for (const nlohmann::json& found : report.at("diagnostics"))
        if (found.at("code") == code) messages.push_back(found.at("message"));
    return messages;
}

constexpr const char* header =
    "policy \"Worked examples\"\n  edition 1\n  in force from 2026-01-01 until 2027-12-31\n  time zone UTC\n"
    "  undocumented counts as not assessable\n";
constexpr const char* standard = "  uses vocabulary \"line-care.linelaw\"\n";
constexpr const char* source = "source s \"S\" by \"S\"\n";

}  // namespace

TEST_CASE("7 days are the same time of day seven dates later; 7 calendar days last until midnight") {
    // Monday 1 March 2027 08:00 to Monday 8 March.
    const std::string days =
        "clause a \"Every 7 days.\"\n must dressing_change at least every 7 days\n source s\n"
        "source s \"S\" by \"S\"\n";
    const std::string calendar =
        "clause a \"Every 7 calendar days.\"\n must dressing_change at least every 7 calendar days\n source "
        "s\n"
        "source s \"S\" by \"S\"\n";
    const auto changed_at = [](const std::string& at) {
        return record(R"("inserted_at":"2027-03-01T08:00:00Z")", event("dressing_change", at));
    };
    CHECK(outcomes(days, changed_at("2027-03-08T08:00:00Z")) == Said{"a met", "a pending"});
    CHECK(outcomes(days, changed_at("2027-03-08T08:00:01Z")) == Said{"a late", "a pending"});
    CHECK(outcomes(calendar, changed_at("2027-03-08T23:59:59Z")) == Said{"a met", "a pending"});
    CHECK(outcomes(calendar, changed_at("2027-03-09T00:00:00Z")) == Said{"a late", "a pending"});
}

TEST_CASE("a set changed after 72 h is too early, but not where it leaks") {
    // CDC/HICPAC 2011: no more often than every 96 h, at least every 7 days.
    const std::string items =
        "clause a \"At least every 7 days, no more often than every 96 h.\"\n for each infusion\n"
        " must set_change at least every 7 days no more often than every 96 h unless event.reason is leak\n "
        "source s\n"
        "source s \"S\" by \"S\"\n";
    const auto second = [](const std::string& reason) {
        return record(
            R"("inserted_at":"2026-05-04T08:00:00Z")",
            event("infusion_start", "2026-05-04T09:00:00Z", R"("infusion":"i")") + "," +
                event("set_change", "2026-05-08T09:00:00Z", R"("infusion":"i","reason":"routine")") + "," +
                event("set_change", "2026-05-11T09:00:00Z", R"("infusion":"i")" + reason));
    };
    CHECK(outcomes(items, second(R"(,"reason":"leak")")) == Said{"a i met", "a i met", "a i pending"});
    CHECK(outcomes(items, second(R"(,"reason":"routine")")) == Said{"a i met", "a i early", "a i pending"});
    CHECK(outcomes(items, second("")) == Said{"a i met", "a i not_assessable", "a i pending"});
}

TEST_CASE("a set changed at most every 72 h and at least every 96 h: no record can pass") {
    const std::string both =
        "clause often \"Change the set at least every 72 hours.\"\n must set_change at least every 72 h\n "
        "source s\n"
        "clause seldom \"Leave the set for 96 hours.\"\n must set_change no more often than every 96 h\n "
        "source s\n";
    CHECK(checked("conflict.interval", header + std::string("event set_change \"Set changed\"\n") + both +
                                           source) == Said{"no care keeps `often` and `seldom` together"});
}

TEST_CASE(
    "a connector changed with the set of nutrition, and left for 96 h: a conflict only with nutrition") {
    const Said of_nutrition = checked(
        "conflict.interval",
        header +
            std::string("patient\n  nutrition : flag\n"
                        "event set_change \"Set changed\"\nevent connector_change \"Connector changed\"\n"
                        "clause set \"Change the set every 24 hours.\"\n for nutrition\n must set_change at "
                        "least every 24 h\n source s\n"
                        "clause both \"Change the connector with the set, within 1 hour.\"\n for nutrition\n"
                        " after set_change\n must connector_change within 1 h\n source s\n"
                        "clause left \"Leave the connector for 96 hours.\"\n must connector_change no more "
                        "often than every 96 h\n source s\n") +
            source);
    CHECK(of_nutrition ==
          Said{"no care keeps `set`, `both` and `left` together where patient.nutrition is yes"});
}

TEST_CASE("of two rules, from 2 months and from 18 years, only the first says something of a child of 10") {
    const std::string rules =
        "clause from_2_months \"From 2 months.\"\n for patient.age at least 2 months\n at dressing_change\n "
        "must "
        "dressing is chg_transparent\n source s\n"
        "clause from_18_years \"From 18 years.\"\n for patient.age at least 18 years\n at dressing_change\n "
        "must "
        "dressing is chg_transparent\n source s\n";
    const auto aged = [](int years) {
        return fmt::format(
            R"({{"episode":"w","patient":{{"age":{{"value":{},"unit":"a"}}}},"line":{{"kind":"picc",)"
            R"("inserted_at":"2027-03-01T08:00:00Z"}},"events":[{}]}})",
            years, event("dressing_change", "2027-03-02T08:00:00Z", R"("dressing":"transparent")"));
    };
    CHECK(outcomes(rules + source, aged(10)) == Said{"from_2_months not_met"});
    CHECK(outcomes(rules + source, aged(18)) == Said{"from_18_years not_met", "from_2_months not_met"});
}

TEST_CASE("gauze under a transparent dressing that a policy does not name is a gap") {
    const Said gaps = checked(
        "gap.question",
        header + std::string(standard) +
            "clause gauze \"Gauze: every 48 hours.\"\n while dressing is gauze\n must dressing_change at "
            "least every "
            "48 h\n source s\n"
            "clause film \"A transparent dressing: every 7 days.\"\n while dressing is one of transparent, "
            "chg_transparent\n must dressing_change at least every 7 days\n source s\n" +
            source);
    CHECK(std::count(
              gaps.begin(), gaps.end(),
              "`dressing_interval` (\"How often is the dressing changed?\") has no answer where dressing is "
              "gauze_under_transparent") == 1);
}

TEST_CASE("a slow drift is seen against the length at insertion, never against the last one") {
    const auto items = [](const std::string& since) {
        return "clause a \"At most 2 cm.\"\n at dressing_change\n must change in external_length since " +
               since + " at most 2 cm\n source s\nsource s \"S\" by \"S\"\n";
    };
    const std::string drift =
        record(R"("inserted_at":"2026-05-04T08:00:00Z","external_length":3.0)",
               event("dressing_change", "2026-05-11T08:00:00Z", R"("external_length":3.6)") + "," +
                   event("dressing_change", "2026-05-18T08:00:00Z", R"("external_length":4.3)") + "," +
                   event("dressing_change", "2026-05-25T08:00:00Z", R"("external_length":5.1)"));
    CHECK(outcomes(items("insertion"), drift) == Said{"a met", "a met", "a not_met"});
    CHECK(outcomes(items("last dressing_change"), drift) == Said{"a not_assessable", "a met", "a met"});
}

TEST_CASE("circumferences taken at different places are not compared") {
    const std::string items =
        "clause a \"Less than 3 cm.\"\n at measurement\n must rise in arm_circumference since last "
        "measurement less than 3 cm\n"
        " source s\nsource s \"S\" by \"S\"\n";
    const auto second = [](const std::string& place) {
        return record(R"("inserted_at":"2026-05-04T08:00:00Z")",
                      event("measurement", "2026-05-04T09:00:00Z",
                            R"("arm_place":"ten_cm_above_crease","arm_circumference":31.0)") +
                          "," +
                          event("measurement", "2026-05-06T09:00:00Z",
                                R"("arm_circumference":34.2,"arm_place":")" + place + '"'));
    };
    CHECK(outcomes(items, second("at_insertion_site")) == Said{"a not_assessable", "a not_assessable"});
    CHECK(outcomes(items, second("ten_cm_above_crease")) == Said{"a not_assessable", "a not_met"});
}

TEST_CASE("one inch is 2.54 cm, and not at most 2.5 cm") {
    const std::string items =
        "clause a \"At most 2.5 cm.\"\n at dressing_change\n must external_length at most 2.5 cm\n"
        " source s\nsource s \"S\" by \"S\"\n";
    const auto length = [](const std::string& value) {
        return record(R"("inserted_at":"2026-05-04T08:00:00Z")",
                      event("dressing_change", "2026-05-05T08:00:00Z", R"("external_length":)" + value));
    };
    CHECK(outcomes(items, length(R"({"value":1.0,"unit":"[in_i]"})")) == Said{"a not_met"});
    CHECK(outcomes(items, length(R"({"value":25,"unit":"mm"})")) == Said{"a met"});
    CHECK(outcomes(items, length("2.5")) == Said{"a met"});
}

TEST_CASE("dried, but no seconds charted: no evidence, and no pass") {
    const std::string items =
        "clause a \"At least 30 s.\"\n at dressing_change\n must dry_time at least 30 s\n source s\n"
        "clause b \"At least 30 s.\"\n at dressing_change\n must dry_time at least 30 s\n"
        " undocumented counts as not met\n source s\nsource s \"S\" by \"S\"\n";
    CHECK(outcomes(items,
                   record(R"("inserted_at":"2026-05-04T08:00:00Z")",
                          event("dressing_change", "2026-05-05T08:00:00Z", R"("steps":["scrub","dry"])"))) ==
          Said{"a not_assessable", "b not_met"});
}

TEST_CASE("a due time that the clocks skip is the first instant after the skip; 7 days are not 168 h") {
    // Central European clocks go from 02:00 to 03:00 on 2026-03-29, at 01:00 UTC.
    const std::string items =
        "clause a \"Every 7 days.\"\n must dressing_change at least every 7 days\n source s\n"
        "clause b \"Every 168 h.\"\n must dressing_change at least every 168 h\n source s\n"
        "source s \"S\" by \"S\"\n";
    const auto changed_at = [](const std::string& at) {
        return record(R"("inserted_at":"2026-03-22T02:30:00+01:00","removed_at":")" + at + '"',
                      event("dressing_change", at));
    };
    const auto first = [&](const std::string& at) {
        const Said all = outcomes(items, changed_at(at), "Europe/Berlin");
        return Said{all.at(0), all.at(1)};
    };
    CHECK(first("2026-03-29T01:00:00Z") == Said{"a met", "b met"});
    CHECK(first("2026-03-29T01:00:01Z") == Said{"a late", "b met"});
    CHECK(first("2026-03-29T01:30:00Z") == Said{"a late", "b met"});
    CHECK(first("2026-03-29T01:30:01Z") == Said{"a late", "b late"});
}
