// What is due next in open records, as of a moment: the tasks, and the forms in which they are shown.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "runtime/engine.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/policy.hpp"
#include "runtime/tally.hpp"

namespace linelaw::compiler::cli {

struct Task {
    std::string care_unit;
    std::string episode;
    std::string what;  // "dressing change of lumen 1"
    std::string item;  // the clause or the ladder's step
    std::string sentence;
    runtime::Priority priority = runtime::Priority::major;
    runtime::Instant opened = 0;
    runtime::Instant due = 0;
    runtime::Instant limit = 0;
    bool past_at_limit = false;                   // a calendar limit: its own instant is too late
    std::optional<runtime::Instant> known_until;  // where the record ends before the moment of the list
    bool overdue(runtime::Instant as_of) const { return past_at_limit ? limit <= as_of : limit < as_of; }
    auto order() const { return std::tie(care_unit, limit, priority, episode, item, what); }
};

class Worklist {
  public:
    Worklist(const runtime::Policy& policy, runtime::Instant as_of, std::int64_t within,
             std::string care_unit)
        : policy_(policy),
          words_(policy),
          engine_(policy),
          items_(policy),
          as_of_(as_of),
          within_(within),
          care_unit_(std::move(care_unit)) {}

    void add(const runtime::Episode& whole);
    std::vector<Task> take();  // by care unit, then by limit
    const runtime::Words& words() const { return words_; }

  private:
    runtime::Episode known_by_then(const runtime::Episode& whole) const;
    Task task(const runtime::Episode& episode, const runtime::Opportunity& o) const;
    std::string asked_for(const runtime::Opportunity& o) const;

    const runtime::Policy& policy_;
    runtime::Words words_;
    runtime::Engine engine_;
    runtime::Items items_;
    runtime::Instant as_of_;
    std::int64_t within_;
    std::string care_unit_;  // only this one; empty: all
    std::vector<Task> tasks_;
};

struct WorklistView {
    const runtime::Policy& policy;
    const runtime::Words& words;
    runtime::Instant as_of = 0;
    std::string within;
    std::uint64_t records = 0;
    std::uint64_t not_read = 0;
};
std::string worklist_table(const std::vector<Task>& tasks, const WorklistView& view, bool color);
std::string worklist_csv(const std::vector<Task>& tasks, const WorklistView& view);
std::string worklist_json(const std::vector<Task>& tasks, const WorklistView& view);
std::string worklist_html(const std::vector<Task>& tasks, const WorklistView& view);

}  // namespace linelaw::compiler::cli
