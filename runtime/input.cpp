#include "runtime/input.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>
#include <zstd.h>
#include <zstd_errors.h>

#include <algorithm>
#include <cassert>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <optional>
#include <variant>

namespace linelaw::runtime {
namespace {

namespace fs = std::filesystem;

Error cannot_read(const std::string& path, std::string_view reason) {
    return {"file.read", fmt::format("cannot read {}: {}", path == "-" ? "standard input" : path, reason)};
}

// ---- bytes of one file, unpacked

// A file or standard input as it is stored.
class Stored {
  public:
    explicit Stored(const std::string& path)
        : path_(path), descriptor_(path == "-" ? STDIN_FILENO : ::open(path.c_str(), O_RDONLY | O_CLOEXEC)) {}
    ~Stored() {
        if (descriptor_ > STDIN_FILENO) ::close(descriptor_);
    }
    Stored(const Stored&) = delete;
    Stored& operator=(const Stored&) = delete;

    bool opened() const { return descriptor_ >= 0; }
    const std::string& path() const { return path_; }
    std::uint64_t bytes_read() const { return bytes_read_; }

    // Whether it could go so far on without reading; a pipe cannot.
    bool pass_over(std::uint64_t size) {
        if (::lseek(descriptor_, static_cast<::off_t>(size), SEEK_CUR) < 0) return false;
        bytes_read_ += size;
        return true;
    }

    Result<std::size_t> read(char* into, std::size_t size) {
        for (;;) {
            const ::ssize_t got = ::read(descriptor_, into, size);
            if (got >= 0) {
                bytes_read_ += static_cast<std::uint64_t>(got);
                return static_cast<std::size_t>(got);
            }
            if (errno != EINTR) return tl::unexpected(cannot_read(path_, std::strerror(errno)));
        }
    }

  private:
    std::string path_;
    int descriptor_;
    std::uint64_t bytes_read_ = 0;
};

// What was stored and not yet unpacked.
struct Packed {
    explicit Packed(std::size_t size) : bytes(size) {}
    std::vector<char> bytes;
    std::size_t begin = 0;
    std::size_t end = 0;
    bool ended = false;

    Result<void> refill(Stored& stored) {
        if (begin < end || ended) return {};
        const auto got = stored.read(bytes.data(), bytes.size());
        if (!got) return tl::unexpected(got.error());
        begin = 0;
        end = *got;
        ended = *got == 0;
        return {};
    }
};

class Gunzip {
  public:
    Gunzip() {
        constexpr int gzip_only = 16 + MAX_WBITS;
        if (inflateInit2(&stream_, gzip_only) != Z_OK) throw std::bad_alloc();
    }
    ~Gunzip() { inflateEnd(&stream_); }
    Gunzip(const Gunzip&) = delete;
    Gunzip& operator=(const Gunzip&) = delete;

    Result<std::size_t> read(Stored& stored, Packed& packed, char* into, std::size_t size) {
        stream_.next_out = reinterpret_cast<Bytef*>(into);
        stream_.avail_out = static_cast<uInt>(size);
        while (stream_.avail_out == size) {
            if (auto filled = packed.refill(stored); !filled) return tl::unexpected(filled.error());
            if (packed.ended) {
                if (between_members_) return std::size_t{0};
                return tl::unexpected(cannot_read(stored.path(), "the compressed data end early"));
            }
            if (between_members_ && inflateReset(&stream_) != Z_OK) {
                return tl::unexpected(cannot_read(stored.path(), "zlib could not go on"));
            }
            between_members_ = false;
            stream_.next_in = reinterpret_cast<Bytef*>(packed.bytes.data() + packed.begin);
            stream_.avail_in = static_cast<uInt>(packed.end - packed.begin);
            const int status = inflate(&stream_, Z_NO_FLUSH);
            packed.begin = packed.end - stream_.avail_in;
            if (status == Z_STREAM_END) {
                between_members_ = true;
            } else if (status != Z_OK && status != Z_BUF_ERROR) {
                return tl::unexpected(cannot_read(stored.path(), "the compressed data are damaged"));
            }
        }
        return size - stream_.avail_out;
    }

  private:
    z_stream stream_{};
    bool between_members_ = false;
};

class Unzstd {
  public:
    Unzstd() : context_(ZSTD_createDCtx()) {
        if (!context_) throw std::bad_alloc();
    }

