// Compiled conditions, values and events in plain English, with units and names put back. For reading a
// policy back; the words of the tree are never looked at, so that what is said is what will be run.
#pragma once

#include <string>

#include "runtime/policy.hpp"

namespace linelaw::compiler {

// `id` must be of `policy`. A condition, as it would stand after "if".
std::string condition_in_words(const runtime::Policy& policy, runtime::ExpressionId id);
// A value, as it would stand before "is": "the age of the patient".
std::string value_in_words(const runtime::Policy& policy, runtime::ExpressionId id);
// Whether this one of several events counts whatever is charted with it, beside others that have a `where`.
bool is_every_one(const runtime::Events& events, std::size_t one);
// "`flush` or `lock`", with their conditions.
std::string events_in_words(const runtime::Policy& policy, const runtime::Events& events);
// "in the 12 h before", "since the last `flush`".
std::string window_in_words(const runtime::Policy& policy, const runtime::Window& window);

}  // namespace linelaw::compiler
