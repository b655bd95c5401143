// Files read whole: to their very end, or not at all. Knows nothing of what stands in them.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <string>

#include "runtime/result.hpp"

namespace linelaw::compiler {

constexpr std::size_t longest_text = std::size_t{64} << 20U;  // bytes, of a policy's text

// The file, or standard input for "-"; "file.read" with the path and the reason where it cannot be read to
// its end, or has more than `most` bytes.
runtime::Result<std::string> content_of(const std::string& path, std::size_t most = std::string::npos);

// Reads the text at `path`; nothing where it cannot be read.
using FileReader = std::function<std::optional<std::string>(const std::string& path)>;
std::optional<std::string> read_file(const std::string& path);

}  // namespace linelaw::compiler
