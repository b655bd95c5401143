// What happened at one opportunity, in plain words.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/findings_inputs.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/outcome.hpp"

namespace linelaw::runtime {

// `inputs` are the opportunity's (inputs_of).
std::string say(const Words& words, const Episode& episode, const Opportunity& opportunity,
                const std::vector<Input>& inputs, const Judgement& all, Instant horizon);

}  // namespace linelaw::runtime
