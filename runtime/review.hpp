// What people found in charts afterwards, and what an earlier run had found, beside this run's findings.
// Files are read whole before judging; while it goes on, several threads ask.
#pragma once

#include <atomic>
#include <cstdint>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "runtime/outcome.hpp"
#include "runtime/result.hpp"

namespace linelaw::runtime {

// Findings' ids, each with a note of whether it was asked for.
class Ids {
  public:
    explicit Ids(const std::vector<std::string>& ids);
    // Its index, noted as asked for; nothing where it is none of them. Safe for several threads.
    std::optional<std::size_t> find(std::string_view id) const;
    std::optional<std::size_t> index_of(std::string_view id) const;  // the same, and nothing is noted
    bool asked(std::size_t index) const { return asked_[index].load(std::memory_order_relaxed); }
    // Which were asked for, a digit each; and as if they had been asked for here. False where it is no such
    // text.
    std::string all_asked() const;
    bool ask_all(std::string_view asked) const;
    std::size_t size() const { return size_; }

  private:
    std::unordered_map<std::string, std::size_t> index_;
    std::size_t size_ = 0;
    std::unique_ptr<std::atomic<bool>[]> asked_;
};

// A finding settled after chart review. `excused` takes what counted against out of the rate; `not met`
// confirms it, or makes one that could not be assessed count against.
struct Settlement {
    Outcome outcome = Outcome::excused;  // or not_met
    std::string reason;
};

// One settlement a line: the finding's id, `excused` or `not met`, the reason; between them blanks, tabs,
// commas or semicolons, so that a spreadsheet's CSV is one as well. Lines that are empty or begin with `#`
// say nothing.
constexpr std::string_view settlement_example = "bbe977fb049897d5, excused, charted on paper";
class Settled {
  public:
    static Result<Settled> read(std::string_view text, const std::string& name);
    const Settlement* find(std::string_view id) const;
    std::size_t size() const { return settlements_.size(); }
    std::set<std::string> ids() const { return {names_.begin(), names_.end()}; }

  private:
    Settled(std::vector<std::string> ids, std::vector<Settlement> settlements)
        : names_(std::move(ids)), settlements_(std::move(settlements)), ids_(names_) {}
    std::vector<std::string> names_;
    std::vector<Settlement> settlements_;
    Ids ids_;
};

// The outcome as settled: another one only where the settlement changes what counts.
Outcome settled(Outcome recorded, const Settlement& settlement);

// An earlier run's findings (findings.ndjson), to tell what is new, the same and gone.
struct EarlierFinding {
    std::string id;
    std::string episode;
    std::string item;  // clause, ladder or bundle
    std::string said;
    bool operator==(const EarlierFinding&) const = default;
};
class Earlier {
  public:
    static Result<Earlier> read(const std::string& path);  // findings.ndjson, or the folder that holds it
    bool has(std::string_view id) const { return ids_.find(id).has_value(); }  // noted as found again
    void judged(std::string_view episode) const {
        episodes_.find(episode);
    }  // its findings could be found again
    // After judging: those whose episode was judged and that are no more, in the order of their ids.
    std::vector<EarlierFinding> gone() const;
    std::size_t size() const { return findings_.size(); }
    std::string mark() const;  // equal for equal findings
    // What has been noted so far, for a checkpoint; and taken over from one. False where it is none of this
    // run.
    std::string noted() const;
    bool note(std::string_view noted) const;

  private:
    explicit Earlier(std::vector<EarlierFinding> findings);
    std::vector<EarlierFinding> findings_;
    Ids ids_;
    Ids episodes_;
};

}  // namespace linelaw::runtime
