// The auditor's round: settlements and earlier findings as they are read, samples as they are drawn and added
// up.
#include "runtime/review.hpp"

#include <catch2/catch.hpp>

#include "runtime/csv.hpp"
#include "runtime/keyed_hash.hpp"
#include "runtime/review_tally.hpp"
#include "tests/runtime/folder.hpp"

using namespace linelaw::runtime;

namespace {

Sampled sampled(std::uint32_t item, std::uint64_t rank, bool met) {
    Sampled s;
    s.item = item;
    s.rank = rank;
    s.id = std::to_string(item) + "-" + std::to_string(rank);
    s.outcome = met ? Outcome::met : Outcome::late;
    return s;
}

void put(Sample& sample, const Sampled& s) {
    auto& stratum = sample.strata[{s.item, s.outcome == Outcome::met}];
    ++stratum.population;
    if (sample.would_keep(stratum, s.rank)) sample.keep(stratum, s);
}

}  // namespace

TEST_CASE("settlements are read a line each, and refused by file, line and what to write") {
    const auto read = Settled::read(
        "# ward round of 3 March\n\nbbe977fb049897d5  excused  the provider was at the bedside\r\n"
        "0123456789abcdef not met seen to be damp\n",
        "settled.txt");
    REQUIRE(read);
    CHECK(read->size() == 2);
    CHECK(read->find("bbe977fb049897d5")->outcome == Outcome::excused);
    CHECK(read->find("0123456789abcdef")->reason == "seen to be damp");
    CHECK(read->find("ffffffffffffffff") == nullptr);
    const auto refused = [](const char* text) { return Settled::read(text, "s.txt").error().message; };
    CHECK_THAT(refused("\nq-17 excused because"),
               Catch::StartsWith("s.txt:2: this line does not begin with a finding's id"));
    CHECK_THAT(refused("0123456789abcdef"), Catch::Contains("`excused` or as `not met`"));
    CHECK_THAT(refused("0123456789abcdef excused"), Catch::Contains("the reason is missing"));
    CHECK_THAT(refused("0123456789abcdef excused a\n0123456789abcdef not met b"),
               Catch::Contains("settled twice"));
}

TEST_CASE("settlements may come from a spreadsheet, or with tabs between") {
    for (const std::string text : {
             "0123456789abcdef,excused,on paper\n",
             "0123456789abcdef, excused, on paper\r\n",
             "0123456789abcdef\texcused\ton paper\n",
             "0123456789abcdef;excused;on paper;;\n",
             "\xEF\xBB\xBF"
             "0123456789abcdef excused on paper",
             "\xEF\xBB\xBF\"0123456789abcdef\",\"excused\",\"on paper\"\r\n",
             "0123456789abcdef,excused,on paper,,\r\n,,,,\r\n",
             "\"0123456789abcdef\";\"excused\";\"on paper\"\r\n",
             "\"0123456789abcdef\"\t\"excused\"\t\"on paper\"\n",
             "\"0123456789abcdef\" , \"excused\" , \"on paper\"\n",
             "0123456789abcdef;\"excused\";on paper\n",
         }) {
        INFO(text);
        const auto read = Settled::read(text, "s.csv");
        REQUIRE(read);
        REQUIRE(read->size() == 1);
        REQUIRE(read->find("0123456789abcdef") != nullptr);
        CHECK(read->find("0123456789abcdef")->outcome == Outcome::excused);
        CHECK(read->find("0123456789abcdef")->reason == "on paper");
    }
    const auto quoted = Settled::read("0123456789abcdef,not met,\"damp, and \"\"loose\"\"\"\r\n", "s.csv");
    REQUIRE(quoted);
    CHECK(quoted->find("0123456789abcdef")->outcome == Outcome::not_met);
    CHECK(quoted->find("0123456789abcdef")->reason == "damp, and \"loose\"");
    // What the message and the help show is itself one.
    CHECK(Settled::read(settlement_example, "s.txt")->size() == 1);
    CHECK_THAT(Settled::read("id,ruling,reason", "s.csv").error().message,
               Catch::Contains(std::string(settlement_example)));
    CHECK_THAT(Settled::read("0123456789abcdef excusedly so", "s").error().message,
               Catch::Contains("`excused` or as `not met`"));
}

