// A policy from a file, whether it is a text or was compiled before: the one way in for every command that
// runs a policy.
#pragma once

#include <optional>
#include <string>

#include "compiler/compile.hpp"
#include "grammar/render.hpp"
#include "runtime/policy.hpp"
#include "runtime/result.hpp"

namespace linelaw::compiler {

struct Loaded {
    std::optional<runtime::Policy> policy;  // only where it may be run
    Compilation compilation;                // of a text: its sources and what was said of it
    std::optional<runtime::Error>
        error;  // of a file that cannot be read, or a compiled policy that is refused
};

// `path` is a policy's text or the JSON that `compile` writes; "-" is standard input.
Loaded load_policy(const std::string& path, const FileReader& reader = read_file);

// For standard error: why there is no policy, and what else was said of a text.
std::string what_was_said(const Loaded& loaded, const grammar::RenderOptions& options = {});

}  // namespace linelaw::compiler
