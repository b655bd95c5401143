// What the compiler makes of the demo's policy, through the compiled policy's JSON; and the record that
// docs/records.md shows, read by that policy.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <regex>
#include <set>
#include <string>

#include "compiler/compile.hpp"
#include "runtime/policy_json.hpp"
#include "runtime/records.hpp"

using namespace linelaw::runtime;

namespace {

const std::filesystem::path source = LINELAW_SOURCE_DIR;

std::string text_of(const std::filesystem::path& path) {
    std::ifstream file(path);
    REQUIRE(file);
    return {std::istreambuf_iterator<char>(file), {}};
}

const Policy& demo_policy() {
    static const Policy policy = [] {
        auto compilation = linelaw::compiler::compile((source / "policies/demo/quillhaven.linelaw").string());
        for (const auto& d : compilation.diagnostics) UNSCOPED_INFO(d.code << ": " << d.message);
        REQUIRE(compilation.compiled);
        return std::move(compilation.compiled->policy);
    }();
    return policy;
}

std::set<std::string> codes_in(const std::string& text, const std::regex& pattern) {
    std::set<std::string> codes;
    for (auto i = std::sregex_iterator(text.begin(), text.end(), pattern); i != std::sregex_iterator(); ++i)
        codes.insert((*i)[1]);
    return codes;
}

}  // namespace

TEST_CASE("the demo's policy reads as it was compiled") {
    const std::string text = write_policy(demo_policy());
    const auto policy = read_policy(text);
    if (!policy) FAIL(policy.error().message);
    CHECK(write_policy(*policy) == text);
    CHECK(policy->content_hash == demo_policy().content_hash);
    for (std::size_t i = 0; i < policy->event_kinds.size(); ++i)
        CHECK(policy->event_kinds[i].slot_of_field == demo_policy().event_kinds[i].slot_of_field);
}

TEST_CASE("the record that the reference shows is read without a remark") {
    const std::string page = text_of(source / "docs/records.md");
    const std::size_t begin = page.find("```json\n") + 8;
    const std::string example = page.substr(begin, page.find("```", begin) - begin);
    RecordReader reader(demo_policy());
    Episode episode;
    std::vector<Spoiled> set_aside;
    const auto spoiled = reader.read(example, episode, set_aside);
    if (spoiled) FAIL(spoiled->code << ' ' << spoiled->pointer << ' ' << spoiled->reason);
    for (const Spoiled& value : set_aside) UNSCOPED_INFO(value.pointer << ' ' << value.reason);
    CHECK(set_aside.empty());
    for (const auto& [key, times] : reader.counts().unknown_keys) UNSCOPED_INFO(key);
    CHECK(reader.counts().unknown_keys.empty());
    CHECK(reader.counts().unknown_events.empty());
    CHECK(episode.events.size() == 4);  // with the insertion, from the line's keys
}

TEST_CASE("the reference lists every code with which a record or a value is refused, and no other") {
    const auto said =
        codes_in(text_of(source / "docs/records.md"), std::regex(R"(\| `((?:record|value)\.[a-z0-9_]+)`)"));
    std::set<std::string> used;
    for (const auto& file : std::filesystem::directory_iterator(source / "runtime"))
        if (file.path().filename().string().rfind("records_", 0) == 0)
            used.merge(codes_in(text_of(file.path()), std::regex(R"re("((?:record|value)\.[a-z0-9_]+)")re")));
    CHECK(said == used);
    CHECK(said.size() > 15);
}
