// How a demand is written, for one that cannot be read: the shape that its own words ask for, else all of
// them. Knows the words of the line, not the rules.
#pragma once

#include <string>

#include "grammar/nodes.hpp"
#include "grammar/text_view.hpp"

namespace linelaw::grammar {

std::string demand_shape(const TextView& view, const Fault& fault);
// Empty where the line speaks of no shift.
std::string shift_shape(const TextView& view, const Fault& fault);

}  // namespace linelaw::grammar