TEST_CASE("a settlement changes only what counts") {
    const Settlement excused{Outcome::excused, "r"};
    const Settlement not_met{Outcome::not_met, "r"};
    CHECK(settled(Outcome::late, excused) == Outcome::excused);
    CHECK(settled(Outcome::met, excused) == Outcome::met);
    CHECK(settled(Outcome::not_assessable, excused) == Outcome::not_assessable);
    CHECK(settled(Outcome::missed, not_met) == Outcome::missed);  // confirmed
    CHECK(settled(Outcome::not_assessable, not_met) == Outcome::not_met);
    CHECK(settled(Outcome::met, not_met) == Outcome::not_met);
    CHECK(settled(Outcome::pending, not_met) == Outcome::pending);
}

TEST_CASE("only what counted against in the earlier run is compared, each once") {
    const small::Folder folder;
    const std::string finding =
        R"({"id":"0123456789abcdef","episode":"q-1","clause":"a","outcome":"late","said":"s"})";
    const std::string met =
        R"({"id":"fedcba9876543210","episode":"q-1","clause":"a","outcome":"met","said":"s"})";
    const auto earlier =
        Earlier::read(folder.write("findings.ndjson", finding + "\n" + met + "\n" + finding + "\n"));
    REQUIRE(earlier);
    CHECK(earlier->size() == 1);
    CHECK(Earlier::read(folder.path.string())->size() == 1);  // the folder of a run
    CHECK(earlier->gone().empty());                           // its episode was not judged
    earlier->judged("q-1");
    REQUIRE(earlier->gone().size() == 1);
    CHECK(earlier->has("0123456789abcdef"));
    CHECK(earlier->gone().empty());
    CHECK_THAT(Earlier::read(folder.write("other.ndjson", "{\"outcome\":\"late\"}\n")).error().message,
               Catch::Contains("other.ndjson:1: this is no finding of an earlier run"));
}

TEST_CASE("a sample of parts is the sample of the whole, and sees each clause while there are enough") {
    Sample whole;
    whole.wanted = 10;
    std::vector<Sample> parts(3);
    for (Sample& part : parts) part.wanted = 10;
    for (std::uint32_t i = 0; i < 600; ++i) {
        const Sampled s = sampled(i % 6, i * 2654435761U % 1000003U, i % 5 != 0);
        put(whole, s);
        put(parts[i % 3], s);
    }
    Sample sum = parts[2];
    sum.add(parts[0]);
    sum.add(parts[1]);
    CHECK(sum == whole);
    const std::vector<Sampled> drawn = whole.drawn();
    REQUIRE(drawn.size() == 10);
    std::set<std::uint32_t> seen;
    for (const Sampled& s : drawn) seen.insert(s.item);
    CHECK(seen.size() == 6);
    CHECK(sample_code(drawn) == sample_code(sum.drawn()));
    whole.wanted = 1000;
    CHECK(whole.drawn().size() <= 600);
}

TEST_CASE("the sheet may come from a spreadsheet: quoted, with a byte order mark") {
    const auto rows = read_csv("\xEF\xBB\xBF\"a\",b\r\n\"x, \"\"y\"\"\nz\",\r\n\r\n");
    REQUIRE(rows);
    REQUIRE(rows->size() == 2);
    CHECK((*rows)[0] == std::vector<std::string>{"a", "b"});
    CHECK((*rows)[1] == std::vector<std::string>{"x, \"y\"\nz", ""});
    CHECK_FALSE(read_csv("\"open"));
}

TEST_CASE("patients' keys are hashed by SipHash-2-4, as published") {
    // Aumasson and Bernstein 2012, appendix A: key 00 01 … 0f, text 00 01 … 0e.
    std::string text;
    for (char c = 0; c < 15; ++c) text += c;
    CHECK(keyed_hash({0x0706050403020100U, 0x0f0e0d0c0b0a0908U}, text) == 0xa129ca6149be45e5U);
    CHECK(keyed_hash({1, 2}, "p-0042") != keyed_hash({1, 3}, "p-0042"));
}
