// No word of the demo's policy is idle: striking out any one clause, grace, exception, `where`, `unless`,
// `for` or `while` changes what is found in the generated records. Each mutant is the policy's own text with
// those words struck out, run through the whole program.
#include <catch2/catch.hpp>
#include <regex>

#include "tests/demo/outside.hpp"

using namespace outside;

namespace {

struct Mutant {
    std::string struck;  // what is missing
    std::string text;
};

std::string policy_text() {
    std::string text = read(demo_policy());
    text.resize(text.find("# ---- Examples"));
    text = std::regex_replace(text, std::regex("\"\\.\\./line-care"), "\"line-care");
    return std::regex_replace(text, std::regex("\n   +"), " ");  // each line of an item on one line of text
}

std::string without(const std::string& text, std::size_t at, std::size_t length) {
    return text.substr(0, at) + text.substr(at + length);
}

// The id of the clause in which an offset stands.
std::string clause_at(const std::string& text, std::size_t offset) {
    const std::size_t begin = text.rfind("\nclause ", offset);
    if (begin == std::string::npos) return "before the first clause";
    const std::size_t name = begin + 8;
    return text.substr(name, text.find('\n', name) - name);
}

// Whether the words there are part of the policy, and of a clause that opens opportunities: neither a
// comment, nor a clause that leaves its question to judgement.
bool may_change_findings(const std::string& text, std::size_t at) {
    if (text[text.rfind('\n', at) + 1] == '#') return false;
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
        mutants.push_back({clause_at(text, at) + ": " + match->str(),
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

void each_changes_the_findings(const std::vector<Mutant>& mutants) {
    const Folder folder;
    generate(folder / "demo", 336, 2026);  // every aim of the generator twice
    write(folder / "line-care.linelaw", read(demo_vocabulary()));
    const auto audit_text = [&](const std::string& text) {
        write(folder / "policy.linelaw", text);
        return audit((folder / "policy.linelaw").string(), folder / "demo" / "records.ndjson", folder);
    };
    const Opportunities usual = audit_text(policy_text());
    for (const Mutant& mutant : mutants) {
        INFO("struck out of " << mutant.struck);
        CHECK(audit_text(mutant.text) != usual);
    }
}

}  // namespace

TEST_CASE("striking out any one clause of the demo's policy changes the findings") {
    const auto mutants = striking_clauses(policy_text());
    CHECK(mutants.size() >= 30);
    each_changes_the_findings(mutants);
}

TEST_CASE("striking out any one grace or exception of the demo's policy changes the findings") {
    const std::string text = policy_text();
    auto mutants = striking(text, " grace [0-9]+ (h|min|days?)");
    CHECK(mutants.size() >= 8);
    for (const Mutant& one : striking(text, "  except when [^\n]*\n")) mutants.push_back(one);
    CHECK(mutants.size() >= 11);
    each_changes_the_findings(mutants);
}

TEST_CASE("striking out any one where or unless of the demo's policy changes the findings") {
    const std::string text = policy_text();
    // To the end of the line, or to the words that go on after it.
    auto mutants = striking(text, "\\bwhere (?:(?! within | in the last |\n).)*");
    CHECK(mutants.size() == striking(text, "\\bwhere ").size());
    CHECK(mutants.size() >= 11);
    for (const Mutant& one : striking(text, " unless (?:(?! grace|\n).)*")) {
        if (one.struck.find("event.") != std::string::npos) mutants.push_back(one);
    }
    each_changes_the_findings(mutants);
}

TEST_CASE("striking out any one for or while of the demo's policy changes the findings") {
    std::vector<Mutant> mutants;
    for (const Mutant& one : striking(policy_text(), "\n  (for  |while)  (?! *each)[^\n]*")) {
        const std::string clause = one.struck.substr(0, one.struck.find(':'));
        if (clause != "dressing.neonate" && clause != "antisepsis.infant") mutants.push_back(one);
    }
    CHECK(mutants.size() >= 15);
    each_changes_the_findings(mutants);
}
