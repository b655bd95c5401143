// The smaller parts of a tree in the policy's own words; format.hpp has those that messages need.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "grammar/tree.hpp"

namespace linelaw::grammar {

std::string to_text(Comparator comparator);
std::string to_text(const Text& text);  // in quotation marks
std::string to_text(const Date& date);
std::string to_text(const TimeOfDay& time);
std::string to_text(const Range& range);
std::string to_text(const Window& window);
std::string to_text(const std::vector<Name>& names, std::string_view between);

}  // namespace linelaw::grammar
