#include "runtime/json_text.hpp"

#include <fmt/format.h>

#include <array>
#include <bit>
#include <nlohmann/json.hpp>

namespace linelaw::runtime {
namespace {

constexpr std::uint64_t each_byte = 0x0101'0101'0101'0101;

// The high bit of some byte is set where any of the eight is a control, a quotation mark, a backslash or not
// ASCII. What a borrow sets besides comes after one that is.
std::uint64_t others_in(std::uint64_t bytes) {
    const auto equal = [bytes](unsigned char c) {
        const std::uint64_t differ = bytes ^ (each_byte * c);
        return (differ - each_byte) & ~differ;
    };
    const std::uint64_t below_space = (bytes - each_byte * ' ') & ~bytes;
    const std::uint64_t from_delete = (bytes + each_byte) | bytes;
    return (below_space | from_delete | equal('"') | equal('\\')) & (each_byte * 0x80);
}

// Most texts, and most are short: eight bytes at a time, the last ones twice.
bool is_plain(std::string_view text) {
    std::array<char, 8> bytes{};
    const auto others_from = [&](std::size_t at) {
        text.copy(bytes.data(), bytes.size(), at);
        return others_in(std::bit_cast<std::uint64_t>(bytes));
    };
    if (text.size() < bytes.size()) {
        bytes.fill(' ');
        return others_from(0) == 0;
    }
    std::uint64_t others = others_from(text.size() - bytes.size());
    for (std::size_t at = 0; at + bytes.size() <= text.size(); at += bytes.size()) others |= others_from(at);
    return others == 0;
}

}  // namespace

void put_text(std::string& out, std::string_view text) {
    if (is_plain(text)) {
        out += '"';
        out += text;
        out += '"';
    } else {
        out += nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
    }
}

void put_instant(std::string& out, Instant t) {
    out += '"';
    out += InstantText(t).view();
    out += '"';
}

void put_whole(std::string& out, std::int64_t number) {
    const fmt::format_int digits(number);
    out.append(digits.data(), digits.size());
}

void put_number(std::string& out, double number) {
    out += nlohmann::json(number).dump();
}

}  // namespace linelaw::runtime
