// Lists that grow at their end and are put in order now and then: each time that they are twice as long, so
// that a list of many parts costs little more than one sorting.
#pragma once

#include <algorithm>
#include <cstddef>
#include <functional>
#include <vector>

namespace linelaw::runtime {

// The first `in_order` are in order; what stands behind them is put among them.
template <class T, class Before = std::less<>>
void merge_tail(std::vector<T>& all, std::size_t in_order, Before before = {}) {
    const auto tail = all.begin() + static_cast<std::ptrdiff_t>(in_order);
    if (!std::is_sorted(tail, all.end(), before)) std::sort(tail, all.end(), before);
    std::inplace_merge(all.begin(), tail, all.end(), before);
}

inline bool is_due_for_order(std::size_t size, std::size_t in_order) {
    return size >= 2 * in_order;
}

}  // namespace linelaw::runtime
