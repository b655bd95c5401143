// The document of the demo's policy, and of a policy that is written to break one.
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <set>

#include "compiler/document/document.hpp"
#include "compiler/document/markdown.hpp"
#include "compiler/read_back.hpp"

using namespace linelaw;
using compiler::Compilation;
namespace doc = compiler::document;

namespace {

struct Made {
    Compilation compilation;
    doc::Document document;
    std::string markdown;
    std::string html;
};

Made made(Compilation compilation, const Compilation* before = nullptr) {
    Made out{std::move(compilation), {}, "", ""};
    REQUIRE(out.compilation.compiled);
    const auto analysis = compiler::analysis::analyse(out.compilation);
    for (const auto& diagnostic : analysis.diagnostics) out.compilation.diagnostics.push_back(diagnostic);
    out.document = doc::document(out.compilation, analysis, before);
    out.markdown = doc::as_markdown(out.document);
    out.html = doc::as_html(out.document);
    return out;
}

const Made& demo() {
    static const Made once = made(compiler::compile(LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw"));
    return once;
}

// A policy of these items with a small word list of its own.
Compilation policy(const std::string& items, const std::string& edition = "2") {
    const std::string text = "policy \"A *test* of <b>everything</b> | and more\"\n  edition " + edition +
                             "\n  in force from 2026-03-01 until 2100-01-01\n  review by 2099-01-01\n"
                             "  owner \"Nobody\"\n  time zone UTC\n  undocumented counts as not met\n"
                             "event dressing_change \"Dressing change\"\n  dressing : one of film, gauze\n"
                             "event look \"Look\"\nstate dressing from dressing_change.dressing\n"
                             "role provider\n" +
                             items;
    return compiler::compile("policy.linelaw", [&](const std::string&) { return std::optional(text); });
}

std::size_t count(const std::string& text, const std::string& what) {
    std::size_t n = 0;
    for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + what.size()))
        ++n;
    return n;
}

// What python's XML reader says: nothing where the page is well-formed.
std::string ill_formed(const std::string& html) {
    // Of this process alone: other tests of this file run beside it.
    const auto file = std::filesystem::temp_directory_path() / ("linelaw-page-" + std::to_string(getpid()));
    std::ofstream(file, std::ios::binary) << html;
    const std::string command =
        "python3 -c \"import sys,xml.etree.ElementTree as E; E.parse(sys.argv[1])\" " + file.string() +
        " 2>&1";
    std::string said;
    FILE* pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    char buffer[512];
    for (std::size_t n = 0; (n = fread(buffer, 1, sizeof buffer, pipe)) > 0;) said.append(buffer, n);
    pclose(pipe);
    std::filesystem::remove(file);
    return said;
}

// The page's text: without tags and style, the named characters back, white space folded.
std::string text_of(const std::string& html) {
    std::string out;
    for (std::size_t i = html.find("<main>"); i < html.size(); ++i) {
        if (html[i] == '<') {
            i = html.find('>', i);
            continue;
        }
        out += html[i] == '\n' ? ' ' : html[i];
    }
    for (const auto& [name, character] :
         {std::pair<std::string, std::string>{"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&amp;", "&"}})
        for (std::size_t at = 0; (at = out.find(name, at)) != std::string::npos; at += character.size())
            out.replace(at, name.size(), character);
    return out;
}

}  // namespace

TEST_CASE("every clause of the demo stands in its document once, with its sentence and its read-back") {
    const std::string text = text_of(demo().html);
    for (const auto& clause : demo().compilation.compiled->policy.clauses) {
        INFO(clause.id);
        CHECK(count(text.substr(0, text.find("A help to memory, made from the policy.")), clause.sentence) ==
              1);
        CHECK(count(demo().markdown, "#### `" + clause.id + "` (") == 1);
        // The read-back's lines after its heading, in one piece of the clause's own part.
        const auto from = demo().markdown.find("#### `" + clause.id + "` (");
        const auto to = demo().markdown.find("\n#", from + 1);
        const std::string part = demo().markdown.substr(from, to - from);
        const std::string said = compiler::read_back(demo().compilation.compiled->policy, clause);
        std::size_t lines = 0;
        for (std::size_t at = said.find('\n') + 1; at < said.size(); at = said.find('\n', at) + 1) {
            const auto end = said.find('\n', at);
            CHECK(count(part, "- " + doc::with_names(said.substr(at + 2, end - at - 2)) + "\n") == 1);
            ++lines;
        }
        CHECK(lines >= 2);
    }
}

