// Times of day, and instants read one after another, as a record's are: most share their day and their offset
// with the one before.
#pragma once

#include <array>
#include <bit>
#include <cstdint>
#include <cstring>
#include <optional>
#include <string_view>

#include "runtime/time.hpp"

namespace linelaw::runtime {

// "10:15:00" as seconds from midnight; below 0 where it is no time, or a leap second. All eight at once.
inline int seconds_from_midnight(const char* eight) {
    static_assert(std::endian::native == std::endian::little);
    std::uint64_t text = 0;
    std::memcpy(&text, eight, sizeof text);
    const std::uint64_t digits = text ^ 0x3030'3A30'303A'3030;              // and 0 in place of the colons
    const std::uint64_t above = (digits + 0x7676'7F76'767F'7676) | digits;  // its high bits: above 9, or 0
    if ((above & 0x8080'8080'8080'8080) != 0) return -1;
    const auto two = [digits](int at) {
        return static_cast<int>((digits >> at & 0xFF) * 10 + (digits >> (at + 8) & 0xFF));
    };
    const int hour = two(0);
    const int minute = two(24);
    const int second = two(48);
    return hour > 23 || minute > 59 || second > 59 ? -1 : hour * 3600 + minute * 60 + second;
}

// "10:15" or "10:15:00" as microseconds from midnight; nothing where it is no time, or a leap second.
inline std::optional<std::int64_t> read_time_of_day(std::string_view text) {
    std::array<char, 8> eight = {'0', '0', ':', '0', '0', ':', '0', '0'};
    if (text.size() != 5 && text.size() != eight.size()) return std::nullopt;
    text.copy(eight.data(), eight.size());
    const int seconds = seconds_from_midnight(eight.data());
    if (seconds < 0) return std::nullopt;
    return seconds * microseconds_per_second;
}

class InstantReader {
  public:
    // The same answer as read_instant's, which is asked where the day or the offset is another one; false in
    // place of nothing. Not an optional, which is slow to take right after it was made.
    bool read(std::string_view text, Instant& instant) {
        if (like_the_one_before(text)) {
            const int seconds = seconds_from_midnight(text.data() + time_at);
            instant = midnight_ + seconds * microseconds_per_second;
            if (seconds >= 0) return true;
        }
        return read_and_keep(text, instant);
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

    bool read_and_keep(std::string_view text, Instant& instant) {
        const auto found = read_instant(text);
        if (!found) return false;
        instant = *found;
        if (text.size() != whole || text[offset_at] == '.') return true;
        const int seconds = seconds_from_midnight(text.data() + time_at);
        if (seconds < 0) return true;
        text.copy(kept_.data(), whole);
        midnight_ = instant - seconds * microseconds_per_second;
        return true;
    }

    std::array<char, whole + 1> kept_{"1970-01-01T00:00:00+00:00"};
    Instant midnight_ = 0;  // of its day, at its offset
};

}  // namespace linelaw::runtime
