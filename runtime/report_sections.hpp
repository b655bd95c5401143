// The page's sections, each a piece of HTML, in the order in which they stand on it.
#pragma once

#include <string>

#include "runtime/comparisons.hpp"
#include "runtime/summary.hpp"

namespace linelaw::runtime::sections {

// The answer, and how sure it is.
std::string attention(const Audited& audited, const Tally& tally, const Comparisons& comparisons);
std::string coverage(const Audited& audited, const Tally& tally);  // which edition judged what; or empty
// Clause by care unit, and other groups.
std::string places(const Audited& audited, const Tally& tally, const Comparisons& comparisons);
std::string clauses(const Audited& audited, const Tally& tally);  // each clause, ladder and bundle
std::string worst(const Audited& audited, const Tally& tally);    // findings with their episodes' timelines
std::string worst_of(const Tally& tally, std::size_t item);  // of one clause, with links to their timelines
std::string review(const Audited& audited, const Tally& tally);  // settled, new and gone, sample; or empty
std::string unused(const Audited& audited, const Tally& tally);  // quarantined, set aside, unknown
std::string method(const Audited& audited, const Tally& tally);  // how to read it, and what it was made from

}  // namespace linelaw::runtime::sections
