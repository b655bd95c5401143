// Many boxes over the same columns: which of them meet, and what none of them covers, told in few wide boxes.
// The work grows with the boxes, not with the combinations of cells as diagrams would: for large tables.
// Knows nothing of policies.
#pragma once

#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

#include "compiler/analysis/diagram.hpp"

namespace linelaw::compiler::analysis {

using Cells = std::vector<CellSet>;  // of each column

struct CoverColumn {
    CellSet domain;        // nothing outside it counts
    bool ordered = false;  // its cells follow one another: what is uncovered is told as one range
};

class BoxCover {
  public:
    // Boxes are cut to the domain.
    BoxCover(std::vector<CoverColumn> columns, const std::vector<Cells>& boxes);

    bool empty(std::uint32_t box) const { return empty_[box]; }
    // Every two boxes with a cell of the domain in common, the earlier one first; in order.
    std::vector<std::pair<std::uint32_t, std::uint32_t>> meeting() const;
    // Whether the boxes before this one cover it.
    bool covered_by_earlier(std::uint32_t box) const;
    // What no box covers, in wide boxes that cover all of it: no column of them can be widened. Boxes may
    // overlap; none is wholly within the others. `cut` where there was more than `limit` pieces of it.
    std::vector<Cells> uncovered(std::size_t limit, bool& cut) const;

  private:
    // Cells are counted within the domain here. A row's cells in a column: all from low to high, or, where
    // they are not all, or the column has no order, those of `set`.
    struct Span {
        std::uint32_t low = 1;
        std::uint32_t high = 0;
    };
    using Region = std::vector<Span>;
    struct Wide {  // a box being widened
        Region spans;
        std::vector<CellSet> sets;  // of columns without order
    };
    using Rows = std::vector<std::uint32_t>;

    std::size_t size(std::size_t column) const { return cells_[column].size(); }
    const CellSet* set(std::size_t column, std::uint32_t box) const {
        const std::uint32_t i = set_[column][box];
        return i == no_set ? nullptr : &sets_[i];
    }
    bool meets(std::size_t column, std::uint32_t a, std::uint32_t b) const;
    bool meets(std::size_t column, std::uint32_t box, const Span& span) const;
    bool covers(std::size_t column, std::uint32_t box, const Span& span) const;
    bool meets(std::size_t column, std::uint32_t box, const Wide& wide) const;
    bool divide(const Region& region, const Rows& rows, std::size_t limit, std::vector<Region>& left) const;
    std::pair<std::size_t, std::uint32_t> cut_of(const Region& region, const Rows& rows) const;
    Wide widened(const Region& region) const;
    bool within(const Region& region, const Wide& wide) const;
    Cells told(const Wide& wide) const;

    static constexpr std::uint32_t no_set = 0xFFFF'FFFF;
    std::vector<CoverColumn> columns_;
    std::vector<std::vector<std::uint32_t>> cells_;  // by column, index within the domain → cell
    std::vector<std::vector<Span>> span_;            // by column and box
    std::vector<std::vector<std::uint32_t>> set_;
    std::vector<CellSet> sets_;
    std::vector<bool> empty_;
};

}  // namespace linelaw::compiler::analysis
