#include "compiler/accepted.hpp"

#include <algorithm>

#include "compiler/report.hpp"

namespace linelaw::compiler {

using grammar::Diagnostic;
using grammar::Severity;

namespace {

bool inside(grammar::Place inner, grammar::Place outer) {
    return inner.text == outer.text && inner.begin >= outer.begin && inner.end <= outer.end;
}

bool speaks_of(const Diagnostic& diagnostic, const std::string& id, const Compiled& compiled) {
    return std::any_of(compiled.items.begin(), compiled.items.end(), [&](const auto& item) {
        return item.first == id &&
               std::any_of(diagnostic.labels.begin(), diagnostic.labels.end(),
                           [&](const auto& label) { return inside(label.place, item.second); });
    });
}

bool stands_for(const Accepted& accepted, const Diagnostic& diagnostic, const Compiled& compiled) {
    return accepted.code == diagnostic.code &&
           std::all_of(accepted.ids.begin(), accepted.ids.end(),
                       [&](const auto& id) { return speaks_of(diagnostic, id, compiled); });
}

}  // namespace

void accept_findings(Compilation& compilation, const std::vector<std::string>& codes, bool complete) {
    if (!compilation.compiled) return;
    const Compiled& compiled = *compilation.compiled;
    std::vector<bool> used(compiled.accepted.size(), false);
    for (auto& diagnostic : compilation.diagnostics) {
        if (diagnostic.severity == Severity::error) continue;
        for (std::size_t i = 0; i < compiled.accepted.size(); ++i) {
            if (!stands_for(compiled.accepted[i], diagnostic, compiled)) continue;
            used[i] = true;
            diagnostic.severity = Severity::note;
            diagnostic.accepted = compiled.accepted[i].because;
            diagnostic.labels.push_back({compiled.accepted[i].place, "accepted here"});
        }
        if (diagnostic.severity != Severity::note &&
            std::find(codes.begin(), codes.end(), diagnostic.code) != codes.end()) {
            diagnostic.severity = Severity::note;
            diagnostic.accepted = "it was accepted with `--accept`";
        }
    }
    if (!complete) return;
    for (std::size_t i = 0; i < used.size(); ++i)
        if (!used[i])
            compilation.diagnostics.push_back(grammar::make_diagnostic(
                "unused.accept",
                "nothing is found that " + in_ticks("accept " + compiled.accepted[i].code) + " accepts",
                compiled.accepted[i].place, "not needed"));
}

}  // namespace linelaw::compiler
