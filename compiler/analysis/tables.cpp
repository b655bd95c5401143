// Decision tables as they are used: rows that overlap with different answers, combinations with no row, rows
// that can never win. Rows are boxes over the inputs' cells, so overlaps are found without diagrams; diagrams
// only confirm what the vocabulary allows.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "compiler/analysis/conflicts.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using runtime::TableId;

namespace {

constexpr std::size_t gaps_shown = 200;  // of one table

// One table with its inputs at one place of use; every place that reads it alike is one use.
struct Use {
    TableId table = none;
    const runtime::TableValue* value = nullptr;
    EventKindId kind = none;
    Node scope = never;
};

class TableFaults {
  public:
    explicit TableFaults(Workspace& work) : work_(work), reported_overlap_(work.policy.tables.size()) {}

    void find() {
        gather();
        for (auto& [key, use] : uses_) {
            if (use.scope == never) use.scope = work_.situations.possible();
            judge(use);
        }
    }

  private:
    Workspace& work_;
    std::set<std::pair<TableId, std::string>> gaps_said_;
    std::map<std::string, Use> uses_;
    std::vector<std::set<std::vector<std::size_t>>> reported_overlap_;
    std::set<std::pair<TableId, std::size_t>> reported_dead_;

    void look(runtime::ExpressionId condition, EventKindId at_hand, Node scope) {
        walk(work_.policy, condition, at_hand, [&](runtime::ExpressionId id, EventKindId hand) {
            const auto* value = std::get_if<runtime::TableValue>(&work_.policy.expressions[id]);
            if (value == nullptr) return;
            std::string key = std::to_string(value->table);
            for (const runtime::ExpressionId input : value->inputs)
                key += " " + work_.situations.key(input, hand);
            Use& use = uses_[key];
            use.table = value->table;
            use.value = value;
            use.kind = hand;
            use.scope = work_.diagrams.either(use.scope, scope);
        });
    }

    void gather() {
        for (ClauseId c = 0; c < work_.policy.clauses.size(); ++c) {
            const runtime::Clause& clause = work_.clause(c);
            const Node everywhere = work_.possible(c);
            for (const runtime::ExpressionId condition :
                 {clause.for_each_where, clause.applies_for, clause.applies_while, clause.trigger.once})
                look(condition, none, everywhere);
            for (const runtime::Pattern& p : clause.trigger.events) look(p.where, p.event, everywhere);
            for (const runtime::Pattern& p : demanded_events(clause.demand))
                look(p.where, p.event, work_.diagrams.both(work_.applies(c).yes, everywhere));
            if (const auto* holds = std::get_if<runtime::Holds>(&clause.demand))
                for (const EventKindId kind : kinds_in(clause.trigger.events))
                    look(holds->condition, kind, work_.diagrams.both(work_.applies(c, kind).yes, everywhere));
        }
    }

    grammar::Place row_place(TableId table, std::size_t row) const {
        if (table < work_.compiled.tables.size() && row < work_.compiled.tables[table].rows.size())
            return work_.compiled.tables[table].rows[row].place;
        return work_.compiled.table_places[table];
    }

    void judge(const Use& use) {
        const runtime::Table& table = work_.policy.tables[use.table];
        Diagrams& d = work_.diagrams;
        std::vector<Node> fits;
        fits.reserve(table.rows.size());
        for (const runtime::Row& row : table.rows)
            fits.push_back(work_.situations.fits_row(*use.value, row, use.kind).yes);
        find_gaps(use, table, fits);
        Node before = never;
        for (std::size_t r = 0; r < fits.size(); ++r) {
            const Node here = d.both(fits[r], work_.situations.possible());
            if (d.without(here, before) == never) dead(use.table, r, here == never);
            if (table.first_row_wins) before = d.either(before, fits[r]);
        }
        if (!table.first_row_wins) find_overlaps(use, table, fits);
    }