TEST_CASE("the table of clauses and sources has a row for each clause, and every example is listed") {
    const auto from = demo().markdown.find("## Clauses, sources and examples");
    const std::string trace =
        demo().markdown.substr(from, demo().markdown.find("\n## Sign-off", from) - from);
    for (const auto& clause : demo().compilation.compiled->policy.clauses)
        CHECK(count(trace, "\n| [`" + clause.id + "`](#") == 1);
    for (const auto& example : demo().compilation.compiled->examples)
        CHECK(count(trace, ". " + doc::escaped(example.title) + "\n") == 1);
}

TEST_CASE("every question, table, ladder, bundle and source of the demo is there") {
    const auto& compiled = *demo().compilation.compiled;
    for (const auto& question : compiled.questions)
        CHECK(count(demo().markdown, "\n### `" + question.id + "`\n") == 1);
    for (const auto& table : compiled.policy.tables)
        CHECK(count(demo().markdown, "\n### `" + table.name + "`\n") == 1);
    for (const auto& ladder : compiled.policy.ladders)
        CHECK(count(demo().markdown, "\n### `" + ladder.id + "`\n") == 1);
    for (const auto& bundle : compiled.policy.bundles)
        CHECK(count(demo().markdown, "\n| `" + bundle.id + "` |") == 1);
    for (const auto& source : compiled.policy.sources)
        CHECK(count(demo().markdown, "\n| `" + source.name + "` |") == 1);
}

TEST_CASE("the checklist has the steps in their order, and every interval and response of the demo") {
    const auto from = demo().markdown.find("## Bedside checklist");
    const std::string list = demo().markdown.substr(from, demo().markdown.find("\n## Sign-off", from) - from);
    std::size_t at = 0;
    for (const char* step : {"hand hygiene", "remove dressing", "hand hygiene", "sterile gloves", "scrub",
                             "dry", "apply dressing"}) {
        INFO(step);
        at = list.find(std::string("\u2610 ") + step, at + 1);
        REQUIRE(at != std::string::npos);
    }
    for (const char* id : {"dressing.transparent", "dressing.gauze", "site.shift", "need.daily",
                           "set.continuous", "set.propofol", "connector.interval", "dressing.compromised",
                           "length.moved", "fever.culture", "device.failed", "antisepsis.dry"}) {
        INFO(id);
        // At the insertion as well as at the dressing change.
        const std::size_t events = std::string_view(id) == "antisepsis.dry" ? 2 : 1;
        CHECK(count(list, "[`" + std::string(id) + "`]") == events);
    }
    CHECK(list.find("at least every 7 days; late 12 h after that") != std::string::npos);
    for (const auto& clause : demo().compilation.compiled->policy.clauses) {
        INFO(clause.id);
        CHECK(count(list, "[`" + clause.id + "`]") >= 1);  // if only at its end
    }
}

TEST_CASE("the checklist says for whom, unless what, and what it leaves out") {
    const auto one = made(
        policy("event fever \"Fever\"\nevent call \"Call\"\n"
               "clause a\n  \"Every 2 days, and no more often than 1 day unless gauze.\"\n"
               "  must dressing_change no more often than every 1 days unless event.dressing is gauze\n"
               "clause b\n  \"No look with gauze.\"\n  while state.dressing is gauze\n  must not look\n"
               "clause c\n  \"After a fever, with gauze, call within 2 h.\"\n"
               "  while state.dressing is gauze\n  after fever\n  must call within 2 h\n"
               "  then escalate up\n"
               "clause d\n  \"A look before a call.\"\n  before call\n  must have had look in the last 2 h\n"
               "escalation up\n  \"Up.\"\n  first notify provider within 1 h\n"));
    const auto from = one.markdown.find("## Bedside checklist");
    const std::string list = one.markdown.substr(from, one.markdown.find("\n## Sign-off", from) - from);
    INFO(list);
    CHECK(list.find("no more often than every 1 day, unless dressing is gauze") != std::string::npos);
    CHECK(list.find("### Not to be done") < list.find("### When you find"));
    CHECK(list.find("| Look [`b`](#b-major) | dressing is gauze |") != std::string::npos);
    CHECK(list.find("| dressing is gauze |\n") != std::string::npos);
    // What must be done before stands where it is done; what is nowhere else stands at the end, with its
    // sentence.
    const auto call = list.find("### At the event: Call");
    REQUIRE(call != std::string::npos);
    CHECK(list.find("| First: Look in the 2 h before [`d`](#d-major) | all |", call) != std::string::npos);
    CHECK(list.find("On neither list") == std::string::npos);
}

