// Opportunities as findings: what people and other programs read. One JSON object an opportunity, in the
// schema of docs/findings.md, or one CSV row. Made from the opportunity, the policy and the record alone;
// never a second evaluation. Attributes' values stand in a finding's `said` and `evidence` and nowhere else.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"

namespace linelaw::runtime {

constexpr std::string_view finding_schema = "linelaw/finding/1";

// Stable across runs, machines and threads: XXH3-64 of episode key, clause (or ladder and step, or bundle),
// part and opening instant, as 16 hexadecimal digits.
std::string finding_id(const Policy& policy, const Episode& episode, const Opportunity& opportunity);

// How long past its limit, in microseconds: of `late` until it came, of `missed` until it was no longer
// awaited. Nothing for any other outcome.
std::optional<std::int64_t> lateness(const Opportunity& opportunity);

// The clause's priority; of a ladder, that of the clause that started it; of a bundle, the highest of its
// clauses.
Priority priority_of(const Policy& policy, const Opportunity& opportunity);

// The sentence that people approved; a bundle's title.
const std::string& sentence_of(const Policy& policy, const Opportunity& opportunity);

// Until when the record is known: its observed_until, else `as_of`, else its last event.
Instant horizon_of(const Episode& episode, std::optional<Instant> as_of = {});

// What a finding says besides what the engine found.
struct Settlement;  // review.hpp
struct FindingNotes {
    const Settlement* settled = nullptr;  // a person's ruling after chart review
    std::string_view since;               // "new" or "same" against an earlier run; empty: not asked
};

// "infusion i2", "lumen 2", "infusion" where it bears no name; empty where the opportunity is of no part.
std::string part_words(const Policy& policy, const Episode& episode, const Opportunity& opportunity);

// Writes the findings of one policy. Not thread-safe; one a thread. The policy must outlive it.
class FindingWriter {
  public:
    // Without `keys`, no key of an episode, an event or a finding is written, pseudonymous as they are.
    explicit FindingWriter(const Policy& policy, std::optional<Instant> as_of = {}, bool keys = true);
    ~FindingWriter();
    FindingWriter(FindingWriter&&) noexcept;
    FindingWriter& operator=(FindingWriter&&) noexcept;

    // One or two plain sentences, in the policy's words and the zone's wall clock, that say what happened:
    // "The dressing change was due by 9 March 2026 08:30 and came 5 h late, at 13:30." `all` is the
    // episode's judgement, from which a bundle says which of its clauses was not kept.
    std::string said(const Episode& episode, const Opportunity& opportunity, const Judgement& all = {}) const;
    // Appends the finding as one line of JSON with its line end.
    void json(std::string& out, const Episode& episode, const Opportunity& opportunity,
              const Judgement& all = {}, const FindingNotes& notes = {}) const;
    // Appends the finding as one row of CSV (RFC 4180). The columns are csv_header()'s.
    void csv(std::string& out, const Episode& episode, const Opportunity& opportunity,
             const Judgement& all = {}, const FindingNotes& notes = {}) const;

  private:
    struct Implementation;
    std::unique_ptr<Implementation> implementation_;
};

std::string_view csv_header();  // with its line end

}  // namespace linelaw::runtime
