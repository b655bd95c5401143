// A policy to begin with: the questions of a vocabulary, each left to judgement until somebody writes its
// clause. What only people can say is left blank ("…"), and `gap.blank` names each blank. Makes no clinical
// choice: it holds no number.
#pragma once

#include <string>

#include "compiler/layers.hpp"

namespace linelaw::compiler {

// In canonical layout. `layers` are a vocabulary's without errors; `vocabulary` is how the skeleton names it.
std::string skeleton(const Layers& layers, const std::string& vocabulary);

}  // namespace linelaw::compiler
