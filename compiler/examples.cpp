#include "compiler/examples.hpp"

#include <array>

#include "compiler/report.hpp"
#include "runtime/engine.hpp"
#include "runtime/records.hpp"

namespace linelaw::compiler {

using runtime::Judgement;
using runtime::Opportunity;
using runtime::OriginKind;

namespace {

using Tally = std::array<std::uint32_t, runtime::outcome_count>;

std::string spaced(std::string_view outcome) {
    std::string words(outcome);
    for (char& c : words)
        if (c == '_') c = ' ';
    return words;
}

std::string counted(std::uint32_t n) {
    return n == 1 ? "once" : n == 2 ? "twice" : std::to_string(n) + " times";
}

std::string found(const Tally& tally) {
    std::string out;
    for (std::size_t o = 0; o < tally.size(); ++o)
        if (tally[o] > 0)
            out += (out.empty() ? "" : ", ") + spaced(runtime::outcome_names[o]) + ' ' + counted(tally[o]);
    return out.empty() ? "no opportunity" : out;
}

std::string called(const Expected& expected, const runtime::Policy& policy) {
    switch (expected.origin) {
        case OriginKind::clause:
            return in_ticks(policy.clauses[expected.item].id);
        case OriginKind::bundle:
            return in_ticks(policy.bundles[expected.item].id);
        case OriginKind::ladder:
            break;
    }
    std::string name = in_ticks(policy.ladders[expected.item].id);
    if (expected.step != runtime::none) name += " step " + std::to_string(expected.step + 1);
    return name;
}

Tally tally_of(const Expected& expected, const Judgement& judgement) {
    Tally tally{};
    for (const auto& o : judgement) {
        if (o.origin != expected.origin || o.item != expected.item) continue;
        if (expected.step != runtime::none && o.step != expected.step) continue;
        ++tally.at(static_cast<std::size_t>(o.outcome));
    }
    return tally;
}

void judge(const Expected& expected, const Judgement& judgement, const runtime::Policy& policy,
           ExampleResult& result) {
    const Tally tally = tally_of(expected, judgement);
    const auto times = tally.at(static_cast<std::size_t>(expected.outcome));
    if (expected.times ? times == *expected.times : times > 0) return;
    std::string message = "expected " + called(expected, policy) + ' ' +
                          spaced(runtime::outcome_names.at(static_cast<std::size_t>(expected.outcome)));
    if (expected.times) message += ' ' + counted(*expected.times);
    result.failed.push_back({expected.place, message + ", found " + found(tally)});
}

// What each clause was seen to do over all examples.
struct Shown {
    bool met = false;
    bool against = false;
};

}  // namespace

ExampleReport run_examples(const Compiled& compiled) {
    const auto& policy = compiled.policy;
    ExampleReport report;
    std::vector<Shown> shown(policy.clauses.size());
    runtime::RecordReader reader(policy);
    runtime::Engine engine(policy);
    runtime::Episode episode;
    std::vector<runtime::Spoiled> set_aside;
    for (const auto& example : compiled.examples) {
        auto& result = report.results.emplace_back();
        result.title = example.title;
        result.place = example.place;
        if (const auto spoiled = reader.read(example.record, episode, set_aside)) {
            result.failed.push_back({example.place, "the example is no record: " + spoiled->reason});
            continue;
        }
        for (const auto& value : set_aside)
            result.failed.push_back({example.place, "a value of the example is set aside: " + value.reason});
        const Judgement& judgement = engine.judge(episode);
        for (const auto& expected : example.expected) judge(expected, judgement, policy, result);
        for (const auto& o : judgement) {
            if (o.origin != OriginKind::clause) continue;
            shown[o.item].met = shown[o.item].met || runtime::counts_for(o.outcome);
            shown[o.item].against = shown[o.item].against || runtime::counts_against(o.outcome);
        }
    }
    for (std::size_t c = 0; c < shown.size(); ++c) {
        const auto& demand = policy.clauses[c].demand;
        if (std::holds_alternative<runtime::LeavesToJudgement>(demand) ||
            std::holds_alternative<runtime::NoDemand>(demand))
            continue;
        if (!shown[c].met) report.never_met.push_back(policy.clauses[c].id);
        if (!shown[c].against) report.never_against.push_back(policy.clauses[c].id);
    }
    return report;
}

}  // namespace linelaw::compiler
