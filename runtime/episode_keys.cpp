#include "runtime/episode_keys.hpp"

#include <algorithm>

namespace linelaw::runtime {

void EpisodeKeys::add(const EpisodeKeys& other) {
    keys_.insert(keys_.end(), other.keys_.begin(), other.keys_.end());
}

std::vector<std::uint64_t> EpisodeKeys::in_order() const {
    std::vector<std::uint64_t> keys = keys_;
    std::sort(keys.begin(), keys.end());
    return keys;
}

std::uint64_t EpisodeKeys::repeated() const {
    const std::vector<std::uint64_t> keys = in_order();
    std::uint64_t repeated = 0;
    for (std::size_t i = 1; i < keys.size(); ++i) repeated += keys[i] == keys[i - 1] ? 1 : 0;
    return repeated;
}

}  // namespace linelaw::runtime
