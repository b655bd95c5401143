// What the values in a compiled policy's conditions are, and whether each stands beside its like: the runtime
// reads a symbol as a symbol and a text as a text because of it. Knows no records.
#pragma once

#include <optional>

#include "runtime/policy_check.hpp"

namespace linelaw::runtime {

// The first fault, or nothing. Of a policy whose indexes and nesting are sound (policy_check.cpp sees to
// that).
std::optional<PolicyFault> value_fault_of(const Policy& policy);

}  // namespace linelaw::runtime
