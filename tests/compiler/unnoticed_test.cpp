// Small changes to a policy that its examples do not notice, and the examples that would.
#include "compiler/unnoticed.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "compiler/examples.hpp"
#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;

namespace {

compiler::Unnoticed unnoticed_of(const std::string& body) {
    const auto compilation = compile_body(body);
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    for (const auto& result : compiler::run_examples(*compilation.compiled).results)
        for (const auto& failed : result.failed) FAIL_CHECK(result.title << ": " << failed.message);
    return compiler::find_unnoticed(compilation);
}

std::vector<std::string> words_of(const std::vector<compiler::Alteration>& alterations) {
    std::vector<std::string> words;
    for (const auto& alteration : alterations) words.push_back(alteration.words);
    return words;
}

std::vector<std::string> not_noticed(const compiler::Unnoticed& unnoticed) {
    std::vector<std::string> words;
    for (const auto& missing : unnoticed.missing)
        for (const auto& word : words_of(missing.notices)) words.push_back(word);
    std::sort(words.begin(), words.end());
    return words;
}

std::vector<std::string> alterations_in(const std::string& body) {
    grammar::Sources sources;
    compiler::Report report(sources);
    const auto layers = compiler::read_layers(
        "policy.linelaw",
        [&](const std::string& path) -> std::optional<std::string> {
            return path == "policy.linelaw" ? header + body : text_of_file("policies/line-care.linelaw");
        },
        sources, report);
    return words_of(compiler::alterations_of(layers));
}

using Words = std::vector<std::string>;

const std::string scrub =
    "clause hub.scrub\n  \"Scrub the hub for at least 15 s.\"\n  at     access\n"
    "  must   hub_scrub_time at least 15 s\n  reason \"A test.\"\n";

}  // namespace

TEST_CASE(
    "A bound at which no example stands is found, and the example given for it silences that change alone") {
    const std::string policy = scrub +
                               "example \"at the bound, and far below\"\n  day 0 08:00 insertion\n"
                               "  day 1 08:00 access hub_scrub_time 15 s\n"
                               "  day 2 08:00 access hub_scrub_time 5 s\n"
                               "  expect hub.scrub met\n  expect hub.scrub not met\n";
    const auto unnoticed = unnoticed_of(policy);
    CHECK(unnoticed.tried == 3);  // 15 min is out of the attribute's range: no policy
    CHECK(unnoticed.noticed == 2);
    CHECK(not_noticed(unnoticed) == Words{"`at least 15 s` becomes `at least 14 s`"});
    CHECK(unnoticed.same.empty());
    REQUIRE(unnoticed.missing.size() == 1);
    const auto after = unnoticed_of(policy + "\n" + unnoticed.missing.front().example);
    CHECK(after.tried == 3);
    CHECK(after.noticed == 3);
    CHECK(after.missing.empty());
}

TEST_CASE("One example may stand for several changes; the others go on being said until theirs is there") {
    const std::string policy = scrub +
                               "example \"long enough, and far below\"\n  day 0 08:00 insertion\n"
                               "  day 1 08:00 access hub_scrub_time 30 s\n"
                               "  day 2 08:00 access hub_scrub_time 5 s\n"
                               "  expect hub.scrub met\n  expect hub.scrub not met\n";
    const auto unnoticed = unnoticed_of(policy);
    const Words up = {"`at least 15 s` becomes `at least 16 s`", "`at least 15 s` becomes `more than 15 s`"};
    const Words down = {"`at least 15 s` becomes `at least 14 s`"};
    REQUIRE(unnoticed.missing.size() == 2);
    for (const auto& missing : unnoticed.missing) {
        auto noticed = words_of(missing.notices);
        std::sort(noticed.begin(), noticed.end());
        const auto after = unnoticed_of(policy + "\n" + missing.example);
        CHECK(after.noticed == unnoticed.noticed + noticed.size());
        CHECK((noticed == up || noticed == down));
        CHECK(not_noticed(after) == (noticed == up ? down : up));
    }
}

TEST_CASE("With every example that was given pasted in, no change is left that would not be noticed") {
    const std::string policy =
        "term inpatient means setting is one of icu, ward\n"
        "table drying\n  given antiseptic gives time\n  row chg_alcohol gives 30 s\n  row alcohol gives 60 "
        "s\n"
        "clause dressing.change\n  \"A test.\"\n  for inpatient and line.kind is picc\n"
        "  while dressing is transparent\n"
        "  must dressing_change at least every 7 days no more often than every 24 h unless "
        "event.antiseptic is alcohol grace 12 h\n"
        "  except when refusal where refused is dressing_change in the last 12 h\n  reason \"A test.\"\n"
        "clause dry\n  \"A test.\"\n  at dressing_change\n  must dry_time at least drying.time\n"
        "  reason \"A test.\"\n"
        "clause moved\n  \"A test.\"\n"
        "  at dressing_change where change in external_length since insertion more than 2 cm\n"
        "  then escalate migration_calls\n  reason \"A test.\"\n"
        "escalation migration_calls\n  \"A test.\"\n  first notify provider within 1 h\n"
        "  then notify charge_nurse within 30 min if not acknowledged within 20 min\n"
        "  no new infusion_start until tip_confirmation\n";
    const auto unnoticed = unnoticed_of(policy);
    CHECK(unnoticed.noticed == 0);  // there is no example
    CHECK(unnoticed.same.empty());
    std::string whole = policy;
    for (const auto& missing : unnoticed.missing) whole += "\n" + missing.example;
    const auto after = unnoticed_of(whole);
    CHECK(not_noticed(after).empty());
    CHECK(after.tried == unnoticed.tried);
    CHECK(after.noticed == after.tried);
}

