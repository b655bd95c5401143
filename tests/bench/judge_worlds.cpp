// See judge_worlds.hpp.
#include "tests/bench/judge_worlds.hpp"

#include <algorithm>
#include <random>
#include <stdexcept>

#include <fmt/format.h>

#include "compiler/compile.hpp"

namespace linelaw::bench {
namespace {

using runtime::Known;
using runtime::Value;

std::string vocabulary(int kinds) {
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

// A policy's text, clause by clause.
class Draft {
  public:
    Draft()
        : text_(
              "policy \"bench\"\n  edition 1\n  in force from 2026-01-01 until 2026-12-31\n"
              "  time zone America/Halifax\n  uses vocabulary \"bench.vocabulary.linelaw\"\n"
              "  undocumented counts as not assessable\n\nshift day from 07:00 to 19:30\n"
              "shift night from 19:00 to 07:30\n\nterm adult means patient.age at least 18 years\n\n") {}

    template <typename... Values>
    void clause(fmt::format_string<Values...> body, Values&&... values) {
        text_ += fmt::format("clause c{} \"Do it.\"\n  ", clauses_++);
        text_ += fmt::format(body, std::forward<Values>(values)...) + "\n\n";
    }

    runtime::Policy compile(int kinds) const {
        compiler::Compilation c = compiler::compile("bench.linelaw", [&](const std::string& path) {
            return std::optional<std::string>(path.find("vocabulary") != std::string::npos ? vocabulary(kinds)
                                                                                           : text_);
        });
        if (!c.compiled)
            throw std::runtime_error(c.diagnostics.empty() ? "no policy" : c.diagnostics.front().message);
        return std::move(c.compiled->policy);
    }

  private:
    std::string text_;
    int clauses_ = 0;
};

constexpr runtime::Instant minute = runtime::microseconds_per_minute;

// One line of one patient, event by event.
class Writer {
  public:
    Writer(const runtime::Policy& policy, std::mt19937_64& random) : policy_(policy), random_(random) {
        transfer_ = kind("transfer");
        refusal_ = kind("refusal");
        act0_ = kind("act0");
    }

    std::int64_t up_to(std::int64_t n) { return static_cast<std::int64_t>(random_() % std::uint64_t(n)); }

    void begin(runtime::Episode& episode) {
        episode_ = &episode;
        now = 1'772'000'000'000'000 + up_to(86'400) * 1'000'000;
        episode.inserted_at = now;
        episode.age.given = runtime::Age::Given::completed;
        episode.age.completed = static_cast<std::int32_t>(up_to(90));
        const std::string lines[] = {"picc", "midline", "port", "peripheral"};
        episode.patient.assign(policy_.patient.size(), symbol("ward"));
        episode.line.assign(policy_.line.size(), symbol(lines[up_to(4)]));
        add(policy_.insertion, {});
    }
    void act(std::int64_t number) {
        add(act0_ + static_cast<std::uint32_t>(number),
            {{up_to(100), Known::known}, symbol(up_to(5) == 0 ? "poor" : "good")});
    }
    void transfer() { add(transfer_, {symbol(up_to(2) == 0 ? "icu" : "ward")}); }
    void refusal() { add(refusal_, {}); }
    void end() {
        now += minute;
        episode_->removed_at = now;
        add(policy_.removal, {});
    }

    runtime::Instant now = 0;

  private:
    Value symbol(const std::string& name) const {
        const auto found = std::find(policy_.symbols.begin(), policy_.symbols.end(), name);
        return {found - policy_.symbols.begin(), Known::known};
    }
    std::uint32_t kind(const std::string& name) const {
        for (std::uint32_t k = 0; k < policy_.event_kinds.size(); ++k)
            if (policy_.event_kinds[k].name == name) return k;
        throw std::runtime_error("no kind " + name);
    }
    void add(std::uint32_t kind, std::initializer_list<Value> values) {
        runtime::Event event;
        event.kind = kind;
        event.at = now;
        event.values = static_cast<std::uint32_t>(episode_->values.size());
        episode_->values.resize(episode_->values.size() + policy_.event_kinds[kind].attributes.size());
        std::copy(values.begin(), values.end(), episode_->values.begin() + event.values);
        episode_->events.push_back(event);
    }

    const runtime::Policy& policy_;
    std::mt19937_64& random_;
    runtime::Episode* episode_ = nullptr;
    std::uint32_t transfer_ = 0;
    std::uint32_t refusal_ = 0;
    std::uint32_t act0_ = 0;
};

constexpr int events_a_line = 60;

std::vector<runtime::Episode> lines(const runtime::Policy& policy, int count, int kinds, int spread) {
    std::mt19937_64 random(42);
    Writer writer(policy, random);
    std::vector<runtime::Episode> all(static_cast<std::size_t>(count));
    for (runtime::Episode& e : all) {
        writer.begin(e);
        for (int i = 0; i < events_a_line; ++i) {
            writer.now += (1 + writer.up_to(600)) * minute * spread;
            if (writer.up_to(20) == 0)
                writer.transfer();
            else if (writer.up_to(40) == 0)
                writer.refusal();
            else
                writer.act(writer.up_to(kinds));
        }
        writer.end();
    }
    return all;
}

}  // namespace

World every_form(int hours, int spread) {
    const int limit = 60 * hours;  // in minutes
    constexpr int kinds = 25;
    const char* line[] = {"picc", "midline", "port", "peripheral"};
    Draft p;
    for (int i = 0; i < 28; ++i)
        p.clause(
            "for line.kind is {} and adult\n  while setting is {}\n  must act{} at least every {} min grace "
            "{} min",
            line[i % 4], i % 3 == 0 ? "icu" : "ward", i % kinds, limit, limit / 6);
    for (int i = 0; i < 36; ++i)
        p.clause("at act{}\n  must reading at least {}\n  except when refusal in the last {} min", i % kinds,
                 i, limit / 2);
    for (int i = 0; i < 18; ++i)
        p.clause("after act{} where worth is poor\n  must act{} within {} min", i % kinds, (i + 1) % kinds,
                 limit / 12);
    for (int i = 0; i < 6; ++i)
        p.clause("for line.kind is {}\n  must act{} each {}", line[i % 4], i % kinds,
                 i % 2 == 0 ? "shift" : "calendar day");
    for (int i = 0; i < 6; ++i) p.clause("must act{} no more often than every {} min", i, limit / 12);
    for (int i = 0; i < 6; ++i) p.clause("while setting is home\n  must not act{}", i);
    World world{fmt::format("limits of {} h, events x{} apart", hours, spread), p.compile(kinds), {}};
    world.episodes = lines(world.policy, 5000, kinds, spread);
    return world;
}

World open_at_once(int alive) {
    constexpr int kinds = 25;
    constexpr int clauses = 100;
    constexpr int triggers = 500'000 * kinds / clauses;
    Draft p;
    for (int i = 0; i < clauses; ++i) p.clause("after act{}\n  must refusal within 400 days", i % kinds);
    World world{fmt::format("{} open at once", alive), p.compile(kinds), {}};
    std::mt19937_64 random(42);
    Writer writer(world.policy, random);
    world.episodes.resize(1);
    writer.begin(world.episodes[0]);
    for (int i = 1; i <= triggers; ++i) {
        writer.now += minute;
        writer.act(writer.up_to(kinds));
        if (i % std::max(1, alive * kinds / clauses) != 0) continue;
        writer.now += minute;
        writer.refusal();
    }
    writer.end();
    return world;
}

World ten_an_event(int clauses) {
    const int kinds = clauses / 10;
    Draft p;
    for (int k = 0; k < kinds; ++k) {
        for (int i = 0; i < 5; ++i) p.clause("at act{}\n  must reading at least {}", k, 10 * i);
        for (int i = 0; i < 2; ++i)
            p.clause("at act{}\n  must reading at least {}\n  except when refusal in the last 12 h", k,
                     10 * i);
        p.clause("after act{} where worth is poor\n  must refusal within 12 h", k);
        p.clause("must act{} at most 8 times in 24 h", k);
        p.clause("must not act{} where worth is poor", k);
    }
    World world{fmt::format("{} clauses, ten an event", clauses), p.compile(kinds), {}};
    world.episodes = lines(world.policy, 5000, kinds, 1);
    return world;
}

}  // namespace linelaw::bench
