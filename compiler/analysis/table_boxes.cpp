// Rows as boxes over the cells of the table's inputs: for inputs that are attributes or states, each free of
// the others.
#include <algorithm>

#include "compiler/analysis/box_cover.hpp"
#include "compiler/analysis/table_faults.hpp"

namespace linelaw::compiler::analysis {

namespace {

constexpr std::size_t most_inputs = 64;
constexpr std::size_t pieces_for_a_finding = 50;  // that the uncovered may fall into

class ByBoxes {
  public:
    ByBoxes(Workspace& work, const TableUse& use)
        : work_(work), use_(use), table_(work.policy.tables[use.table]) {}

    std::optional<RowFaults> find() {
        if (!read_inputs()) return std::nullopt;
        const std::optional<Cells> asked = domain(scope());
        const std::optional<Cells> can_be = domain(work_.situations.possible());
        if (!asked || !can_be) return std::nullopt;
        std::optional<std::vector<Cells>> rows = work_.situations.row_boxes(*use_.value, use_.kind);
        if (!rows) return std::nullopt;
        rows_ = std::move(*rows);
        RowFaults faults;
        find_gaps(*asked, faults);
        const BoxCover cover(columns(*can_be), rows_);
        for (std::uint32_t r = 0; r < rows_.size(); ++r)
            if (cover.empty(r) || (table_.first_row_wins && cover.covered_by_earlier(r)))
                faults.dead.emplace_back(r, cover.empty(r));
        if (!table_.first_row_wins) find_overlaps(cover, *can_be, faults);
        return faults;
    }

  private:
    Workspace& work_;
    const TableUse& use_;
    const runtime::Table& table_;
    std::vector<std::uint32_t> inputs_;  // variables
    std::vector<bool> is_input_;
    std::vector<Cells> rows_;

    const Variable& variable(std::size_t column) const {
        return work_.situations.variables()[inputs_[column]];
    }

    bool read_inputs() {
        is_input_.assign(work_.situations.variables().size(), false);
        for (const runtime::ExpressionId input : use_.value->inputs) {
            const std::uint32_t v = work_.situations.variable_of(input, use_.kind);
            if (v == runtime::none || is_input_[v]) return false;
            is_input_[v] = true;
            inputs_.push_back(v);
        }
        return inputs_.size() <= most_inputs;
    }

    Node scope() {
        std::vector<bool> looked_at = work_.diagrams.support(use_.scope);
        for (const std::uint32_t v : inputs_) looked_at[v] = true;
        return work_.diagrams.all_of(
            {use_.scope, work_.situations.documented(looked_at), work_.situations.set(looked_at)});
    }

    // What the inputs can be there, each by itself; nothing where they hang together.
    std::optional<Cells> domain(Node node) {
        Diagrams& d = work_.diagrams;
        std::vector<bool> others = is_input_;
        others.flip();
        const Node here = d.forget(node, others);
        Cells cells;
        Box box;
        for (std::size_t c = 0; c < inputs_.size(); ++c) {
            std::vector<bool> all_but(is_input_.size(), true);
            all_but[inputs_[c]] = false;
            const Node one = d.forget(here, all_but);
            cells.emplace_back(d.width(inputs_[c]), one == always);
            if (d.top(one) == inputs_[c])
                for (std::uint32_t i = 0; i < cells.back().size(); ++i)
                    cells.back().put(i, d.child(one, i) != never);
            box.push_back({inputs_[c], cells.back()});
        }
        std::sort(box.begin(), box.end(),
                  [](const auto& a, const auto& b) { return a.variable < b.variable; });
        return d.box(box) == here ? std::optional(std::move(cells)) : std::nullopt;
    }

    std::vector<CoverColumn> columns(const Cells& domain) const {
        std::vector<CoverColumn> result;
        for (std::size_t c = 0; c < inputs_.size(); ++c)
            result.push_back({domain[c], variable(c).numeric() || variable(c).kind == VariableKind::age});
        return result;
    }

