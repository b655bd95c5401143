// Several policies, or editions of one, made into one that judges as each of them does where it governs
// (language.md §4.8): one reader, one engine and one tally then serve them all. Knows nothing of episodes.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/result.hpp"

namespace linelaw::runtime {

// One policy is given back as it is, and asked neither for its days nor for what it governs. Several must
// share vocabulary and time zone, and no two editions of one title a day. Policies keep the order given,
// which is their precedence; editions of one title stand together, by their days.
Result<Policy> joined(std::vector<Policy> policies);

// Whether `newer` follows `older` with no day between: then a clause of the same id carries on.
bool follows(const Edition& newer, const Edition& older);

// "5", of what bears this edition (none: the policy stands alone); and "edition 5", with the title where the
// policy holds several.
const std::string& edition_of(const Policy& policy, EditionId edition);
std::string edition_words(const Policy& policy, EditionId edition);
std::string in_force_words(const std::optional<CivilDate>& from, const std::optional<CivilDate>& until);

}  // namespace linelaw::runtime
