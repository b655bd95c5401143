// What is offered as a mend: nothing that turns a prohibition into a permission, changes a citation, or
// cannot stand where it would be written.
#include <algorithm>
#include <catch2/catch.hpp>

#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;

namespace {

const grammar::Diagnostic& first_error(const compiler::Compilation& compilation) {
    INFO(said(compilation));
    REQUIRE_FALSE(compilation.diagnostics.empty());
    return *std::find_if(compilation.diagnostics.begin(), compilation.diagnostics.end(),
                         [](const auto& d) { return d.severity == grammar::Severity::error; });
}

std::vector<std::string> helps_for(const std::string& condition) {
    const auto compilation = compile_body("clause c\n  \"A test.\"\n  at dressing_change\n  must " +
                                          condition + "\n  reason \"A test.\"\n");
    std::vector<std::string> helps;
    for (const auto& mend : first_error(compilation).mends) {
        helps.push_back(mend.text);
        CHECK_FALSE(mend.safe);
    }
    return helps;
}
using Helps = std::vector<std::string>;

const std::string ladder =
    "escalation calls \"The provider is called, then the charge nurse.\"\n  first notify provider within 30 "
    "min\n"
    "  then notify charge_nurse within 30 min";
const std::string starts =
    "\n\nclause c\n  \"A test.\"\n  after site_assessment\n  then escalate calls\n  reason \"A test.\"\n";

}  // namespace

TEST_CASE("Values that are joined after `is not` are offered as `is not one of`, and nothing else is") {
    CHECK(helps_for("antiseptic is not chg_alcohol or chg_aqueous") ==
          Helps{"write `antiseptic is not one of chg_alcohol, chg_aqueous`"});
    CHECK(helps_for("antiseptic is not chg_alcohol and chg_aqueous") ==
          Helps{"write `antiseptic is not one of chg_alcohol, chg_aqueous`"});
    CHECK(helps_for("antiseptic is not chg_alcohol or chg_aqueous or alcohol") ==
          Helps{"write `antiseptic is not one of chg_alcohol, chg_aqueous, alcohol`"});
    CHECK(helps_for("antiseptic is not one of chg_alcohol or chg_aqueous") ==
          Helps{"write `antiseptic is not one of chg_alcohol, chg_aqueous`"});
    CHECK(helps_for("antiseptic is chg_alcohol or chg_aqueous") ==
          Helps{"write `antiseptic is one of chg_alcohol, chg_aqueous`"});
}

TEST_CASE("Another year's source is another document, and never safe to write in place of this one") {
    const auto compilation = compile_body(
        "source hicpac_2011 \"Guidelines\"\n  by \"CDC\" year 2011\n\n"
        "clause c\n  \"Change it at least every 7 days.\"\n  must dressing_change at least every 7 days\n"
        "  source hicpac_2017 \"4.2\"\n");
    const auto& error = first_error(compilation);
    CHECK(error.message == "there is no source `hicpac_2017`");
    REQUIRE(error.mends.size() == 1);
    CHECK(error.mends[0].text == "write `hicpac_2011`");
    CHECK_FALSE(error.mends[0].safe);
}

TEST_CASE("A call of an escalation after the first one says when it begins") {
    const auto silent = compile_body(ladder + starts);
    CHECK(first_error(silent).message == "call 2 of the escalation `calls` does not say when it begins");
    CHECK_FALSE(first_error(silent).mends.empty());
    CHECK(compile_body(ladder + " if not acknowledged within 30 min" + starts).compiled);
}
