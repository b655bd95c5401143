#include "runtime/policy_json.hpp"

#include <xxhash.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <random>
#include <set>
#include <string>

#include "runtime/policy_check.hpp"
#include "sample_policy.hpp"

using namespace linelaw::runtime;
using nlohmann::json;

namespace {

// The content hash by another hand: XXH3-128 of the compact document without it.
std::string sealed(json document) {
    document.erase("content_hash");
    const std::string bytes = document.dump(-1, ' ', false, json::error_handler_t::replace);
    const XXH128_hash_t hash = XXH3_128bits(bytes.data(), bytes.size());
    char text[33];
    std::snprintf(text, sizeof text, "%016llx%016llx", static_cast<unsigned long long>(hash.high64),
                  static_cast<unsigned long long>(hash.low64));
    document["content_hash"] = text;
    return document.dump();
}

json sample() {
    return json::parse(write_policy(sample_policy()));
}

// The message with which a changed and sealed document is refused.
std::string refusal(const json& document) {
    const auto policy = read_policy(sealed(document));
    REQUIRE_FALSE(policy);
    return policy.error().message;
}

void pointers_of(const json& node, const json::json_pointer& at, std::vector<json::json_pointer>& out) {
    out.push_back(at);
    if (node.is_object())
        for (const auto& [key, child] : node.items()) pointers_of(child, at / key, out);
    if (node.is_array())
        for (std::size_t i = 0; i < node.size(); ++i) pointers_of(node[i], at / i, out);
}

}  // namespace

TEST_CASE("the sample policy has every kind of expression and demand") {
    const Policy policy = sample_policy();
    std::set<std::size_t> expressions;
    std::set<std::size_t> demands;
    for (const Expression& x : policy.expressions) expressions.insert(x.index());
    for (const Clause& c : policy.clauses) demands.insert(c.demand.index());
    CHECK(expressions.size() == std::variant_size_v<Expression>);
    CHECK(demands.size() == std::variant_size_v<Demand>);
}

TEST_CASE("a compiled policy reads as it was written") {
    const std::string text = write_policy(sample_policy());
    const auto policy = read_policy(text);
    if (!policy) FAIL(policy.error().message);
    CHECK(write_policy(*policy) == text);

    const Policy original = sample_policy();
    CHECK(policy->clauses.size() == original.clauses.size());
    CHECK(policy->clauses[0].demand.index() == original.clauses[0].demand.index());
    CHECK(std::get<AtLeastEvery>(policy->clauses[0].demand).grace.elapsed == 12 * microseconds_per_hour);
    CHECK(policy->clauses[0].undocumented == UndocumentedCounts::not_met);
    CHECK(policy->in_force_until == original.in_force_until);
    CHECK(policy->states[1].initial_slot == 1);
    CHECK(policy->states[0].initial_slot == none);
    for (std::size_t i = 0; i < original.event_kinds.size(); ++i)
        CHECK(policy->event_kinds[i].slot_of_field == original.event_kinds[i].slot_of_field);
}

TEST_CASE("the same policy gives the same bytes, and its seal is the hash that is written") {
    Policy policy = sample_policy();
    CHECK(write_policy(policy) == write_policy(sample_policy()));
    seal(policy);
    CHECK(policy.content_hash.size() == 32);
    CHECK(sample()["content_hash"] == policy.content_hash);
    CHECK(json::parse(sealed(sample()))["content_hash"] == policy.content_hash);
    policy.clauses[0].advice += '.';
    const std::string before = policy.content_hash;
    seal(policy);
    CHECK(policy.content_hash != before);
}

TEST_CASE("white space and order of keys do not break a compiled policy, a changed value does") {
    json document = sample();
    CHECK(read_policy(document.dump(8)));
    document["edition"] = "5";
    const auto changed = read_policy(document.dump());
    REQUIRE_FALSE(changed);
    CHECK(changed.error().code == "policy.hash");
}

