// The reference is the contract: what it prints parses as shown.
#include <catch2/catch.hpp>

#include "corpus.hpp"

using namespace linelaw::grammar;
using namespace linelaw::grammar::testing;

TEST_CASE("every block of the reference is read without a complaint") {
    const std::vector<Block> blocks = reference_blocks();
    CHECK(blocks.size() >= 5);
    for (const Block& block : blocks) {
        const Read result = read(block.content);
        for (const Diagnostic& diagnostic : result.parsed.diagnostics) {
            const LineColumn at = result.sources.locate(0, diagnostic.labels.front().place.begin);
            FAIL_CHECK("block at line " << block.line << ", line " << at.line << ": " << diagnostic.message);
        }
        CHECK_FALSE(result.parsed.tree.items.empty());
    }
}

TEST_CASE("every policy and vocabulary of the project is read without a complaint") {
    for (const SourceText& text : project_texts()) {
        const Read result = read(text.content);
        for (const Diagnostic& diagnostic : result.parsed.diagnostics) {
            FAIL_CHECK(text.name << ": " << diagnostic.message);
        }
    }
}

TEST_CASE("texts that hold every construct are read without a complaint") {
    CHECK(test_texts("whole").size() == 3);
    for (const SourceText& text : test_texts("whole")) {
        const Read result = read(text.content);
        for (const Diagnostic& diagnostic : result.parsed.diagnostics) {
            FAIL_CHECK(text.name << ": " << diagnostic.message);
        }
    }
}
