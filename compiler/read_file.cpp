#include "compiler/read_file.hpp"

#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <memory>

namespace linelaw::compiler {

namespace {

std::string why_not(const std::string& path, int error) {
    std::error_code ignored;
    const auto kind = std::filesystem::status(path, ignored).type();
    if (path != "-" && kind == std::filesystem::file_type::not_found) return "there is no such file";
    if (path != "-" && kind == std::filesystem::file_type::directory) return "it is a folder";
    if (error == EACCES || error == 0) return "it may not be read";
    return std::strerror(error);
}

}  // namespace

runtime::Result<std::string> content_of(const std::string& path, std::size_t most) {
    const auto refused = [&](const std::string& why) {
        return tl::unexpected(runtime::Error{"file.read", fmt::format("cannot read {}: {}", path, why)});
    };
    const auto close = [](std::FILE* file) {
        if (file != stdin) std::fclose(file);
    };
    errno = 0;
    const std::unique_ptr<std::FILE, decltype(close)> file(
        path == "-" ? stdin : std::fopen(path.c_str(), "rb"), close);
    if (!file) return refused(why_not(path, errno));
    std::string content;
    std::array<char, 1U << 16U> chunk{};
    while (const std::size_t count = std::fread(chunk.data(), 1, chunk.size(), file.get())) {
        content.append(chunk.data(), count);
        if (content.size() > most)
            return refused(fmt::format("it has more than {} bytes; is it the right file?", most));
    }
    // A disk that fails is no end of the text.
    if (std::ferror(file.get()) != 0) return refused(why_not(path, errno));
    return content;
}

std::optional<std::string> read_file(const std::string& path) {
    auto content = content_of(path, longest_text);
    return content ? std::optional(std::move(*content)) : std::nullopt;
}

}  // namespace linelaw::compiler
