// What a compiled policy must be, beyond its shape, for the engine and the record reader to run it safely.
#pragma once

#include <optional>
#include <string>

#include "runtime/policy.hpp"

namespace linelaw::runtime {

// Expressions may not nest deeper: they are evaluated by recursion.
constexpr std::uint32_t deepest_expression = 500;

struct PolicyFault {
    std::string pointer;  // JSON pointer into the compiled policy
    std::string what;     // "must …", "has no …"
};
// The first fault, or nothing. Every id must lie in its table (policy_json.cpp sees to that). Linear in the
// policy's size.
std::optional<PolicyFault> fault_of(const Policy& policy);

}  // namespace linelaw::runtime
