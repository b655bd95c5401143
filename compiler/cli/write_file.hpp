// One file written: it holds either what it held or all of the new text, on the disk, whatever happens in
// between. Errors are "file.write" and say the path and the reason.
#pragma once

#include <cstdio>
#include <string>
#include <string_view>

#include "runtime/result.hpp"

namespace linelaw::compiler::cli {

// A link is followed, and the file keeps its mode. What is no regular file (a device, a pipe) cannot be
// replaced and is written into.
runtime::Result<void> write_atomically(const std::string& path, std::string_view content);

tl::unexpected<runtime::Error> cannot_write(const std::string& path, std::string_view reason);
tl::unexpected<runtime::Error> cannot_write(const std::string& path);  // the reason is errno's

// What is still buffered, and what the file system takes late, fails here and not after a renaming.
runtime::Result<void> sync_stream(std::FILE* stream, const std::string& path);
// So that what was renamed in it stays renamed when the power goes. Some file systems cannot, and need not.
void sync_folder(const std::string& path);

}  // namespace linelaw::compiler::cli
