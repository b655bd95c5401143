// Rows as decision diagrams: for inputs that hang together, in small tables.
#include <algorithm>

#include "compiler/analysis/table_faults.hpp"

namespace linelaw::compiler::analysis {

namespace {

class ByDiagrams {
  public:
    ByDiagrams(Workspace& work, const TableUse& use)
        : work_(work), use_(use), table_(work.policy.tables[use.table]) {
        for (const runtime::Row& row : table_.rows)
            fits_.push_back(work_.situations.fits_row(*use.value, row, use.kind).yes);
    }

    RowFaults find() {
        RowFaults faults;
        find_gaps(faults);
        Diagrams& d = work_.diagrams;
        Node before = never;
        for (std::size_t r = 0; r < fits_.size(); ++r) {
            const Node here = d.both(fits_[r], work_.situations.possible());
            if (d.without(here, before) == never) faults.dead.emplace_back(r, here == never);
            if (table_.first_row_wins) before = d.either(before, fits_[r]);
        }
        if (!table_.first_row_wins) find_overlaps(faults);
        return faults;
    }

  private:
    Workspace& work_;
    const TableUse& use_;
    const runtime::Table& table_;
    std::vector<Node> fits_;

    void find_gaps(RowFaults& faults) {
        Diagrams& d = work_.diagrams;
        std::vector<bool> looked_at = d.support(use_.scope);
        for (const Node fit : fits_) {
            const std::vector<bool>& support = d.support(fit);
            for (std::size_t v = 0; v < support.size(); ++v) looked_at[v] = looked_at[v] || support[v];
        }
        const Node scope =
            d.all_of({use_.scope, work_.situations.documented(looked_at), work_.situations.set(looked_at)});
        const Node gap = d.without(scope, d.any_of(fits_));
        for (Box& box : work_.situations.boxes_within(gap, scope, work_.limits.findings, faults.gaps_cut)) {
            const bool boundary = between_two_rows(box);
            faults.gaps.push_back({std::move(box), boundary});
        }
    }

    // One cell of one number, with a row on either side that is the same in everything else.
    bool between_two_rows(const Box& box) {
        return std::any_of(box.begin(), box.end(), [&](const Constraint& constraint) {
            const Variable& v = work_.situations.variables()[constraint.variable];
            const std::size_t cell = constraint.cells.first();
            if (constraint.cells.count() != 1 || !v.between(cell)) return false;
            return one_row_covers(box, constraint.variable, cell - 1) &&
                   one_row_covers(box, constraint.variable, cell + 1);
        });
    }

    bool one_row_covers(Box box, std::uint32_t variable, std::size_t cell) {
        for (Constraint& constraint : box)
            if (constraint.variable == variable) {
                constraint.cells = CellSet(constraint.cells.size());
                constraint.cells.put(cell);
            }
        const Node here = work_.diagrams.both(work_.diagrams.box(box), use_.scope);
        return std::any_of(fits_.begin(), fits_.end(),
                           [&](Node fit) { return work_.diagrams.implies(here, fit); });
    }

    void find_overlaps(RowFaults& faults) {
        Diagrams& d = work_.diagrams;
        std::vector<std::vector<std::size_t>> beside(fits_.size());
        for (std::size_t i = 0; i < fits_.size(); ++i)
            for (std::size_t j = i + 1; j < fits_.size(); ++j)
                if (d.both(d.both(fits_[i], fits_[j]), work_.situations.possible()) != never) {
                    beside[i].push_back(j);
                    beside[j].push_back(i);
                }
        const auto grow = [&](std::size_t i, std::size_t j) {
            std::vector<std::size_t> set{i, j};
            Node common = d.all_of({work_.situations.possible(), fits_[i], fits_[j]});
            for (const std::size_t r : beside[i]) {
                const Node with = d.both(common, fits_[r]);
                if (r == j || with == never) continue;
                common = with;
                set.push_back(r);
            }
            std::sort(set.begin(), set.end());
            return set;
        };
        for (std::vector<std::size_t>& rows :
             overlapping_sets(beside, answers_of_rows(work_, table_), grow)) {
            Node common = work_.situations.possible();
            for (const std::size_t r : rows) common = d.both(common, fits_[r]);
            faults.overlaps.push_back({std::move(rows), work_.situations.smallest(common)});
        }
    }
};

}  // namespace

RowFaults faults_by_diagrams(Workspace& work, const TableUse& use) {
    return ByDiagrams(work, use).find();
}

std::vector<std::size_t> answers_of_rows(const Workspace& work, const runtime::Table& table) {
    std::map<std::string, std::size_t> known;
    std::vector<std::size_t> result;
    for (const runtime::Row& row : table.rows) {
        std::string key;
        for (const runtime::ExpressionId gives : row.gives)
            key += work.situations.key(gives, runtime::none) + "|";
        result.push_back(known.emplace(std::move(key), known.size()).first->second);
    }
    return result;
}

}  // namespace linelaw::compiler::analysis
