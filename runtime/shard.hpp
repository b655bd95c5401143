// One of several shards of a batch: a stretch of the bytes of all files, one after another, as they are
// stored. Together the shards hold each record once, in the input's order, so that what they write, put one
// after another, is what one run over all writes.
#pragma once

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
// A shard of which records: so that shards of others are not put together with it.
struct Cut {
    Shard shard;
    std::string from;  // "7,812,345 bytes in 3 files"; empty where the shard is all
};

// "3/8"; nothing where it is none.
std::optional<Shard> read_shard(std::string_view text);

// What of the files is the shard's: a line belongs to the shard in whose stretch it begins; a compressed file
// to the one in whose stretch it begins, whole. "shard.input" where there are several shards and a file is
// none of which the size is known beforehand.
Result<std::vector<FilePart>> parts_of(const std::vector<std::string>& files, const Shard& shard);

}  // namespace linelaw::runtime