TEST_CASE("what is no compiled policy is refused by name") {
    CHECK(read_policy("").error().code == "policy.json");
    CHECK(read_policy("[1, 2").error().code == "policy.json");
    CHECK(read_policy("[]").error().code == "policy.json");
    CHECK(read_policy("{}").error().code == "policy.schema");
    json document = sample();
    document["schema"] = "linelaw/compiled-policy/2";
    const auto newer = read_policy(sealed(document));
    REQUIRE_FALSE(newer);
    CHECK(newer.error().code == "policy.schema");
    CHECK(newer.error().pointer == "/schema");
    CHECK(newer.error().message ==
          "the compiled policy cannot be used: `/schema` is \"linelaw/compiled-policy/2\"; it must be "
          "\"linelaw/compiled-policy/1\"; take a version of the program that is as new as the one that "
          "compiled "
          "it, or compile the policy with this one");
    document["schema"] = "something/else";
    CHECK(read_policy(sealed(document)).error().message ==
          "the compiled policy cannot be used: `/schema` is \"something/else\"; it must be "
          "\"linelaw/compiled-policy/1\"; compile the policy again");
    CHECK(read_policy("{}").error().message.find("`/schema` is missing; it must be") != std::string::npos);
    document = sample();
    document["clauses"][0]["hue"] = "red";
    const auto unknown = read_policy(sealed(document));
    REQUIRE_FALSE(unknown);
    CHECK(unknown.error().pointer == "/clauses/0");
    CHECK(unknown.error().message.find("a key that this version does not know, `hue`; take a version") !=
          std::string::npos);
    document = sample();
    document["time_zone"] = "Nowhere/Nothing";
    CHECK(read_policy(sealed(document)).error().message.find("install the system's zone database") !=
          std::string::npos);
    document = sample();
    document.erase("content_hash");
    CHECK(read_policy(document.dump()).error().code == "policy.hash");
}

TEST_CASE("a fault in a compiled policy is named with its JSON pointer") {
    const auto says = [](const json& document, const std::string& pointer, const std::string& what) {
        const std::string message = refusal(document);
        INFO(message);
        CHECK(message.find('`' + pointer + '`') != std::string::npos);
        CHECK(message.find(what) != std::string::npos);
    };
    const auto with = [](const char* pointer, json value) {
        json document = sample();
        document[json::json_pointer(pointer)] = std::move(value);
        return document;
    };
    says(with("/title", 4), "/title", "must be a string");
    says(with("/clauses/0/priority", "urgent"), "/clauses/0/priority", "must be one of critical, major");
    says(with("/clauses/0/demand/events/0/event", 999), "/clauses/0/demand/events/0/event",
         "an index into `event_kinds`");
    says(with("/clauses/0/for", -1), "/clauses/0/for", "an index into `expressions`");
    says(with("/clauses/0/demand/every/days", 1e3), "/clauses/0/demand/every/days", "whole number");
    says(with("/clauses/0/demand/every/days", 1'000'000), "/clauses/0/demand/every", "thousand years");
    says(with("/clauses/0/demand/evry", 1), "/clauses/0/demand", "does not know");
    says(with("/in_force_from", "2026-02-30"), "/in_force_from", "must be a date");
    says(with("/time_zone", "Atlantis/Centre"), "/time_zone", "no time zone");
    says(with("/clauses/3/trigger/kind", "at"), "/clauses/3/demand", "after or once");
    says(with("/clauses/0/overrides", json::array({1})), "/clauses", "circle");
    says(with("/fields/0", "dressing"), "/fields/1", "came before");
    says(with("/event_kinds/4/attributes/2/type/unit", "mL"), "/event_kinds/4/attributes/2/type",
         "own dimension");
    json document = sample();
    document["clauses"][0].erase("id");
    says(document, "/clauses/0", "`id` is missing");
}

