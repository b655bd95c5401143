// How text fills the columns of a terminal: wide, combining and unprintable characters, tabs, and wrapping.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace linelaw::grammar {

// One line as it is shown, tabs as blanks and what cannot be shown as `�`, with the column of every byte.
struct ShownLine {
    std::string text;
    // For byte i of the line: the column (from 0) where it is shown; one more entry for the end.
    std::vector<std::size_t> column;
};
ShownLine show_line(std::string_view line);

// The bytes of the character at `at`; 0 if there is no valid UTF-8.
std::size_t utf8_length(std::string_view text, std::size_t at);

// Without control characters, so that a policy's words cannot steer the terminal.
std::string printable(std::string_view text);

// `text` in lines of at most `width` columns, each but the first after `indent` blanks. Words that are longer
// stand alone.
std::string wrap(std::string_view text, std::size_t width, std::size_t first_column, std::size_t indent);

}  // namespace linelaw::grammar
