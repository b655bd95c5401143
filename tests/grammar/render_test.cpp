// What the reader sees, byte for byte.
#include "grammar/render.hpp"

#include <catch2/catch.hpp>

#include "corpus.hpp"

using namespace linelaw::grammar;
using namespace linelaw::grammar::testing;

namespace {

std::string complaints(const std::string& content) {
    const Read result = read(content);
    return render_text(result.sources, result.parsed.diagnostics);
}

}  // namespace

TEST_CASE("a number without its unit is shown where it stands") {
    CHECK(complaints("policy \"P\"\nclause a\n  must change at least every 7\n  priority major\n") ==
          "error: the number `7` has no unit (syntax.quantity)\n"
          "  at test.linelaw:3:30\n"
          "     3 |   must change at least every 7\n"
          "       |                              ^ expected a unit such as `days` or `h` after it\n"
          "  help: say which unit is meant, such as `7 days` or `7 h`\n");
}

TEST_CASE("two limits in one are told as a range, however they are joined") {
    for (const char* join : {"-", " - ", "–", "—", " to "}) {
        const std::string written = std::string("5") + join + "7";
        const std::string text = complaints("policy \"P\"\nclause a\n  must change at least every " +
                                            written + " days\n  priority major\n");
        INFO(text);
        CHECK(text.find("error: one number is asked for here, not a range (syntax.quantity)\n") == 0);
        CHECK(text.find("  must change at least every " + written + " days\n") != std::string::npos);
        CHECK(text.find("^ from 5 days to 7 days\n"
                        "  help: say each limit by itself, such as `at least every 7 days no more often") !=
              std::string::npos);
    }
}

TEST_CASE("a range without a unit, before a comment or at the end of the text, is told as one") {
    for (const char* behind : {"", "\n", "  # days", "\n  priority major\n"}) {
        const std::string text =
            complaints(std::string("policy \"P\"\nclause a\n  must change at least every 5-7") + behind);
        INFO(text);
        CHECK(text.find("^^^ from 5 to 7\n") != std::string::npos);
    }
}

TEST_CASE("what can be mended without thought says so") {
    CHECK(complaints("policy \"P\"\nterm a means x greater than 3 cm\n") ==
          "error: `greater than` is written `more than` (syntax.wording)\n"
          "  at test.linelaw:2:16\n"
          "     2 | term a means x greater than 3 cm\n"
          "       |                ^^^^^^^^^^^^\n"
          "  help: write `more than` (safe to apply)\n");
}

TEST_CASE("a line that ends too early is marked at its end") {
    CHECK(complaints("policy \"P\"\nclause a\n  for b and  # who?\n  must c within 2 h\n") ==
          "error: expected a condition after `and`, but the line ends (syntax.condition)\n"
          "  at test.linelaw:3:9\n"
          "     3 |   for b and  # who?\n"
          "       |         ^^^ a condition belongs after this\n");
}

TEST_CASE("several errors are parted by a blank line, in the order of the text") {
    CHECK(complaints("policy \"P\"\n  edition x\n  review by 2026-13-01\n") ==
          "error: expected the edition's number after `edition`, not `x` (syntax.expected)\n"
          "  at test.linelaw:2:11\n"
          "     2 |   edition x\n"
          "       |           ^ the edition's number belongs here\n"
          "\n"
          "error: `2026-13-01` is no day of the calendar (syntax.date)\n"
          "  at test.linelaw:3:13\n"
          "     3 |   review by 2026-13-01\n"
          "       |             ^^^^^^^^^^\n"
          "  help: write a date as `2026-03-01`, a time of day as `08:00`\n");
}

TEST_CASE("underlines stand under tabs and wide characters where the eye expects them") {
    Sources sources;
    sources.add({"a.linelaw", "\t\"\xE5\x85\xA8\xE8\xA7\x92 e\xCC\x81\" here\n"});
    const Diagnostic diagnostic = make_diagnostic("syntax.expected", "it", {0, 14, 18});
    CHECK(render_text(sources, diagnostic) ==
          "error: it (syntax.expected)\n"
          "  at a.linelaw:1:10\n"
          "     1 |     \"\xE5\x85\xA8\xE8\xA7\x92 e\xCC\x81\" here\n"
          "       |              ^^^^\n");
}

