// What the rows of one table do at its places of use: combinations with no row, rows that overlap with
// different answers, rows that can never win. Found by boxes where the inputs are independent of one another,
// which is fast however large the table is, and else by diagrams; both say the same.
#pragma once

#include <algorithm>
#include <optional>

#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

// One table with its inputs at one place of use; every place that reads it alike is one use.
struct TableUse {
    runtime::TableId table = runtime::none;
    const runtime::TableValue* value = nullptr;
    runtime::EventKindId kind = runtime::none;
    Node scope = never;
};

struct RowFaults {
    struct Gap {
        Box box;
        bool boundary = false;  // one cell of one number, with a row on either side
    };
    struct Overlap {
        std::vector<std::size_t> rows;  // rising; all overlap in the box, and some answers differ
        Box box;
    };
    std::vector<Gap> gaps;
    bool gaps_cut = false;  // there are more
    std::vector<Overlap> overlaps;
    std::vector<std::pair<std::size_t, bool>> dead;  // a row, and whether it fits nothing that can be
};

// Overlaps that all end where one row is narrowed, or one by itself.
struct OverlapsOfRow {
    std::optional<std::size_t> row;
    std::vector<RowFaults::Overlap> overlaps;
};
// Each overlap once, told with as many others as goes. `answer[r]`: equal numbers for rows that give the
// same.
std::vector<OverlapsOfRow> told_together(std::vector<RowFaults::Overlap> overlaps,
                                         const std::vector<std::size_t>& answer);

std::optional<RowFaults> faults_by_boxes(Workspace& work, const TableUse& use);
RowFaults faults_by_diagrams(Workspace& work, const TableUse& use);

// Rows as pairs that differ in their answers, gathered into sets. `beside[i]`: the rows that overlap row i,
// rising. `grow` makes of two rows a set that overlaps at one common point and takes no further row.
template <typename Grow>
std::vector<std::vector<std::size_t>> overlapping_sets(const std::vector<std::vector<std::size_t>>& beside,
                                                       const std::vector<std::size_t>& answer, Grow grow) {
    std::vector<std::vector<std::size_t>> sets;
    std::vector<std::vector<std::size_t>> of_row(beside.size());  // the sets that it is in
    for (std::size_t i = 0; i < beside.size(); ++i)
        for (const std::size_t j : beside[i]) {
            if (j < i || answer[i] == answer[j]) continue;
            const bool known = std::any_of(of_row[i].begin(), of_row[i].end(), [&](std::size_t s) {
                return std::binary_search(sets[s].begin(), sets[s].end(), j);
            });
            if (known) continue;
            for (const std::size_t r : sets.emplace_back(grow(i, j))) of_row[r].push_back(sets.size() - 1);
        }
    return sets;
}

// Equal numbers for rows that give the same.
std::vector<std::size_t> answers_of_rows(const Workspace& work, const runtime::Table& table);

}  // namespace linelaw::compiler::analysis
