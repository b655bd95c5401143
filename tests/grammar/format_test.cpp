// The formatter loses nothing: what it writes is read back as the same tree, and it leaves its own writing
// alone.
#include "grammar/format.hpp"

#include <catch2/catch.hpp>

#include "corpus.hpp"
#include "grammar/render.hpp"
#include "trees.hpp"

using namespace linelaw::grammar;
using namespace linelaw::grammar::testing;

namespace {

std::string formatted(const std::string& content) {
    const Read result = read(content);
    INFO(render_text(result.sources, result.parsed.diagnostics));
    REQUIRE(result.parsed.diagnostics.empty());
    return format(result.sources, 0, result.parsed.tree);
}

std::size_t comments_in(const std::string& content) {
    return read(content).parsed.tree.comments.size();
}

void check_round_trip(const std::string& content) {
    const std::string once = formatted(content);
    INFO(once);
    CHECK(dump(read(once).parsed.tree) == dump(read(content).parsed.tree));
    CHECK(comments_in(once) == comments_in(content));
    CHECK(formatted(once) == once);
}

}  // namespace

TEST_CASE("formatting the reference's blocks changes no tree and no comment, and is idempotent") {
    for (const Block& block : reference_blocks()) check_round_trip(block.content);
}

TEST_CASE("formatting the project's texts changes no tree and no comment, and is idempotent") {
    for (const SourceText& text : project_texts()) check_round_trip(text.content);
    for (const SourceText& text : test_texts("whole")) check_round_trip(text.content);
}

TEST_CASE("any tree is written so that it is read back as itself") {
    for (std::uint64_t seed = 1; seed <= 1000; ++seed) {
        const Tree tree = random_tree(seed);
        Sources sources;
        sources.add({"", ""});
        const std::string text = format(sources, 0, tree);
        const Read result = read(text);
        const bool same = result.parsed.diagnostics.empty() && dump(result.parsed.tree) == dump(tree);
        if (!same) {
            FAIL("seed " << seed << "\n"
                         << text << "\n"
                         << render_text(result.sources, result.parsed.diagnostics) << "\n"
                         << dump(tree) << "\n"
                         << dump(result.parsed.tree));
        }
        if (format(result.sources, 0, result.parsed.tree) != text)
            FAIL("not idempotent, seed " << seed << "\n" << text);
    }
}

TEST_CASE("signs become words, and the words of a clause stand under one another") {
    CHECK(formatted("policy \"P\"\nclause a \"S.\" for x>=3 while y != z must e every 7 day priority minor\n"
                    "except when q because \"r\" then escalate m source s \"t\"") ==
          "policy \"P\"\n"
          "\n"
          "clause a\n"
          "  \"S.\"\n"
          "  for      x at least 3\n"
          "  while    y is not z\n"
          "  must     e at least every 7 days\n"
          "  priority minor\n"
          "  except when q because \"r\"\n"
          "  then escalate m\n"
          "  source   s \"t\"\n");
}

TEST_CASE("attributes, tables and ladders stand in columns") {
    CHECK(formatted("vocabulary v edition 1 event e \"E\" a:flag longer :one of x,y steps:a,b") ==
          "vocabulary v\n"
          "  edition 1\n"
          "\n"
          "event e \"E\"\n"
          "  a      : flag\n"
          "  longer : one of x, y\n"
          "  steps  : a, b\n");
    CHECK(formatted("policy \"P\" table t given a|line.kind gives b|c row x|any gives 1|22 s row longer|is "
                    "not y gives 333 cm|4") ==
          "policy \"P\"\n"
          "\n"
          "table t\n"
          "  given a      | line.kind gives b      | c\n"
          "  row   x      | any       gives 1      | 22 s\n"
          "  row   longer | is not y  gives 333 cm | 4\n");
    CHECK(
        formatted("policy \"P\" escalation e \"S.\" first notify a within 1 h then notify b within 5 min") ==
        "policy \"P\"\n"
        "\n"
        "escalation e\n"
        "  \"S.\"\n"
        "  first notify a within 1 h\n"
        "  then  notify b within 5 min\n");
}

TEST_CASE("terms, shifts and states that stand together share a column") {
    CHECK(formatted("policy \"P\"\nterm a means x\nterm longer means y\n\nterm c means z\nshift day from "
                    "7:00 to 19:30") ==
          "policy \"P\"\n"
          "\n"
          "term a      means x\n"
          "term longer means y\n"
          "\n"
          "term c means z\n"
          "\n"
          "shift day from 07:00 to 19:30\n");
}

TEST_CASE("comments stay at their items and lines") {
    const std::string text =
        "# The file.\n"
        "\n"
        "# About the policy.\n"
        "policy \"P\"                        # its title\n"
        "  # Before the edition.\n"
        "  edition 4                       # the fourth\n"
        "  undocumented counts as not met  # strictly\n"
        "\n"
        "# ---- Dressings ----\n"
        "\n"
        "# About a.\n"
        "clause a\n"
        "  \"S.\"\n"
        "  # For whom.\n"
        "  for      x and y  # both\n"
        "  must     e within 2 h\n"
        "  # At its end.\n"
        "\n"
        "# At the end.\n";
    CHECK(formatted(text) == text);
}

TEST_CASE("a comment inside a line moves to the line") {
    CHECK(formatted("policy \"P\"\nclause a\n  for x and # one\n  # two\n    y") ==
          "policy \"P\"\n"
          "\n"
          "clause a\n"
          "  # two\n"
          "  for      x and y  # one\n");
}

TEST_CASE("long lines are broken where no word comes to begin a line of its own") {
    const std::string text = formatted(
        "policy \"P\"\nclause a\n  must document aaaaaaaaaaaaaaaaaaaa, bbbbbbbbbbbbbbbbbbbbbbbbbbbbb, "
        "ccccccccccccccccccccccc, "
        "dddddddddddddd, reason, eeeeeeee");
    CHECK(
        text ==
        "policy \"P\"\n"
        "\n"
        "clause a\n"
        "  must     document aaaaaaaaaaaaaaaaaaaa, bbbbbbbbbbbbbbbbbbbbbbbbbbbbb, ccccccccccccccccccccccc,\n"
        "           dddddddddddddd, reason, eeeeeeee\n");
}
