// The engine: one episode's events in, opportunities with outcomes out. Fed instant by instant; judging a
// whole record is the same engine fed faster. One small state machine a clause form; nothing is allocated per
// event once warm. Knows nothing of JSON, files, threads or text.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"

namespace linelaw::runtime {

struct EngineOptions {
    bool keep_stretches = false;  // note over which stretches each clause applied, and who judged
};

// A stretch over which a clause applied; half-open in moments, reported in instants.
struct Stretch {
    ClauseId clause = none;
    PartKindId part_kind = none;
    std::uint32_t part = none;
    Instant begin = 0;
    Instant end = 0;
};

// Who judges over a stretch, where several policies or editions do together.
struct Governed {
    Instant begin = 0;
    Instant end = 0;
    EditionId edition = none;  // none: nobody
    bool no_edition = false;   // nobody, though one governs it on other days
    bool several = false;      // more than one policy governs it; the one given first judges
};

// What is open now, for worklists: in the order of limit.
struct Due {
    Opportunity opportunity;  // outcome pending, or missed where now is past the limit
};

// Not thread-safe; one engine a thread. The policy must outlive it and must not change.
class Engine {
  public:
    explicit Engine(const Policy& policy, EngineOptions options = {});
    ~Engine();
    Engine(Engine&&) noexcept;
    Engine& operator=(Engine&&) noexcept;

    // Judges a whole episode up to its horizon: observed_until, else as_of, else its last event. The answer
    // is sorted by opened, then by the clauses' order in the policy (ladders after their clause, bundles
    // last), then by part. Valid until the next call.
    const Judgement& judge(const Episode& episode, std::optional<Instant> as_of = {});
    const std::vector<Stretch>& stretches() const;
    // In order, from the line's start to its end or the horizon; kept with the stretches.
    const std::vector<Governed>& governed() const;

    // The same, event by event. `episode` grows by push_back between calls (events in order of instant); the
    // engine reads the new ones. An instant is judged when a later one is seen or `advance` passes it.
    void begin(const Episode& episode);
    void feed(const Episode& episode);                  // everything appended since
    void advance(const Episode& episode, Instant now);  // time has passed up to now, now included
    std::vector<Due> due(const Episode& episode) const;
    const Judgement& finish(const Episode& episode, std::optional<Instant> as_of = {});

  private:
    struct Implementation;
    std::unique_ptr<Implementation> implementation_;
};

}  // namespace linelaw::runtime