    Result<std::size_t> read(Stored& stored, Packed& packed, char* into, std::size_t size) {
        ZSTD_outBuffer out{into, size, 0};
        while (out.pos == 0) {
            if (auto filled = packed.refill(stored); !filled) return tl::unexpected(filled.error());
            if (packed.ended && between_frames_) return std::size_t{0};
            ZSTD_inBuffer in{packed.bytes.data(), packed.end, packed.begin};
            const std::size_t before = in.pos;
            const std::size_t status = ZSTD_decompressStream(context_.get(), &out, &in);
            if (ZSTD_getErrorCode(status) == ZSTD_error_frameParameter_windowTooLarge) {
                return tl::unexpected(cannot_read(
                    stored.path(),
                    "it was compressed with a window of more than 128 MiB (--long): unpack it first"));
            }
            if (ZSTD_isError(status) != 0) {
                return tl::unexpected(cannot_read(stored.path(), "the compressed data are damaged"));
            }
            packed.begin = in.pos;
            if (in.pos != before || out.pos != 0) between_frames_ = status == 0;
            if (packed.ended && out.pos == 0 && !between_frames_) {
                return tl::unexpected(cannot_read(stored.path(), "the compressed data end early"));
            }
        }
        return out.pos;
    }

  private:
    struct Free {
        void operator()(ZSTD_DCtx* context) const { ZSTD_freeDCtx(context); }
    };
    std::unique_ptr<ZSTD_DCtx, Free> context_;
    bool between_frames_ = true;
};

// One file, unpacked where its first bytes say that it is packed.
class Source {
  public:
    explicit Source(const std::string& path) : stored_(path), packed_(packed_size) {}

    Result<void> open() {
        if (!stored_.opened()) return tl::unexpected(cannot_read(stored_.path(), std::strerror(errno)));
        // A pipe may hand over its first bytes one by one.
        while (packed_.end < 4 && !packed_.ended) {
            const auto got =
                stored_.read(packed_.bytes.data() + packed_.end, packed_.bytes.size() - packed_.end);
            if (!got) return tl::unexpected(got.error());
            packed_.end += *got;
            packed_.ended = *got == 0;
        }
        const std::string_view magic(packed_.bytes.data(), packed_.end);
        if (magic.substr(0, 2) == "\x1f\x8b") {
            unpacker_.emplace<Gunzip>();
        } else if (magic.substr(0, 4) == "\x28\xb5\x2f\xfd") {
            unpacker_.emplace<Unzstd>();
        } else if (magic.substr(0, 3) == "\xef\xbb\xbf") {
            packed_.begin = 3;  // a byte order mark is no part of the first record
        }
        packed_.ended = packed_.ended && packed_.begin == packed_.end;
        return {};
    }

    Result<std::size_t> read(char* into, std::size_t size) {
        if (auto* gunzip = std::get_if<Gunzip>(&unpacker_)) return gunzip->read(stored_, packed_, into, size);
        if (auto* unzstd = std::get_if<Unzstd>(&unpacker_)) return unzstd->read(stored_, packed_, into, size);
        if (packed_.begin == packed_.end) return stored_.read(into, size);
        const std::size_t kept = std::min(size, packed_.end - packed_.begin);
        std::memcpy(into, packed_.bytes.data() + packed_.begin, kept);
        packed_.begin += kept;
        return kept;
    }
    // Goes on so many bytes of what is unpacked.
    Result<void> pass_over(std::uint64_t size) {
        std::vector<char> passed;
        while (size > 0) {
            if (std::holds_alternative<std::monostate>(unpacker_)) {
                const std::uint64_t kept = std::min<std::uint64_t>(size, packed_.end - packed_.begin);
                packed_.begin += kept;
                size -= kept;
                if (size == 0 || stored_.pass_over(size)) return {};
            }
            passed.resize(packed_size);
            const auto got = read(passed.data(), std::min<std::uint64_t>(size, passed.size()));
            if (!got) return tl::unexpected(got.error());
            if (*got == 0)
                return tl::unexpected(cannot_read(stored_.path(), "it is shorter than it was before"));
            size -= *got;
        }
        return {};
    }
    bool packed() const { return !std::holds_alternative<std::monostate>(unpacker_); }
    std::uint64_t bytes_read() const { return stored_.bytes_read(); }

