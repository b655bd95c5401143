// The reference is the contract: what its pages show compiles, its examples hold, every clause of it is run
// by one of them, and no construct of the tree goes unshown.
#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <set>
#include <typeindex>

#include "compiler/examples.hpp"
#include "compiler/layers.hpp"
#include "compiler/tree_walk.hpp"
#include "tests/grammar/corpus.hpp"
#include "texts_of_tests.hpp"

using namespace linelaw;
using namespace linelaw::tests;
using grammar::testing::Block;

namespace {

const std::string excerpt = "policy \"An excerpt\"\n";  // what the reader of the blocks puts before them

bool begins(const std::string& text, const std::string& with) {
    return text.rfind(with, 0) == 0;
}

// The blocks as three texts: the vocabulary, the facility's policy with all the excerpts, and the ward's that
// builds on it.
struct Reference {
    std::string vocabulary, facility, ward;
};
Reference reference() {
    Reference out;
    for (const Block& block : grammar::testing::reference_blocks()) {
        if (begins(block.content, "vocabulary"))
            out.vocabulary += block.content + "\n";
        else if (block.content.find("builds on ") != std::string::npos)
            out.ward += block.content + "\n";
        else
            out.facility +=
                (begins(block.content, excerpt) ? block.content.substr(excerpt.size()) : block.content) +
                "\n";
    }
    return out;
}

// "The blocks on this page are excerpts: what they use and do not declare the standard vocabulary declares."
std::string with_what_is_not_shown(const std::string& vocabulary) {
    const std::string standard = text_of_file("policies/line-care.linelaw");
    grammar::Sources sources;
    const auto shown = grammar::parse(sources, sources.add({"shown", vocabulary}));
    const auto all = grammar::parse(sources, sources.add({"standard", standard}));
    std::set<std::string> declared;
    for (const auto& item : shown.tree.items)
        if (const auto* name = compiler::name_of(item)) declared.insert(name->text);
    std::string whole = vocabulary;
    for (const auto& item : all.tree.items) {
        const bool event = std::holds_alternative<grammar::EventItem>(item.node);
        if (event && declared.count(compiler::name_of(item)->text) == 0)
            whole += "\n" + std::string(sources.slice(item.place)) + "\n";
    }
    return whole;
}

// Which alternatives of each variant of the tree were seen.
class Seen {
  public:
    template <typename Variant>
    void add(const Variant& variant) {
        seen_[typeid(Variant)].insert(variant.index());
    }
    void add_text(const std::string& content) {
        const auto read = grammar::testing::read(content);
        for (const auto& item : read.parsed.tree.items) add_item(item);
        if (const auto* header = std::get_if<grammar::PolicyHeader>(&read.parsed.tree.header))
            if (header->governs) compiler::walk(header->governs->condition, visitor_);
    }
    // The names of the alternatives of this variant that were not seen.
    template <typename... T>
    std::vector<std::string> missing(const std::variant<T...>* /*which*/) {
        const auto& seen = seen_[typeid(std::variant<T...>)];
        const std::vector<std::string> names = {typeid(T).name()...};
        std::vector<std::string> out;
        for (std::size_t i = 0; i < names.size(); ++i)
            if (seen.count(i) == 0) out.push_back(names[i]);
        return out;
    }
    const std::set<grammar::TypeKind>& types() const { return types_; }

  private:
    void add_item(const grammar::Item& item) {
        add(item.node);
        std::visit([&](const auto& node) { inside(node); }, item.node);
    }
    void attributes(const std::vector<grammar::Attribute>& all) {
        for (const auto& attribute : all) types_.insert(attribute.type.kind);
    }
    void inside(const grammar::PatientBlock& item) { attributes(item.attributes); }
    void inside(const grammar::LineBlock& item) { attributes(item.attributes); }
    void inside(const grammar::PartItem& item) { attributes(item.attributes); }
    void inside(const grammar::EventItem& item) { attributes(item.attributes); }
    void inside(const grammar::QuestionItem& item) { add(item.about); }
    void inside(const grammar::NeverItem& item) { compiler::walk(item.condition, visitor_); }
    void inside(const grammar::TermItem& item) { compiler::walk(item.condition, visitor_); }
    void inside(const grammar::TableItem& item) {
        for (const auto& row : item.rows)
            for (const auto& cell : row.given) add(cell.node);
    }
    void inside(const grammar::ClauseItem& item) {
        for (const auto& line : item.lines) {
            add(line.node);
            compiler::walk(line, visitor_);
            const auto* demand = std::get_if<grammar::Demand>(&line.node);
            if (demand == nullptr) continue;
            add(demand->node);
            if (const auto* within = std::get_if<grammar::Within>(&demand->node)) add(within->within);
        }
    }
    void inside(const grammar::BundleItem& item) { add(item.each); }
    void inside(const grammar::ReplaceItem& item) { add_item(*item.with); }
    template <typename Item>
    void inside(const Item& /*no variant in it*/) {}

