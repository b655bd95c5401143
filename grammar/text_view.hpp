// A text around one place: the word that stands there, the one before it, the rest of the line. For the
// messages about faults; knows the words of the language, not its rules.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "grammar/source.hpp"

namespace linelaw::grammar {

class TextView {
  public:
    TextView(std::string_view content, std::uint32_t text) : content_(content), text_(text) {}

    std::string_view slice(Place place) const {
        return content_.substr(place.begin, place.end - place.begin);
    }
    bool at_end(std::uint32_t at) const { return at >= content_.size(); }
    char byte(std::size_t at) const { return at < content_.size() ? content_[at] : '\0'; }
    bool is_line_start(std::uint32_t at) const;
    // At the very start of a line after a blank one: where items begin.
    bool is_margin(std::uint32_t at) const;

    // What stands at `at`, as far as it helps to see it: a word, a number, a string's opening, or one sign.
    Place token(std::uint32_t at) const;
    // Letters, digits, `_ - . / % °`: a word as somebody might have written it.
    Place wide_word(std::uint32_t at) const;
    // The token before `at`, on whatever line; empty at the start of the text. Comments are passed over.
    Place token_before(std::uint32_t at) const;
    std::uint32_t after_blanks(std::uint32_t at) const;  // blanks of the line only
    std::uint32_t line_begin(std::uint32_t at) const;
    Place line_word(std::uint32_t at) const {  // the first word of the line
        return token(after_blanks(line_begin(at)));
    }
    std::uint32_t line_end(std::uint32_t at) const;  // without blanks and comment at the end
    Place place(std::uint32_t begin, std::uint32_t end) const { return {text_, begin, end}; }
    // Whether the words of `phrase`, in any case, stand at `at`; their end, or 0.
    std::uint32_t phrase(std::uint32_t at, std::string_view phrase) const;

  private:
    std::string_view content_;
    std::uint32_t text_;
};

std::string lower(std::string_view word);

}  // namespace linelaw::grammar
