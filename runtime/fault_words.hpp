// What is wrong with a record or a value, in a few words for a table: the codes of docs/records.md, read
// aloud.
#pragma once

#include <string_view>

namespace linelaw::runtime {

// "an instant is missing or does not exist" of `record.instant`; the code itself where it is not known.
std::string_view fault_in_words(std::string_view code);

}  // namespace linelaw::runtime