    void find_gaps(const Use& use, const runtime::Table& table, const std::vector<Node>& fits) {
        Diagrams& d = work_.diagrams;
        std::vector<bool> looked_at = d.support(use.scope);
        for (const Node fit : fits) {
            const std::vector<bool> support = d.support(fit);
            for (std::size_t v = 0; v < support.size(); ++v) looked_at[v] = looked_at[v] || support[v];
        }
        const Node scope =
            d.all_of({use.scope, work_.situations.documented(looked_at), work_.situations.set(looked_at)});
        const Node gap = d.without(scope, d.any_of(fits));
        bool cut = false;
        for (const Box& box : work_.situations.boxes_within(gap, scope, gaps_shown, cut)) {
            // Once a table, in the table's own words: wherever it is read, the same row is missing.
            const std::string sentence = as_the_table_writes(use, work_.situations.where_sentence(box));
            if (!gaps_said_.emplace(use.table, sentence).second) continue;
            Finding finding;
            finding.code = between_two_rows(use, table, box) ? "gap.boundary" : "gap.table";
            finding.ids = {table.name};
            finding.message = fmt::format("`{}` has no row{}", table.name, sentence);
            finding.labels.push_back({work_.compiled.table_places[use.table], "this table"});
            finding.witness.emplace();
            finding.witness->situation = work_.situations.worded(box);
            finding.helps = {"add a row for this combination, or widen one beside it"};
            work_.add(std::move(finding));
        }
        if (cut)
            work_.skipped(fmt::format("`{}` has no row in more combinations than the {} shown", table.name,
                                      gaps_shown));
    }

    // `antiseptic`, not `insertion.antiseptic`: which event it is read at makes no difference to the table.
    std::string as_the_table_writes(const Use& use, std::string sentence) const {
        if (use.kind == none) return sentence;
        const std::string owner = work_.policy.event_kinds[use.kind].name + ".";
        for (std::size_t at = 0; (at = sentence.find(owner, at)) != std::string::npos;)
            sentence.erase(at, owner.size());
        return sentence;
    }

    // One cell of one number, with a row on either side that is the same in everything else.
    bool between_two_rows(const Use& use, const runtime::Table& table, const Box& box) {
        for (const Constraint& constraint : box) {
            const Variable& v = work_.situations.variables()[constraint.variable];
            std::size_t first = 0;
            std::size_t count = 0;
            for (std::size_t c = 0; c < constraint.cells.size(); ++c)
                if (constraint.cells.has(c)) {
                    if (count++ == 0) first = c;
                }
            const auto ordered = [&](std::size_t c) {
                return c < v.cells.size() &&
                       (v.cells[c].kind == ValueCell::Kind::range || v.cells[c].kind == ValueCell::Kind::age);
            };
            if (count != 1 || first == 0 || !ordered(first) || !ordered(first + 1)) continue;
            const auto covered = [&](std::size_t cell) {
                Box beside = box;
                for (Constraint& other : beside)
                    if (other.variable == constraint.variable) {
                        other.cells = CellSet(other.cells.size());
                        other.cells.put(cell);
                    }
                const Node node = work_.diagrams.box(beside);
                return std::any_of(table.rows.begin(), table.rows.end(), [&](const runtime::Row& row) {
                    return work_.diagrams.implies(work_.diagrams.both(node, use.scope),
                                                  work_.situations.fits_row(*use.value, row, use.kind).yes);
                });
            };
            if (covered(first - 1) && covered(first + 1)) return true;
        }
        return false;
    }

    void dead(TableId table, std::size_t row, bool impossible) {
        if (!reported_dead_.emplace(table, row).second) return;
        Finding finding;
        finding.code = "dead.row";
        const std::string& name = work_.policy.tables[table].name;
        finding.ids = {name};
        finding.message =
            impossible
                ? fmt::format("row {} of `{}` fits no situation that can be", row + 1, name)
                : fmt::format("row {} of `{}` can never win: the rows above it fit first", row + 1, name);
        finding.labels.push_back({row_place(table, row), "this row"});
        finding.helps = {"take the row out, or move it up"};
        work_.add(std::move(finding));
    }

    bool same_answer(const runtime::Row& a, const runtime::Row& b) const {
        for (std::size_t g = 0; g < a.gives.size(); ++g)
            if (work_.situations.key(a.gives[g], none) != work_.situations.key(b.gives[g], none))
                return false;
        return true;
    }

