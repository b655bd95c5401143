// Boundaries that two clauses leave open: more than 2 cm for the one, less than 2 cm for the other, and
// nobody says what holds at 2 cm.
#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <tuple>

#include "compiler/analysis/gaps.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;

namespace {

// A clause that applies where `rest` holds and one number lies in `cells`.
struct Side {
    ClauseId clause = none;
    CellSet cells;
};
// What is done at an event and what is done after it answer one question: what does the event call for.
runtime::TriggerKind asked(runtime::TriggerKind kind) {
    return kind == runtime::TriggerKind::after ? runtime::TriggerKind::at : kind;
}
// When asked, event at hand, the number's variable, everything else.
using Bucket = std::tuple<runtime::TriggerKind, EventKindId, std::uint32_t, Node>;

bool ordered(const Variable& v, std::size_t cell) {
    return cell < v.cells.size() &&
           (v.cells[cell].kind == ValueCell::Kind::range || v.cells[cell].kind == ValueCell::Kind::age);
}

// The cells of a variable that a condition takes in one of the situations in which it looks at it; where the
// condition is that variable's cells and a rest, in all of them.
CellSet taken_somewhere(Diagrams& d, Node condition, std::uint32_t v) {
    std::vector<Node> open{condition};
    std::set<Node> seen;
    while (!open.empty()) {
        const Node node = open.back();
        open.pop_back();
        if (d.top(node) > v || !seen.insert(node).second) continue;
        CellSet cells(d.width(d.top(node)));
        for (std::uint32_t c = 0; c < cells.size(); ++c) {
            cells.put(c, d.child(node, c) != never);
            if (d.top(node) != v) open.push_back(d.child(node, c));
        }
        if (d.top(node) == v) return cells;
    }
    return CellSet(d.width(v));
}

std::optional<Side> side_of(Workspace& work, ClauseId c, Node applies, std::uint32_t v, Node& rest) {
    std::vector<bool> only(work.situations.variables().size(), false);
    only[v] = true;
    rest = work.diagrams.forget(applies, only);
    const CellSet cells = taken_somewhere(work.diagrams, applies, v);
    if (work.diagrams.both(rest, work.diagrams.literal(v, cells)) != applies) return std::nullopt;
    return Side{c, cells};
}

// Whether both clauses are about the same thing: the same events asked for, or both escalate.
bool same_topic(const runtime::Clause& a, const runtime::Clause& b) {
    if (a.demand.index() != b.demand.index()) return false;
    if ((a.then_escalate != none) != (b.then_escalate != none)) return false;
    const runtime::Events x = demanded_events(a.demand);
    const runtime::Events y = demanded_events(b.demand);
    return x.empty() || std::any_of(x.begin(), x.end(), [&](const runtime::Pattern& p) {
               return std::any_of(y.begin(), y.end(),
                                  [&](const runtime::Pattern& q) { return p.event == q.event; });
           });
}

// Cells that neither takes, with one of the two on either side.
CellSet between(const Variable& v, const CellSet& a, const CellSet& b) {
    CellSet gap(v.cells.size());
    for (std::size_t c = 1; c + 1 < v.cells.size(); ++c) {
        if (!ordered(v, c - 1) || !ordered(v, c + 1) || a.has(c) || b.has(c)) continue;
        gap.put(c, (a.has(c - 1) && b.has(c + 1)) || (b.has(c - 1) && a.has(c + 1)));
    }
    return gap;
}

bool one_constant(const Variable& v, const CellSet& gap) {
    for (std::size_t c = 0; c < gap.size(); ++c)
        if (gap.has(c) && (v.cells[c].kind != ValueCell::Kind::range || v.cells[c].low != v.cells[c].high))
            return false;
    return true;
}

void report(Workspace& work, const Bucket& bucket, const Side& a, const Side& b) {
    const auto& [when, kind, v, rest] = bucket;
    const Variable& variable = work.situations.variables()[v];
    const CellSet gap = between(variable, a.cells, b.cells);
    if (gap.empty()) return;
    if (!one_constant(variable, gap) && !same_topic(work.clause(a.clause), work.clause(b.clause))) return;
    Node open = work.diagrams.all_of(
        {rest, work.diagrams.literal(v, gap), work.possible(a.clause), work.situations.documented(rest)});
    for (ClauseId c = 0; c < work.policy.clauses.size() && open != never; ++c) {
        const runtime::Clause& other = work.clause(c);
        if (asked(other.trigger.kind) != when) continue;
        if (same_topic(other, work.clause(a.clause)) || same_topic(other, work.clause(b.clause)))
            open = work.diagrams.without(open, work.applies(c, kind).yes);
    }
    if (open == never) return;
    Finding finding;
    finding.code = "gap.boundary";
    finding.ids = {work.clause(a.clause).id, work.clause(b.clause).id};
    const Box box = work.situations.smallest(open);
    finding.message = fmt::format("{} and {} leave out {}", work.quoted(a.clause), work.quoted(b.clause),
                                  sentence(variable, gap, work.policy));
    finding.labels = {work.label(a.clause), work.label(b.clause)};
    finding.labels[0].text += ": " + words(variable, a.cells, work.policy);
    finding.labels[1].text += ": " + words(variable, b.cells, work.policy);
    finding.witness.emplace();
    finding.witness->situation = work.situations.worded(box);
    finding.helps = {
        "let one of them take the bound in: `at least` for `more than`, or `at most` for `less than`"};
    work.add(std::move(finding));
}

}  // namespace

void find_boundary_gaps(Workspace& work) {
    std::map<Bucket, std::vector<Side>> buckets;
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c) {
        const runtime::Clause& clause = work.clause(c);
        for (const EventKindId kind : hands_of(clause)) {
            const Node applies = work.applies(c, kind).yes;
            const std::vector<bool>& support = work.diagrams.support(applies);
            for (std::uint32_t v = 0; v < support.size(); ++v) {
                const Variable& variable = work.situations.variables()[v];
                if (!support[v] || !(variable.numeric() || variable.kind == VariableKind::age)) continue;
                Node rest = never;
                if (std::optional<Side> side = side_of(work, c, applies, v, rest))
                    buckets[{asked(clause.trigger.kind), kind, v, rest}].push_back(std::move(*side));
            }
        }
    }
    for (const auto& [bucket, sides] : buckets)
        for (std::size_t i = 0; i < sides.size(); ++i)
            for (std::size_t j = i + 1; j < sides.size(); ++j) report(work, bucket, sides[i], sides[j]);
}

}  // namespace linelaw::compiler::analysis
