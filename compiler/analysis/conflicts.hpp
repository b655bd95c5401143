// Conflicts that need no clock: values, steps and rows that cannot all be right. Timed ones are in timed.hpp.
#pragma once

#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

void find_value_conflicts(Workspace& work);
void find_order_conflicts(Workspace& work);
void find_table_faults(Workspace& work);  // conflict.table, gap.table, dead.row

}  // namespace linelaw::compiler::analysis
