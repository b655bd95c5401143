// Letters and figures of ASCII, whatever the locale of the program that this is part of: the C library's own
// follow it, and a record or a policy does not. Knows nothing of other letters, which it leaves as they are.
#pragma once

namespace linelaw::runtime::ascii {

constexpr bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
constexpr bool is_upper(char c) {
    return c >= 'A' && c <= 'Z';
}
constexpr bool is_lower(char c) {
    return c >= 'a' && c <= 'z';
}
constexpr bool is_letter_or_digit(char c) {
    return is_upper(c) || is_lower(c) || is_digit(c);
}
constexpr char lower(char c) {
    return is_upper(c) ? static_cast<char>(c - 'A' + 'a') : c;
}
constexpr char upper(char c) {
    return is_lower(c) ? static_cast<char>(c - 'a' + 'A') : c;
}

}  // namespace linelaw::runtime::ascii
