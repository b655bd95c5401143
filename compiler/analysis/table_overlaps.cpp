// Which overlaps of a table's rows are told together. A row that was moved by mistake overlaps many others,
// each where nothing else does; that is one thing to mend, and so one finding, which names every overlap.
#include <queue>

#include "compiler/analysis/table_faults.hpp"

namespace linelaw::compiler::analysis {

namespace {

// The rows without which all that overlap there give the same answer.
std::vector<std::size_t> culprits(const std::vector<std::size_t>& rows,
                                  const std::vector<std::size_t>& answer) {
    std::vector<std::size_t> result;
    for (const std::size_t r : rows) {
        const std::size_t other = rows[0] == r ? rows[1] : rows[0];
        if (std::all_of(rows.begin(), rows.end(),
                        [&](std::size_t o) { return o == r || answer[o] == answer[other]; }))
            result.push_back(r);
    }
    return result;
}

}  // namespace

std::vector<OverlapsOfRow> told_together(std::vector<RowFaults::Overlap> overlaps,
                                         const std::vector<std::size_t>& answer) {
    std::vector<std::vector<std::size_t>> of_row(answer.size());  // overlaps that end where it is narrowed
    std::vector<std::vector<std::size_t>> culprits_of;
    for (std::size_t i = 0; i < overlaps.size(); ++i)
        for (const std::size_t r : culprits_of.emplace_back(culprits(overlaps[i].rows, answer)))
            of_row[r].push_back(i);
    // The row that ends most of them first, and of two the upper one, until none ends more than one.
    std::vector<std::size_t> left(answer.size());
    std::priority_queue<std::tuple<std::size_t, std::size_t, std::size_t>> next;  // how many, from below, row
    const auto wait = [&](std::size_t r) {
        if (left[r] > 1) next.emplace(left[r], answer.size() - r, r);
    };
    for (std::size_t r = 0; r < answer.size(); ++r) {
        left[r] = of_row[r].size();
        wait(r);
    }
    std::vector<std::size_t> told_by(overlaps.size(), runtime::none);
    while (!next.empty()) {
        const auto [count, from_below, row] = next.top();
        next.pop();
        if (count != left[row]) {  // some have been told meanwhile
            wait(row);
            continue;
        }
        for (const std::size_t i : of_row[row]) {
            if (told_by[i] != runtime::none) continue;
            told_by[i] = row;
            for (const std::size_t r : culprits_of[i]) --left[r];
        }
    }
    std::vector<OverlapsOfRow> result;
    std::vector<std::size_t> place(answer.size(), runtime::none);  // by row
    for (std::size_t i = 0; i < overlaps.size(); ++i) {
        const std::size_t row = told_by[i];
        if (row == runtime::none) {
            result.push_back({std::nullopt, {std::move(overlaps[i])}});
            continue;
        }
        if (place[row] == runtime::none) {
            place[row] = result.size();
            result.push_back({row, {}});
        }
        result[place[row]].overlaps.push_back(std::move(overlaps[i]));
    }
    return result;
}

}  // namespace linelaw::compiler::analysis
