// `antiseptic is not chg_alcohol or chg_aqueous`: values of one list that were joined as people join them.
// Knows the words around a value, not what they mean.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "grammar/diagnostic.hpp"
#include "grammar/source.hpp"
#include "grammar/tree.hpp"

namespace linelaw::compiler {

// The whole comparison with `is one of`, or with `is not one of`, in place of what leads up to `value` and of
// the values that follow it. After `is not` nothing else will do: a help for one value alone would allow what
// the clause forbids. Nothing where no comparison with one of `values` leads up to it.
std::optional<grammar::Mend> one_of_several(const grammar::Sources& sources, const grammar::Name& value,
                                            const std::vector<std::string>& values);

}  // namespace linelaw::compiler
