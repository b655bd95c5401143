#include "corpus.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>

namespace linelaw::grammar::testing {

namespace {

std::string file(const std::filesystem::path& path) {
    std::ifstream in(path, std::ios::binary);
    REQUIRE(in.good());
    return {std::istreambuf_iterator<char>(in), {}};
}

// A block is a text of the language if it begins with an item's word; the others show tokens.
bool is_language(const std::string& block) {
    const std::string word = block.substr(0, block.find_first_of(" \n"));
    static const std::vector<std::string> words = {"vocabulary", "policy", "clause", "escalation", "bundle",
                                                   "example",    "table",  "source", "patient"};
    return std::find(words.begin(), words.end(), word) != words.end();
}

std::vector<SourceText> texts_under(const std::string& folder) {
    std::vector<SourceText> texts;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
        if (entry.path().extension() == ".linelaw")
            texts.push_back({entry.path().string(), file(entry.path())});
    }
    std::sort(texts.begin(), texts.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
    return texts;
}

}  // namespace

std::vector<Block> reference_blocks() {
    std::istringstream in(file(std::string(LINELAW_SOURCE_DIR) + "/docs/language.md"));
    std::vector<Block> blocks;
    std::string line, block;
    std::size_t number = 0, begin = 0;
    const auto finish = [&] {
        if (is_language(block)) {
            const bool headed = block.rfind("vocabulary", 0) == 0 || block.rfind("policy", 0) == 0;
            blocks.push_back({begin, headed ? block : "policy \"An excerpt\"\n" + block});
        }
        block.clear();
    };
    while (std::getline(in, line)) {
        ++number;
        const bool indented = line.rfind("    ", 0) == 0;
        if (indented || (line.empty() && !block.empty())) {
            if (block.empty()) begin = number;
            block += (indented ? line.substr(4) : line) + '\n';
        } else if (!block.empty()) {
            finish();
        }
    }
    finish();
    return blocks;
}

std::vector<SourceText> project_texts() {
    return texts_under(LINELAW_SOURCE_DIR "/policies");
}

std::vector<SourceText> test_texts(const std::string& folder) {
    return texts_under(LINELAW_SOURCE_DIR "/tests/grammar/" + folder);
}

Read read(const std::string& content) {
    Read read;
    const std::uint32_t text = read.sources.add({"test.linelaw", content});
    read.parsed = parse(read.sources, text);
    return read;
}

std::string item(const std::string& content) {
    const Read result = read("policy \"P\"\n" + content);
    for (const Diagnostic& diagnostic : result.parsed.diagnostics) FAIL_CHECK(diagnostic.message);
    const std::string whole = dump(result.parsed.tree);
    const std::string head = "(policy \"P\")";
    REQUIRE(whole.rfind(head, 0) == 0);
    return whole.size() > head.size() ? whole.substr(head.size() + 1) : "";
}

}  // namespace linelaw::grammar::testing
