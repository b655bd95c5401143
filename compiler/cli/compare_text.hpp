// What `compare` says, for people and for programs.
#pragma once

#include <optional>
#include <string>

#include "compiler/analysis/analysis.hpp"
#include "compiler/cli/replay.hpp"

namespace linelaw::compiler::cli {

struct Compared {
    std::string before;  // "line-care, edition 3 (old.linelaw)"
    std::string after;
    analysis::Comparison comparison;
    std::optional<Replay> replay;
};

std::string_view kind_name(analysis::Difference::Kind kind);  // "stricter"

std::string comparison_text(const Compared& compared);
std::string comparison_json(const Compared& compared);

}  // namespace linelaw::compiler::cli
