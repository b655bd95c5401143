// Small changes to a policy that none of its examples would notice, each with an example that would. What an
// example does not notice, a later edition may change by mistake.
#pragma once

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

#include "compiler/alterations.hpp"
#include "compiler/compile.hpp"

namespace linelaw::compiler {

struct UnnoticedOptions {
    std::size_t episodes = 2500;  // small episodes about one clause, at most
    // After each change, with how many are done of how many; may be empty.
    std::function<void(std::size_t done, std::size_t all)> progress;
};

// An example, in canonical layout, and the changes that it notices and no example of the policy does. It was
// judged by the policy as it is, whose verdict it expects, and by each of the changed ones.
struct MissingExample {
    std::string example;
    std::vector<Alteration> notices;  // never empty; in the order of the text
};
struct Unnoticed {
    std::size_t tried = 0;    // changes that are still a policy
    std::size_t noticed = 0;  // some example fails
    std::vector<MissingExample> missing;
    // No small episode told them from the policy: they mean the same, as far as those reach.
    std::vector<Alteration> same;
    std::size_t unnoticed() const;
};

// `compilation.compiled` must be there and all of its examples as expected. Deterministic.
Unnoticed find_unnoticed(const Compilation& compilation, const UnnoticedOptions& options = {});

// One `example.missing` for each missing example, its changes underlined.
std::vector<grammar::Diagnostic> diagnostics_of(const Unnoticed& unnoticed);

}  // namespace linelaw::compiler
