// Several policies checked as one.
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
    rename(*all.compilation.compiled, short_name(*policies.front()));
    for (std::size_t i = 1; i < policies.size(); ++i) {
        const Compilation& next = *policies[i];
        Compiled more = *next.compiled;
        rename(more, short_name(next));
        const auto first_text = static_cast<std::uint32_t>(all.compilation.sources.size());
        for (std::uint32_t t = 0; t < next.sources.size(); ++t)
            all.compilation.sources.add(next.sources.text(t));
        for (grammar::ClauseItem& clause : more.clauses) move_places(clause, first_text);
        Merged merged = merge(*all.compilation.compiled, more);
        all.compilation.compiled = std::move(merged.compiled);
        for (const std::string& line : merged.left_out)
            all.left_out.push_back(short_name(next) + ": " + line);
    }
    return all;
}

}  // namespace linelaw::compiler::analysis
