// Several policies checked as one.
#include <algorithm>

#include "compiler/analysis/analysis.hpp"
#include "compiler/analysis/merge.hpp"

namespace linelaw::compiler::analysis {

namespace {

// "policies/hicpac.linelaw" → "hicpac".
std::string short_name(const Compilation& policy) {
    std::string name = policy.sources.size() == 0 ? "" : policy.sources.text(0).name;
    name = name.substr(name.find_last_of('/') + 1);
    return name.substr(0, name.find('.'));
}

// Each policy's own name, numbered where several have the same.
std::vector<std::string> names_of(const std::vector<const Compilation*>& policies) {
    std::vector<std::string> names;
    for (const Compilation* policy : policies) {
        const std::string name = short_name(*policy);
        std::string own = name;
        for (int n = 2; std::find(names.begin(), names.end(), own) != names.end(); ++n)
            own = name + " " + std::to_string(n);
        names.push_back(std::move(own));
    }
    return names;
}

void rename(Compiled& compiled, const std::string& policy) {
    for (runtime::Clause& clause : compiled.policy.clauses) clause.id = policy + ": " + clause.id;
}

// The place of every word of a clause that a finding may point at.
void move_places(grammar::ClauseItem& clause, std::uint32_t by) {
    clause.id.place.text += by;
    clause.place.text += by;
    for (grammar::ClauseLine& line : clause.lines) line.place.text += by;
}

}  // namespace

Together together(const std::vector<const Compilation*>& policies) {
    Together all;
    all.compilation.sources = policies.front()->sources;
    all.compilation.compiled = *policies.front()->compiled;
    const std::vector<std::string> names = names_of(policies);
    rename(*all.compilation.compiled, names.front());
    for (std::size_t i = 1; i < policies.size(); ++i) {
        const Compilation& next = *policies[i];
        Compiled more = *next.compiled;
        rename(more, names[i]);
        const auto first_text = static_cast<std::uint32_t>(all.compilation.sources.size());
        for (std::uint32_t t = 0; t < next.sources.size(); ++t)
            all.compilation.sources.add(next.sources.text(t));
        for (grammar::ClauseItem& clause : more.clauses) move_places(clause, first_text);
        Merged merged = merge(*all.compilation.compiled, more);
        all.compilation.compiled = std::move(merged.compiled);
        for (const std::string& line : merged.left_out) all.left_out.push_back(names[i] + ": " + line);
    }
    return all;
}

}  // namespace linelaw::compiler::analysis
