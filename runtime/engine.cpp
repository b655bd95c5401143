// The engine's face: takes an episode in, instant by instant, and judges what it holds. See engine.hpp.
#include "runtime/engine.hpp"

#include <algorithm>
#include <limits>

#include "runtime/engine/history.hpp"
#include "runtime/engine/judging.hpp"
#include "runtime/engine/plan.hpp"

namespace linelaw::runtime {

struct Engine::Implementation {
    engine::Plan plan;
    engine::History history;
    engine::Judging judging;
    Judgement answer;
    Instant now = std::numeric_limits<Instant>::min();  // as far as `advance` said
    bool provisional = false;  // the last instant was judged before it was known to be whole

    Implementation(const Policy& policy, EngineOptions options)
        : plan(policy), history(plan), judging(plan, options) {}

    void begin(const Episode& episode) {
        history.begin(episode);
        now = std::numeric_limits<Instant>::min();
        provisional = false;
    }

    // Everything but the last instant, of which more may come.
    void take_whole_instants(const Episode& episode) {
        if (provisional) {
            history.begin(episode);
            provisional = false;
        }
        if (episode.events.empty()) return;
        history.take(std::max(episode.events.back().at - 1, now));
    }

    void judge_up_to(Instant horizon) {
        history.take(horizon);
        judging.judge(history, horizon);
        provisional = horizon > now;
    }

    static Instant last_event(const Episode& episode) {
        Instant last = episode.inserted_at.value_or(episode.observed_from.value_or(0));
        if (episode.observed_from) last = std::max(last, *episode.observed_from);
        return episode.events.empty() ? last : std::max(last, episode.events.back().at);
    }
};

Engine::Engine(const Policy& policy, EngineOptions options)
    : implementation_(std::make_unique<Implementation>(policy, options)) {}
Engine::~Engine() = default;
Engine::Engine(Engine&&) noexcept = default;
Engine& Engine::operator=(Engine&&) noexcept = default;

const Judgement& Engine::judge(const Episode& episode, std::optional<Instant> as_of) {
    begin(episode);
    return finish(episode, as_of);
}

const std::vector<Stretch>& Engine::stretches() const {
    return implementation_->judging.stretches();
}

const std::vector<Governed>& Engine::governed() const {
    return implementation_->judging.governed();
}

void Engine::begin(const Episode& episode) {
    implementation_->begin(episode);
}

void Engine::feed(const Episode& episode) {
    implementation_->take_whole_instants(episode);
}

void Engine::advance(const Episode& episode, Instant now) {
    implementation_->now = std::max(implementation_->now, now);
    implementation_->take_whole_instants(episode);
}

std::vector<Due> Engine::due(const Episode& episode) const {
    Implementation& self = *implementation_;
    self.take_whole_instants(episode);
    self.judge_up_to(std::max(self.now, Implementation::last_event(episode)));
    std::vector<Due> due;
    self.judging.for_judged([&due](const engine::Judged& judged) {
        const Outcome outcome = judged.opportunity.outcome;
        const bool open = outcome == Outcome::pending || (judged.open && outcome == Outcome::missed);
        if (open && judged.opportunity.origin != OriginKind::bundle) due.push_back({judged.opportunity});
    });
    const auto limit = [](const Due& d) {
        return d.opportunity.limit.value_or(std::numeric_limits<Instant>::max());
    };
    std::stable_sort(due.begin(), due.end(), [&](const Due& a, const Due& b) { return limit(a) < limit(b); });
    return due;
}

const Judgement& Engine::finish(const Episode& episode, std::optional<Instant> as_of) {
    Implementation& self = *implementation_;
    self.take_whole_instants(episode);
    const Instant known = std::max(self.now, Implementation::last_event(episode));
    const Instant horizon = episode.observed_until ? *episode.observed_until : as_of ? *as_of : known;
    if (horizon < known) {  // judged as of an earlier moment
        self.history.begin(episode);
        self.now = std::numeric_limits<Instant>::min();
    }
    self.judge_up_to(horizon);
    self.judging.answer(self.answer);
    return self.answer;
}

}  // namespace linelaw::runtime
