#include "grammar/columns.hpp"

#include <array>
#include <cstdint>

namespace linelaw::grammar {

namespace {

constexpr std::size_t tab_stop = 4;
constexpr std::string_view replacement = "\xEF\xBF\xBD";

struct Decoded {
    std::uint32_t code_point = 0;
    std::size_t length = 1;
    bool valid = false;
};

Decoded decode(std::string_view text, std::size_t at) {
    const auto first = static_cast<unsigned char>(text[at]);
    if (first < 0x80) return {first, 1, true};
    const std::size_t length = first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : 2;
    if (first < 0xC2 || first > 0xF4 || at + length > text.size()) return {};
    std::uint32_t code_point = first & (0xFFU >> (length + 1));
    for (std::size_t i = 1; i < length; ++i) {
        const auto next = static_cast<unsigned char>(text[at + i]);
        if ((next & 0xC0U) != 0x80U) return {};
        code_point = (code_point << 6U) | (next & 0x3FU);
    }
    const bool overlong = (length == 3 && code_point < 0x800) || (length == 4 && code_point < 0x10000);
    const bool no_character = (code_point >= 0xD800 && code_point < 0xE000) || code_point > 0x10FFFF;
    if (overlong || no_character) return {};
    return {code_point, length, true};
}

struct Span {
    std::uint32_t first;
    std::uint32_t last;
};

constexpr auto combining = std::to_array<Span>({{0x0300, 0x036F},
                                                {0x0483, 0x0489},
                                                {0x0591, 0x05BD},
                                                {0x0610, 0x061A},
                                                {0x064B, 0x065F},
                                                {0x1AB0, 0x1AFF},
                                                {0x1DC0, 0x1DFF},
                                                {0x200B, 0x200F},
                                                {0x20D0, 0x20FF},
                                                {0x2060, 0x2064},
                                                {0xFE00, 0xFE0F},
                                                {0xFE20, 0xFE2F}});
constexpr auto wide = std::to_array<Span>({{0x1100, 0x115F},
                                           {0x2E80, 0x303E},
                                           {0x3041, 0x33FF},
                                           {0x3400, 0x4DBF},
                                           {0x4E00, 0x9FFF},
                                           {0xA000, 0xA4CF},
                                           {0xAC00, 0xD7A3},
                                           {0xF900, 0xFAFF},
                                           {0xFE30, 0xFE6F},
                                           {0xFF00, 0xFF60},
                                           {0xFFE0, 0xFFE6},
                                           {0x1F300, 0x1F64F},
                                           {0x1F680, 0x1F6FF},
                                           {0x1F900, 0x1F9FF},
                                           {0x20000, 0x3FFFD}});

template <typename Table>
bool lies_in(const Table& table, std::uint32_t code_point) {
    for (const Span& span : table) {
        if (code_point >= span.first && code_point <= span.last) return true;
    }
    return false;
}

std::size_t columns_of(std::uint32_t code_point) {
    if (lies_in(combining, code_point)) return 0;
    return lies_in(wide, code_point) ? 2 : 1;
}

// C0 and C1 controls, and the marks that turn the direction of writing.
bool is_unprintable(std::uint32_t c) {
    return c < 0x20 || (c >= 0x7F && c < 0xA0) || (c >= 0x202A && c <= 0x202E) ||
           (c >= 0x2066 && c <= 0x2069);
}

}  // namespace

ShownLine show_line(std::string_view line) {
    ShownLine shown;
    std::size_t column = 0;
    for (std::size_t at = 0; at < line.size();) {
        const Decoded c = decode(line, at);
        for (std::size_t i = 0; i < c.length; ++i) shown.column.push_back(column);
        if (c.valid && c.code_point == '\t') {
            const std::size_t blanks = tab_stop - column % tab_stop;
            shown.text.append(blanks, ' ');
            column += blanks;
        } else if (!c.valid || is_unprintable(c.code_point)) {
            shown.text += replacement;
            ++column;
        } else {
            shown.text += line.substr(at, c.length);
            column += columns_of(c.code_point);
        }
        at += c.length;
    }
    shown.column.push_back(column);
    return shown;
}

std::size_t utf8_length(std::string_view text, std::size_t at) {
    const Decoded c = decode(text, at);
    return c.valid ? c.length : 0;
}

std::string printable(std::string_view text) {
    std::string shown;
    for (std::size_t at = 0; at < text.size();) {
        const Decoded c = decode(text, at);
        const bool keep = c.valid && (c.code_point == '\n' || !is_unprintable(c.code_point));
        shown += keep ? text.substr(at, c.length) : replacement;
        at += c.length;
    }
    return shown;
}

std::string wrap(std::string_view text, std::size_t width, std::size_t first_column, std::size_t indent) {
    std::string wrapped;
    std::size_t column = first_column;
    bool line_is_empty = true;
    while (!text.empty()) {
        const std::size_t begin = text.find_first_not_of(' ');
        if (begin == std::string_view::npos) break;
        const std::size_t end = std::min(text.find(' ', begin), text.size());
        const std::string_view word = text.substr(begin, end - begin);
        const std::size_t needed = show_line(word).column.back();
        if (!line_is_empty && column + 1 + needed > width) {
            wrapped += '\n' + std::string(indent, ' ');
            column = indent;
            line_is_empty = true;
        }
        if (!line_is_empty) {
            wrapped += ' ';
            ++column;
        }
        wrapped += word;
        column += needed;
        line_is_empty = false;
        text.remove_prefix(end);
    }
    return wrapped;
}

}  // namespace linelaw::grammar
