// docs/disagreements.md, cell by cell: what the page says that the program said of two sources is asked of
// the program again. Each claim was read from the sources' own words before; the page may name no clause, and
// no pair of policies, that is not asked here.
#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <variant>

#include "compiler/analysis/analysis.hpp"
#include "compiler/read_back.hpp"
#include "tests/tutorial/checked.hpp"

using namespace linelaw;
using namespace linelaw::tests;
using compiler::Compilation;
using compiler::analysis::Comparison;
using Kind = compiler::analysis::Difference::Kind;

namespace {

// ---- what is asked

// `compare OLD NEW`: a difference of this kind, of this question or clause, with these words in its answers.
struct Compared {
    std::string old_policy, new_policy;
    Kind kind;
    std::string about;  // the question; else a clause of either
    std::string before, after;
    // Some of the situation. NOLINTNEXTLINE(readability-redundant-string-init): may be left out of a row
    std::string where = "";
};
struct NotKept {  // `check POLICY --against BASELINE`
    std::string policy, baseline, clause;
};
struct Together {  // `check --together`: this code, of these two clauses
    std::string first, second, code, clause_of_first, clause_of_second;
};
struct Written {  // `check` of a file of docs/: this code, with these words in its message
    std::string file, code;
    std::vector<std::string> words;
};
struct TheSame {  // no difference of `compare OLD NEW` speaks of it otherwise
    std::string old_policy, new_policy, about;
};
struct Elsewhere {};  // settled by the language, by another page, or out of reach: other cases here hold it

using Claim = std::variant<Compared, NotKept, Together, Written, TheSame, Elsewhere>;
struct Row {
    std::string subject;
    std::vector<Claim> claims;
};

// In the page's order.
const std::vector<Row>& rows() {
    static const std::vector<Row> all = {
        {"transparent dressing",
         {Written{"disagreements/tunnelled", "conflict.interval", {"dressing.longest", "dressing.tunnelled"}},
          Compared{"hicpac", "ins", Kind::stricter, "dressing_interval", "left to judgement",
                   "at least every 7 days", "at least 29 days and less than 18 years"},
          Compared{"hicpac", "ins", Kind::stricter, "dressing_interval", "left to judgement",
                   "at least every 7 days", "midline"},
          NotKept{"shea", "hicpac", "dressing.tunnelled"}}},
        {"gauze dressing",
         {Compared{"hicpac", "ins", Kind::stricter, "dressing_interval", "every 2 days", "every 2 days",
                   "at least 29 days"},
          Compared{"hicpac", "shea", Kind::stricter, "dressing_interval", "every 2 days", "every 2 days",
                   "at least 29 days"},
          Compared{"hicpac", "ins", Kind::looser, "dressing_interval", "every 2 days", "left to judgement",
                   "less than 29 days"}}},
        {"gauze under a film",
         {Written{"tutorial/3-spelling-mended",
                  "gap.question",
                  {"dressing_interval", "where dressing is gauze_under_transparent"}}}},
        {"first change after insertion", {Elsewhere{}}},
        {"newborns' dressings",
         {Compared{"hicpac", "ins", Kind::looser, "dressing_interval", "every 2 days", "left to judgement",
                   "less than 29 days"},
          Compared{"hicpac", "shea", Kind::looser, "dressing_interval", "every 2 days", "left to judgement",
                   "less than 29 days"},
          Together{"hicpac", "ins", "diverging.answer", "dressing.gauze", "dressing.neonate"}}},
        {"dressing with chlorhexidine, by age",
         {NotKept{"hicpac", "shea", "dressing.chlorhexidine"},
          NotKept{"shea", "hicpac", "dressing.chlorhexidine_adult"},
          NotKept{"shea", "hicpac", "dressing.chlorhexidine_preterm"}}},
        {"chlorhexidine on the skin, by age",
         {NotKept{"hicpac", "nhsn", "insertion.prep"},
          Written{"disagreements/ages",
                  "conflict.values",
                  {"prep.days", "prep.months", "at least 60 days and less than 2 months"}},
          Written{"disagreements/ages",
                  "gap.question",
                  {"antiseptic_choice", "at least 2 months and less than 60 days"}}}},
        {"continuous sets",
         {Compared{"hicpac", "shea", Kind::looser, "set_interval", "no more often than every 96 h",
                   "at least every 7 days", "continuous"},
          Compared{"hicpac", "shea", Kind::stricter, "set_interval", "left to judgement",
                   "at least every 7 days", "intermittent"}}},
        {"96 h as a shortest time",
         {Written{"disagreements/sets", "conflict.interval", {"set.regular", "set.rest"}}}},
        {"intermittent sets",
         {Compared{"hicpac", "ins", Kind::stricter, "set_interval", "left to judgement", "every 24 h",
                   "intermittent"}}},
        {"nutrition and lipid sets",
         {Together{"hicpac", "ins", "conflict.interval", "set.continuous", "set.nutrition"},
          Together{"hicpac", "epic3", "conflict.interval", "set.continuous", "set.lipid"},
          Compared{"hicpac", "ins", Kind::incomparable, "set_interval",
                   "at least every 7 days no more often than every 96 h", "every 24 h", "nutrition"}}},
        {"blood sets",
         {Compared{"hicpac", "ins", Kind::stricter, "set_interval", "every 24 h", "every 4 h", "blood"},
          NotKept{"hicpac", "epic3", "set.blood"}}},
        {"propofol sets", {TheSame{"hicpac", "ins", "set.propofol"}}},
        {"connectors",
         {Compared{"hicpac", "ins", Kind::stricter, "connector.shortest", "every 72 h", "every 96 h"},
          Written{"disagreements/connector",
                  "conflict.interval",
                  {"nutrition.set", "connector.with_set", "connector.rest"}}}},
        {"time of the hub's scrub",
         {NotKept{"hicpac", "shea", "hub.scrub"}, NotKept{"hicpac", "epic3", "hub.scrub"}}},
        {"time of the hub's drying",
         {Compared{"hicpac", "ins", Kind::added, "hub.dry", "", "hub_dry_time at least 20 s",
                   "chg_alcohol"}}},
        {"time of the skin's drying",
         {Compared{"hicpac", "ins", Kind::stricter, "antiseptic_drying", "left to judgement", "30 s",
                   "chg_alcohol"},
          Compared{"hicpac", "ins", Kind::stricter, "antiseptic_drying", "left to judgement", "90 s",
                   "povidone_iodine"}}},
        {"gloves at a dressing change", {Elsewhere{}}},
        {"circumference of the arm",
         {Compared{"hicpac", "ins", Kind::added, "arm.swollen", "", "notification within the same shift"},
          Compared{"hicpac", "ins", Kind::added, "document.arm", "",
                   "document arm_place, arm_circumference"}}},
        {"external length",
         {Compared{"hicpac", "ins", Kind::added, "length.charted", "", "document external_length"}}},
        {"dwell of a peripheral line", {Elsewhere{}}},
        {"dwell of a midline", {Elsewhere{}}},
        {"emergency lines", {TheSame{"hicpac", "ins", "insertion.emergency"}}},
        {"port needle and idle port",
         {Compared{"hicpac", "ins", Kind::dropped, "needle_interval", "left to judgement", ""}}},
        {"looking at the site",
         {NotKept{"hicpac", "epic3", "site.peripheral"},
          Compared{"hicpac", "ins", Kind::stricter, "site_interval", "each calendar day", "every 4 h"}}},
        {"counting days", {Elsewhere{}}},
        {"days 1 and 2", {Elsewhere{}}},
        {"transfer and discharge", {Elsewhere{}}},
        {"several lines", {Elsewhere{}}},
        {"all or none", {Elsewhere{}}},
        {"hand hygiene", {Elsewhere{}}},
        {"rules of run charts", {Elsewhere{}}},
        {"review of the need", {NotKept{"shea", "hicpac", "need.daily"}}},
        {"scale of phlebitis", {NotKept{"hicpac", "epic3", "site.graded"}}},
        {"\"immediately\"",
         {Compared{"hicpac", "demo", Kind::stricter, "dressing_compromised", "left to judgement",
                   "dressing_change within 2 h"}}},
        {"what almost every source leaves out", {Elsewhere{}}},
    };
    return all;
}

// ---- the program's answers, each asked for once

const Compilation& policy(const std::string& name) {
    static std::map<std::string, Compilation> read;
    const auto found = read.find(name);
    if (found != read.end()) return found->second;
    const std::string file = name == "demo"   ? "demo/quillhaven"
                             : name == "nhsn" ? "baseline/nhsn-insertion"
                                              : "baseline/" + name;
    auto compilation = compiler::compile(LINELAW_SOURCE_DIR "/policies/" + file + ".linelaw");
    REQUIRE(compilation.compiled);
    return read.emplace(name, std::move(compilation)).first->second;
}
const Comparison& compared(const std::string& before, const std::string& after) {
    static std::map<std::pair<std::string, std::string>, Comparison> done;
    const auto key = std::pair(before, after);
    if (done.count(key) == 0) done[key] = compiler::analysis::compare(policy(before), policy(after));
    return done[key];
}
using Diagnostics = std::vector<grammar::Diagnostic>;
const Diagnostics& measured(const std::string& name, const std::string& baseline) {
    static std::map<std::pair<std::string, std::string>, Diagnostics> done;
    const auto key = std::pair(name, baseline);
    if (done.count(key) == 0) done[key] = compiler::analysis::measure_against(policy(name), policy(baseline));
    return done[key];
}
const Diagnostics& together(const std::string& first, const std::string& second) {
    static std::map<std::pair<std::string, std::string>, Diagnostics> done;
    const auto key = std::pair(first, second);
    if (done.count(key) == 0) {
        const auto both = compiler::analysis::together({&policy(first), &policy(second)});
        REQUIRE(both.left_out.empty());
        done[key] = compiler::analysis::analyse(both.compilation).diagnostics;
    }
    return done[key];
}

bool has(const std::string& text, const std::string& words) {
    return text.find(words) != std::string::npos;
}
bool among(const std::vector<std::string>& ids, const std::string& id) {
    return std::find(ids.begin(), ids.end(), id) != ids.end();
}

// ---- whether a claim holds

struct Holds {
    bool operator()(const Compared& c) const {
        const auto& all = compared(c.old_policy, c.new_policy).differences;
        return std::any_of(all.begin(), all.end(), [&](const auto& d) {
            std::string situation;
            for (const auto& [what, value] : d.situation) situation += what + ' ' + value + "; ";
            const bool about =
                d.question == c.about || among(d.clauses_before, c.about) || among(d.clauses_after, c.about);
            return d.kind == c.kind && about && has(d.before, c.before) && has(d.after, c.after) &&
                   has(situation, c.where);
        });
    }
    bool operator()(const NotKept& c) const {
        const auto& all = measured(c.policy, c.baseline);
        return std::any_of(all.begin(), all.end(), [&](const auto& d) {
            return d.code == "loose.baseline" && has(d.message, "the baseline's `" + c.clause + "`");
        });
    }
    bool operator()(const Together& c) const {
        const auto& all = together(c.first, c.second);
        return std::any_of(all.begin(), all.end(), [&](const auto& d) {
            return d.code == c.code && has(d.message, '`' + c.first + ": " + c.clause_of_first + '`') &&
                   has(d.message, '`' + c.second + ": " + c.clause_of_second + '`');
        });
    }
    bool operator()(const Written& c) const {
        const auto file = checked("docs/" + c.file + ".linelaw");
        UNSCOPED_INFO(file.said);
        const auto& all = file.compilation.diagnostics;
        return std::any_of(all.begin(), all.end(), [&](const auto& d) {
            return d.code == c.code && std::all_of(c.words.begin(), c.words.end(),
                                                   [&](const auto& words) { return has(d.message, words); });
        });
    }
    bool operator()(const TheSame& c) const {
        const auto& all = compared(c.old_policy, c.new_policy).differences;
        const auto speaks = [&](const auto& d) {
            return among(d.clauses_before, c.about) || among(d.clauses_after, c.about);
        };
        // What answers no question is told only where it differs.
        const auto has_it = [&](const std::string& name) {
            const auto& clauses = policy(name).compiled->policy.clauses;
            return std::any_of(clauses.begin(), clauses.end(),
                               [&](const auto& clause) { return clause.id == c.about; });
        };
        return has_it(c.old_policy) && has_it(c.new_policy) &&
               std::none_of(all.begin(), all.end(),
                            [&](const auto& d) { return d.kind != Kind::same && speaks(d); });
    }
    bool operator()(const Elsewhere& /*other cases*/) const { return true; }
};

// ---- the page

struct Line {
    std::string subject, said;
};
std::vector<Line> table_of_the_page() {
    std::ifstream in(LINELAW_SOURCE_DIR "/docs/disagreements.md");
    std::vector<Line> out;
    for (std::string line; std::getline(in, line);) {
        static const std::regex row(R"(^\| (.*) \| (.*) \| (.*) \|$)");
        std::smatch cells;
        if (std::regex_match(line, cells, row) && cells[1] != "subject") out.push_back({cells[1], cells[3]});
    }
    return out;
}

// The clauses and the pairs of policies that a row's claims ask about.
struct Asked {
    std::set<std::string> clauses;
    std::set<std::pair<std::string, std::string>> pairs;

