// Every code that the program can say has a page; what the page's example makes it say is kept as a file, to
// be read and agreed to.
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>

#include "compiler/accepted.hpp"
#include "compiler/analysis/analysis.hpp"
#include "compiler/hygiene.hpp"
#include "compiler/unnoticed.hpp"
#include "grammar/render.hpp"
#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;

namespace {

// Codes without an example that a page could show: bytes that are no UTF-8, a fault of the program itself,
// and limits that only a large policy meets.
const std::set<std::string_view> without_example = {"syntax.encoding", "internal.witness",
                                                    "analysis.skipped"};

std::string first_block(const std::string& page) {
    const auto at = page.find("```linelaw\n");
    if (at == std::string::npos) return "";
    return page.substr(at + 11, page.find("```", at + 11) - at - 11);
}

// A page's block under a head, where it does not bring its own.
std::string whole(std::string_view code, const std::string& block) {
    const auto word = block.substr(0, block.find_first_of(" \n"));
    if (word == "vocabulary") return block;
    if (word != "policy") return (code.substr(0, 7) == "syntax." ? "policy \"P\"\n\n" : header) + block;
    if (block.find("uses vocabulary") != std::string::npos || block.find("builds on") != std::string::npos)
        return block;
    // Pages about the header show a few lines of it.
    const auto end = block.find('\n', block.rfind("\n  ") + 1);
    return block.find("\nclause") == std::string::npos && block.find("\nterm") == std::string::npos
               ? block.substr(0, end + 1) + "  uses vocabulary \"line-care.linelaw\"\n" +
                     block.substr(end + 1)
               : block;
}

std::string facility() {
    return header +
           "source hicpac_2011 \"Guidelines\"\n  by \"CDC/HICPAC\" year 2011\n"
           "clause dressing.change\n  \"Change the dressing at least every 7 days.\"\n"
           "  must   dressing_change at least every 7 days\n  source hicpac_2011 \"dressings\"\n";
}

compiler::Compilation said_of(std::string_view code, const std::string& block) {
    auto compilation =
        compile_files({{"policy.linelaw", whole(code, block)}, {"facility.linelaw", facility()}});
    auto& all = compilation.diagnostics;
    const auto add = [&](std::vector<grammar::Diagnostic> more) {
        for (auto& d : more) all.push_back(std::move(d));
    };
    if (!compilation.compiled || compilation.compiled->policy.title.empty()) return compilation;
    compiler::check_review(compilation, {2027, 6, 1}, all);
    add(compiler::analysis::analyse(compilation).diagnostics);
    compiler::accept_findings(compilation, {}, true);
    const auto baseline = compile_files({{"policy.linelaw", facility()}});
    add(compiler::analysis::measure_against(compilation, baseline));
    auto earlier = header;
    earlier.replace(earlier.find("2026-03-01 until 2027-02-28"), 27, "2026-01-01 until 2026-06-30");
    earlier.replace(earlier.find("a test"), 6, "care of lines");
    const auto first = compile_files({{"policy.linelaw", earlier}});
    for (auto& [index, d] : compiler::analysis::check_editions({&first, &compilation}))
        if (index == 1) all.push_back(d);
    if (block.find("\nexample") != std::string::npos)
        add(compiler::diagnostics_of(compiler::find_unnoticed(compilation)));
    return compilation;
}

}  // namespace

TEST_CASE("Every code has a page, and the page's example says what was read and agreed to") {
    const std::filesystem::path kept = std::string(LINELAW_SOURCE_DIR) + "/tests/compiler/page_messages";
    const bool agree =
        std::getenv("LINELAW_AGREE") != nullptr;  // writes the files anew, to be read in the diff
    for (const auto& code : grammar::diagnostic_codes()) {
        INFO(code.code);
        const std::string page = text_of_file("docs/diagnostics/" + std::string(code.code) + ".md");
        CHECK_FALSE(page.empty());
        CHECK(page.rfind("# " + std::string(code.code) + ": " + std::string(code.title), 0) == 0);
        if (without_example.count(code.code) != 0) continue;
        const auto compilation = said_of(code.code, first_block(page));
        std::string text;
        for (const auto& d : compilation.diagnostics)
            if (d.code == code.code)
                text += (text.empty() ? "" : "\n") + grammar::render_text(compilation.sources, d);
        CHECK_FALSE(text.empty());
        const auto file = kept / (std::string(code.code) + ".txt");
        if (agree) std::ofstream(file) << text;
        CHECK(text == compiler::read_file(file.string()).value_or(""));
    }
}

TEST_CASE("Every message says how to mend it, and only a respelling is ever safe to apply") {
    // What the words of a faulty line themselves name: "an event belongs after this".
    const auto names_what_belongs = [](const grammar::Diagnostic& d) {
        const std::string& label = d.labels.front().text;
        return label.find("belongs") != std::string::npos || label.find("expected") != std::string::npos;
    };
    // Spellings, other words for the same, marks: what a person would mend without a thought.
    const std::set<std::string> of_spelling = {"syntax.spelling", "syntax.wording",  "syntax.name",
                                               "syntax.string",   "syntax.leftover", "syntax.quantity",
                                               "syntax.date",     "name.unknown"};
    std::size_t safe = 0;
    for (const auto& code : grammar::diagnostic_codes()) {
        if (without_example.count(code.code) != 0) continue;
        const auto compilation = said_of(
            code.code, first_block(text_of_file("docs/diagnostics/" + std::string(code.code) + ".md")));
        for (const auto& d : compilation.diagnostics) {
            INFO(grammar::render_text(compilation.sources, d));
            if (d.code == code.code)
                CHECK((!grammar::ways_out(d).empty() || !d.notes.empty() || names_what_belongs(d)));
            for (const auto& mend : d.mends) {
                if (!mend.safe) continue;
                ++safe;
                CHECK(of_spelling.count(d.code) == 1);
                // A number is never touched: how much and how often is the committee's.
                const auto written = mend.place ? compilation.sources.slice(*mend.place) : std::string_view();
                CHECK(std::string(written).find_first_of("0123456789") == std::string::npos);
                CHECK(mend.replacement.find_first_of("0123456789") == std::string::npos);
            }
        }
    }
    CHECK(safe > 0);
}
