// What a boundary (text, record, file) answers when it cannot do its work: a code and a sentence that says
// where, what and how to mend it. Never holds an attribute's value.
#pragma once

#include <string>
#include <tl/expected.hpp>

namespace linelaw::runtime {

struct Error {
    std::string code;  // "policy.schema", "record.instant", "file.read" …
    std::string message;
    std::string pointer = {};  // JSON pointer into the text, where it is JSON and the place is one of it
};
template <typename T>
using Result = tl::expected<T, Error>;

}  // namespace linelaw::runtime