    void operator()(const Compared& c) {
        clauses.insert(c.about);
        pairs.emplace(c.old_policy, c.new_policy);
    }
    void operator()(const NotKept& c) {
        clauses.insert(c.clause);
        pairs.emplace(c.policy, c.baseline);
    }
    void operator()(const Together& c) {
        clauses.insert({c.clause_of_first, c.clause_of_second});
        pairs.emplace(c.first, c.second);
    }
    void operator()(const Written& c) { clauses.insert(c.words.begin(), c.words.end()); }
    void operator()(const TheSame& c) {
        clauses.insert(c.about);
        pairs.emplace(c.old_policy, c.new_policy);
    }
    void operator()(const Elsewhere& /*nothing*/) {}
};

std::string in_the_pages_words(Kind kind) {
    static const std::map<Kind, std::string> words = {{Kind::stricter, "stricter"},
                                                      {Kind::looser, "looser"},
                                                      {Kind::incomparable, "neither stricter nor looser"},
                                                      {Kind::added, "added"},
                                                      {Kind::dropped, "dropped"}};
    return words.at(kind);
}

}  // namespace

TEST_CASE("the table of disagreements has its thirty-six rows, and what each says the program says") {
    const auto page = table_of_the_page();
    REQUIRE(page.size() == 36);
    REQUIRE(rows().size() == page.size());
    std::size_t found = 0;
    for (std::size_t r = 0; r < page.size(); ++r) {
        INFO(page[r].subject << ": " << page[r].said);
        CHECK(page[r].subject == rows()[r].subject);
        bool by_the_program = false;
        for (std::size_t c = 0; c < rows()[r].claims.size(); ++c) {
            const auto& claim = rows()[r].claims[c];
            INFO("claim " << c + 1);
            CHECK(std::visit(Holds{}, claim));
            by_the_program = by_the_program || !(std::holds_alternative<Elsewhere>(claim) ||
                                                 std::holds_alternative<TheSame>(claim));
        }
        found += by_the_program ? 1 : 0;
    }
    CHECK(found == 22);  // as the page says; at least fifteen would do
}

