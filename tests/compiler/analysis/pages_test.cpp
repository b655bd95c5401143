// The pages of the diagnostics that the analysis makes: each example causes its diagnostic, and the mend does
// not.
#include <catch2/catch.hpp>

#include "compiler/compile.hpp"
#include "tests/compiler/analysis/texts.hpp"

using namespace linelaw::compiler;
using namespace linelaw::compiler::analysis;

namespace {

const std::string root = std::string(LINELAW_SOURCE_DIR) + "/";

std::string head(const std::string& edition, const std::string& from, const std::string& until) {
    return "policy \"Quillhaven Regional: care of lines\"\n  edition " + edition + "\n  in force from " +
           from + " until " + until + "\n";
}
const std::string rest =
    "  review by 2027-01-15\n  time zone America/Halifax\n  uses vocabulary \"line-care.linelaw\"\n"
    "  undocumented counts as not assessable\n";

std::string block(const std::string& page, int n) {
    std::size_t at = 0;
    for (int i = 0;; ++i) {
        at = page.find("```linelaw\n", at);
        if (at == std::string::npos) return "";
        at += 11;
        const std::size_t end = page.find("```", at);
        if (i == n) return page.substr(at, end - at);
        at = end;
    }
}

Compilation compiled_page(const std::string& text) {
    const std::string whole =
        text.rfind("policy", 0) == 0 ? text + rest : head("1", "2026-03-01", "2027-02-28") + rest + text;
    Compilation compilation =
        compile("policy.linelaw", [&](const std::string& path) -> std::optional<std::string> {
            if (path == "policy.linelaw") return whole;
            return read_file(root + "policies/line-care.linelaw");
        });
    for (const auto& d : compilation.diagnostics) INFO(d.code << ": " << d.message);
    REQUIRE(compilation.compiled);
    return compilation;
}

std::size_t times(const std::string& code, const std::string& text) {
    const Compilation compilation = compiled_page(text);
    std::size_t n = 0;
    if (code.find("edition") != std::string::npos) {
        const Compilation first = compiled_page(head("1", "2026-01-01", "2026-06-30"));
        for (const auto& [index, d] : check_editions({&first, &compilation})) n += d.code == code ? 1 : 0;
        return n;
    }
    if (code == "loose.baseline") {
        const Compilation baseline = compiled_page(
            "source hicpac_2011 \"Guidelines\"\n  by \"CDC/HICPAC\" year 2011\nclause dressing.change\n  "
            "\"Change it.\"\n"
            "  must dressing_change at least every 7 days\n  source hicpac_2011 \"dressings\"\n");
        for (const auto& d : measure_against(compilation, baseline)) n += d.code == code ? 1 : 0;
        return n;
    }
    const Analysis analysis = analyse(compilation);
    INFO(everything(analysis));
    CHECK(messages(analysis, "internal").empty());
    return messages(analysis, code).size();
}

}  // namespace

TEST_CASE("the example of a page of the analysis causes its diagnostic, and the mend does not") {
    for (const std::string code :
         {"conflict.interval", "conflict.response", "conflict.forbidden", "conflict.values",
          "conflict.order",    "conflict.table",    "conflict.edition",   "corner.interval",
          "corner.response",   "gap.question",      "gap.boundary",       "gap.table",
          "gap.response",      "gap.documentation", "gap.shift",          "gap.edition",
          "loose.baseline",    "dead.clause",       "dead.exception",     "dead.override",
          "dead.row",          "redundant.clause",  "diverging.answer"}) {
        const std::string page = read_file(root + "docs/diagnostics/" + code + ".md").value_or("");
        INFO(code);
        REQUIRE_FALSE(block(page, 0).empty());
        const std::size_t bad = times(code, block(page, 0));
        const std::size_t good = times(code, block(page, 1));
        CHECK(bad > 0);
        // The vocabulary asks more than one page answers.
        if (code == "gap.question" || code == "gap.response")
            CHECK(good < bad);
        else
            CHECK(good == 0);
    }
}
