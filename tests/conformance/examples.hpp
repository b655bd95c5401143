// A policy's example as an episode, for the vectors: straight from the tree, with no record between, so that
// what is tested is the engine alone.
#pragma once

#include <string>

#include "grammar/tree.hpp"
#include "runtime/episode.hpp"
#include "runtime/policy.hpp"

namespace conformance {

// The instant of `day N HH:MM` on the example's clock.
linelaw::runtime::Instant instant_of(const linelaw::runtime::Policy& policy,
                                     const linelaw::runtime::Zone& zone,
                                     const linelaw::grammar::ExampleItem& example, std::int32_t day,
                                     std::int64_t time_of_day);

// Throws std::runtime_error with the place where the example cannot be said as an episode.
linelaw::runtime::Episode episode_of(const linelaw::runtime::Policy& policy,
                                     const linelaw::runtime::Zone& zone,
                                     const linelaw::grammar::ExampleItem& example);

}  // namespace conformance
