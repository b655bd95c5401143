// No word of the demo's policies is idle: striking out any one clause, grace, exception, `where`, `unless`,
// `for` or `while` changes what is found in the generated records. Each mutant is the policy's own text with
// those words struck out, compiled and run over the records in memory, up to the first record of which
// something else is found.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <regex>

#include "compiler/compile.hpp"
#include "runtime/engine.hpp"
#include "runtime/records.hpp"
#include "tests/demo/outside.hpp"

using namespace linelaw;
using namespace outside;

namespace {

struct Mutant {
    std::string struck;  // what is missing
    std::string text;
};

std::string without(const std::string& text, std::size_t at, std::size_t length) {
    return text.substr(0, at) + text.substr(at + length);
}

// A demo policy up to its examples, each line of an item on one line of text.
std::string items_of(const std::string& name) {
    std::string text = read(demo_policy(name));
    text.resize(std::min(text.size(), text.find("\nexample ")));
    return std::regex_replace(text, std::regex("\n   +"), " ") + "\n\n";
}

// The later edition as one text: the earlier one with its clauses replaced, and then what is added.
std::string edition_5() {
    std::string text = items_of("quillhaven");
    const std::string later = items_of("quillhaven-2027");
    const std::string replaces = "replace ";
    std::size_t begin = later.find("\n\nsource ") + 2;
    for (std::size_t end = 0; (end = later.find("\n\n", begin)) != std::string::npos; begin = end + 2) {
        std::string block = later.substr(begin, end - begin);
        if (block.rfind("accept ", 0) == 0) continue;  // names clauses that a mutant may lack
        if (block.rfind(replaces, 0) != 0) {
            text += block + "\n\n";
            continue;
        }
        block = block.substr(replaces.size());
        const std::size_t old = text.find('\n' + block.substr(0, block.find('\n') + 1)) + 1;
        REQUIRE(old != 0);
        text.replace(old, text.find("\n\n", old) - old, block);
    }
    return text;
}

// The id of the clause in which an offset stands.
std::string clause_at(const std::string& text, std::size_t offset) {
    const std::size_t begin = text.rfind("\nclause ", offset);
    if (begin == std::string::npos) return "before the first clause";
    const std::size_t name = begin + 8;
    return text.substr(name, text.find('\n', name) - name);
}

// Whether the words there are part of the policy, and of a clause that opens opportunities: neither a
// comment, nor a sentence, nor a clause that leaves its question to judgement.
bool may_change_findings(const std::string& text, std::size_t at) {
    const std::size_t line = text.rfind('\n', at) + 1;
    if (text[line] == '#' || text.compare(line, 3, "  \"") == 0) return false;
    const std::size_t begin = text.rfind("\nclause ", at);
    if (begin == std::string::npos) return true;
    const std::string clause = text.substr(begin, text.find("\n\n", begin) - begin);
    return clause.find("\n  leaves ") == std::string::npos;
}

// Every place at which the pattern stands and may change the findings, struck out.
std::vector<Mutant> striking(const std::string& text, const std::string& pattern) {
    std::vector<Mutant> mutants;
    const std::regex words(pattern);
    for (std::sregex_iterator match(text.begin(), text.end(), words), end; match != end; ++match) {
        const auto at = static_cast<std::size_t>(match->position());
        if (!may_change_findings(text, at + 1)) continue;
        mutants.push_back({clause_at(text, at + 1) + ": " + match->str(),
                           without(text, at, static_cast<std::size_t>(match->length()))});
    }
    return mutants;
}

std::vector<Mutant> striking_clauses(const std::string& text) {
    std::vector<Mutant> mutants;
    for (std::size_t at = text.find("\nclause "); at != std::string::npos;
         at = text.find("\nclause ", at + 1)) {
        const std::size_t end = text.find("\n\n", at + 1);
        const std::string block = text.substr(at, end - at);
        if (block.find("\n  leaves ") != std::string::npos) continue;  // opens no opportunity
        const std::string id = clause_at(text, at + 1);
        std::string rest = without(text, at, end - at);
        rest =
            std::regex_replace(rest, std::regex("(of   |, )" + id + "(, )?"), "$1");  // out of the bundle too
        rest = std::regex_replace(rest, std::regex(", \n"), "\n");
        mutants.push_back({id, rest});
    }
    return mutants;
}

// To the end of the line, or to the words that go on after it.
const char* const where = "\\bwhere (?:(?! within | in the last | each calendar |\n).)*";
const char* const unless = " unless (?:(?! grace|\n).)*";
const char* const grace = " grace [0-9]+ (h|min|days?)";
const char* const except = "  except when [^\n]*\n";
const char* const for_or_while = "\n  (for  |while)  (?! *each)[^\n]*";

// The policy of this text, as if it stood beside the others.
runtime::Policy compiled(const std::string& text) {
    const std::string path = demo_policy("mutant");
    auto compilation = compiler::compile(path, [&](const std::string& file) {
        return file == path ? std::optional<std::string>(text) : compiler::read_file(file);
    });
    for (const auto& diagnostic : compilation.diagnostics) {
        INFO(diagnostic.message);
        CHECK(diagnostic.severity != grammar::Severity::error);
    }
    REQUIRE(compilation.compiled);
    return std::move(compilation.compiled->policy);
}

// Judges records one after the other by one policy.
class Judge {
  public:
    explicit Judge(const std::string& text) : policy_(compiled(text)), reader_(policy_), engine_(policy_) {}

