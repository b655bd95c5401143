#include "runtime/packing.hpp"

#include <zlib.h>
#include <zstd.h>

namespace linelaw::runtime {
namespace {

// Large enough to compress about as well as a whole file does.
constexpr std::size_t piece_size = 1U << 20U;

tl::unexpected<Error> no_room() {
    return tl::unexpected(Error{"file.write", "cannot compress the output: memory ran out"});
}

Result<void> zstd_frame(std::string_view text, std::string& out) {
    const std::size_t before = out.size();
    const std::size_t room = ZSTD_compressBound(text.size());
    out.resize(before + room);
    const std::size_t size =
        ZSTD_compress(out.data() + before, room, text.data(), text.size(), ZSTD_CLEVEL_DEFAULT);
    if (ZSTD_isError(size) != 0) return no_room();
    out.resize(before + size);
    return {};
}

Result<void> gzip_member(std::string_view text, std::string& out) {
    z_stream stream{};
    constexpr int gzip_only = 16 + MAX_WBITS;
    constexpr int memory = 8;
    if (deflateInit2(&stream, Z_DEFAULT_COMPRESSION, Z_DEFLATED, gzip_only, memory, Z_DEFAULT_STRATEGY) !=
        Z_OK) {
        return no_room();
    }
    const std::size_t before = out.size();
    const std::size_t room = deflateBound(&stream, text.size());
    out.resize(before + room);
    std::string in(text);  // zlib takes what it reads as not constant
    stream.next_in = reinterpret_cast<Bytef*>(in.data());
    stream.avail_in = static_cast<uInt>(in.size());
    stream.next_out = reinterpret_cast<Bytef*>(out.data() + before);
    stream.avail_out = static_cast<uInt>(room);
    const int status = deflate(&stream, Z_FINISH);
    out.resize(before + stream.total_out);
    deflateEnd(&stream);
    if (status != Z_STREAM_END) return no_room();
    return {};
}

}  // namespace

std::string_view packing_name(Packing packing) {
    switch (packing) {
        case Packing::plain:
            return "none";
        case Packing::gzip:
            return "gzip";
        case Packing::zstd:
            return "zstd";
    }
    return "";
}

std::string_view packing_ending(Packing packing) {
    switch (packing) {
        case Packing::plain:
            return "";
        case Packing::gzip:
            return ".gz";
        case Packing::zstd:
            return ".zst";
    }
    return "";
}

Result<void> Packer::piece(std::string_view lines, std::string& out) {
    begun_ = true;
    return packing_ == Packing::gzip ? gzip_member(lines, out) : zstd_frame(lines, out);
}

Result<void> Packer::add(std::string_view lines, std::string& out) {
    if (packing_ == Packing::plain) {
        out += lines;
        return {};
    }
    pending_ += lines;
    // A piece ends with the line that fills it, however the lines came.
    std::size_t begin = 0;
    while (pending_.size() - begin >= piece_size) {
        const std::size_t end = pending_.find('\n', begin + piece_size - 1);
        if (end == std::string::npos) break;
        const std::string_view lines_of_piece(pending_.data() + begin, end + 1 - begin);
        if (auto packed = piece(lines_of_piece, out); !packed) return packed;
        begin = end + 1;
    }
    pending_.erase(0, begin);
    return {};
}

Result<void> Packer::end(std::string& out) {
    if (packing_ == Packing::plain || (begun_ && pending_.empty())) return {};
    return piece(pending_, out);
}

void Packer::go_on(bool begun, std::string pending) {
    begun_ = begun;
    pending_ = std::move(pending);
}

}  // namespace linelaw::runtime