TEST_CASE("a value of a compiled policy stands only beside its like") {
    // The sample's own attributes and states, each beside a constant that is one of them and one that is not.
    struct Beside {
        std::string name;
        Expression value;
        Expression like;
        Expression unlike;
    };
    const Policy policy = sample_policy();
    const auto slot = [](const std::vector<Attribute>& list, std::string_view name) {
        const auto found =
            std::find_if(list.begin(), list.end(), [&](const auto& a) { return a.name == name; });
        return static_cast<std::uint32_t>(found - list.begin());
    };
    const auto symbol = [&](std::string_view name) {
        const auto found = std::find(policy.symbols.begin(), policy.symbols.end(), name);
        return Constant{found - policy.symbols.begin()};
    };
    const auto beyond = static_cast<std::int64_t>(policy.symbols.size());
    const auto kind = LineAttribute{slot(policy.line, "kind")};
    const auto age = PatientAttribute{slot(policy.patient, "age")};
    const auto ward = PatientAttribute{slot(policy.patient, "ward_code")};
    const auto flag = PatientAttribute{slot(policy.patient, "chg_sensitivity")};
    const std::vector<Beside> all = {
        {"a symbol beyond the table", kind, symbol("picc"), Constant{beyond}},
        {"a symbol below the table", kind, symbol("port"), Constant{-1}},
        {"a symbol of another list", kind, symbol("picc"), symbol("gauze")},
        {"a text for a symbol", kind, symbol("picc"), TextConstant{"picc"}},
        {"a number for a text", ward, TextConstant{"7"}, Constant{7}},
        {"a symbol for a place", Facility{}, TextConstant{"quillhaven"}, symbol("icu")},
        {"an age for a number", LineAttribute{slot(policy.line, "lumens")}, Constant{2}, AgeConstant{2}},
        {"a number for an age", age, AgeConstant{17}, Constant{17}},
        {"an age beyond all", age, AgeConstant{1000}, AgeConstant{1001}},
        {"a list for a length", LineAttribute{slot(policy.line, "external_length")}, Constant{1}, kind},
        {"more than a flag", flag, Constant{1}, Constant{2}},
        {"a text for a time that passes", Dwell{}, SpanConstant{{0, 3}}, TextConstant{"3 days"}},
    };
    for (const Beside& one : all) {
        for (const bool sides : {false, true}) {
            for (const bool like : {true, false}) {
                Policy changed = policy;
                changed.expressions.push_back(one.value);
                changed.expressions.push_back(like ? one.like : one.unlike);
                const auto end = static_cast<ExpressionId>(changed.expressions.size());
                changed.expressions.emplace_back(
                    Compare{Comparator::is, end - (sides ? 2 : 1), end - (sides ? 1 : 2)});
                INFO(one.name << (like ? ": its like" : ""));
                CHECK(read_policy(write_policy(changed)).has_value() == like);
                changed.expressions.back() = OneOf{end - 2, {end - 1}};
                CHECK(read_policy(write_policy(changed)).has_value() == like);
            }
        }
    }
}

TEST_CASE("what a table is given and gives is of the kind of what it stands beside") {
    Policy policy = sample_policy();
    const auto put = [&](Expression x) {
        policy.expressions.push_back(std::move(x));
        return static_cast<ExpressionId>(policy.expressions.size() - 1);
    };
    const ExpressionId place = put(Facility{});
    const ExpressionId text = put(TextConstant{"quillhaven"});
    const ExpressionId number = put(Constant{1});
    const auto table = static_cast<TableId>(policy.tables.size());
    policy.tables.push_back({"places",
                             {"facility"},
                             {"answer"},
                             {{{{Cell::Kind::compare, Comparator::is, {text}}}, {number}}},
                             false});
    const ExpressionId answer = put(TableValue{table, 0, {place}});
    put(Compare{Comparator::is, answer, number});
    REQUIRE(read_policy(write_policy(policy)));
    Policy changed = policy;
    changed.tables[table].rows[0].given[0].values[0] = number;
    CHECK_FALSE(read_policy(write_policy(changed)));
    changed = policy;
    changed.tables[table].rows[0].gives[0] = text;
    CHECK_FALSE(read_policy(write_policy(changed)));
}

