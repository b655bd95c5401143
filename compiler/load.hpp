// A policy from a file, whether it is a text or was compiled before: the one way in for every command that
// runs a policy, and the one place that says what stops it (language.md §5): errors, and conflicts and gaps
// that neither the policy nor the caller lets stand. A compiled policy was looked through when it was
// compiled.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/compile.hpp"
#include "grammar/render.hpp"
#include "runtime/policy.hpp"
#include "runtime/result.hpp"

namespace linelaw::compiler {

struct Loaded {
    std::optional<runtime::Policy> policy;  // only where it may be run
    Compilation compilation;                // of a text: its sources and everything that was said of it
    std::optional<runtime::Error>
        error;  // of a file that cannot be read, or a compiled policy that is refused
};

// `path` is a policy's text or the JSON that `compile` writes; "-" is standard input. `accept` are codes
// whose findings are let stand.
Loaded load_policy(const std::string& path, const std::vector<std::string>& accept = {});

// For standard error: why there is no policy. Warnings and notes are for `check`, not for everybody who runs
// it.
std::string what_was_said(const Loaded& loaded, const grammar::RenderOptions& options = {});

}  // namespace linelaw::compiler
