#include "runtime/content_hash.hpp"

#include <fmt/format.h>
#include <xxhash.h>

namespace linelaw::runtime {

void ContentHash::Free::operator()(XXH3_state_s* state) const {
    XXH3_freeState(state);
}

ContentHash::ContentHash() : state_(XXH3_createState()) {
    XXH3_128bits_reset(state_.get());
}

void ContentHash::add(std::string_view bytes) {
    XXH3_128bits_update(state_.get(), bytes.data(), bytes.size());
}

std::string ContentHash::digits() const {
    const XXH128_hash_t hash = XXH3_128bits_digest(state_.get());
    return fmt::format("{:016x}{:016x}", hash.high64, hash.low64);
}

std::string content_hash(std::string_view bytes) {
    ContentHash hash;
    hash.add(bytes);
    return hash.digits();
}

}  // namespace linelaw::runtime
