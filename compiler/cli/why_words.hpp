// The words of `why` that its text and its page share: an episode, an opportunity's times, what decided it.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"

namespace linelaw::compiler::cli {

// " in med-3: in since …, removed …, known until … (zone)"
std::string episode_words(const runtime::Policy& policy, const runtime::Episode& episode,
                          std::optional<runtime::Instant> as_of, const runtime::Words& words);
// "lumen 2: opened …, due …, limit …, closed …"
std::string times_of(const runtime::Opportunity& o, const runtime::Episode& episode,
                     const runtime::Words& words);
// What decided it, a line each: events, that none came between two instants, values with their places.
std::vector<std::string> evidence_lines(const nlohmann::ordered_json& finding, const runtime::Words& words);

}  // namespace linelaw::compiler::cli