    std::map<std::type_index, std::set<std::size_t>> seen_;
    std::set<grammar::TypeKind> types_;
    compiler::TreeVisitor visitor_{[this](const grammar::Expression& e) { add(e.node); },
                                   [](const grammar::EventPattern&) {}, [](const grammar::Window&) {}};
};

template <typename Variant>
void check_shown(Seen& seen, const std::set<std::string>& except = {}) {
    for (const auto& name : seen.missing(static_cast<const Variant*>(nullptr)))
        if (except.count(name) == 0) FAIL_CHECK("no block of the reference shows " << name);
}

}  // namespace

TEST_CASE(
    "The vocabulary of the reference compiles, with what it does not show taken from the standard one") {
    const auto compilation =
        compile_files({{"policy.linelaw", with_what_is_not_shown(reference().vocabulary)}});
    INFO(said(compilation));
    CHECK(compilation.compiled);
}

TEST_CASE("The policy of the reference compiles, and each of its examples holds") {
    const auto compilation = compile_files({{"policy.linelaw", reference().facility}});
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    const auto report = compiler::run_examples(*compilation.compiled);
    CHECK(report.results.size() >= 6);
    for (const auto& result : report.results)
        for (const auto& failed : result.failed) FAIL_CHECK(result.title << ": " << failed.message);
}

TEST_CASE("Every clause, ladder and bundle of the reference is run by one of its examples") {
    const auto compilation = compile_files({{"policy.linelaw", reference().facility}});
    REQUIRE(compilation.compiled);
    const auto& policy = compilation.compiled->policy;
    std::set<std::pair<runtime::OriginKind, std::uint32_t>> expected;
    for (const auto& example : compilation.compiled->examples)
        for (const auto& one : example.expected)
            if (one.times != 0U) expected.emplace(one.origin, one.item);
    for (std::uint32_t c = 0; c < policy.clauses.size(); ++c) {
        const auto& demand = policy.clauses[c].demand;
        if (std::holds_alternative<runtime::LeavesToJudgement>(demand)) continue;  // opens nothing
        if (std::holds_alternative<runtime::NoDemand>(demand)) continue;           // its ladder is expected
        INFO(policy.clauses[c].id);
        CHECK(expected.count({runtime::OriginKind::clause, c}) == 1);
    }
    for (std::uint32_t l = 0; l < policy.ladders.size(); ++l)
        CHECK(expected.count({runtime::OriginKind::ladder, l}) == 1);
    for (std::uint32_t b = 0; b < policy.bundles.size(); ++b)
        CHECK(expected.count({runtime::OriginKind::bundle, b}) == 1);
}

TEST_CASE("The ward's policy of the reference builds on the facility's") {
    const auto texts = reference();
    const auto compilation =
        compile_files({{"policy.linelaw", texts.ward}, {"facility.linelaw", texts.facility}});
    INFO(said(compilation));
    REQUIRE(compilation.compiled);
    const auto& clauses = compilation.compiled->policy.clauses;
    const auto by_id = [&](const std::string& id) {
        return std::find_if(clauses.begin(), clauses.end(), [&](const auto& c) { return c.id == id; });
    };
    CHECK(by_id("access.few") == clauses.end());
    REQUIRE(by_id("dressing.transparent") != clauses.end());
    CHECK(std::get<runtime::AtLeastEvery>(by_id("dressing.transparent")->demand).every.days == 5);
}

TEST_CASE("Every construct of the tree is shown by a block of the reference") {
    Seen seen;
    for (const Block& block : grammar::testing::reference_blocks()) seen.add_text(block.content);
    // A date is read in a condition so that a message can say what is wrong with it: nothing compares with
    // one.
    check_shown<decltype(grammar::Expression::node)>(seen, {typeid(grammar::Date).name()});
    check_shown<decltype(grammar::QuestionItem::about)>(seen);
    check_shown<decltype(grammar::Cell::node)>(seen);
    check_shown<grammar::DemandNode>(seen);
    check_shown<decltype(grammar::Within::within)>(seen);
    check_shown<decltype(grammar::ClauseLine::node)>(seen);
    check_shown<decltype(grammar::BundleItem::each)>(seen);
    check_shown<decltype(grammar::Item::node)>(seen);
    CHECK(seen.types().size() == static_cast<std::size_t>(grammar::TypeKind::key) + 1);
}
