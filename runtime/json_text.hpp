// JSON written straight onto the end of a text. For what is written once a record or oftener, where a tree of
// values first would cost more than all that it is made from. Knows nothing of what is written.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "runtime/time.hpp"

namespace linelaw::runtime {

// In its quotation marks, escaped. What is not UTF-8 becomes U+FFFD.
void put_text(std::string& out, std::string_view text);
void put_instant(std::string& out, Instant t);
void put_whole(std::string& out, std::int64_t number);
// As few digits as give the same number again.
void put_number(std::string& out, double number);

}  // namespace linelaw::runtime