    // What is anything there goes unsaid.
    Box told(const Cells& cells, const Cells& anything) const {
        Box box;
        for (std::size_t c = 0; c < inputs_.size(); ++c)
            if (cells[c] != anything[c]) box.push_back({inputs_[c], cells[c]});
        std::sort(box.begin(), box.end(),
                  [](const auto& a, const auto& b) { return a.variable < b.variable; });
        return box;
    }

    void find_gaps(const Cells& asked, RowFaults& faults) {
        const BoxCover cover(columns(asked), rows_);
        std::vector<Cells> open =
            cover.uncovered(work_.limits.findings * pieces_for_a_finding, faults.gaps_cut);
        if (open.size() > work_.limits.findings) {
            open.resize(work_.limits.findings);
            faults.gaps_cut = true;
        }
        for (const Cells& cells : open) faults.gaps.push_back({told(cells, asked), between_two_rows(cells)});
    }

    // One cell of one number, with a row on either side that is the same in everything else.
    bool between_two_rows(const Cells& cells) const {
        for (std::size_t c = 0; c < inputs_.size(); ++c)
            if (const std::size_t cell = cells[c].first();
                cells[c].count() == 1 && variable(c).between(cell) && one_row_covers(cells, c, cell - 1) &&
                one_row_covers(cells, c, cell + 1))
                return true;
        return false;
    }

    bool one_row_covers(const Cells& cells, std::size_t column, std::size_t cell) const {
        return std::any_of(rows_.begin(), rows_.end(), [&](const Cells& row) {
            for (std::size_t c = 0; c < inputs_.size(); ++c)
                if (c == column ? !row[c].has(cell) : !cells[c].within(row[c])) return false;
            return true;
        });
    }

    void find_overlaps(const BoxCover& cover, const Cells& can_be, RowFaults& faults) {
        std::vector<std::vector<std::size_t>> beside(rows_.size());
        for (const auto& [a, b] : cover.meeting()) {
            beside[a].push_back(b);
            beside[b].push_back(a);
        }
        for (std::vector<std::size_t>& others : beside) std::sort(others.begin(), others.end());
        const auto common = [&](Cells cells, std::size_t row) {
            for (std::size_t c = 0; c < cells.size(); ++c) cells[c].keep(rows_[row][c]);
            return cells;
        };
        const auto nothing = [](const Cells& cells) {
            return std::any_of(cells.begin(), cells.end(), [](const CellSet& c) { return c.empty(); });
        };
        const auto grow = [&](std::size_t i, std::size_t j) {
            std::vector<std::size_t> set{i, j};
            Cells cells = common(common(can_be, i), j);
            for (const std::size_t r : beside[i]) {
                Cells with = common(cells, r);
                if (r == j || nothing(with)) continue;
                cells = std::move(with);
                set.push_back(r);
            }
            std::sort(set.begin(), set.end());
            return set;
        };
        // What is undocumented or unset goes unsaid wherever the overlap does not hang on it.
        const std::optional<Cells> ordinary =
            domain(work_.diagrams.all_of({work_.situations.possible(), work_.situations.documented(is_input_),
                                          work_.situations.set(is_input_)}));
        for (std::vector<std::size_t>& rows :
             overlapping_sets(beside, answers_of_rows(work_, table_), grow)) {
            Cells cells = can_be;
            for (const std::size_t r : rows) cells = common(std::move(cells), r);
            Cells plain = cells;
            for (std::size_t c = 0; ordinary && c < plain.size(); ++c) plain[c].keep((*ordinary)[c]);
            const bool is_plain = ordinary && !nothing(plain);
            faults.overlaps.push_back(
                {std::move(rows), is_plain ? told(plain, *ordinary) : told(cells, can_be)});
        }
    }
};

}  // namespace

std::optional<RowFaults> faults_by_boxes(Workspace& work, const TableUse& use) {
    return ByBoxes(work, use).find();
}

}  // namespace linelaw::compiler::analysis
