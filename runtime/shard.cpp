#include "runtime/shard.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <memory>

#include "runtime/content_hash.hpp"

namespace linelaw::runtime {
namespace {

namespace fs = std::filesystem;

constexpr unsigned most_shards = 1'000'000;

// The first byte of all files together that belongs to the shard after `number`.
std::uint64_t end_of(unsigned number, unsigned of, std::uint64_t total) {
    const std::uint64_t each = total / of;
    const std::uint64_t left = total % of;
    return each * number + std::min<std::uint64_t>(left, number);
}

Result<std::vector<std::uint64_t>> sizes_of(const std::vector<std::string>& files) {
    std::vector<std::uint64_t> sizes;
    for (const std::string& file : files) {
        std::error_code error;
        if (file == "-" || !fs::is_regular_file(file, error)) {
            return tl::unexpected(
                Error{"shard.input", fmt::format("{} cannot be cut into shards: its size is not known before "
                                                 "it is read; write it into a file first",
                                                 file == "-" ? "standard input" : file)});
        }
        sizes.push_back(fs::file_size(file, error));
        if (error)
            return tl::unexpected(
                Error{"file.read", fmt::format("cannot read {}: {}", file, error.message())});
    }
    return sizes;
}

}  // namespace

std::optional<Shard> read_shard(std::string_view text) {
    Shard shard;
    const char* end = text.data() + text.size();
    const auto number = std::from_chars(text.data(), end, shard.number);
    if (number.ec != std::errc{} || number.ptr == end || *number.ptr != '/') return std::nullopt;
    const auto of = std::from_chars(number.ptr + 1, end, shard.of);
    if (of.ec != std::errc{} || of.ptr != end) return std::nullopt;
    if (shard.number < 1 || shard.number > shard.of || shard.of > most_shards) return std::nullopt;
    return shard;
}

Result<std::vector<FilePart>> parts_of(const std::vector<std::string>& files, const Shard& shard) {
    std::vector<FilePart> parts;
    if (shard.whole()) {
        for (const std::string& file : files) parts.push_back({file});
        return parts;
    }
    const auto sizes = sizes_of(files);
    if (!sizes) return tl::unexpected(sizes.error());
    std::uint64_t total = 0;
    for (const std::uint64_t size : *sizes) total += size;
    const std::uint64_t begin = end_of(shard.number - 1, shard.of, total);
    const std::uint64_t end = end_of(shard.number, shard.of, total);
    std::uint64_t at = 0;
    for (std::size_t i = 0; i < files.size(); ++i) {
        const std::uint64_t from = at;
        at += (*sizes)[i];
        if (from == at || at <= begin || from >= end) continue;
        FilePart part{files[i]};
        const bool cut = from < begin || end < at;
        const auto packed = cut ? is_packed(files[i]) : false;
        if (!packed) return tl::unexpected(packed.error());
        if (*packed) {
            if (from < begin) continue;  // an earlier shard's
        } else {
            if (from < begin) part.begin = begin - from;
            if (end < at) part.end = end - from;
        }
        parts.push_back(std::move(part));
    }
    return parts;
}

Result<StoredFile> stored_file(const std::string& path) {
    const auto refused = [&] {
        return tl::unexpected(
            Error{"file.read", fmt::format("cannot read {}: {}", path, std::strerror(errno))});
    };
    const auto close = [](std::FILE* file) { std::fclose(file); };
    const std::unique_ptr<std::FILE, decltype(close)> file(std::fopen(path.c_str(), "rb"), close);
    if (!file) return refused();
    ContentHash hash;
    StoredFile stored{fs::path(path).filename().string(), 0, {}};
    std::vector<char> chunk(std::size_t{1} << 20U);
    while (const std::size_t count = std::fread(chunk.data(), 1, chunk.size(), file.get())) {
        hash.add({chunk.data(), count});
        stored.bytes += count;
    }
    if (std::ferror(file.get()) != 0) return refused();
    stored.hash = hash.digits();
    return stored;
}

}  // namespace linelaw::runtime
