// Spaces where none belongs: a word processor's own ones, and one inside a name or for a comma. Knows the
// letters around a fault, not the rules that found it.
#pragma once

#include <optional>

#include "grammar/diagnostic.hpp"
#include "grammar/nodes.hpp"
#include "grammar/text_view.hpp"

namespace linelaw::grammar {

std::optional<Diagnostic> odd_space_slip(const TextView& view, const Fault& fault);
std::optional<Diagnostic> spaced_name_slip(const TextView& view, const Fault& fault);
// Two words of a demand with nothing between them: one name, or two values of a list.
std::optional<Diagnostic> two_words_slip(const TextView& view, const Fault& fault);

}  // namespace linelaw::grammar
