#include "runtime/episode_keys.hpp"

#include <utility>

#include "runtime/sorted_tail.hpp"

namespace linelaw::runtime {

void EpisodeKeys::add(const EpisodeKeys& other) {
    const std::vector<std::uint64_t> others = other.in_order();
    keys_.insert(keys_.end(), others.begin(), others.end());
    if (is_due_for_order(keys_.size(), in_order_)) put_in_order();
}

void EpisodeKeys::put_in_order() {
    if (in_order_ == keys_.size()) return;
    merge_tail(keys_, in_order_);
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
