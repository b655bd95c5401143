// The audit as one self-contained page: no script, no network, light and dark, for screen, paper and screen
// readers. Shows the figures of summary.hpp; makes none of its own but the charts' limits.
#pragma once

#include <string>

#include "runtime/summary.hpp"

namespace linelaw::runtime {

// Equal tallies give equal bytes.
std::string report_html(const Audited& audited, const Tally& tally);

}  // namespace linelaw::runtime
