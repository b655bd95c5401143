#include "compiler/analysis/workspace.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "grammar/format.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;

std::vector<EventKindId> kinds_in(const runtime::Events& events) {
    std::vector<EventKindId> kinds;
    for (const runtime::Pattern& pattern : events)
        if (std::find(kinds.begin(), kinds.end(), pattern.event) == kinds.end())
            kinds.push_back(pattern.event);
    return kinds;
}

std::string also_where(Workspace& work, Node where, const Box& shown) {
    const Node rest = work.diagrams.without(where, work.diagrams.box(shown));
    if (rest == never) return "";
    constexpr std::size_t most = 3;
    bool cut = false;
    std::string note = "the same";
    std::size_t told = 0;
    for (const Box& box : work.situations.boxes(rest, most, cut))
        note += fmt::format("{} where {}", told++ == 0 ? "" : ";", work.situations.sentence(box));
    return note + (cut ? "; and in more situations" : "");
}

bool shares_kind(const runtime::Events& events, const runtime::Events& others) {
    return std::any_of(events.begin(), events.end(), [&](const runtime::Pattern& p) {
        return std::any_of(others.begin(), others.end(),
                           [&](const runtime::Pattern& q) { return p.event == q.event; });
    });
}

std::vector<EventKindId> hands_of(const runtime::Clause& clause) {
    std::vector<EventKindId> kinds = kinds_in(clause.trigger.events);
    if (kinds.empty()) kinds.push_back(none);
    return kinds;
}

std::vector<EventKindId> hands_of_exceptions(const runtime::Clause& clause) {
    std::vector<EventKindId> kinds = kinds_in(clause.trigger.events);
    for (const EventKindId kind : kinds_in(demanded_events(clause.demand)))
        if (std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) kinds.push_back(kind);
    if (kinds.empty()) kinds.push_back(none);
    return kinds;
}

Workspace::Workspace(const Compilation& compilation_, const Limits& limits_, Analysis& result_)
    : compilation(compilation_),
      compiled(*compilation_.compiled),
      policy(compiled.policy),
      limits(limits_),
      result(result_),
      situations(compiled, limits_),
      diagrams(situations.diagrams()),
      applies_(policy.clauses.size()),
      overriders_(policy.clauses.size()) {
    for (ClauseId c = 0; c < policy.clauses.size(); ++c)
        for (const ClauseId overridden : policy.clauses[c].overrides) overriders_[overridden].push_back(c);
}

bool Workspace::at_events(ClauseId id) const {
    return runtime::at_events(clause(id).trigger.kind);
}

Meaning Workspace::own(ClauseId id, EventKindId kind) {
    const runtime::Clause& c = clause(id);
    std::vector<Meaning> parts;
    for (const runtime::ExpressionId condition : {c.for_each_where, c.applies_for, c.applies_while})
        parts.push_back(situations.meaning(condition));
    if (at_events(id) && kind != none) parts.push_back(situations.matches(c.trigger.events, kind));
    std::vector<Node> yes;
    std::vector<Node> no;
    for (const Meaning& part : parts) {
        yes.push_back(part.yes);
        no.push_back(part.no);
    }
    return {diagrams.all_of(std::move(yes)), diagrams.any_of(std::move(no))};
}

Meaning Workspace::applies(ClauseId id, EventKindId kind) {
    for (const auto& [at, known] : applies_[id])
        if (at == kind) return known;
    Meaning meaning = own(id, kind);
    for (const ClauseId overrider : overriders_[id]) {  // circles are refused by the compiler
        // What is judged at events overrides at those very events, and at no other time.
        if (at_events(overrider) && kind == none) continue;
        const Meaning other = applies(overrider, at_events(overrider) ? kind : none);
        meaning = {diagrams.both(meaning.yes, other.no), diagrams.either(meaning.no, other.yes)};
    }
    applies_[id].emplace_back(kind, meaning);
    return meaning;
}

bool Workspace::reads_event(runtime::ExpressionId condition, EventKindId kind) {
    const std::vector<bool>& support = diagrams.support(situations.meaning(condition, kind).yes);
    for (std::uint32_t v = 0; v < support.size(); ++v) {
        const VariableKind k = situations.variables()[v].kind;
        if (support[v] && (k == VariableKind::event || k == VariableKind::relation)) return true;
    }
    return false;
}

