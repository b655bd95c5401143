#include "runtime/keyed_hash.hpp"

#include <xxhash.h>

namespace linelaw::runtime {
namespace {

struct Sip {
    std::uint64_t v0, v1, v2, v3;

    static std::uint64_t rotated(std::uint64_t x, unsigned by) { return x << by | x >> (64U - by); }
    void round() {
        v0 += v1;
        v1 = rotated(v1, 13) ^ v0;
        v0 = rotated(v0, 32);
        v2 += v3;
        v3 = rotated(v3, 16) ^ v2;
        v0 += v3;
        v3 = rotated(v3, 21) ^ v0;
        v2 += v1;
        v1 = rotated(v1, 17) ^ v2;
        v2 = rotated(v2, 32);
    }
    void take(std::uint64_t word) {
        v3 ^= word;
        round();
        round();
        v0 ^= word;
    }
};

// Up to eight bytes, the first lowest.
std::uint64_t word_of(std::string_view bytes) {
    std::uint64_t word = 0;
    for (std::size_t i = 0; i < bytes.size(); ++i)
        word |= static_cast<std::uint64_t>(static_cast<unsigned char>(bytes[i])) << (8 * i);
    return word;
}

}  // namespace

std::uint64_t keyed_hash(const HashKey& key, std::string_view text) {
    Sip sip{key[0] ^ 0x736f6d6570736575U, key[1] ^ 0x646f72616e646f6dU, key[0] ^ 0x6c7967656e657261U,
            key[1] ^ 0x7465646279746573U};
    const std::size_t whole = text.size() / 8 * 8;
    for (std::size_t i = 0; i < whole; i += 8) sip.take(word_of(text.substr(i, 8)));
    sip.take(word_of(text.substr(whole)) | static_cast<std::uint64_t>(text.size()) << 56U);
    sip.v2 ^= 0xff;
    for (int i = 0; i < 4; ++i) sip.round();
    return sip.v0 ^ sip.v1 ^ sip.v2 ^ sip.v3;
}

HashKey hash_key(std::string_view secret) {
    const XXH128_hash_t hash = XXH3_128bits(secret.data(), secret.size());
    return {hash.low64, hash.high64};
}

}  // namespace linelaw::runtime
