// A policy made by hand, for tests of the runtime alone: a small vocabulary of line care with every kind of
// attribute and part, and clauses with every kind of demand and expression.
#pragma once

#include "runtime/policy.hpp"

namespace linelaw::runtime {

// The vocabulary, without clauses.
Policy sample_vocabulary();
// The same with clauses, ladders, bundles and tables: at least one of each alternative.
Policy sample_policy();

}  // namespace linelaw::runtime