TEST_CASE("A change that means the same is not listed") {
    // Who is 18 is 10 as well, whatever becomes of that.
    const auto unnoticed = unnoticed_of(
        "clause out\n  \"A test.\"\n  for patient.age at least 18 years and patient.age at least 10 years\n"
        "  after insertion\n  must removal within 24 h\n  reason \"A test.\"\n");
    CHECK(words_of(unnoticed.same) == Words{"`patient.age at least 10 years` is left out",
                                            "`at least 10 years` becomes `more than 10 years`",
                                            "`at least 10 years` becomes `at least 11 years`",
                                            "`at least 10 years` becomes `at least 9 years`",
                                            "`at least 10 years` becomes `at least 10 months`"});
    const auto listed = not_noticed(unnoticed);
    for (const auto& words : words_of(unnoticed.same))
        CHECK(std::find(listed.begin(), listed.end(), words) == listed.end());
    CHECK(listed.size() + unnoticed.same.size() == unnoticed.tried);
}

TEST_CASE("The changes to a clause are its bounds, strictness, units, conditions, exceptions and grace") {
    CHECK(
        alterations_in("clause a\n  \"A test.\"\n  for   patient.age at least 18 years and chg_sensitivity\n"
                       "  while sedated\n"
                       "  must  dressing_change at least every 7 days grace 12 h\n"
                       "  except when refusal where refused is removal in the last 3 h\n"
                       "  undocumented counts as not met\n") ==
        Words{"`patient.age at least 18 years` is left out",
              "`at least 18 years` becomes `more than 18 years`",
              "`at least 18 years` becomes `at least 19 years`",
              "`at least 18 years` becomes `at least 17 years`",
              "`at least 18 years` becomes `at least 18 months`",
              "`chg_sensitivity` is left out",
              "`while sedated` is left out",
              "`at least every 7 days` becomes `at least every 8 days`",
              "`at least every 7 days` becomes `at least every 6 days`",
              "`at least every 7 days` becomes `at least every 7 calendar days`",
              "`grace 12 h` becomes `grace 13 h`",
              "`grace 12 h` becomes `grace 11 h`",
              "`grace 12 h` becomes `grace 12 min`",
              "`grace 12 h` is left out",
              "`except when refusal where refused is removal in the last 3 h` is left out",
              "`where refused is removal` is left out",
              "`in the last 3 h` becomes `in the last 4 h`",
              "`in the last 3 h` becomes `in the last 2 h`",
              "`in the last 3 h` becomes `in the last 3 min`",
              "`undocumented counts as not met` becomes `undocumented counts as not assessable`"});
}

TEST_CASE("The changes to a ladder are its roles, times, rungs and holds; to a table its rows and cells") {
    CHECK(alterations_in("escalation a\n  \"A test.\"\n  first notify provider within 1 h\n"
                         "  then notify charge_nurse within 30 min if not acknowledged within 20 min\n"
                         "  no new infusion_start until tip_confirmation\n") ==
          Words{"`notify provider` becomes `notify infection_prevention`",
                "`within 1 h` becomes `within 2 h`", "`within 1 h` becomes `within 1 min`",
                "`then notify charge_nurse` is left out",
                "`notify charge_nurse` becomes `notify vascular_access_team`",
                "`within 30 min` becomes `within 31 min`", "`within 30 min` becomes `within 29 min`",
                "`within 30 min` becomes `within 30 h`",
                "`if not acknowledged within 20 min` becomes `if not acknowledged within 21 min`",
                "`if not acknowledged within 20 min` becomes `if not acknowledged within 19 min`",
                "`if not acknowledged within 20 min` becomes `if not acknowledged within 20 h`",
                "`no new infusion_start` is left out"});
    CHECK(alterations_in("table a\n  given antiseptic | patient.age gives time\n"
                         "  row chg_alcohol | at least 2 months gives 1.5 min\n") ==
          Words{"`row chg_alcohol | at least 2 months` is left out", "`chg_alcohol` becomes `any`",
                "`at least 2 months` becomes `any`", "`at least 2 months` becomes `more than 2 months`",
                "`at least 2 months` becomes `at least 3 months`",
                "`at least 2 months` becomes `at least 1 month`",
                "`at least 2 months` becomes `at least 2 weeks`", "`1.5 min` becomes `1.6 min`",
                "`1.5 min` becomes `1.4 min`", "`1.5 min` becomes `1.5 h`"});
}

TEST_CASE("The page of a missing example shows a policy that lacks one and a policy that does not") {
    const std::string page = text_of_file("docs/diagnostics/example.missing.md");
    const auto block = [&](std::size_t from) {
        const auto at = page.find("```linelaw\n", from) + 11;
        return page.substr(at, page.find("```", at) - at);
    };
    const auto bad = unnoticed_of(block(0));
    const auto all = compiler::diagnostics_of(bad);
    REQUIRE_FALSE(all.empty());
    CHECK(all.front().code == "example.missing");
    CHECK(unnoticed_of(block(page.find("## Its mend"))).missing.empty());
}
