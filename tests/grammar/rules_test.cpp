// The rules themselves: the tests' texts make each of them succeed and fail.
//
// Costly to compile: the whole grammar is instantiated once more, with a control that counts. So this program
// is built without debug information, and what is counted, and for which rules, is told without a string.
#include <cxxabi.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <tao/pegtl/visit.hpp>
#include <typeinfo>

#include "corpus.hpp"
#include "grammar/rules.hpp"

using namespace linelaw::grammar;
using namespace linelaw::grammar::testing;

namespace {

struct Count {
    const std::type_info* rule = nullptr;
    std::size_t tried = 0;
    std::size_t successes = 0;  // the others did not match, or something in them was expected and missing
};
template <typename Rule>
Count count{&typeid(Rule), 0, 0};

// The rules of the language by their names, without the helpers that they are made of, which are all
// instances of a template.
template <typename Rule>
constexpr bool named = true;
template <template <typename...> class T, typename... R>
constexpr bool named<T<R...>> = false;
template <template <auto...> class T, auto... V>
constexpr bool named<T<V...>> = false;
template <template <typename, auto, auto...> class T, typename R, auto V, auto... W>
constexpr bool named<T<R, V, W...>> = false;
template <template <auto, typename, typename...> class T, auto V, typename R, typename... S>
constexpr bool named<T<V, R, S...>> = false;

template <typename Rule>
struct counted : keep<Rule> {
    static constexpr bool enable = named<Rule> || keep<Rule>::enable;
    template <typename Input>
    static void start(const Input& in, ScanState& state) {
        keep<Rule>::start(in, state);
        if constexpr (named<Rule>) ++count<Rule>.tried;
    }
    template <typename Input>
    static void success(const Input& in, ScanState& state) {
        keep<Rule>::success(in, state);
        if constexpr (named<Rule>) ++count<Rule>.successes;
    }
};

// Every named rule that can be reached, one that is never tried too.
std::vector<const Count*> counts;
template <typename Rule>
struct list_it {
    static void visit() {
        if constexpr (named<Rule>) counts.push_back(&count<Rule>);
    }
};

// Texts with one fault each, where the other texts have none: faults.txt, between lines of dashes.
std::vector<std::string> faulty_texts() {
    std::ifstream in(LINELAW_SOURCE_DIR "/tests/grammar/faults.txt");
    REQUIRE(in.good());
    std::vector<std::string> all(1);
    for (std::string line; std::getline(in, line);) {
        if (line == "----")
            all.emplace_back();
        else
            all.back() += line + '\n';
    }
    return all;
}

// Empty for what is not a rule of the language, such as PEGTL's `eof`.
std::string name_of(const std::type_info& rule) {
    int status = 0;
    const std::unique_ptr<char, decltype(&std::free)> text(
        abi::__cxa_demangle(rule.name(), nullptr, nullptr, &status), &std::free);
    const std::string whole = status == 0 ? text.get() : rule.name();
    const std::string space = "linelaw::grammar::rules::";
    return whole.rfind(space, 0) == 0 ? whole.substr(space.size()) : "";
}

// Rules that match whatever stands there.
const std::set<std::string> never_fail = {"text", "clause_lines"};
// Rules that are there for the fault that they meet.
const std::set<std::string> never_succeed = {"unknown_line", "no_item", "nothing_asked"};
// A net under the lines of an item: what begins no line is met by the end of the line before it.
const std::set<std::string> never_tried = {"unknown_line"};

}  // namespace

TEST_CASE("the tests' texts make every rule succeed and fail") {
    pegtl::visit<rules::text, list_it>();
    std::vector<SourceText> texts = project_texts();
    for (const char* folder : {"whole", "broken"}) {
        for (SourceText& text : test_texts(folder)) texts.push_back(std::move(text));
    }
    for (std::string& text : faulty_texts()) texts.push_back({"a fault", std::move(text)});
    for (const auto& block : reference_blocks()) texts.push_back({"reference", block.content});
    for (const SourceText& text : texts) {
        Scan scan;
        ScanState state(text.content, 0, scan);
        pegtl::memory_input<pegtl::tracking_mode::lazy, pegtl::eol::lf_crlf, const char*> in(
            text.content.data(), text.content.data() + text.content.size(), "");
        CHECK(pegtl::parse<rules::text, pegtl::nothing, counted>(in, state));
    }
    CHECK(counts.size() > 150);
    for (const Count* one : counts) {
        const std::string name = name_of(*one->rule);
        if (name.empty()) continue;
        if (one->tried == 0 && never_tried.count(name) == 1) continue;
        if (one->successes == 0 && never_succeed.count(name) == 0) FAIL_CHECK("never succeeds: " << name);
        if (one->tried == one->successes && never_fail.count(name) == 0) FAIL_CHECK("never fails: " << name);
    }
}
