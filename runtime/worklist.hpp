// What is due next in open records, as of a moment: the tasks, for whoever shows them.
#pragma once

#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include "runtime/engine.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/policy.hpp"
#include "runtime/tally.hpp"

namespace linelaw::runtime {

struct Task {
    std::string care_unit;
    std::string episode;
    std::string what;  // "dressing change of lumen 1"
    std::string item;  // the clause or the ladder's step
    std::string sentence;
    Priority priority = Priority::major;
    Instant opened = 0;
    Instant due = 0;
    Instant limit = 0;
    bool past_at_limit = false;          // a calendar limit: its own instant is too late
    std::optional<Instant> known_until;  // where the record ends before the moment of the list
    bool overdue(Instant as_of) const { return past_at_limit ? limit <= as_of : limit < as_of; }
    auto order() const { return std::tie(care_unit, limit, priority, episode, item, what); }
};

class Worklist {
  public:
    Worklist(const Policy& policy, Instant as_of, std::optional<std::int64_t> within, std::string care_unit)
        : policy_(policy),
          words_(policy),
          engine_(policy),
          items_(policy),
          as_of_(as_of),
          within_(within),
          care_unit_(std::move(care_unit)) {}

    void add(const Episode& whole);
    std::vector<Task> take();  // by care unit, then by limit
    const Words& words() const { return words_; }

  private:
    Episode known_by_then(const Episode& whole) const;
    Task task(const Episode& episode, const Opportunity& o) const;
    std::string asked_for(const Opportunity& o) const;

    const Policy& policy_;
    Words words_;
    Engine engine_;
    Items items_;
    Instant as_of_;
    std::optional<std::int64_t> within_;  // how far ahead; nothing: all
    std::string care_unit_;               // only this one; empty: all
    std::vector<Task> tasks_;
};

// overdue; "in grace": past due, not past the limit; due
std::string_view state_of(const Task& task, Instant as_of);
// A task of linelaw/due/1.
nlohmann::ordered_json task_json(const Task& task, Instant as_of);

}  // namespace linelaw::runtime
