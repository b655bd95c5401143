// Times of day, and instants read one after another, as a record's are: most share their day and their offset
// with the one before.
#pragma once

#include <array>
#include <cstdint>
#include <cstring>
#include <optional>
#include <string_view>

#include "runtime/time.hpp"

namespace linelaw::runtime {

// "10:15" or "10:15:00" as microseconds from midnight; nothing where it is no time, or a leap second.
inline std::optional<std::int64_t> read_time_of_day(std::string_view text) {
    const auto two = [text](std::size_t i, int most) {
        const int value = (text[i] - '0') * 10 + (text[i + 1] - '0');
        const bool digits = text[i] >= '0' && text[i] <= '9' && text[i + 1] >= '0' && text[i + 1] <= '9';
        return digits && value <= most ? value : -1;
    };
    if ((text.size() != 5 && text.size() != 8) || text[2] != ':') return std::nullopt;
    const int hour = two(0, 23);
    const int minute = two(3, 59);
    const int second = text.size() == 5 ? 0 : text[5] == ':' ? two(6, 59) : -1;
    if (hour < 0 || minute < 0 || second < 0) return std::nullopt;
    return (hour * 3600 + minute * 60 + second) * microseconds_per_second;
}

class InstantReader {
  public:
    // The same answer as read_instant's, which is asked where the day or the offset is another one.
    std::optional<Instant> read(std::string_view text) {
        if (!like_the_one_before(text)) return read_and_keep(text);
        const auto time = time_of_day(text);
        return time ? std::optional(midnight_ + *time) : read_instant(text);
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

    static std::optional<std::int64_t> time_of_day(std::string_view text) {
        return read_time_of_day({text.data() + time_at, offset_at - time_at});
    }

    std::optional<Instant> read_and_keep(std::string_view text) {
        const auto instant = read_instant(text);
        if (!instant || text.size() != whole) return instant;
        const auto time = time_of_day(text);
        if (!time || text[offset_at] == '.') return instant;
        text.copy(kept_.data(), whole);
        midnight_ = *instant - *time;
        return instant;
    }

    std::array<char, whole> kept_{};  // no instant at first
    Instant midnight_ = 0;            // of its day, at its offset
};

}  // namespace linelaw::runtime
