// A batch judged: the same bytes for any number of threads, every record counted once, every failure an
// error.
#include "runtime/audit.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "runtime/findings.hpp"
#include "runtime/summary.hpp"
#include "tests/runtime/folder.hpp"
#include "tests/runtime/small_policy.hpp"

using namespace linelaw::runtime;
using namespace small;
using nlohmann::json;

namespace {

// Weekly changes, and an antiseptic that must dry for 30 s.
Policy demo() {
    Policy p = policy();
    AtLeastEvery weekly;
    weekly.events = {{dressing_change, none}};
    weekly.every = days(7);
    const ExpressionId dry =
        compare(p, Comparator::at_least, EventAttribute{dry_time}, Constant{30 * microseconds_per_second});
    p.clauses = {clause("dressing.transparent", "Change it at least every 7 days.", weekly),
                 clause("antisepsis.dry", "Let it dry for 30 s.", Holds{dry}, Priority::critical)};
    p.clauses[1].trigger = {TriggerKind::at, {{dressing_change, none}}, none};
    return p;
}

// The number-th record: some are late, some are cut short, some hold values that cannot be used.
std::string record(int number) {
    if (number % 50 == 7) return R"({"episode": "q-)" + std::to_string(number) + R"(", "line": {)";
    std::ostringstream out;
    out << R"({"episode":"q-)" << number << R"(","care_unit":"unit-)" << number % 4
        << R"(","patient":{"key":"p-)" << number / 2
        << R"("},"line":{"kind":"picc","inserted_at":"2026-03-02T08:00:00Z"},)"
        << R"("observed_until":"2026-03-25T00:00:00Z","events":[)"
        << R"({"id":"e1","type":"dressing_change","at":"2026-03-0)" << 3 + number % 6
        << R"(T09:00:00Z","dry_time":)" << (number % 11 == 3 ? 99999 : 10 + number % 40) << R"(},)"
        << R"({"id":"e2","type":"dressing_change","at":"2026-03-1)" << number % 9
        << R"(T10:30:00Z","dry_time":40}]})";
    return out.str();
}

std::string records(int from, int until) {
    std::string text;
    for (int number = from; number < until; ++number) text += record(number) + "\n";
    return text;
}

struct Given {
    std::string findings;
    std::string quarantine;
    std::string set_aside;
    Tally tally;
};

Given judge(const Policy& p, const std::vector<std::string>& inputs, unsigned jobs,
            FindingsWanted wanted = FindingsWanted::all) {
    AuditOptions options;
    options.inputs = inputs;
    options.jobs = jobs;
    options.findings = wanted;
    Given given;
    AuditSinks sinks;
    const auto into = [](std::string& text) {
        return [&text](std::string_view more) { return text += more, Result<void>(); };
    };
    sinks.findings = into(given.findings);
    sinks.quarantine = into(given.quarantine);
    sinks.set_aside = into(given.set_aside);
    auto tally = audit(p, options, sinks);
    REQUIRE(tally);
    given.tally = std::move(*tally);
    return given;
}

Audited described(const Policy& p) {
    return audited(p, {}, false, "test");
}

std::vector<json> lines_of(const std::string& text) {
    std::vector<json> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(json::parse(line));
    return lines;
}

}  // namespace

TEST_CASE("one thread and many give the same bytes, in the input's order") {
    const Policy p = demo();
    const Folder folder;
    // Enough for several chunks, in two files.
    const std::vector<std::string> inputs = {folder.write("a.ndjson", records(0, 4000)),
                                             folder.write("b.ndjson", records(4000, 9000))};
    const Given one = judge(p, inputs, 1);
    CHECK(one.tally.read == 9000);
    CHECK(one.tally.quarantined == 180);
    CHECK(one.tally.read == one.tally.judged + one.tally.quarantined);
    CHECK(lines_of(one.quarantine).size() == 180);
    std::string last;
    int number = -1;
    for (const json& finding : lines_of(one.findings)) {
        const int now = std::stoi(finding["episode"].get<std::string>().substr(2));
        CHECK(now >= number);
        if (now == number) CHECK(finding["opened"].get<std::string>() >= last);
        number = now;
        last = finding["opened"];
    }
    for (const unsigned jobs : {2U, 3U, 8U}) {
        const Given many = judge(p, inputs, jobs);
        CHECK(many.findings == one.findings);
        CHECK(many.quarantine == one.quarantine);
        CHECK(many.set_aside == one.set_aside);
        CHECK(partial_json(described(p), many.tally) == partial_json(described(p), one.tally));
    }
}

