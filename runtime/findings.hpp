// Opportunities as findings: what people and other programs read. One JSON object an opportunity, in the
// schema of docs/findings.md. Made from the opportunity, the policy and the record alone; never a second
// evaluation.
#pragma once

#include <cstdint>
#include <string>

#include "runtime/episode.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"

namespace linelaw::runtime {

// Stable across runs, machines and threads: XXH3-64 of episode key, clause (or ladder and step, or bundle),
// part and opening instant, as 16 hexadecimal digits.
std::string finding_id(const Policy& policy, const Episode& episode, const Opportunity& opportunity);

// One plain sentence, in the policy's words and the zone's wall clock, that says what happened:
// "The dressing change was due by 2026-03-09 08:30 and came 5 h late, at 13:30."
std::string said(const Policy& policy, const Episode& episode, const Opportunity& opportunity);

// Appends the finding as one line of JSON with its line end. Keys: id episode clause (or ladder, step,
// started_by; or bundle) edition part outcome priority opened due limit closed lateness_s evidence sentence
// said source advice.
void write_finding(std::string& out, const Policy& policy, const Episode& episode,
                   const Opportunity& opportunity);

}  // namespace linelaw::runtime
