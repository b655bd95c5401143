// One of several shards of a batch: a stretch of the bytes of all files, one after another, as they are
// stored. Together the shards hold each record once, in the input's order, so that what they write, put one
// after another, is what one run over all writes.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/input.hpp"
#include "runtime/result.hpp"

namespace linelaw::runtime {

struct Shard {
    unsigned number = 1;  // from 1
    unsigned of = 1;
    bool whole() const { return of == 1; }
    bool operator==(const Shard&) const = default;
};
// A file that an audit wrote, so that another one in its place, or a damaged one, is known.
struct StoredFile {
    std::string name;
    std::uint64_t bytes = 0;
    std::string hash;  // XXH3-128 of them, in hexadecimal digits
    bool operator==(const StoredFile&) const = default;
};
// "file.read" where it cannot be read to its end.
Result<StoredFile> stored_file(const std::string& path);

// A shard of which records: so that shards of others are not put together with it.
struct Cut {
    Shard shard;
    std::string from;                    // "7,812,345 bytes in 3 files"; empty where the shard is all
    std::string findings = {};           // which are in its lines: "against", "all", "none"
    std::vector<StoredFile> files = {};  // of lines, which are put together with the other shards'
};

// "3/8"; nothing where it is none.
std::optional<Shard> read_shard(std::string_view text);

// What of the files is the shard's: a line belongs to the shard in whose stretch it begins; a compressed file
// to the one in whose stretch it begins, whole. "shard.input" where there are several shards and a file is
// none of which the size is known beforehand.
Result<std::vector<FilePart>> parts_of(const std::vector<std::string>& files, const Shard& shard);

}  // namespace linelaw::runtime
