// Decision tables as they are used: rows that overlap with different answers, combinations with no row, rows
// that can never win. What the rows do is found by boxes or by diagrams (table_faults.hpp); here it is said.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "compiler/analysis/conflicts.hpp"
#include "compiler/analysis/table_faults.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using runtime::TableId;

namespace {

class TableFaults {
  public:
    explicit TableFaults(Workspace& work) : work_(work), reported_overlap_(work.policy.tables.size()) {}

    void find() {
        gather();
        for (auto& [key, use] : uses_) {
            if (use.scope == never) use.scope = work_.situations.possible();
            const std::optional<RowFaults> by_boxes = faults_by_boxes(work_, use);
            report(use, by_boxes ? *by_boxes : faults_by_diagrams(work_, use));
        }
    }

  private:
    static constexpr const char* in_order =
        "or write `first row wins` in the table's head, if the order of the rows decides";
    Workspace& work_;
    std::set<std::pair<TableId, std::string>> gaps_said_;
    std::map<std::string, TableUse> uses_;
    std::vector<std::set<std::vector<std::size_t>>> reported_overlap_;
    std::set<std::pair<TableId, std::size_t>> reported_dead_;

    void look(runtime::ExpressionId condition, EventKindId at_hand, Node scope) {
        walk(work_.policy, condition, at_hand, [&](runtime::ExpressionId id, EventKindId hand) {
            const auto* value = std::get_if<runtime::TableValue>(&work_.policy.expressions[id]);
            if (value == nullptr) return;
            std::string key = std::to_string(value->table);
            for (const runtime::ExpressionId input : value->inputs)
                key += " " + work_.situations.key(input, hand);
            TableUse& use = uses_[key];
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

    void report(const TableUse& use, const RowFaults& faults) {
        for (const RowFaults::Gap& gap : faults.gaps) report_gap(use, gap);
        if (faults.gaps_cut)
            work_.skipped(fmt::format("`{}` has no row in more combinations than the {} shown",
                                      work_.policy.tables[use.table].name, faults.gaps.size()));
        for (const auto& [row, impossible] : faults.dead) dead(use.table, row, impossible);
        std::vector<RowFaults::Overlap> fresh;
        for (const RowFaults::Overlap& overlap : faults.overlaps)
            if (reported_overlap_[use.table].insert(overlap.rows).second) fresh.push_back(overlap);
        if (fresh.empty()) return;
        const std::vector<std::size_t> answers = answers_of_rows(work_, work_.policy.tables[use.table]);
        for (const OverlapsOfRow& some : told_together(std::move(fresh), answers))
            if (some.row)
                report_row(use.table, *some.row, some.overlaps);
            else
                report_overlap(use.table, some.overlaps[0]);
    }

    void report_gap(const TableUse& use, const RowFaults::Gap& gap) {
        const std::string& name = work_.policy.tables[use.table].name;
        // Once a table, in the table's own words: wherever it is read, the same row is missing.
        const std::string sentence = as_the_table_writes(use, work_.situations.where_sentence(gap.box));
        if (!gaps_said_.emplace(use.table, sentence).second) return;
        Finding finding;
        finding.code = gap.boundary ? "gap.boundary" : "gap.table";
        finding.ids = {name};
        finding.message = fmt::format("`{}` has no row{}", name, sentence);
        finding.labels.push_back({work_.compiled.table_places[use.table], "this table"});
        finding.witness.emplace();
        finding.witness->situation = work_.situations.worded(gap.box);
        finding.helps = {"add a row for this combination, or widen one beside it"};
        work_.add(std::move(finding));
    }

    // `antiseptic`, not `insertion.antiseptic`: which event it is read at makes no difference to the table.
    std::string as_the_table_writes(const TableUse& use, std::string sentence) const {
        if (use.kind == none) return sentence;
        const std::string owner = work_.policy.event_kinds[use.kind].name + ".";
        for (std::size_t at = 0; (at = sentence.find(owner, at)) != std::string::npos;)
            sentence.erase(at, owner.size());
        return sentence;
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

    grammar::Label row_label(TableId table, std::size_t row) const {
        return {row_place(table, row), fmt::format("row {}", row + 1)};
    }

    static std::string numbers_of(const std::vector<std::size_t>& rows) {
        std::vector<std::string> numbers;
        for (const std::size_t r : rows) numbers.push_back(std::to_string(r + 1));
        return (rows.size() == 1 ? "row " : "rows ") + join(numbers, ", ", " and ");
    }

    Finding overlap_finding(TableId table, const Box& box) const {
        Finding finding;
        finding.code = "conflict.table";
        finding.ids = {work_.policy.tables[table].name};
        finding.witness.emplace();
        finding.witness->situation = work_.situations.worded(box);
        return finding;
    }

    void report_overlap(TableId table, const RowFaults::Overlap& overlap) {
        Finding finding = overlap_finding(table, overlap.box);
        for (const std::size_t r : overlap.rows) finding.labels.push_back(row_label(table, r));
        finding.message =
            fmt::format("{} of `{}` overlap and give different answers{}", numbers_of(overlap.rows),
                        finding.ids[0], work_.situations.where_sentence(overlap.box));
        finding.helps = {"narrow one of the rows, so that each combination has one answer", in_order};
        work_.add(std::move(finding));
    }

    // A row that gives another answer than all that it overlaps: one to mend, not one with each of them.
    void report_row(TableId table, std::size_t row, const std::vector<RowFaults::Overlap>& overlaps) {
        Finding finding = overlap_finding(table, overlaps[0].box);
        std::set<std::size_t> others;
        for (const RowFaults::Overlap& overlap : overlaps) {
            std::vector<std::size_t> with = overlap.rows;
            std::erase(with, row);
            others.insert(with.begin(), with.end());
            const std::string where = work_.situations.where_sentence(overlap.box);
            finding.notes.push_back(fmt::format("it overlaps {}{}", numbers_of(with),
                                                where.empty() ? " in any situation" : where));
        }
        finding.labels.push_back(row_label(table, row));
        for (const std::size_t r : others) finding.labels.push_back(row_label(table, r));
        finding.message = fmt::format("row {} of `{}` overlaps {} and gives another answer", row + 1,
                                      finding.ids[0], numbers_of({others.begin(), others.end()}));
        finding.helps = {fmt::format("narrow row {}, or the others where it meets them, so that each "
                                     "combination has one answer",
                                     row + 1),
                         in_order};
        work_.add(std::move(finding));
    }
};

}  // namespace

void find_table_faults(Workspace& work) {
    TableFaults(work).find();
}

}  // namespace linelaw::compiler::analysis
