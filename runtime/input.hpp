// Records as bytes: files and standard input, plain or compressed with gzip or zstd, cut into chunks
// that end at line ends. Knows nothing of JSON. Chunks are handed back and used again: a fresh page costs
// more than what is read into it.
#pragma once

#include <cstdint>
#include <limits>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/result.hpp"

namespace linelaw::runtime {

// Whether the file is compressed with gzip or zstd, by its first bytes.
Result<bool> is_packed(const std::string& path);

// A file, or the lines of it that begin in [begin, end): bytes of what is in it unpacked, without a byte
// order mark. Only of a file that is not compressed a part can be read without the rest.
struct FilePart {
    std::string path;
    std::uint64_t begin = 0;
    std::uint64_t end = std::numeric_limits<std::uint64_t>::max();
};

// Where a reader stands between two chunks.
struct Position {
    std::uint32_t file = 0;  // index into the files read
    std::uint64_t offset = 0;
    std::uint64_t line = 1;
    bool skipping = false;  // within a line that was too long
};

// Whole lines of one file, except that the last line of a file may lack its line end.
struct Chunk {
    std::vector<char> bytes;
    std::size_t used = 0;
    std::uint32_t file = 0;        // index into the files read
    std::uint64_t first_line = 1;  // number of its first line in the file
    std::uint64_t offset = 0;      // of its first byte in the (uncompressed) file
    std::uint64_t sequence = 0;    // chunks count from 0 over all files
    std::string_view text() const { return {bytes.data(), used}; }
};

// Reads `files` one after another. One thread at a time.
class ChunkReader {
  public:
    // A line longer than `line_limit` bytes is cut to one byte more than that, so that its reader sees it is
    // too long; the rest of it is skipped.
    ChunkReader(std::vector<std::string> files, std::size_t chunk_size, std::size_t line_limit);
    // Reads only the parts. One that begins within its file is read from the file's begin, so that lines are
    // counted.
    ChunkReader(std::vector<FilePart> parts, std::size_t chunk_size, std::size_t line_limit);
    ~ChunkReader();
    ChunkReader(ChunkReader&&) noexcept;
    ChunkReader& operator=(ChunkReader&&) noexcept;

    // Fills the chunk; false at the end of the last file. "file.read" with path and reason where a file
    // cannot be opened or read, or its compressed data are damaged or end early.
    Result<bool> next(Chunk& chunk);

    // The next chunk is the one after `position`, which a reader of the same files told.
    Result<void> go_on(const Position& position);
    Position position() const;

    const std::vector<std::string>& files() const;
    std::uint64_t bytes_read() const;   // as stored, compressed or not
    std::uint64_t bytes_total() const;  // of all parts; 0 where a size is not known, as of standard input

  private:
    struct Implementation;
    std::unique_ptr<Implementation> implementation_;
};

}  // namespace linelaw::runtime
