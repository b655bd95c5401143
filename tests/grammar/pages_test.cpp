// Each code of a syntax error has a page; its example causes the error, and its mend causes none.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "corpus.hpp"

using namespace linelaw::grammar;
using namespace linelaw::grammar::testing;

namespace {

std::vector<std::string> blocks_of(const std::string& page) {
    std::vector<std::string> blocks;
    const std::string fence = "```linelaw\n";
    for (std::size_t at = page.find(fence); at != std::string::npos; at = page.find(fence, at)) {
        at += fence.size();
        const std::size_t end = page.find("```", at);
        const std::string block = page.substr(at, end - at);
        const bool headed = block.rfind("policy", 0) == 0 || block.rfind("vocabulary", 0) == 0;
        blocks.push_back(headed ? block : "policy \"P\"\n\n" + block);
        at = end;
    }
    return blocks;
}

}  // namespace

TEST_CASE("the page of each syntax error shows a text that causes it and one that causes none") {
    for (const DiagnosticCode& code : diagnostic_codes()) {
        if (code.code.rfind("syntax.", 0) != 0) continue;
        INFO(code.code);
        std::ifstream in(LINELAW_SOURCE_DIR "/docs/diagnostics/" + std::string(code.code) + ".md");
        REQUIRE(in.good());
        const std::vector<std::string> blocks = blocks_of({std::istreambuf_iterator<char>(in), {}});
        if (code.code == "syntax.encoding") continue;  // its bytes cannot stand in a page
        REQUIRE(blocks.size() == 2);
        const Read bad = read(blocks[0]);
        REQUIRE(bad.parsed.diagnostics.size() == 1);
        CHECK(bad.parsed.diagnostics.front().code == code.code);
        CHECK(read(blocks[1]).parsed.diagnostics.empty());
    }
}