TEST_CASE("the sums of shards are the bytes of one run over all") {
    const Policy p = demo();
    const Folder folder;
    const Given whole = judge(p, {folder.write("all.ndjson", records(0, 1000))}, 2);
    Tally sum;
    for (const int shard : {3, 1, 0, 2}) {
        const std::string text = records(shard * 250, shard * 250 + 250);
        const Given part = judge(p, {folder.write("part.ndjson", text)}, 1);
        sum.add(read_partial(partial_json(described(p), part.tally))->tally);
    }
    CHECK(partial_json(described(p), sum) == partial_json(described(p), whole.tally));
    CHECK(summary_json(described(p), sum) == summary_json(described(p), whole.tally));
}

TEST_CASE("a record that is cut short is quarantined with its place, and the batch goes on") {
    const Policy p = demo();
    const Folder folder;
    const std::string path = folder.write("a.ndjson", record(1) + "\n\n" + record(7) + "\n" + record(2));
    const Given given = judge(p, {path}, 1);
    CHECK(given.tally.read == 3);
    CHECK(given.tally.judged == 2);
    const auto spoiled = lines_of(given.quarantine);
    REQUIRE(spoiled.size() == 1);
    CHECK(spoiled[0]["file"] == path);
    CHECK(spoiled[0]["line"] == 3);
    CHECK(spoiled[0]["offset"].get<std::size_t>() >= record(1).size() + 2);
    CHECK(spoiled[0]["code"] == "record.json");
    CHECK(spoiled[0]["record"] == record(7));
    CHECK(spoiled[0].contains("pointer"));
    CHECK(spoiled[0].contains("reason"));
}

TEST_CASE("a value that cannot be used is set aside with its place, and its value is not repeated") {
    const Policy p = demo();
    const Folder folder;
    const Given given = judge(p, {folder.write("a.ndjson", record(3))}, 1);
    CHECK(given.tally.judged == 1);
    const auto aside = lines_of(given.set_aside);
    REQUIRE(aside.size() == 1);
    CHECK(aside[0]["pointer"] == "/events/0/dry_time");
    CHECK(aside[0]["episode"] == "q-3");
    CHECK(given.set_aside.find("99999") == std::string::npos);
    // What hangs on it is not assessable, and the finding says so.
    bool said = false;
    for (const json& finding : lines_of(given.findings)) {
        if (finding["clause"] == "antisepsis.dry" && finding["outcome"] == "not_assessable") {
            said = true;
            CHECK_THAT(finding["said"].get<std::string>(),
                       Catch::Contains("the value of dry time was set aside"));
        }
    }
    CHECK(said);
}

TEST_CASE("only what counts against is given out where that is asked") {
    const Policy p = demo();
    const Folder folder;
    const std::string path = folder.write("a.ndjson", records(0, 60));
    const Given all = judge(p, {path}, 1, FindingsWanted::all);
    const Given against = judge(p, {path}, 1, FindingsWanted::against);
    for (const json& finding : lines_of(against.findings)) {
        CHECK((finding["outcome"] == "late" || finding["outcome"] == "missed" ||
               finding["outcome"] == "not_met"));
    }
    CHECK(lines_of(against.findings).size() < lines_of(all.findings).size());
    CHECK(judge(p, {path}, 1, FindingsWanted::nothing).findings.empty());
    CHECK(lines_of(against.findings).size() == against_in(described(p), against.tally));
}

TEST_CASE("a sink that fails ends the audit with its error") {
    const Policy p = demo();
    const Folder folder;
    AuditOptions options;
    options.inputs = {folder.write("a.ndjson", records(0, 5000))};
    options.jobs = 3;
    AuditSinks sinks;
    sinks.findings = [](std::string_view) -> Result<void> {
        return tl::unexpected(Error{"file.write", "no space left"});
    };
    const auto tally = audit(p, options, sinks);
    REQUIRE_FALSE(tally);
    CHECK(tally.error().code == "file.write");
}

TEST_CASE("a file that is not there, or an attribute that is none, is an error before anything is judged") {
    const Policy p = demo();
    AuditOptions options;
    options.inputs = {"no-such-file.ndjson"};
    CHECK_THAT(audit(p, options, {}).error().message, Catch::Contains("no-such-file.ndjson"));
    const Folder folder;
    options.inputs = {folder.write("a.ndjson", records(0, 2))};
    options.tally.by = {"line.colour"};
    CHECK(audit(p, options, {}).error().code == "by.name");
}

TEST_CASE("a record over the limit is quarantined and no other") {
    const Policy p = demo();
    const Folder folder;
    AuditOptions options;
    options.record_limit = 2000;
    options.inputs = {folder.write("a.ndjson", record(1) + "\n" + std::string(5000, ' ') + "{" +
                                                   std::string(4000, 'x') + "\n" + record(2) + "\n")};
    std::string quarantine;
    AuditSinks sinks;
    sinks.quarantine = [&](std::string_view text) { return quarantine += text, Result<void>(); };
    const auto tally = audit(p, options, sinks);
    REQUIRE(tally);
    CHECK(tally->judged == 2);
    REQUIRE(tally->quarantined == 1);
    CHECK(lines_of(quarantine)[0]["line"] == 2);
}