TEST_CASE("the checklist keeps the condition of the event, and says what is left to judgement there") {
    const auto one = made(
        policy("line\n  kind : one of picc, port\nquestion choice\n  \"Which dressing is chosen?\"\n"
               "  about dressing at dressing_change\n  for every combination of line.kind\n"
               "clause a\n  \"Gauze only over gauze.\"\n  at dressing_change where dressing is gauze\n"
               "  must state.dressing is gauze\n"
               "clause b\n  \"What else is chosen is left to judgement.\"\n"
               "  leaves choice to judgement because \"nobody has said\"\n"
               "clause c\n  \"Look within 2 hours.\"\n  after dressing_change\n  must look within 2 h\n"));
    const auto from = one.markdown.find("## Bedside checklist");
    const std::string list = one.markdown.substr(from, one.markdown.find("\n## Sign-off", from) - from);
    INFO(list);
    CHECK(list.find("| dressing is gauze [`a`](#a-major) | where dressing is gauze |") != std::string::npos);
    CHECK(list.find("| Your judgement: Which dressing is chosen? [`b`](#b-major) | all |") !=
          std::string::npos);
    CHECK(list.find("### On neither list, and to be kept as well\n\nLook within 2 hours. ([`c`]") !=
          std::string::npos);
}

TEST_CASE("the cautions stand before the clauses and on the checklist") {
    const auto clauses = demo().markdown.find("\n## Clauses\n");
    CHECK(demo().markdown.find("Never advance a catheter that has moved out") < clauses);
    CHECK(demo().markdown.find("not a policy to adopt") < clauses);
    CHECK(demo().markdown.find("instructions for use") < clauses);
    CHECK(demo().markdown.find("Neonates") < clauses);
    const auto list = demo().markdown.find("## Bedside checklist");
    CHECK(demo().markdown.find("Never push a catheter back in", list) != std::string::npos);
}

TEST_CASE("the page is well-formed, and every link in it leads somewhere in it") {
    CHECK(ill_formed(demo().html).empty());
    std::size_t links = 0;
    for (std::size_t at = demo().html.find("href=\""); at != std::string::npos;
         at = demo().html.find("href=\"", at + 1)) {
        const std::string target = demo().html.substr(at + 6, demo().html.find('"', at + 6) - at - 6);
        INFO(target);
        REQUIRE(target.front() == '#');
        CHECK(count(demo().html, " id=\"" + target.substr(1) + "\"") == 1);
        ++links;
    }
    CHECK(links > 100);
}

TEST_CASE("the page refers to nothing on the network") {
    for (const char* word : {"http:", "https:", "src=", "url(", "@import", "<script", "<link"}) {
        INFO(word);
        CHECK(demo().html.find(word) == std::string::npos);
    }
}

TEST_CASE("what a policy contains is shown as it is written, whatever it looks like") {
    const std::string sentence =
        "1. *Look* at <b>it</b> | [here](http://x.example) `often` & _always_ every 7 days ~~not~~ \\n # x.";
    const auto strange =
        made(policy("clause strange.one\n  \"" + sentence +
                    "\"\n  must look at least every 7 days\n  reason \"- <script>x</script> **b**\"\n"
                    "  advice \"> 1) a | b\"\n"
                    "source s \"A | *B*\" by \"<i>C</i>\" year 2020\n"
                    "accept missing.source for strange.one because \"| * |\"\n"));
    // `\n` is no escape of the language: the two characters are the policy's own.
    REQUIRE(strange.compilation.compiled->policy.clauses.at(0).sentence == sentence);
    INFO(strange.markdown);
    CHECK(ill_formed(strange.html).empty());
    const std::string text = text_of(strange.html);
    CHECK(count(text, sentence) == 1);
    CHECK(count(text, "- <script>x</script> **b**") == 1);
    CHECK(count(text, "> 1) a | b") == 1);
    CHECK(count(text, "A | *B*") == 1);
    CHECK(text.find("A *test* of <b>everything</b> | and more") != std::string::npos);
    for (const char* tag : {"<b>", "<script>", "<i>", "<em>", "<del>", "href=\"http"})
        CHECK(strange.html.find(tag) == std::string::npos);
}