    void find_overlaps(const Use& use, const runtime::Table& table, const std::vector<Node>& fits) {
        Diagrams& d = work_.diagrams;
        const std::size_t n = table.rows.size();
        const std::vector<std::vector<CellSet>> boxes = work_.situations.row_boxes(*use.value, use.kind);
        std::vector<std::vector<bool>> beside(n, std::vector<bool>(n, false));
        std::vector<std::vector<std::size_t>> differing(n);
        bool any = false;
        for (std::size_t i = 0; i < n; ++i)
            for (std::size_t j = i + 1; j < n; ++j) {
                if (!boxes.empty() && !boxes_meet(boxes[i], boxes[j])) continue;
                if (d.both(d.both(fits[i], fits[j]), work_.situations.possible()) == never) continue;
                beside[i][j] = beside[j][i] = true;
                if (same_answer(table.rows[i], table.rows[j])) continue;
                differing[i].push_back(j);
                any = true;
            }
        if (!any) return;
        // Each row's differing neighbours, gathered into sets that overlap at one common point.
        std::set<std::vector<std::size_t>> groups;
        for (std::size_t i = 0; i < n; ++i)
            for (const std::size_t j : differing[i]) {
                const bool covered = std::any_of(groups.begin(), groups.end(), [&](const auto& g) {
                    return std::binary_search(g.begin(), g.end(), i) &&
                           std::binary_search(g.begin(), g.end(), j);
                });
                if (!covered) groups.insert(grown({i, j}, beside, fits));
            }
        for (const std::vector<std::size_t>& group : groups) report_overlap(use, group, fits);
    }

    static bool boxes_meet(const std::vector<CellSet>& a, const std::vector<CellSet>& b) {
        for (std::size_t column = 0; column < a.size(); ++column) {
            bool meet = false;
            for (std::size_t c = 0; c < a[column].size() && !meet; ++c)
                meet = a[column].has(c) && b[column].has(c);
            if (!meet) return false;
        }
        return true;
    }

    std::vector<std::size_t> grown(std::vector<std::size_t> group,
                                   const std::vector<std::vector<bool>>& beside,
                                   const std::vector<Node>& fits) {
        Diagrams& d = work_.diagrams;
        Node common = work_.situations.possible();
        for (const std::size_t r : group) common = d.both(common, fits[r]);
        for (std::size_t r = 0; r < fits.size(); ++r) {
            const bool all =
                std::all_of(group.begin(), group.end(), [&](std::size_t g) { return beside[g][r]; });
            if (!all) continue;
            const Node with = d.both(common, fits[r]);
            if (with == never) continue;
            common = with;
            group.push_back(r);
        }
        std::sort(group.begin(), group.end());
        return group;
    }

    void report_overlap(const Use& use, const std::vector<std::size_t>& group,
                        const std::vector<Node>& fits) {
        if (!reported_overlap_[use.table].insert(group).second) return;
        Node common = work_.situations.possible();
        Finding finding;
        finding.code = "conflict.table";
        const std::string& name = work_.policy.tables[use.table].name;
        finding.ids = {name};
        std::vector<std::string> rows;
        for (const std::size_t r : group) {
            common = work_.diagrams.both(common, fits[r]);
            rows.push_back(std::to_string(r + 1));
            finding.labels.push_back({row_place(use.table, r), fmt::format("row {}", r + 1)});
        }
        const Box box = work_.situations.smallest(common);
        finding.message = fmt::format("rows {} of `{}` overlap and give different answers{}",
                                      join(rows, ", ", " and "), name, work_.situations.where_sentence(box));
        finding.witness.emplace();
        finding.witness->situation = work_.situations.worded(box);
        finding.helps = {"narrow one of the rows, so that each combination has one answer",
                         "or write `first row wins` in the table's head, if the order of the rows decides"};
        work_.add(std::move(finding));
    }
};

}  // namespace

void find_table_faults(Workspace& work) {
    TableFaults(work).find();
}

}  // namespace linelaw::compiler::analysis