TEST_CASE("a cell names no clause, no pair of policies and no difference that is not asked for here") {
    static const std::regex clause(R"(`([a-z_]+\.[a-z_]+)`)");
    static const std::regex pair(
        R"(`([a-z0-9]+)` (?:to|against) `([a-z0-9]+)`|[Tt]ogether, `([a-z0-9]+)` and `([a-z0-9]+)`)");
    static const std::set<std::string> codes = {"conflict.interval", "gap.question", "gap.response",
                                                "drift.sentence", "diverging.answer"};
    const auto page = table_of_the_page();
    REQUIRE(page.size() == rows().size());
    for (std::size_t r = 0; r < page.size(); ++r) {
        INFO(page[r].subject << ": " << page[r].said);
        Asked asked;
        for (const auto& claim : rows()[r].claims) std::visit(asked, claim);
        const std::string& said = page[r].said;
        for (std::sregex_iterator at(said.begin(), said.end(), clause), end; at != end; ++at) {
            INFO(at->str(1));
            CHECK((codes.count(at->str(1)) == 1 || asked.clauses.count(at->str(1)) == 1));
        }
        for (std::sregex_iterator at(said.begin(), said.end(), pair), end; at != end; ++at) {
            INFO(at->str());
            CHECK(asked.pairs.count({at->str(1) + at->str(3), at->str(2) + at->str(4)}) == 1);
        }
        for (const auto& claim : rows()[r].claims)
            if (const auto* c = std::get_if<Compared>(&claim);
                c != nullptr && c->about != "connector.shortest")
                CHECK(has(said, in_the_pages_words(c->kind)));
    }
}

