// Frequent slips, each with the right words: a unit written another way, a comparison in other words, a
// capital letter in a name, a forgotten quotation mark or colon. Looks at the text around a fault only.
#pragma once

#include <optional>

#include "grammar/diagnostic.hpp"
#include "grammar/nodes.hpp"
#include "grammar/text_view.hpp"

namespace linelaw::grammar {

std::optional<Diagnostic> find_slip(const TextView& view, const Fault& fault);

}  // namespace linelaw::grammar
