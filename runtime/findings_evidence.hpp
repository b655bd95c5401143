// A finding's evidence: the events, the absences and the values that decided it, with their places in the
// record.
#pragma once

#include <string>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/findings_inputs.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/outcome.hpp"

namespace linelaw::runtime {

// Appends an array in the order: what opened it, what closed it, what was absent, values. Keys of patients
// and free texts are said to be there; they are not shown.
void put_evidence(std::string& out, const Words& words, const Episode& episode,
                  const Opportunity& opportunity, const std::vector<Input>& inputs, Instant horizon,
                  bool keys);

}  // namespace linelaw::runtime
