// The words of the language: which are reserved, which begin an item or a line of one, the units, and the
// nearest word to a misspelt one. Tables only; the rules say where each may stand.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace linelaw::grammar {

// What a demand's line ends with, where more follows: the rule says it, and the message then shows how a
// demand is written.
inline constexpr char demand_is_complete[] = "the demand is complete before it";

// The kinds of item, as far as they differ in which lines they take.
enum class Block : std::uint8_t {
    none,
    policy_header,
    vocabulary_header,
    attributes,  // patient, line and part of a vocabulary
    event,
    state,
    question,
    source,
    table,
    clause,
    escalation,
    bundle,
    example,
};

bool is_word_byte(char c);   // of a name: letters, digits, underscore
bool is_space_byte(char c);  // blank, tab, carriage return, line feed

// Words that are never a bare name, wherever they stand.
bool is_operator_word(std::string_view word);
// Words that begin an item or a line of one. They are names only after a dot, before a colon, or where a name
// stands inside a line.
bool is_head_word(std::string_view word);
bool is_item_word(std::string_view word);
// Whether `word` begins a line of `block`.
bool is_line_word(Block block, std::string_view word);

// The reserved word that `word` was probably meant to be at the start of a line of `block` (or as the first
// word of an item); empty if none is near. O(length² · words).
std::string_view nearest_head_word(Block block, std::string_view word);
// True if one is the other with at most `limit` letters changed, added, left out or exchanged with a
// neighbour.
bool within_edits(std::string_view a, std::string_view b, std::size_t limit);

// The longest unit that `text` begins with ("calendar days", "units/mL"; words apart by any blanks), as a
// count of bytes; 0 if none.
std::size_t unit_length(std::string_view text);
// As the formatter writes it for that number: "7 days", "1 day".
std::string canonical_unit(std::string_view number, std::string_view unit);

}  // namespace linelaw::grammar
