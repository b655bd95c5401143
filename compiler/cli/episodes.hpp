// Records one after another, for the commands that look at episodes and not at batches.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
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
// What is done with each: an episode, until the answer is false, and before it what was not used of it; or a
// record that cannot be read, with the key of its episode where that was read.
struct EpisodeSinks {
    std::function<bool(const runtime::Episode&, const EpisodePlace&)> episode;
    std::function<void(const runtime::ReadCounts&)> not_used = {};
    std::function<void(const runtime::Spoiled&, const std::string& key, const EpisodePlace&)> spoiled = {};
};
// Every record's text, for those who read it by more than one policy, until the answer is false. A file that
// is one record over several lines is taken as such; one that begins otherwise than records do is named on
// standard error.
using RecordSink = std::function<bool(std::string_view record, const EpisodePlace&)>;
constexpr std::size_t record_limit = 16U << 20U;  // bytes
runtime::Result<void> read_record_texts(const std::vector<std::string>& files, const RecordSink& sink);

runtime::Result<void> read_episodes(const runtime::Policy& policy, const std::vector<std::string>& files,
                                    const EpisodeSinks& sinks);

}  // namespace linelaw::compiler::cli
