#include "runtime/episode_keys.hpp"

#include <algorithm>
#include <utility>

namespace linelaw::runtime {

void EpisodeKeys::add(const EpisodeKeys& other) {
    put_in_order();
    const auto middle = static_cast<std::ptrdiff_t>(keys_.size());
    const std::vector<std::uint64_t> others = other.in_order();
    keys_.insert(keys_.end(), others.begin(), others.end());
    std::inplace_merge(keys_.begin(), keys_.begin() + middle, keys_.end());
    in_order_ = keys_.size();
}

void EpisodeKeys::put_in_order() {
    if (in_order_ == keys_.size()) return;
    std::sort(keys_.begin(), keys_.end());
    in_order_ = keys_.size();
}

std::vector<std::uint64_t> EpisodeKeys::in_order() const {
    EpisodeKeys all = *this;
    all.put_in_order();
    return std::move(all.keys_);
}

std::uint64_t EpisodeKeys::repeated() const {
    const std::vector<std::uint64_t> keys = in_order();
    std::uint64_t repeated = 0;
    for (std::size_t i = 1; i < keys.size(); ++i) repeated += keys[i] == keys[i - 1] ? 1 : 0;
    return repeated;
}

}  // namespace linelaw::runtime
