// Random choices that are the same on every machine for one seed (the standard library's distributions are
// not).
#pragma once

#include <cstdint>
#include <initializer_list>
#include <utility>
#include <vector>

namespace linelaw::demo {

class Random {
  public:
    explicit Random(std::uint64_t seed) : state_(seed) {}

    std::uint64_t next() {  // splitmix64 (Steele, Lea, Flood 2014; public domain constants)
        std::uint64_t z = (state_ += 0x9E3779B97F4A7C15U);
        z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
        z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
        return z ^ (z >> 31U);
    }
    std::int64_t between(std::int64_t low, std::int64_t high) {  // both ends included
        return low + static_cast<std::int64_t>(next() % static_cast<std::uint64_t>(high - low + 1));
    }
    bool chance(double probability) { return static_cast<double>(next() >> 11U) * 0x1.0p-53 < probability; }
    template <typename T>
    const T& pick(const std::vector<T>& from) {
        return from[static_cast<std::size_t>(next() % from.size())];
    }
    template <typename T>
    T weighted(std::initializer_list<std::pair<T, int>> choices) {
        std::int64_t sum = 0;
        for (const auto& choice : choices) sum += choice.second;
        std::int64_t left = between(1, sum);
        for (const auto& choice : choices) {
            left -= choice.second;
            if (left <= 0) return choice.first;
        }
        return choices.begin()->first;
    }

  private:
    std::uint64_t state_;
};

}  // namespace linelaw::demo
