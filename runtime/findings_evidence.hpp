// A finding's evidence: the events, the absences and the values that decided it, with their places in the
// record.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "runtime/episode.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/outcome.hpp"

namespace linelaw::runtime {

// An array in the order: what opened it, what closed it, what was absent, values. Keys of patients and free
// texts are said to be there; they are not shown.
nlohmann::ordered_json evidence_of(const Words& words, const Episode& episode, const Opportunity& opportunity,
                                   Instant horizon, bool keys = true);

}  // namespace linelaw::runtime
