// First stage: every name that the texts declare, and the vocabulary in the compiled policy's tables. After
// it every name can be looked up; no condition has been read.
#pragma once

#include "compiler/names.hpp"

namespace linelaw::compiler {

void declare_names(Work& work);
void declare_vocabulary(Work& work);

}  // namespace linelaw::compiler
