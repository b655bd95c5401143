// What the compiler says: planted errors are all found and nothing else is said; each code has a page whose
// example causes it and whose mend does not; messages are kept as files, to be read and agreed to.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

#include "compiler/accepted.hpp"
#include "compiler/hygiene.hpp"
#include "grammar/render.hpp"
#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;
namespace fs = std::filesystem;

namespace {

const fs::path root = LINELAW_SOURCE_DIR;

std::vector<fs::path> files_in(const fs::path& folder, const std::string& extension) {
    std::vector<fs::path> files;
    for (const auto& entry : fs::directory_iterator(root / folder))
        if (entry.path().extension() == extension) files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    return files;
}

std::string content(const fs::path& path) {
    return compiler::read_file(path.string()).value_or("");
}

using Planted = std::multiset<std::pair<unsigned, std::string>>;

Planted planted_in(const fs::path& sidecar) {
    Planted planted;
    std::istringstream in(content(sidecar));
    unsigned line = 0;
    std::string code;
    while (in >> line >> code) planted.emplace(line, code);
    return planted;
}

std::string shown(const Planted& planted) {
    std::string out;
    for (const auto& [line, code] : planted) out += std::to_string(line) + ' ' + code + '\n';
    return out;
}

// The nth block between ```linelaw and ```.
std::string block(const std::string& page, int n) {
    std::size_t at = 0;
    for (int i = 0;; ++i) {
        at = page.find("```linelaw\n", at);
        if (at == std::string::npos) return "";
        at += 11;
        const auto end = page.find("```", at);
        if (i == n) return page.substr(at, end - at);
        at = end;
    }
}

// A policy for others to build on.
std::string facility() {
    return header +
           "clause dressing.change\n"
           "  \"Change the dressing at least every 7 days.\"\n"
           "  must   dressing_change at least every 7 days\n"
           "  reason \"Common practice.\"\n";
}

// What `check` says of a page's block on a day in the summer of the policy's year.
std::set<std::string> codes_for(const std::string& text) {
    const bool whole = text.rfind("policy", 0) == 0;
    auto compilation =
        compile_files({{"policy.linelaw", whole ? text : header + text}, {"facility.linelaw", facility()}});
    compiler::check_review(compilation, {2026, 7, 1}, compilation.diagnostics);
    compiler::accept_findings(compilation, {}, true);
    const auto codes = codes_of(compilation);
    return {codes.begin(), codes.end()};
}

// Codes of these families are emitted by the compiler without the analysis, and so have pages checked here.
bool of_the_compiler(std::string_view code) {
    const auto family = code.substr(0, code.find('.'));
    static const std::set<std::string_view> families = {"name",    "unit", "type",   "range",
                                                        "missing", "past", "unused", "drift"};
    return families.count(family) != 0;
}

}  // namespace

TEST_CASE("Of five planted errors in a policy, all five are said, at their lines, and nothing else") {
    const auto files = files_in("tests/compiler/broken", ".linelaw");
    REQUIRE(files.size() == 25);
    for (const auto& file : files) {
        const auto compilation = compiler::compile(file.string());
        Planted found;
        for (const auto& diagnostic : compilation.diagnostics) {
            if (diagnostic.severity == grammar::Severity::note) continue;
            const auto place = diagnostic.labels.front().place;
            CHECK(place.text == 0);
            found.emplace(compilation.sources.locate(place.text, place.begin).line, diagnostic.code);
        }
        auto sidecar = file;
        const Planted planted = planted_in(sidecar.replace_extension(".errors"));
        INFO(file.filename().string() << "\n" << said(compilation));
        CHECK(planted.size() == 5);
        CHECK(shown(found) == shown(planted));
        CHECK_FALSE(compilation.compiled);
    }
}

TEST_CASE("Every code that the compiler can say has a page, and no page is of an unknown code") {
    for (const auto& code : grammar::diagnostic_codes()) {
        if (!of_the_compiler(code.code)) continue;
        INFO(code.code);
        CHECK(fs::exists(root / "docs/diagnostics" / (std::string(code.code) + ".md")));
    }
    for (const auto& page : files_in("docs/diagnostics", ".md")) {
        INFO(page.string());
        CHECK(grammar::find_diagnostic_code(page.stem().string()) != nullptr);
    }
}

TEST_CASE("The example of a page causes its diagnostic, and the mend does not") {
    for (const auto& page : files_in("docs/diagnostics", ".md")) {
        const std::string code = page.stem().string();
        if (!of_the_compiler(code)) continue;
        const std::string text = content(page);
        const std::string bad = block(text, 0);
        const std::string good = block(text, 1);
        INFO(code);
        CHECK_FALSE(bad.empty());
        CHECK(codes_for(bad).count(code) == 1);
        CHECK_FALSE(good.empty());
        CHECK(codes_for(good).count(code) == 0);
    }
}

TEST_CASE("Each message is as it was read and agreed to") {
    std::set<std::string> seen;
    const bool agree =
        std::getenv("LINELAW_AGREE") != nullptr;  // writes the files anew, to be read in the diff
    for (const auto& file : files_in("tests/compiler/messages", ".linelaw")) {
        auto compilation =
            compile_files({{"policy.linelaw", content(file)}, {"facility.linelaw", facility()}});
        compiler::check_review(compilation, {2027, 6, 1}, compilation.diagnostics);
        compiler::accept_findings(compilation, {}, true);
        for (const auto& code : codes_of(compilation)) seen.insert(code);
        auto beside = file;
        beside.replace_extension(".txt");
        if (agree) std::ofstream(beside) << said(compilation);
        INFO(file.filename().string());
        CHECK(said(compilation) == content(beside));
    }
    for (const auto& code : grammar::diagnostic_codes()) {
        if (!of_the_compiler(code.code)) continue;
        INFO("no message is kept of " << code.code);
        CHECK(seen.count(std::string(code.code)) == 1);
    }
}
