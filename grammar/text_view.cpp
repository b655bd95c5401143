#include "grammar/text_view.hpp"

#include <algorithm>

#include "grammar/words.hpp"

namespace linelaw::grammar {

namespace {

bool is_continuation(char c) {
    return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U;
}
bool is_beyond_ascii(char c) {
    return (static_cast<unsigned char>(c) & 0x80U) != 0;
}

}  // namespace

std::string lower(std::string_view word) {
    std::string small(word);
    for (char& c : small) {
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    }
    return small;
}

bool TextView::is_line_start(std::uint32_t at) const {
    while (at > 0 && (content_[at - 1] == ' ' || content_[at - 1] == '\t')) --at;
    return at == 0 || content_[at - 1] == '\n';
}

bool TextView::is_margin(std::uint32_t at) const {
    if (at == 0 || content_[at - 1] != '\n') return at == 0;
    std::uint32_t before = at - 1;
    while (before > 0 && is_space_byte(content_[before - 1]) && content_[before - 1] != '\n') --before;
    return before == 0 || content_[before - 1] == '\n';
}

Place TextView::token(std::uint32_t at) const {
    std::uint32_t end = at;
    const auto goes_on = [this](std::uint32_t p) {
        if (is_word_byte(byte(p))) return true;
        const bool joins = byte(p) == '.' || byte(p) == '-' || byte(p) == ':';
        return joins && is_word_byte(byte(p + 1));
    };
    if (is_word_byte(byte(at))) {
        while (goes_on(end)) ++end;
    } else if (!at_end(at)) {
        ++end;
        while (is_continuation(byte(end))) ++end;
    }
    return place(at, end);
}

Place TextView::wide_word(std::uint32_t at) const {
    std::uint32_t end = at;
    while (is_word_byte(byte(end)) || is_beyond_ascii(byte(end)) ||
           (end > at && (byte(end) == '-' || byte(end) == '/' || byte(end) == '.') &&
            is_word_byte(byte(end + 1))) ||
           byte(end) == '%') {
        ++end;
    }
    return place(at, end);
}

Place TextView::token_before(std::uint32_t at) const {
    std::uint32_t end = std::min<std::uint32_t>(at, static_cast<std::uint32_t>(content_.size()));
    for (;;) {
        while (end > 0 && is_space_byte(content_[end - 1])) --end;
        if (end == 0) return place(0, 0);
        // A line that holds a comment is passed over; a `#` inside a string is none, so look for the quote
        // too.
        const std::size_t start = content_.rfind('\n', end - 1) + 1;
        bool in_string = false;
        std::size_t comment = end;
        for (std::size_t p = start; p < end; ++p) {
            if (content_[p] == '"') in_string = !in_string;
            if (content_[p] == '#' && !in_string) {
                comment = p;
                break;
            }
        }
        if (comment == end) break;
        end = static_cast<std::uint32_t>(comment);
    }
    std::uint32_t begin = end - 1;
    if (is_word_byte(content_[begin])) {
        while (begin > 0 && (is_word_byte(content_[begin - 1]) ||
                             ((content_[begin - 1] == '.' || content_[begin - 1] == '-') && begin > 1 &&
                              is_word_byte(content_[begin - 2])))) {
            --begin;
        }
    } else {
        while (begin > 0 && is_continuation(content_[begin])) --begin;
    }
    return place(begin, end);
}

std::uint32_t TextView::after_blanks(std::uint32_t at) const {
    while (byte(at) == ' ' || byte(at) == '\t') ++at;
    return at;
}

std::uint32_t TextView::line_begin(std::uint32_t at) const {
    while (at > 0 && content_[at - 1] != '\n') --at;
    return at;
}

std::uint32_t TextView::line_end(std::uint32_t at) const {
    std::uint32_t end = at;
    while (!at_end(end) && content_[end] != '\n' && content_[end] != '#') ++end;
    while (end > at && is_space_byte(content_[end - 1])) --end;
    return end;
}

std::uint32_t TextView::phrase(std::uint32_t at, std::string_view phrase) const {
    for (const char c : phrase) {
        if (c == ' ') {
            const std::uint32_t before = at;
            while (is_space_byte(byte(at))) ++at;
            if (at == before) return 0;
        } else if (lower(std::string_view(&c, 1)) ==
                   lower(content_.substr(std::min<std::size_t>(at, content_.size()), 1))) {
            ++at;
        } else {
            return 0;
        }
    }
    const bool is_word = !phrase.empty() && is_word_byte(phrase.back());
    return is_word && is_word_byte(byte(at)) ? 0 : at;
}

}  // namespace linelaw::grammar
