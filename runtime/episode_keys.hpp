// Which episodes were judged, so that one that stands twice among the records is seen, as where the extracts
// of two months overlap. Known by a hash of facility and key. Eight bytes an episode, and up to as much
// again.
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace linelaw::runtime {

class EpisodeKeys {
  public:
    void add(std::uint64_t episode) { keys_.push_back(episode); }
    void add(const EpisodeKeys& other);
    std::uint64_t count() const { return keys_.size(); }
    // What is asked for below comes at once where nothing was added since.
    void put_in_order();
    // How many were of an episode that had come before.
    std::uint64_t repeated() const;
    std::vector<std::uint64_t> in_order() const;
    bool operator==(const EpisodeKeys& other) const { return in_order() == other.in_order(); }

  private:
    std::vector<std::uint64_t> keys_;
    std::size_t in_order_ = 0;  // so many of them, from the first on
};

}  // namespace linelaw::runtime
