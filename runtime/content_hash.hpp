// XXH3-128 of some bytes as 32 hexadecimal digits: tells texts and files apart and notices damage; no
// signature.
#pragma once

#include <memory>
#include <string>
#include <string_view>

struct XXH3_state_s;  // of libxxhash

namespace linelaw::runtime {

std::string content_hash(std::string_view bytes);

// The same of bytes that come piece by piece.
class ContentHash {
  public:
    ContentHash();
    void add(std::string_view bytes);
    std::string digits() const;

  private:
    struct Free {
        void operator()(XXH3_state_s* state) const;
    };
    std::unique_ptr<XXH3_state_s, Free> state_;
};

}  // namespace linelaw::runtime
