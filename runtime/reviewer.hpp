// One thread's part of the auditor's round: sees each judged episode, and notes what was settled, what is new
// and what is drawn for review.
#pragma once

#include <string>
#include <vector>

#include "runtime/findings.hpp"
#include "runtime/review_tally.hpp"
#include "runtime/tally.hpp"

namespace linelaw::runtime {

class Reviewer {
  public:
    Reviewer(const Policy& policy, const Items& items, const ReviewOptions& options,
             std::optional<Instant> as_of);

    // `place` is file:line of the record.
    void judged(const Episode& episode, const Judgement& judgement, const std::string& place);
    // What a finding of the last episode says besides its outcome.
    FindingNotes notes(const Episode& episode, const Opportunity& opportunity) const;
    bool wanted() const { return options_.any(); }
    ReviewTally take();  // what it has seen since it was last asked

  private:
    ReviewTally fresh() const;
    void settle(const Episode& episode, const Opportunity& opportunity, const std::string& id);
    void compare(const Opportunity& opportunity, const std::string& id);
    void draw(const Episode& episode, const Opportunity& opportunity, const Judgement& all,
              const std::string& id, const std::string& place);

    const Policy& policy_;
    const Items& items_;
    const ReviewOptions& options_;
    FindingWriter writer_;
    ReviewTally tally_;
};

}  // namespace linelaw::runtime
