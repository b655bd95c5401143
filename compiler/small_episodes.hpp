// Small episodes made from what a clause looks at, with its events at the instants around its limits: enough
// of them to tell a policy from one that was changed a little. Bounded by counting and the same on every run.
// Judged by the reader and the engine, like any record.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "compiler/analysis/episode_text.hpp"
#include "compiler/clause_matter.hpp"
#include "runtime/engine.hpp"
#include "runtime/outcome.hpp"
#include "runtime/records.hpp"

namespace linelaw::compiler {

// What an `expect` line can speak of, with how often it was found.
struct Verdict {
    runtime::OriginKind origin = runtime::OriginKind::clause;
    std::uint32_t item = runtime::none;
    std::uint32_t step = runtime::none;  // of a ladder
    runtime::Outcome outcome = runtime::Outcome::met;
    std::uint32_t times = 0;
};
// Sorted; only verdicts that were found.
using Verdicts = std::vector<Verdict>;
Verdicts verdicts_of(const runtime::Judgement& judgement);
std::uint32_t times_of(const Verdicts& verdicts, const Verdict& which);

struct SmallEpisode {
    analysis::DraftEpisode draft;
    runtime::Episode episode;
    Verdicts verdicts;  // by the policy as it is
};

// Reads and judges drafts by one policy, which must outlive it.
class DraftJudge {
  public:
    explicit DraftJudge(const runtime::Policy& policy);
    // Nothing where the draft is no record: an event after a removal, a value that would be set aside.
    std::unique_ptr<SmallEpisode> judge(const analysis::DraftEpisode& draft);
    const runtime::Judgement& last() const { return *judgement_; }  // of that call
    const runtime::Policy& policy() const { return policy_; }
    runtime::RecordReader& reader() { return reader_; }

  private:
    const runtime::Policy& policy_;
    runtime::RecordReader reader_;
    runtime::Engine engine_;
    runtime::Zone zone_;
    std::vector<runtime::Spoiled> set_aside_;
    const runtime::Judgement* judgement_ = nullptr;
};

// `count` episodes or fewer about these clauses. `seeds` are records that are known to touch the policy: its
// own examples.
std::vector<std::unique_ptr<SmallEpisode>> small_episodes(DraftJudge& judge,
                                                          const std::vector<runtime::ClauseId>& clauses,
                                                          const std::vector<std::string>& seeds,
                                                          std::size_t count);

}  // namespace linelaw::compiler
