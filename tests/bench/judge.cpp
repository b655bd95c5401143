// How fast the engine judges, on one core: episodes in memory, so that reading them is not measured.
//   bench_judge                     100 clauses, of which few concern an event; limits of days, x1, x10, x100
//   bench_judge POLICY RECORDS      a policy of your own and its records (NDJSON)
#include <chrono>
#include <fstream>
#include <random>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "compiler/compile.hpp"
#include "runtime/engine.hpp"
#include "runtime/records.hpp"

using namespace linelaw;

namespace {

constexpr int kinds = 25;

std::string vocabulary() {
    std::string v =
        "vocabulary bench\n  edition 1\n\npatient\n  age : age 0 days .. 120 years\n"
        "  setting : one of icu, ward, home\n\nline\n  kind : one of picc, midline, port, peripheral\n\n"
        "event transfer \"Transfer\"\n  setting : one of icu, ward, home\n\n"
        "event refusal \"Refusal\"\n\n";
    for (int i = 0; i < kinds; ++i)
        v += fmt::format(
            "event act{0} \"Act {0}\"\n  reading : count 0 .. 100\n  worth : one of good, poor\n\n", i);
    return v + "state setting from transfer.setting initially patient.setting\nrole nurse, provider\n";
}

// 100 clauses: intervals for one kind of line, value demands, responses, shifts, pairs, and what may not be.
std::string policy(int factor) {
    std::string p =
        "policy \"bench\"\n  edition 1\n  in force from 2026-01-01 until 2026-12-31\n"
        "  time zone America/Halifax\n  uses vocabulary \"bench.vocabulary.linelaw\"\n"
        "  undocumented counts as not assessable\n\nshift day from 07:00 to 19:30\n"
        "shift night from 19:00 to 07:30\n\nterm adult means patient.age at least 18 years\n\n";
    const char* lines[] = {"picc", "midline", "port", "peripheral"};
    int n = 0;
    const auto clause = [&](const std::string& body) {
        p += fmt::format("clause c{} \"Do it.\"\n{}\n", n++, body);
    };
    for (int i = 0; i < 28; ++i)
        clause(
            fmt::format("  for line.kind is {} and adult\n  while setting is {}\n  must act{} at least every "
                        "{} h grace {} h\n",
                        lines[i % 4], i % 3 == 0 ? "icu" : "ward", i % kinds, 24 * factor, 4 * factor));
    for (int i = 0; i < 36; ++i)
        clause(fmt::format("  at act{}\n  must reading at least {}\n  except when refusal in the last {} h\n",
                           i % kinds, i, 12 * factor));
    for (int i = 0; i < 18; ++i)
        clause(fmt::format("  after act{} where worth is poor\n  must act{} within {} h\n", i % kinds,
                           (i + 1) % kinds, 2 * factor));
    for (int i = 0; i < 6; ++i)
        clause(fmt::format("  for line.kind is {}\n  must act{} each {}\n", lines[i % 4], i % kinds,
                           i % 2 == 0 ? "shift" : "calendar day"));
    for (int i = 0; i < 6; ++i)
        clause(fmt::format("  must act{} no more often than every {} h\n", i, 2 * factor));
    for (int i = 0; i < 6; ++i) clause(fmt::format("  while setting is home\n  must not act{}\n", i));
    return p;
}

std::vector<runtime::Episode> episodes(const runtime::Policy& policy, int count, int events, int factor) {
    std::mt19937_64 random(42);
    const auto up_to = [&](std::uint64_t n) { return static_cast<std::int64_t>(random() % n); };
    const auto symbol = [&](const std::string& name) {
        return std::find(policy.symbols.begin(), policy.symbols.end(), name) - policy.symbols.begin();
    };
    const auto kind_of = [&](const std::string& name) {
        for (std::uint32_t k = 0; k < policy.event_kinds.size(); ++k)
            if (policy.event_kinds[k].name == name) return k;
        return runtime::none;
    };
    std::vector<runtime::Episode> all(static_cast<std::size_t>(count));
    for (runtime::Episode& e : all) {
        e.age.given = runtime::Age::Given::completed;
        e.age.completed = static_cast<std::int32_t>(up_to(90));
        e.patient.assign(policy.patient.size(), {symbol("ward"), runtime::Known::known});
        const std::string line[] = {"picc", "midline", "port", "peripheral"};
        e.line.assign(policy.line.size(), {symbol(line[up_to(4)]), runtime::Known::known});
        runtime::Instant t = 1'772'000'000'000'000 + up_to(86'400) * 1'000'000;
        e.inserted_at = t;
        const auto add = [&](std::uint32_t kind, std::initializer_list<runtime::Value> values) {
            runtime::Event event;
            event.kind = kind;
            event.at = t;
            event.values = static_cast<std::uint32_t>(e.values.size());
            e.values.resize(e.values.size() + policy.event_kinds[kind].attributes.size());
            std::copy(values.begin(), values.end(), e.values.begin() + event.values);
            e.events.push_back(event);
        };
        add(policy.insertion, {});
        for (int i = 0; i < events; ++i) {
            t += (1 + up_to(600)) * 60 * 1'000'000 * factor;
            if (up_to(20) == 0) {
                add(kind_of("transfer"), {{symbol(up_to(2) == 0 ? "icu" : "ward"), runtime::Known::known}});
            } else if (up_to(40) == 0) {
                add(kind_of("refusal"), {});
            } else {
                const std::uint32_t kind = kind_of(fmt::format("act{}", up_to(kinds)));
                add(kind, {{up_to(100), runtime::Known::known},
                           {symbol(up_to(5) == 0 ? "poor" : "good"), runtime::Known::known}});
            }
        }
        t += 60 * 1'000'000;
        e.removed_at = t;
        add(policy.removal, {});
    }
    return all;
}