TEST_CASE("what the page calls out of reach is asked for by no baseline, and in no word of the vocabulary") {
    std::set<std::string> removals;
    for (const char* name : {"hicpac", "ins", "shea", "epic3", "nhsn"}) {
        const auto& compiled = policy(name).compiled->policy;
        for (const auto& clause : compiled.clauses) {
            const auto* within = std::get_if<runtime::Within>(&clause.demand);
            if (within == nullptr) continue;
            for (const auto& pattern : within->events) {
                INFO(name << ": " << clause.id);
                const auto& awaited = compiled.event_kinds[pattern.event].name;
                if (awaited == "removal") removals.insert(clause.id);
                CHECK(awaited != "dressing_change");  // neither a first change nor a time for a bad dressing
            }
        }
    }
    // No limit on the dwell of a peripheral line or a midline.
    CHECK(removals == std::set<std::string>{"insertion.emergency", "umbilical.artery", "umbilical.vein"});
    for (const char* name : {"hicpac", "ins", "shea"})  // "immediately"
        for (const auto& clause : policy(name).compiled->policy.clauses)
            if (clause.id == "dressing.compromised")
                CHECK(std::holds_alternative<runtime::LeavesToJudgement>(clause.demand));
    const auto& words = policy("hicpac").compiled->policy;
    for (const auto& kind : words.event_kinds)
        for (const char* not_there : {"hanging", "container", "vial", "admission"})
            CHECK_FALSE(has(kind.name, not_there));
    for (const auto* attributes : {&words.line, &words.patient})
        for (const auto& attribute : *attributes) CHECK_FALSE(has(attribute.name, "therapy"));
}

