// The compiled policy as JSON and back: `linelaw compile` writes it, everything that embeds the runtime reads
// it.
#pragma once

#include <string>
#include <string_view>

#include "runtime/policy.hpp"
#include "runtime/result.hpp"

namespace linelaw::runtime {

// Whether it is one JSON object that says so at its top.
bool is_compiled_policy(std::string_view text);
constexpr std::string_view compiled_policy_schema = "linelaw/compiled-policy/1";

// Canonical: the same policy gives the same bytes. Carries the schema's name and a content hash (XXH3-128 of
// the rest; it tells editions apart and is no signature).
std::string write_policy(const Policy& policy);
// Refuses, with the JSON pointer of the fault: another schema, a wrong type, an id out of its table, a broken
// hash. Every Policy that it returns is safe to run.
Result<Policy> read_policy(std::string_view json);
// The part of it that records are read by: equal where one record gives the same episode, slot by slot.
std::string write_vocabulary(const Policy& policy);
// Sets content_hash from the rest.
void seal(Policy& policy);

}  // namespace linelaw::runtime
