// SipHash-2-4 (Aumasson and Bernstein 2012): a short text under a secret key, so that nobody without the key
// can try keys of patients until one fits.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace linelaw::runtime {

using HashKey = std::array<std::uint64_t, 2>;
std::uint64_t keyed_hash(const HashKey& key, std::string_view text);
// A key from a secret of any length, of which at least 16 bytes should be random.
HashKey hash_key(std::string_view secret);

}  // namespace linelaw::runtime