  private:
    static constexpr std::size_t packed_size = 256U << 10U;
    Stored stored_;
    Packed packed_;
    std::variant<std::monostate, Gunzip, Unzstd> unpacker_;
};

// Lines are long: find() leaps from end to end.
std::uint64_t line_ends(std::string_view text) {
    std::uint64_t count = 0;
    for (std::size_t at = text.find('\n'); at != text.npos; at = text.find('\n', at + 1)) ++count;
    return count;
}

std::vector<FilePart> whole(std::vector<std::string> files) {
    std::vector<FilePart> parts;
    for (std::string& file : files) parts.push_back({std::move(file)});
    return parts;
}

}  // namespace

Result<bool> is_packed(const std::string& path) {
    Source source(path);
    if (auto opened = source.open(); !opened) return tl::unexpected(opened.error());
    return source.packed();
}

struct ChunkReader::Implementation {
    std::vector<std::string> files;
    std::vector<FilePart> parts;  // of each file
    std::size_t chunk_size = 0;
    std::size_t line_limit = 0;
    std::size_t file = 0;
    std::unique_ptr<Source> source;
    std::vector<char> rest;  // the begin of a line whose end was not yet read
    bool skipping = false;   // the rest of a line that is too long
    std::uint64_t line = 1;
    std::uint64_t offset = 0;
    std::uint64_t sequence = 0;
    std::uint64_t bytes_before = 0;
    std::uint64_t bytes_total = 0;

    Result<bool> open() {
        source = std::make_unique<Source>(files[file]);
        if (auto opened = source->open(); !opened) return tl::unexpected(opened.error());
        line = 1;
        offset = 0;
        skipping = false;
        if (auto begun = go_to_begin(parts[file].begin); !begun) return tl::unexpected(begun.error());
        return true;
    }
    // To the first line that begins at `begin` or after it.
    Result<void> go_to_begin(std::uint64_t begin) {
        if (begin == 0) return {};
        std::vector<char> block(chunk_size);
        for (;;) {
            const auto got = source->read(block.data(), block.size());
            if (!got) return tl::unexpected(got.error());
            const std::string_view text(block.data(), *got);
            // A line begins at `begin` or after it where the line end before it is at `begin - 1` or after.
            const std::uint64_t after = begin - 1 > offset ? begin - 1 - offset : 0;
            const std::size_t end = after < text.size() ? text.find('\n', after) : std::string_view::npos;
            const std::size_t passed = end == std::string_view::npos ? text.size() : end + 1;
            line += line_ends(text.substr(0, passed));
            offset += passed;
            rest.assign(text.begin() + static_cast<std::ptrdiff_t>(passed), text.end());
            if (end != std::string_view::npos || *got == 0) return {};
        }
    }
    void close() {
        bytes_before += read_of_part();
        source.reset();
        rest.clear();
        ++file;
    }
    Result<void> go_on(const Position& position) {
        for (file = 0; file < position.file; ++file) bytes_before += size_of(parts[file]);
        if (file == files.size() || position.offset == 0) return {};  // next() opens it
        source = std::make_unique<Source>(files[file]);
        if (auto opened = source->open(); !opened) return opened;
        if (auto passed = source->pass_over(position.offset); !passed) return passed;
        offset = position.offset;
        line = position.line;
        skipping = position.skipping;
        return {};
    }
    // Without what stands before the part.
    std::uint64_t read_of_part() const {
        if (!source) return 0;
        return source->bytes_read() - std::min(source->bytes_read(), parts[file].begin);
    }
    // Of a part as it is stored.
    static std::uint64_t size_of(const FilePart& part) {
        std::error_code error;
        const std::uintmax_t size = part.path == "-" ? 0 : fs::file_size(part.path, error);
        return error || size <= part.begin ? 0 : std::min<std::uint64_t>(size, part.end) - part.begin;
    }

    // Fills the chunk from the file that is open; true where it ended.
    Result<bool> fill(Chunk& chunk) {
        chunk.used = rest.size();
        if (chunk.bytes.size() < std::max(chunk_size, rest.size() + 1)) {
            chunk.bytes.resize(std::max(chunk_size, rest.size() + 1));
        }
        std::copy(rest.begin(), rest.end(), chunk.bytes.begin());
        rest.clear();
        for (;;) {
            if (chunk.used == chunk.bytes.size()) {
                if (find_last_line_end(chunk) != 0) return false;
                if (chunk.used > line_limit) return cut(chunk), false;
                chunk.bytes.resize(
                    std::min(2 * chunk.bytes.size(), std::max(line_limit + 1, chunk.used + 1)));
            }
            const auto got = source->read(chunk.bytes.data() + chunk.used, chunk.bytes.size() - chunk.used);
            if (!got) return tl::unexpected(got.error());
            if (*got == 0) return true;
            const std::size_t begin = chunk.used;
            chunk.used += *got;
            if (skipping) skip(chunk, begin);
        }
    }
    static std::size_t find_last_line_end(const Chunk& chunk) {
        const std::size_t found = chunk.text().rfind('\n');
        return found == std::string_view::npos ? 0 : found + 1;
    }
    // The chunk is one line that is too long: hand over what tells so, and skip the rest.
    void cut(Chunk& chunk) {
        cut_bytes = chunk.used - (line_limit + 1);
        chunk.used = line_limit + 1;
        skipping = true;
    }
    void skip(Chunk& chunk, [[maybe_unused]] std::size_t begin) {
        assert(begin == 0);
        const std::size_t end = chunk.text().find('\n');
        const std::size_t dropped = end == std::string_view::npos ? chunk.used : end + 1;
        offset += dropped;
        if (end != std::string_view::npos) {
            skipping = false;
            ++line;
        }
        std::copy(chunk.bytes.begin() + static_cast<std::ptrdiff_t>(dropped),
                  chunk.bytes.begin() + static_cast<std::ptrdiff_t>(chunk.used), chunk.bytes.begin());
        chunk.used -= dropped;
    }
    std::uint64_t cut_bytes = 0;

