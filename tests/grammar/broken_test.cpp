// Fifty texts with five errors each, planted by hand. Beside each stands a list of the planted lines and
// codes: just those are reported, and none that only follows from another.
#include <catch2/catch.hpp>
#include <fstream>

#include "corpus.hpp"
#include "grammar/render.hpp"

using namespace linelaw::grammar;
using namespace linelaw::grammar::testing;

namespace {

using Report = std::pair<std::uint32_t, std::string>;

std::vector<Report> planted_in(std::string path) {
    path.replace(path.rfind(".linelaw"), std::string::npos, ".planted");
    std::ifstream in(path);
    std::vector<Report> planted;
    for (Report one; in >> one.first >> one.second;) planted.push_back(one);
    return planted;
}

}  // namespace

TEST_CASE("of fifty broken texts, just the five planted errors of each are reported, in their places") {
    const std::vector<SourceText> texts = test_texts("broken");
    CHECK(texts.size() == 50);
    for (const SourceText& text : texts) {
        const Read result = read(text.content);
        std::vector<Report> reported;
        for (const Diagnostic& diagnostic : result.parsed.diagnostics) {
            const Place place = diagnostic.labels.front().place;
            reported.emplace_back(result.sources.locate(0, place.begin).line, diagnostic.code);
        }
        INFO(text.name << "\n" << render_text(result.sources, result.parsed.diagnostics));
        const std::vector<Report> planted = planted_in(text.name);
        CHECK(planted.size() == 5);
        CHECK(reported == planted);
    }
}
