// Faults of the scan to diagnostics: what was expected, what stands there instead, and the right words for
// frequent slips. Knows the text and the words of the language, not the rules.
#pragma once

#include <vector>

#include "grammar/diagnostic.hpp"
#include "grammar/nodes.hpp"
#include "grammar/source.hpp"

namespace linelaw::grammar {

Diagnostic explain(const Sources& sources, std::uint32_t text, const Fault& fault);

}  // namespace linelaw::grammar
