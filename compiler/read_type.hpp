// The types of attributes as a vocabulary declares them: their lists, their ranges, their units. Knows no
// names.
#pragma once

#include <optional>
#include <string>

#include "compiler/names.hpp"
#include "grammar/tree.hpp"

namespace linelaw::compiler {

// Nothing, and a diagnostic, where the type lacks a range or its values make none; `attribute` is for
// messages.
std::optional<runtime::Type> read_type(const grammar::Type& type, const std::string& attribute, Work& work);

}  // namespace linelaw::compiler