Node Workspace::possible(ClauseId id) {
    const runtime::PartKindId part = clause(id).for_each;
    return part == none ? situations.possible() : situations.possible_with(part);
}

std::string Workspace::quoted(ClauseId id) const {
    return '`' + clause(id).id + '`';
}

std::string Workspace::quoted(const std::vector<ClauseId>& ids) const {
    std::vector<std::string> names;
    names.reserve(ids.size());
    for (const ClauseId id : ids) names.push_back(quoted(id));
    return join(names, ", ", " and ");
}

grammar::Place Workspace::place(ClauseId id) const {
    return id < compiled.clauses.size() ? compiled.clauses[id].id.place : grammar::Place{};
}

grammar::Place Workspace::item_place(const std::string& id) const {
    for (const auto& [name, where] : compiled.items)
        if (name == id) return where;
    return policy_place();
}

grammar::Place Workspace::policy_place() const {
    if (compilation.sources.size() == 0) return {};
    const std::string& text = compilation.sources.text(0).content;
    const std::size_t at = text.find("policy \"");
    if (at == std::string::npos) return {};
    return {0, static_cast<std::uint32_t>(at), static_cast<std::uint32_t>(text.find('"', at + 8) + 1)};
}

namespace {

const grammar::ClauseLine* demand_line(const Compiled& compiled, ClauseId id) {
    if (id >= compiled.clauses.size()) return nullptr;
    for (const grammar::ClauseLine& line : compiled.clauses[id].lines)
        if (std::holds_alternative<grammar::Demand>(line.node)) return &line;
    for (const grammar::ClauseLine& line : compiled.clauses[id].lines)
        if (std::holds_alternative<grammar::ThenEscalate>(line.node)) return &line;
    return nullptr;
}

}  // namespace

std::string Workspace::demand_words(ClauseId id) const {
    const grammar::ClauseLine* line = demand_line(compiled, id);
    if (line == nullptr) return "";
    if (const auto* demand = std::get_if<grammar::Demand>(&line->node)) {
        if (const auto* judgement = std::get_if<grammar::LeavesToJudgement>(&demand->node)) {
            (void)judgement;
            return "left to judgement";
        }
        return grammar::to_text(*demand);
    }
    return "escalate " + std::get<grammar::ThenEscalate>(line->node).escalation.text;
}

grammar::Label Workspace::label(ClauseId id) const {
    const grammar::ClauseLine* line = demand_line(compiled, id);
    return {line != nullptr ? line->place : place(id), quoted(id)};
}

void Workspace::apart(const std::string& what, const std::vector<ClauseId>& clauses,
                      const std::function<void()>& find) {
    diagrams.allow(limits.diagram_work);
    try {
        find();
    } catch (const DiagramsExhausted&) {
        skipped(fmt::format(
            "{} were not analysed to the end: their {} clauses have too many combinations for the limit set",
            what, clauses.size()));
        give_up(clauses, what + " were not analysed to the end");
    }
}

bool Workspace::full(const std::string& code) const {
    const auto found = counts_.find(code);
    return found != counts_.end() && found->second >= limits.findings;
}

void Workspace::add(Finding finding) {
    if (++counts_[finding.code] > limits.findings) {
        if (counts_[finding.code] == limits.findings + 1)
            skipped(
                fmt::format("only the first {} findings of `{}` are shown", limits.findings, finding.code));
        return;
    }
    said_.emplace_back(finding.code, finding.ids);
    grammar::Diagnostic diagnostic;
    diagnostic.code = finding.code;
    const grammar::DiagnosticCode* known = grammar::find_diagnostic_code(finding.code);
    diagnostic.severity = known != nullptr ? known->severity : grammar::Severity::against;
    if (finding.advisory) diagnostic.severity = grammar::Severity::note;
    diagnostic.message = std::move(finding.message);
    diagnostic.labels = std::move(finding.labels);
    diagnostic.notes = std::move(finding.notes);
    for (std::string& help : finding.helps) diagnostic.mends.push_back({std::move(help), {}, {}, false});
    diagnostic.witness = std::move(finding.witness);
    result.diagnostics.push_back(std::move(diagnostic));
}

}  // namespace linelaw::compiler::analysis
