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

// Minutes, months or metres; and once in a time is more than at least once in it.
TEST_CASE("what changes the meaning of a rule is offered, and never as safe to apply") {
    const auto mend_of = [](const std::string& demand) {
        const Read result = read("policy \"P\"\nclause c\n  \"S.\"\n  must " + demand + "\n");
        REQUIRE(result.parsed.diagnostics.size() == 1);
        REQUIRE(result.parsed.diagnostics[0].mends.size() == 1);
        return result.parsed.diagnostics[0].mends[0];
    };
    CHECK_FALSE(mend_of("dressing_change within 2 m").safe);
    CHECK_FALSE(mend_of("dressing_change once every 7 days").safe);
    CHECK_FALSE(mend_of("site_assessment each day").safe);
    CHECK_FALSE(mend_of("dressing_change within 2 hrs").safe);
    CHECK_FALSE(mend_of("external_length at most 20 percent").safe);  // of a length, it is none
}

// One of two events is enough, of two demands both are asked: `or` in place of a comma would halve the rule.
TEST_CASE("demands that a comma parts are joined by `and`, events by `or`") {
    const auto help_for = [](const std::string& demand) {
        const Read result = read("policy \"P\"\nclause c\n  \"S.\"\n  at flush\n  must " + demand + "\n");
        REQUIRE(result.parsed.diagnostics.size() == 1);
        REQUIRE(result.parsed.diagnostics[0].mends.size() == 1);
        return result.parsed.diagnostics[0].mends[0].text;
    };
    const std::string both = "two demands are joined by `and` where both must be kept";
    CHECK(help_for("scrub_time at least 30 s, dry_time at least 30 s").rfind(both, 0) == 0);
    CHECK(help_for("scrub_time at least prep.scrub, dry_time at least prep.dry").rfind(both, 0) == 0);
    CHECK(help_for("antiseptic is alcohol, dry_time at least 30 s").rfind(both, 0) == 0);
    CHECK(help_for("flush, lock at least every 12 h").find("joined by `or`") != std::string::npos);
    CHECK(help_for("flush at least every 12 h, grace 1 h").find("leave out the comma") == 0);
    CHECK(help_for("flush within 2 h, lock within 4 h").find("a clause of its own") != std::string::npos);
}

TEST_CASE("a comma that stands for the point is told as that, wherever the number stands") {
    for (const char* line : {"must flush within 1,5 h", "must flush at least every 6,5 days grace 12 h",
                             "must volume at least 2,55 mL", "at flush where volume more than 2,5 mL"}) {
        INFO(line);
        const Read result = read("policy \"P\"\nclause c\n  \"S.\"\n  " + std::string(line) + "\n");
        REQUIRE_FALSE(result.parsed.diagnostics.empty());
        const Diagnostic& diagnostic = result.parsed.diagnostics[0];
        CHECK(diagnostic.message.rfind("a decimal is written with a point", 0) == 0);
        REQUIRE(diagnostic.mends.size() == 1);
        CHECK(diagnostic.mends[0].replacement.find('.') != std::string::npos);
        CHECK_FALSE(diagnostic.mends[0].safe);
    }
}

TEST_CASE("a space in the name of a clause takes no sentence from it, and the mend is the committee's") {
    const Read result = read("policy \"P\"\nclause access scrub\n  \"S.\"\n  must flush within 2 h\n");
    REQUIRE(result.parsed.diagnostics.size() == 1);
    const Diagnostic& diagnostic = result.parsed.diagnostics[0];
    CHECK(diagnostic.code == "syntax.name");
    REQUIRE(diagnostic.mends.size() == 2);
    CHECK(diagnostic.mends[0].replacement == "access_scrub");
    CHECK(diagnostic.mends[1].replacement == "access.scrub");
    for (const Mend& mend : diagnostic.mends) CHECK_FALSE(mend.safe);
}

// A sentence whose first line alone were put in quotation marks would be another sentence.
TEST_CASE("a text without quotation marks is safe to quote only where it ends on its line") {
    const auto safe = [](const std::string& sentence) {
        const Read result = read("policy \"P\"\nclause a\n  " + sentence + "\n  must flush within 2 h\n");
        REQUIRE_FALSE(result.parsed.diagnostics.empty());
        REQUIRE(result.parsed.diagnostics[0].mends.size() == 1);
        return result.parsed.diagnostics[0].mends[0].safe;
    };
    CHECK(safe("Flush it within 2 h."));
    CHECK_FALSE(safe("Flush it\n  within 2 h."));
}

// U+00A0, between words and before a unit.
TEST_CASE("the spaces of a word processor are told together, and mended together") {
    const std::string head = "policy \"P\"\nclause a\n  \"S.\"\n";
    const Read result = read(head + "  must flush at\xC2\xA0least every 12\xC2\xA0h\n");
    REQUIRE(result.parsed.diagnostics.size() == 1);
    REQUIRE(result.parsed.diagnostics[0].mends.size() == 1);
    const Mend& mend = result.parsed.diagnostics[0].mends[0];
    CHECK(mend.safe);
    CHECK(mend.replacement == " least every 12 ");
    CHECK(mend.place->begin == head.size() + 15);
    // U+200B may stand within a word, where a space would make two of it; so may U+00AD.
    const Read hidden = read(head + "  must flush at\xE2\x80\x8Bleast every 12 h\n");
    REQUIRE(hidden.parsed.diagnostics.size() == 1);
    CHECK_FALSE(hidden.parsed.diagnostics[0].mends.at(0).safe);
    for (const char* sign : {"\xE2\x80\x8B", "\xC2\xAD"}) {
        const Read within = read(head + "  must dressing_" + sign + "change within 2 h\n");
        REQUIRE(within.parsed.diagnostics.size() == 1);
        const Mend& out = within.parsed.diagnostics[0].mends.at(0);
        CHECK(out.text == "take it out");
        CHECK(out.replacement.empty());
        CHECK(out.place->begin == head.size() + 16);
    }
}

TEST_CASE("a number without a unit may end what can be read of a demand") {
    for (const char* demand : {"phlebitis_grade is 1 foo", "line.lumens at least 3 foo"}) {
        INFO(demand);
        const Read result =
            read("policy \"P\"\nclause a\n  \"S.\"\n  at flush\n  must " + std::string(demand) + "\n");
        REQUIRE(result.parsed.diagnostics.size() == 1);
        CHECK(result.parsed.diagnostics[0].message == "the demand cannot be read on from `foo`");
    }
}

TEST_CASE("a head with a capital letter and a slip is told as the word of the language that it is near") {
    const Read result = read("policy \"P\"\nTern wet means dressing is damp\n");
    REQUIRE_FALSE(result.parsed.diagnostics.empty());
    REQUIRE(result.parsed.diagnostics[0].mends.size() == 1);
    CHECK(result.parsed.diagnostics[0].mends[0].replacement == "term");
}