    Result<bool> next(Chunk& chunk) {
        for (;;) {
            if (file == files.size()) return false;
            if (!source) {
                if (auto opened = open(); !opened) return opened;
            }
            if (offset >= parts[file].end) {  // what follows is another shard's
                close();
                continue;
            }
            const auto ended = fill(chunk);
            if (!ended) return tl::unexpected(ended.error());
            if (!*ended && !skipping) keep_rest(chunk);
            leave_to_next(chunk);
            label(chunk);
            if (*ended) close();
            if (chunk.used > 0) return true;
        }
    }
    void keep_rest(Chunk& chunk) {
        const std::size_t end = find_last_line_end(chunk);
        rest.assign(chunk.bytes.begin() + static_cast<std::ptrdiff_t>(end),
                    chunk.bytes.begin() + static_cast<std::ptrdiff_t>(chunk.used));
        chunk.used = end;
    }
    // Lines that begin after the end of the part are not its own.
    void leave_to_next(Chunk& chunk) const {
        const std::uint64_t end = parts[file].end;
        if (offset + chunk.used <= end) return;
        if (offset >= end) {
            chunk.used = 0;
            return;
        }
        const std::size_t found = chunk.text().find('\n', end - offset - 1);
        if (found != std::string_view::npos) chunk.used = found + 1;
    }
    void label(Chunk& chunk) {
        chunk.file = static_cast<std::uint32_t>(file);
        chunk.first_line = line;
        chunk.offset = offset;
        if (chunk.used > 0) chunk.sequence = sequence++;
        line += line_ends(chunk.text());
        offset += chunk.used + cut_bytes;
        cut_bytes = 0;
    }
};

ChunkReader::ChunkReader(std::vector<std::string> files, std::size_t chunk_size, std::size_t line_limit)
    : ChunkReader(whole(std::move(files)), chunk_size, line_limit) {}

ChunkReader::ChunkReader(std::vector<FilePart> parts, std::size_t chunk_size, std::size_t line_limit)
    : implementation_(std::make_unique<Implementation>()) {
    Implementation& i = *implementation_;
    i.chunk_size = chunk_size;
    i.line_limit = line_limit;
    bool known = true;
    for (const FilePart& part : parts) {
        i.files.push_back(part.path);
        std::error_code error;
        known = known && part.path != "-" && fs::is_regular_file(part.path, error);
        i.bytes_total += Implementation::size_of(part);
    }
    if (!known) i.bytes_total = 0;
    i.parts = std::move(parts);
}
ChunkReader::~ChunkReader() = default;
ChunkReader::ChunkReader(ChunkReader&&) noexcept = default;
ChunkReader& ChunkReader::operator=(ChunkReader&&) noexcept = default;

Result<bool> ChunkReader::next(Chunk& chunk) {
    return implementation_->next(chunk);
}
Result<void> ChunkReader::go_on(const Position& position) {
    return implementation_->go_on(position);
}
Position ChunkReader::position() const {
    const Implementation& i = *implementation_;
    return i.source ? Position{static_cast<std::uint32_t>(i.file), i.offset, i.line, i.skipping}
                    : Position{static_cast<std::uint32_t>(i.file)};
}
const std::vector<std::string>& ChunkReader::files() const {
    return implementation_->files;
}
std::uint64_t ChunkReader::bytes_read() const {
    return implementation_->bytes_before + implementation_->read_of_part();
}
std::uint64_t ChunkReader::bytes_total() const {
    return implementation_->bytes_total;
}

}  // namespace linelaw::runtime
