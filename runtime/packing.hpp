// Output compressed piece by piece: each piece is a zstd frame or a gzip member of its own, and where pieces
// are cut hangs on the text alone. So a file that was written in two goes has the bytes of one written in
// one.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "runtime/result.hpp"

namespace linelaw::runtime {

enum class Packing : std::uint8_t { plain, gzip, zstd };
std::string_view packing_name(Packing packing);    // "none", "gzip", "zstd"
std::string_view packing_ending(Packing packing);  // "", ".gz", ".zst"

// Lines on their way into a file.
class Packer {
  public:
    explicit Packer(Packing packing) : packing_(packing) {}

    // Takes whole lines, and appends to `out` what is to be written by then.
    Result<void> add(std::string_view lines, std::string& out);
    // Appends what is left; a file without a line is one empty piece. The packer is then spent.
    Result<void> end(std::string& out);

    // Taken and not yet handed out: less than a piece, and whole lines.
    const std::string& pending() const { return pending_; }
    // Goes on where another packer stood: it had handed out pieces, or not, and this was pending.
    void go_on(bool begun, std::string pending);

  private:
    Result<void> piece(std::string_view lines, std::string& out);

    Packing packing_;
    bool begun_ = false;
    std::string pending_;
};

}  // namespace linelaw::runtime