TEST_CASE("a step cannot be one of two yet, and a sentence without its rule's number is pointed out") {
    const auto head = [](const std::string& clause) {
        return compiler::compile("policies/p.linelaw", [&](const std::string& path) {
            std::ifstream in(LINELAW_SOURCE_DIR "/policies/line-care.linelaw");
            std::ostringstream words;
            words << in.rdbuf();
            return std::optional<std::string>(path != "policies/p.linelaw"
                                                  ? words.str()
                                                  : "policy \"P\"\n  edition 1\n  time zone UTC\n  uses "
                                                    "vocabulary \"line-care.linelaw\"\n" +
                                                        clause + "  reason \"A test.\"\n");
        });
    };
    CHECK_FALSE(head("clause a\n  \"Gloves, clean or sterile.\"\n  at dressing_change\n"
                     "  must follow steps clean_gloves or sterile_gloves\n")
                    .compiled);
    const auto soon = head(
        "clause a\n  \"Change a damp dressing immediately.\"\n"
        "  after site_assessment where dressing_condition is damp\n  must dressing_change within 2 h\n");
    REQUIRE(soon.compiled);
    CHECK(std::any_of(soon.diagnostics.begin(), soon.diagnostics.end(),
                      [](const auto& d) { return d.code == "drift.sentence"; }));
    const auto said = [&](const std::string& demand) {
        const auto made = head("clause a\n  \"A test.\"\n  must " + demand + "\n");
        REQUIRE(made.compiled);
        return compiler::read_back(made.compiled->policy, made.compiled->policy.clauses.front());
    };
    // Counting days, and the review of the need: two demands each, which the read-back tells apart.
    CHECK(has(said("dressing_change at least every 7 calendar days"), "midnight"));
    CHECK_FALSE(has(said("dressing_change at least every 7 days"), "midnight"));
    CHECK(has(said("line_need_review each calendar day"), "calendar day"));
    CHECK(has(said("line_need_review at least every 24 h"), "24 h"));
    // Complications without a response: every baseline has them, and lets them stand openly.
    for (const auto& event : {"fever", "migration", "occlusion", "air_embolism"}) {
        const auto found = compiler::analysis::analyse(policy("hicpac")).diagnostics;
        CHECK(std::any_of(found.begin(), found.end(), [&](const auto& d) {
            return d.code == "gap.response" && has(d.message, std::string("`") + event + '`');
        }));
    }
}