TEST_CASE("only numbers are multiplied, by factors whose product stays whole") {
    Policy policy = sample_policy();
    const auto fits = [&](const Multiple& outer, const Multiple& inner) {
        Policy changed = policy;
        const auto end = static_cast<ExpressionId>(changed.expressions.size());
        changed.expressions.emplace_back(outer);
        changed.expressions.emplace_back(inner);
        std::get<Multiple>(changed.expressions[end]).operand = end + 1;
        changed.expressions.emplace_back(LineAttribute{static_cast<std::uint32_t>(inner.operand)});
        std::get<Multiple>(changed.expressions[end + 1]).operand = end + 2;
        return read_policy(write_policy(changed)).has_value();
    };
    CHECK(fits({15, 10, 0}, {1, 2, 1}));
    CHECK_FALSE(fits({15, 10, 0}, {1, 2, 0}));  // the line's kind, one of a list
    CHECK_FALSE(fits({15, 10, 0}, {1, 4'294'967'296, 1}));
    CHECK_FALSE(fits({1, 100'000, 0}, {1, 100'000, 1}));
    CHECK_FALSE(fits({0, 10, 0}, {1, 2, 1}));
    CHECK_FALSE(fits({-3, 10, 0}, {1, 2, 1}));
}

TEST_CASE("a field is of one kind at every event, part and state that bears it") {
    const auto refused = [](auto change) {
        Policy policy = sample_policy();
        change(policy);
        return !read_policy(write_policy(policy)).has_value();
    };
    CHECK_FALSE(refused([](Policy&) {}));
    const auto kind_of = [](Policy& policy, std::string_view event, std::string_view attribute) -> Type& {
        for (EventKind& kind : policy.event_kinds)
            for (Attribute& a : kind.attributes)
                if (kind.name == event && a.name == attribute) return a.type;
        throw std::out_of_range("no such attribute");
    };
    CHECK(refused(
        [&](Policy& p) { kind_of(p, "insertion", "dressing") = {TypeKind::text, {}, 0, 0, {}, {}, ""}; }));
    CHECK(refused(
        [&](Policy& p) { kind_of(p, "transfer", "setting") = {TypeKind::text, {}, 0, 0, {}, {}, ""}; }));
    CHECK(refused([](Policy& p) { p.part_kinds.back().attributes.at(0).field = none; }));
}

TEST_CASE("expressions that rest on each other in a circle, or too deep, are refused") {
    Policy policy = sample_policy();
    const auto size = static_cast<ExpressionId>(policy.expressions.size());
    policy.expressions.emplace_back(Not{size + 1});
    policy.expressions.emplace_back(Not{size});
    CHECK(refusal(json::parse(write_policy(policy))).find("`/expressions` must not nest in a circle") !=
          std::string::npos);

    policy = sample_policy();
    policy.expressions.emplace_back(Always{});
    for (std::uint32_t i = 0; i < deepest_expression - 1; ++i)
        policy.expressions.emplace_back(Not{static_cast<ExpressionId>(policy.expressions.size() - 1)});
    CHECK(read_policy(write_policy(policy)));
    policy.expressions.emplace_back(Not{static_cast<ExpressionId>(policy.expressions.size() - 1)});
    CHECK_FALSE(read_policy(write_policy(policy)));
}

TEST_CASE("a compiled policy damaged anywhere is refused or read, and never crashes") {
    std::mt19937 random(20260301);
    const std::string text = write_policy(sample_policy());
    for (int i = 0; i < 400; ++i) {
        std::string damaged = text;
        for (unsigned n = random() % 3 + 1; n > 0; --n)
            damaged[random() % damaged.size()] = static_cast<char>(random());
        if (i % 5 == 0) damaged.resize(random() % damaged.size());
        static_cast<void>(read_policy(damaged));
    }
}

TEST_CASE("every value of a compiled policy may be anything, and what is accepted is whole") {
    std::mt19937 random(4);
    const json original = sample();
    std::vector<json::json_pointer> pointers;
    pointers_of(original, json::json_pointer(), pointers);
    const std::vector<json> values = {nullptr,
                                      true,
                                      false,
                                      0,
                                      1,
                                      2,
                                      7,
                                      -1,
                                      4'294'967'295U,
                                      1e300,
                                      0.5,
                                      "",
                                      "any",
                                      "at",
                                      {},
                                      json::array(),
                                      json::array({0}),
                                      json::object(),
                                      {{"kind", "always"}}};
    int accepted = 0;
    for (int i = 0; i < 1500; ++i) {
        json document = original;
        const json::json_pointer& at = pointers[random() % pointers.size()];
        if (at.empty()) continue;
        const bool drop = random() % 4 == 0;
        if (drop && document[at.parent_pointer()].is_object())
            document[at.parent_pointer()].erase(at.back());
        else
            document[at] = values[random() % values.size()];
        const auto policy = read_policy(sealed(document));
        if (!policy) {
            CHECK(policy.error().message.size() > 20);
            continue;
        }
        ++accepted;
        CHECK(read_policy(write_policy(*policy)));
        CHECK_FALSE(fault_of(*policy));
    }
    CHECK(accepted > 30);
}
