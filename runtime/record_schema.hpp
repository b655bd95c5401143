// A JSON Schema of the records that a policy's vocabulary takes: what `linelaw schema` prints.
#pragma once

#include <string>

#include "runtime/policy.hpp"

namespace linelaw::runtime {

// JSON Schema 2020-12, with a line end. A record that it accepts is read without a remark, but for what a
// schema cannot say: instants that do not exist, order, names of parts, values in a unit that has to be
// converted. It names every key that is read, and allows no other.
std::string record_schema(const Policy& policy);

}  // namespace linelaw::runtime
