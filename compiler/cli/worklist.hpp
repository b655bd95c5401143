// The forms in which a worklist is shown.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "runtime/worklist.hpp"

namespace linelaw::compiler::cli {

struct WorklistView {
    const runtime::Policy& policy;
    const runtime::Words& words;
    runtime::Instant as_of = 0;
    std::string within;
    std::uint64_t records = 0;
    std::uint64_t not_read = 0;
};
std::string worklist_table(const std::vector<runtime::Task>& tasks, const WorklistView& view, bool color);
std::string worklist_csv(const std::vector<runtime::Task>& tasks, const WorklistView& view);
std::string worklist_json(const std::vector<runtime::Task>& tasks, const WorklistView& view);
std::string worklist_html(const std::vector<runtime::Task>& tasks, const WorklistView& view);

}  // namespace linelaw::compiler::cli
