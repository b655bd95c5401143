// What the episodes must show, each outcome of each clause in its turn, and what an episode must be like for
// that to be possible.
#pragma once

#include "policies/demo/generator/stay.hpp"

namespace linelaw::demo {

const std::vector<Focus>& focuses(Policy policy);

struct Wish {  // empty, or 0: any will do
    std::vector<std::string> units;
    std::vector<std::string> kinds;
    std::int64_t least_hours = 0;
    std::int64_t most_hours = 0;
    std::optional<bool> removed;
};
Wish wish_for(Policy policy, const Focus& focus);

}  // namespace linelaw::demo
