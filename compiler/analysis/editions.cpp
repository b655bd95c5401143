// Editions of one policy: no day without one in force, and none with two.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>

#include "compiler/analysis/analysis.hpp"

namespace linelaw::compiler::analysis {

namespace {

using runtime::CivilDate;

grammar::Place head_of(const Compilation& compilation) {
    const std::string& text = compilation.sources.text(0).content;
    const std::size_t at = text.find("policy \"");
    if (at == std::string::npos) return {};
    return {0, static_cast<std::uint32_t>(at), static_cast<std::uint32_t>(text.find('"', at + 8) + 1)};
}

}  // namespace

std::vector<std::pair<std::size_t, grammar::Diagnostic>> check_editions(
    const std::vector<const Compilation*>& editions) {
    std::map<std::string, std::vector<std::size_t>> by_title;
    for (std::size_t i = 0; i < editions.size(); ++i)
        if (editions[i]->compiled) by_title[editions[i]->compiled->policy.title].push_back(i);
    std::vector<std::pair<std::size_t, grammar::Diagnostic>> found;
    const auto policy = [&](std::size_t i) -> const runtime::Policy& {
        return editions[i]->compiled->policy;
    };
    const auto say = [&](std::size_t i, const char* code, std::string message) {
        grammar::Diagnostic d =
            grammar::make_diagnostic(code, std::move(message), head_of(*editions[i]), "this edition");
        const bool gap = std::string_view(code) == "gap.edition";
        d.mends.push_back({std::string("let the older edition ") + (gap ? "last until" : "end on") +
                               " the day before the newer one begins",
                           {},
                           {},
                           false});
        found.emplace_back(i, std::move(d));
    };
    for (auto& [title, members] : by_title) {
        std::stable_sort(members.begin(), members.end(), [&](std::size_t a, std::size_t b) {
            return policy(a).in_force_from < policy(b).in_force_from;  // without a day: from ever
        });
        for (std::size_t n = 1; n < members.size(); ++n) {
            const runtime::Policy& older = policy(members[n - 1]);
            const runtime::Policy& newer = policy(members[n]);
            const std::string names = fmt::format("editions {} and {}", older.edition, newer.edition);
            if (!newer.in_force_from) {
                say(members[n], "conflict.edition", names + " are both in force from the beginning");
                continue;
            }
            const CivilDate from = *newer.in_force_from;
            if (!older.in_force_until || *older.in_force_until >= from) {
                say(members[n], "conflict.edition",
                    fmt::format("{} are both in force on {}", names, runtime::write_date(from)));
                continue;
            }
            const CivilDate next = runtime::add_days(*older.in_force_until, 1);
            if (next < from)
                say(members[n], "gap.edition",
                    fmt::format("no edition is in force from {} to {}", runtime::write_date(next),
                                runtime::write_date(runtime::add_days(from, -1))));
        }
    }
    return found;
}

}  // namespace linelaw::compiler::analysis