    // What is found in it, one line an opportunity.
    std::vector<std::string> found(const std::string& record) {
        std::vector<std::string> lines;
        if (reader_.read(record, episode_, set_aside_)) return lines;
        for (const runtime::Opportunity& o : engine_.judge(episode_))
            lines.push_back(
                fmt::format("{} {} {} {}", id_of(o), o.step, o.opened, static_cast<int>(o.outcome)));
        std::sort(lines.begin(), lines.end());
        return lines;
    }

  private:
    const std::string& id_of(const runtime::Opportunity& o) const {
        switch (o.origin) {
            case runtime::OriginKind::clause:
                return policy_.clauses[o.item].id;
            case runtime::OriginKind::ladder:
                return policy_.ladders[o.item].id;
            default:
                return policy_.bundles[o.item].id;
        }
    }

    runtime::Policy policy_;
    runtime::RecordReader reader_;
    runtime::Engine engine_;
    runtime::Episode episode_;
    std::vector<runtime::Spoiled> set_aside_;
};

class Records {
  public:
    Records(const std::string& policy, const std::string& text, int episodes) {
        const Folder folder;
        generate(folder / "demo", episodes, 2026, policy);
        records_ = lines(read(folder / "demo" / "records.ndjson"));
        Judge judge(text);
        for (const std::string& record : records_) usual_.push_back(judge.found(record));
    }

    void each_is_noticed(const std::vector<Mutant>& mutants) const {
        for (const Mutant& mutant : mutants) {
            INFO("struck out of " << mutant.struck);
            Judge judge(mutant.text);
            bool noticed = false;
            for (std::size_t i = 0; i < records_.size() && !noticed; ++i)
                noticed = judge.found(records_[i]) != usual_[i];
            CHECK(noticed);
        }
    }

  private:
    std::vector<std::string> records_;
    std::vector<std::vector<std::string>> usual_;
};

const Records& records_of_edition_5() {
    static const Records once("quillhaven-2027", edition_5(), 540);  // every aim of the generator twice
    return once;
}

}  // namespace

TEST_CASE("a mutant that is none is not noticed") {
    const std::string text = edition_5();
    Judge one(text);
    Judge other(text);
    const Folder folder;
    generate(folder / "demo", 20, 2026, "quillhaven-2027");
    for (const std::string& record : lines(read(folder / "demo" / "records.ndjson")))
        CHECK(one.found(record) == other.found(record));
}

TEST_CASE("striking out any one clause of the demo's policy changes the findings") {
    const auto mutants = striking_clauses(edition_5());
    CHECK(mutants.size() >= 62);
    records_of_edition_5().each_is_noticed(mutants);
}

TEST_CASE("striking out any one grace or exception of the demo's policy changes the findings") {
    const std::string text = edition_5();
    auto mutants = striking(text, grace);
    CHECK(mutants.size() >= 9);
    for (const Mutant& one : striking(text, except)) mutants.push_back(one);
    CHECK(mutants.size() >= 12);
    records_of_edition_5().each_is_noticed(mutants);
}

TEST_CASE("striking out any one where or unless of the demo's policy changes the findings") {
    const std::string text = edition_5();
    auto mutants = striking(text, where);
    CHECK(mutants.size() == striking(text, "\\bwhere ").size());
    CHECK(mutants.size() >= 17);
    for (const Mutant& one : striking(text, unless)) {
        if (one.struck.find("event.") != std::string::npos) mutants.push_back(one);
    }
    records_of_edition_5().each_is_noticed(mutants);
}

TEST_CASE("striking out any one for or while of the demo's policy changes the findings") {
    const auto mutants = striking(edition_5(), for_or_while);
    CHECK(mutants.size() >= 25);
    records_of_edition_5().each_is_noticed(mutants);
}

TEST_CASE("the same of the two units that build on it") {
    for (const char* unit : {"neonatal", "home-infusion"}) {
        INFO(unit);
        const std::string text = items_of(unit);
        auto mutants = striking_clauses(text);
        for (const char* words : {where, grace, for_or_while}) {
            for (const Mutant& one : striking(text, words)) mutants.push_back(one);
        }
        CHECK(mutants.size() >= 8);
        Records(unit, text, 300).each_is_noticed(mutants);
    }
}
