// Instants read one after another, as a record's are: most share their day and their offset with the one
// before.
#pragma once

#include <array>
#include <cstdint>
#include <cstring>
#include <optional>
#include <string_view>

#include "runtime/time.hpp"

namespace linelaw::runtime {

class InstantReader {
  public:
    // The same answer as read_instant's, which is asked where the day or the offset is another one.
    std::optional<Instant> read(std::string_view text) {
        if (!like_the_one_before(text)) return read_and_keep(text);
        const auto clock = seconds_of_day(text.data() + time_at);
        return clock ? std::optional(midnight_ + *clock * microseconds_per_second) : read_instant(text);
    }

  private:
    // 2026-03-02T10:15:00-04:00, to the byte; whatever is written otherwise is not kept.
    static constexpr std::size_t time_at = 11;
    static constexpr std::size_t offset_at = 19;
    static constexpr std::size_t whole = 25;

    bool like_the_one_before(std::string_view text) const {
        // All but the time of day, some bytes twice: a few words are compared sooner than 17 bytes.
        const auto differ = [this, &text](std::size_t at, auto word) {
            auto kept = word;
            std::memcpy(&word, text.data() + at, sizeof word);
            std::memcpy(&kept, kept_.data() + at, sizeof kept);
            return static_cast<std::uint64_t>(word ^ kept);
        };
        return text.size() == whole &&
               (differ(0, std::uint64_t{}) | differ(time_at - 8, std::uint64_t{}) |
                differ(offset_at, std::uint32_t{}) | differ(whole - 4, std::uint32_t{})) == 0;
    }

    // "10:15:00"; nothing where it is no time, or a leap second.
    static std::optional<std::int64_t> seconds_of_day(const char* p) {
        const auto two = [p](std::size_t i) -> unsigned {
            const auto tens = static_cast<unsigned char>(p[i] - '0');
            const auto ones = static_cast<unsigned char>(p[i + 1] - '0');
            return tens <= 9 && ones <= 9 ? tens * 10U + ones : 99U;
        };
        const unsigned hour = two(0);
        const unsigned minute = two(3);
        const unsigned second = two(6);
        if (hour > 23 || minute > 59 || second > 59 || p[2] != ':' || p[5] != ':') return std::nullopt;
        return hour * 3600 + minute * 60 + second;
    }

    std::optional<Instant> read_and_keep(std::string_view text) {
        const auto instant = read_instant(text);
        if (!instant || text.size() != whole) return instant;
        const auto clock = seconds_of_day(text.data() + time_at);
        if (!clock || text[offset_at] == '.') return instant;
        text.copy(kept_.data(), whole);
        midnight_ = *instant - *clock * microseconds_per_second;
        return instant;
    }

    std::array<char, whole> kept_{};  // no instant at first
    Instant midnight_ = 0;            // of its day, at its offset
};

}  // namespace linelaw::runtime
