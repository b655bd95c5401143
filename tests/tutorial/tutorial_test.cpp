// What docs/tutorial.md says of each of its policies. The codes are the page's claims, written by hand before
// the program was asked; the page's captures are compared by captures.py.
#include <algorithm>
#include <catch2/catch.hpp>

#include "tests/tutorial/checked.hpp"

using namespace linelaw::tests;
using Codes = std::vector<std::string>;

namespace {

Codes codes_of(const std::string& name) {
    const auto file = checked("docs/tutorial/" + name + ".linelaw");
    UNSCOPED_INFO(file.said);
    return file.codes;
}

bool speaks_of(const Checked& file, const std::string& code, const std::string& first,
               const std::string& second) {
    for (const auto& diagnostic : file.compilation.diagnostics)
        if (diagnostic.code == code && diagnostic.message.find('`' + first + '`') != std::string::npos &&
            diagnostic.message.find('`' + second + '`') != std::string::npos)
            return true;
    return false;
}

}  // namespace

TEST_CASE("one sentence leaves the tutorial's three questions open somewhere") {
    CHECK(codes_of("1-one-sentence") == Codes(3, "gap.question"));
}

TEST_CASE("a misspelt word and a length for a time are errors, and nothing else is said") {
    CHECK(codes_of("2-the-paragraph") == Codes{"name.unknown", "unit.mixed"});
}

TEST_CASE("the paragraph as printed has one gap, and three pairs of clauses that clash") {
    const auto file = checked("docs/tutorial/3-spelling-mended.linelaw");
    INFO(file.said);
    CHECK(file.codes == Codes{"conflict.interval", "conflict.response", "conflict.values", "gap.question"});
    CHECK(speaks_of(file, "conflict.interval", "dressing.gauze", "dressing.rest"));
    CHECK(speaks_of(file, "conflict.response", "dressing.compromised", "dressing.rest"));
    CHECK(speaks_of(file, "conflict.values", "skin.antiseptic", "skin.sensitive"));
}

TEST_CASE("the mended paragraph checks clean, every clause of it analysed exactly") {
    const auto file = checked("docs/tutorial/4-conflicts-mended.linelaw");
    INFO(file.said);
    CHECK(file.codes.empty());
    CHECK(file.not_exact.empty());
}

TEST_CASE("a number that is not what the sentence says is pointed out once, with both") {
    CHECK(codes_of("5-the-rest") == Codes{"drift.sentence"});
}

TEST_CASE("an hour after the week is late, until the clause has its grace") {
    const auto before = checked("docs/tutorial/6-examples.linelaw");
    CHECK(before.codes.empty());
    CHECK(before.failed.size() == 1);
    const auto after = checked("docs/tutorial/7-read-back.linelaw");
    CHECK(after.codes.empty());
    CHECK(after.failed.empty());
}

TEST_CASE("the grace is looser than the guidance, until the clause says that it departs") {
    CHECK(codes_of("8-guidance") == Codes{"loose.baseline"});
    const auto done = checked("docs/tutorial/finished.linelaw");
    INFO(done.said);
    CHECK(done.codes.empty());
    CHECK(done.failed.empty());
    CHECK(done.not_exact.empty());
}

TEST_CASE("the practice piece has an error first, five faults behind it, and a mended version") {
    CHECK(codes_of("practice") == Codes{"range.value"});
    CHECK(codes_of("practice-mended").empty());
}

TEST_CASE("the patterns hold together, and each of the twenty-two has an example that comes out as it says") {
    const auto file = checked("docs/patterns.linelaw");
    INFO(file.said);
    CHECK(file.codes.empty());
    CHECK(file.failed.empty());
    REQUIRE(file.compilation.compiled);
    CHECK(file.compilation.compiled->examples.size() >= 22);
    // Keys are compared, which no finite cells can tell.
    CHECK(file.not_exact == Codes{"vesicant.checked"});
}
