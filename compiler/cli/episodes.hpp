// Records one after another, for the commands that look at episodes and not at batches.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/policy.hpp"
#include "runtime/records.hpp"
#include "runtime/result.hpp"

namespace linelaw::compiler::cli {

struct EpisodePlace {
    std::string file;
    std::uint64_t line = 0;
};
// What is done with each: an episode, until the answer is false; or a record that cannot be read.
struct EpisodeSinks {
    std::function<bool(const runtime::Episode&, const EpisodePlace&)> episode;
    std::function<void(const runtime::Spoiled&, const EpisodePlace&)> spoiled;
};
// A file that is one record over several lines is taken as such.
runtime::Result<void> read_episodes(const runtime::Policy& policy, const std::vector<std::string>& inputs,
                                    const EpisodeSinks& sinks);

}  // namespace linelaw::compiler::cli