TEST_CASE("a conflict shows its clauses in several files, its situation, an example and the ways out") {
    Sources sources;
    sources.add({"a.linelaw", "clause a\n  must x within 1 h\n\n\n\nclause b\n  must not x\n"});
    sources.add({"b.linelaw", "term t means u"});
    Diagnostic diagnostic = make_diagnostic("conflict.forbidden", "`a` asks for `x`, and `b` forbids it",
                                            {0, 11, 28}, "asks for it");
    diagnostic.labels.push_back({{0, 43, 53}, "forbids it"});
    diagnostic.labels.push_back({{1, 0, 14}, ""});
    diagnostic.notes.push_back("both are `must`");
    diagnostic.mends.push_back({"let one override the other", {}, "", false});
    diagnostic.mends.push_back({"leave one out", {}, "", false});
    Witness witness;
    witness.situation = {{"line.kind", "picc"}, {"age", "at least 18 years"}};
    witness.example = "example \"e\"\n  line kind picc\n";
    witness.outcomes = {"a late", "b met"};
    diagnostic.witness = witness;
    CHECK(render_text(sources, diagnostic) ==
          "conflict: `a` asks for `x`, and `b` forbids it (conflict.forbidden)\n"
          "  at a.linelaw:2:3\n"
          "     2 |   must x within 1 h\n"
          "       |   ^^^^^^^^^^^^^^^^^ asks for it\n"
          "       :\n"
          "     7 |   must not x\n"
          "       |   ---------- forbids it\n"
          "  at b.linelaw:1:1\n"
          "     1 | term t means u\n"
          "       | --------------\n"
          "  note: both are `must`\n"
          "  this happens when\n"
          "      line.kind  picc\n"
          "      age        at least 18 years\n"
          "  for example (this can be pasted into the policy)\n"
          "      example \"e\"\n"
          "        line kind picc\n"
          "  there the policy judges: a late, b met\n"
          "  ways out, for the committee to decide\n"
          "    - let one override the other\n"
          "    - leave one out\n");
}

TEST_CASE("a place over several lines is marked on its first, and says where it ends") {
    Sources sources;
    sources.add({"a.linelaw", "clause a\n  must x\n  priority major\n"});
    CHECK(render_text(sources, make_diagnostic("dead.clause", "never", {0, 0, 34}, "this clause")) ==
          "warning: never (dead.clause)\n"
          "  at a.linelaw:1:1\n"
          "     1 | clause a\n"
          "       | ^^^^^^^^ this clause (to line 3)\n");
}

TEST_CASE("of a very long line only what stands around the mark is shown") {
    Sources sources;
    sources.add({"a.linelaw", std::string(300, 'a') + "MARK" + std::string(300, 'z') + "\n"});
    CHECK(render_text(sources, make_diagnostic("syntax.expected", "it", {0, 300, 304})) ==
          "error: it (syntax.expected)\n"
          "  at a.linelaw:1:301\n"
          "     1 | …" +
              std::string(100, 'a') + "MARK" + std::string(96, 'z') + "…\n" + "       | " +
              std::string(101, ' ') + "^^^^\n");
}

TEST_CASE("a policy's words cannot steer the terminal") {
    Sources sources;
    sources.add({"a\x1b[2J", "x \x1b[2J \xFF y\n"});
    CHECK(render_text(sources, make_diagnostic("syntax.expected", "`\x1b[2J`", {0, 0, 1})) ==
          "error: `\xEF\xBF\xBD[2J` (syntax.expected)\n"
          "  at a\xEF\xBF\xBD[2J:1:1\n"
          "     1 | x \xEF\xBF\xBD[2J \xEF\xBF\xBD y\n"
          "       | ^\n");
}

TEST_CASE("colour is there only when it is asked for") {
    Sources sources;
    sources.add({"a.linelaw", "x"});
    const Diagnostic diagnostic = make_diagnostic("syntax.item", "it", {0, 0, 1});
    CHECK(render_text(sources, diagnostic).find('\x1b') == std::string::npos);
    CHECK(render_text(sources, diagnostic, {true, 100}).find("\x1b[1;31merror: \x1b[0m") == 0);
}

TEST_CASE("nesting deeper than 200 is said, and does no harm") {
    const auto nested = [](std::size_t depth) {
        return "policy \"P\"\nterm a means " + std::string(depth, '(') + "x" + std::string(depth, ')') +
               "\nterm b means y\n";
    };
    CHECK(read(nested(200)).parsed.diagnostics.empty());
    const Read deep = read(nested(100000));
    REQUIRE(deep.parsed.diagnostics.size() == 1);
    CHECK(deep.parsed.diagnostics[0].code == "syntax.nesting");
    CHECK(deep.parsed.tree.items.size() == 1);
}

TEST_CASE("text that is no UTF-8 is said once a line") {
    const Read result = read("policy \"\xFF\xFE\"\n  owner \"\xE9\"\n");
    REQUIRE(result.parsed.diagnostics.size() == 2);
    CHECK(result.parsed.diagnostics[0].code == "syntax.encoding");
    CHECK(result.parsed.diagnostics[1].code == "syntax.encoding");
}