TEST_CASE("a policy with a conflict is documented as not ready to sign, with what stands against it") {
    const auto open =
        made(policy("clause a\n  \"Look every 2 days.\"\n  must look at least every 2 days\n  reason \"r\"\n"
                    "clause b\n  \"Look no more often than every 3 days.\"\n"
                    "  must look no more often than every 3 days\n  reason \"r\"\n"));
    CHECK(open.document.open == 1);
    CHECK(open.markdown.find("**Not ready to sign.**") != std::string::npos);
    CHECK(open.markdown.find("(`conflict.interval`)") != std::string::npos);
    CHECK(demo().document.open == 0);
    CHECK(demo().markdown.find("Not ready to sign") == std::string::npos);
}

TEST_CASE("what changed since another edition is told clause by clause") {
    const std::string kept =
        "clause kept\n  \"Look every 4 days.\"\n  must look at least every 4 days\n  reason \"r\"\n";
    const auto before = policy(kept +
                                   "clause changed\n  \"Change it every 7 days.\"\n  must dressing_change at "
                                   "least every 7 days\n  reason \"r\"\n"
                                   "clause dropped\n  \"Chart it.\"\n  at dressing_change\n  must document "
                                   "dressing\n  reason \"r\"\n",
                               "1");
    REQUIRE(before.compiled);
    const auto after = made(policy(kept + "clause changed\n  \"Change it every 5 days.\"\n  must "
                                          "dressing_change at least every 5 days\n  reason \"r\"\n"
                                          "clause added\n  \"Never look twice in 1 h.\"\n  must look at most "
                                          "1 times in 1 h\n  reason \"r\"\n"),
                            &before);
    const auto from = after.markdown.find("## What changed");
    REQUIRE(from != std::string::npos);
    const std::string changes = after.markdown.substr(from, after.markdown.find("\n## ", from) - from);
    INFO(changes);
    CHECK(changes.find("Against edition 1") != std::string::npos);
    // Before and now side by side, each in the words of the text.
    const auto row = [&](const std::string& cells) { return changes.find(cells) != std::string::npos; };
    CHECK(row("| clause [`added`](#added-major) | (new) | \"Never look twice in 1 h.\" |"));
    CHECK(
        row("| clause [`changed`](#changed-major) | \"Change it every 7 days.\" | \"Change it every 5 "
            "days.\" | not looked at |"));
    CHECK(
        row("| clause [`changed`](#changed-major) | must dressing\\_change at least every 7 days | must "
            "dressing\\_change at least every 5 days | told below |"));
    CHECK(row("| clause `dropped` | \"Chart it.\" | (left out) |"));
    CHECK_FALSE(row("`kept`"));
    CHECK(demo().markdown.find("## What changed") == std::string::npos);
}

TEST_CASE("what changed in a ladder alone is told, and no row says the same twice") {
    const std::string clause =
        "clause call\n  \"Report it.\"\n  after look\n  then escalate ladder\n  reason \"r\"\n";
    const auto ladder = [&](const std::string& within, const std::string& hold) {
        return clause + "escalation ladder\n  \"Wrong.\"\n  first notify provider within " + within + "\n" +
               hold;
    };
    const std::string hold = "  no new dressing_change until look\n";
    const auto before = policy(ladder("1 h", hold), "1");
    REQUIRE(before.compiled);
    const std::string held = made(policy(ladder("1 h", "")), &before).markdown;
    CHECK(held.find(
              "| escalation `ladder` | no new dressing\\_change until look | (left out) | in part below |") !=
          std::string::npos);
    const std::string slower = made(policy(ladder("2 h", hold)), &before).markdown;
    CHECK(slower.find(
              "| escalation `ladder`, step 1 | first notify provider within 1 h | first notify provider "
              "within 2 h | told below |") != std::string::npos);
    CHECK(slower.find("| escalate ladder | escalate ladder |") == std::string::npos);
    CHECK(slower.find("the same words; what they stand for is changed above | looser |") !=
          std::string::npos);
}

TEST_CASE("document exits 0 for a policy that can be signed, 1 for one that cannot, 2 for one with errors") {
    const auto status = [](const std::string& arguments) {
        const int ran =
            std::system((std::string(LINELAW_PROGRAM) + " document " + arguments + " >/dev/null 2>&1")
                            .c_str());  // NOLINT
        return WEXITSTATUS(ran);
    };
    const std::string steps = LINELAW_SOURCE_DIR "/docs/tutorial/";
    CHECK(status(LINELAW_SOURCE_DIR "/policies/demo/quillhaven.linelaw --format html") == 0);
    CHECK(status(steps + "3-spelling-mended.linelaw") == 1);
    CHECK(status(steps + "2-the-paragraph.linelaw") == 2);
    CHECK(status(steps + "words.linelaw") == 2);
    CHECK(status("none.linelaw") == 2);
}
