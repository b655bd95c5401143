// The note beside an unfinished audit's files, by which `audit --resume` goes on: what the audit was made
// with, so that nothing else goes on with it, how far each file and the input had come, and what was counted
// until then. At the end, that all files are whole and only need to be put in their places.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "compiler/cli/output_folder.hpp"
#include "runtime/audit.hpp"
#include "runtime/summary.hpp"

namespace linelaw::compiler::cli {

// Everything on which the bytes of an audit hang.
struct MadeWith {
    struct Input {
        std::string path;
        std::uint64_t size = 0;
        std::int64_t modified = 0;  // nanoseconds since 1970
        bool operator==(const Input&) const = default;
    };
    runtime::Audited audited;
    std::vector<Input> inputs;
    std::vector<std::pair<std::string, std::string>> options;  // "--findings" → "all"
};
// Nothing where an input cannot be read a second time, as standard input cannot.
runtime::Result<std::optional<MadeWith>> made_with(const runtime::AuditOptions& options,
                                                   const runtime::Audited& audited, runtime::Packing packing);

struct Halfway {
    runtime::Checkpoint checkpoint;
    std::vector<Written> files;
    std::string noted;  // of the earlier run's findings
};
struct Complete {
    std::vector<std::string> files;
    int status = 0;
    std::string said;  // on standard output
};
using Note = std::variant<Halfway, Complete>;

std::string write_note(const MadeWith& made_with, const Halfway& halfway);
std::string write_note(const MadeWith& made_with, const Complete& complete);

// Nothing where there is none. "resume.differs" where it was made with something else, "resume.damaged".
runtime::Result<std::optional<Note>> read_note(const std::string& path, const MadeWith& made_with);

}  // namespace linelaw::compiler::cli
