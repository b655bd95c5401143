// `why` as a page: the episode's timeline, and for each clause what opened, was due and happened, the words
// that decided, the evidence, and what would have met it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"

namespace linelaw::compiler::cli {

// `shown` are some of `all`, the episode's opportunities.
std::string why_page(const runtime::Policy& policy, const runtime::Episode& episode,
                     const std::vector<runtime::Opportunity>& shown, const runtime::Judgement& all,
                     std::optional<runtime::Instant> as_of);

}  // namespace linelaw::compiler::cli
