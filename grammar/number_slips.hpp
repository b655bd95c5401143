// Numbers and units written otherwise: `six times`, `1,000`, `2,5 cm`, `2 hrs`, `units per mL`. Knows the
// letters around a fault, not the rules that found it.
#pragma once

#include <optional>

#include "grammar/diagnostic.hpp"
#include "grammar/nodes.hpp"
#include "grammar/text_view.hpp"

namespace linelaw::grammar {

std::optional<Diagnostic> unit_slip(const TextView& view, const Fault& fault);
std::optional<Diagnostic> decimal_comma_slip(const TextView& view, const Fault& fault);
std::optional<Diagnostic> figure_slip(const TextView& view, const Fault& fault);

}  // namespace linelaw::grammar