void measure(const std::string& name, const runtime::Policy& policy,
             const std::vector<runtime::Episode>& all) {
    runtime::Engine engine(policy);
    std::uint64_t events = 0;
    std::uint64_t opportunities = 0;
    for (const runtime::Episode& e : all) engine.judge(e);  // warm
    double best = 1e9;
    for (int run = 0; run < 5; ++run) {
        events = opportunities = 0;
        const auto begin = std::chrono::steady_clock::now();
        for (const runtime::Episode& e : all) {
            events += e.events.size();
            opportunities += engine.judge(e).size();
        }
        best =
            std::min(best, std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count());
    }
    fmt::print(
        "{:<28} {} clauses, {} episodes, {} events, {} opportunities: {:.2f} M events/s, {:.0f} ns an event, "
        "{:.0f} k episodes/s\n",
        name, policy.clauses.size(), all.size(), events, opportunities,
        static_cast<double>(events) / best / 1e6, best * 1e9 / static_cast<double>(events),
        static_cast<double>(all.size()) / best / 1e3);
}

int own(const char* policy_path, const char* records_path) {
    const compiler::Compilation c = compiler::compile(policy_path);
    if (!c.compiled) {
        fmt::print(stderr, "{}: the policy does not compile\n", policy_path);
        return 2;
    }
    runtime::RecordReader reader(c.compiled->policy);
    std::vector<runtime::Episode> all;
    std::vector<runtime::Spoiled> set_aside;
    std::ifstream in(records_path);
    for (std::string line; std::getline(in, line);) {
        runtime::Episode e;
        if (!reader.read(line, e, set_aside)) all.push_back(std::move(e));
    }
    measure(policy_path, c.compiled->policy, all);
    return 0;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc == 3) return own(argv[1], argv[2]);
    for (const int factor : {1, 10, 100}) {
        const compiler::Compilation c = compiler::compile("bench.linelaw", [&](const std::string& path) {
            return std::optional<std::string>(path.find("vocabulary") != std::string::npos ? vocabulary()
                                                                                           : policy(factor));
        });
        if (!c.compiled) {
            for (const auto& d : c.diagnostics) fmt::print(stderr, "{}: {}\n", d.code, d.message);
            return 2;
        }
        measure(fmt::format("limits x{}", factor), c.compiled->policy,
                episodes(c.compiled->policy, 5000, 60, factor));
    }
    return 0;
}
