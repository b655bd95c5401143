// Decision tables as the published evaluation of overlap and gap detection makes them ("Semantics and
// Analysis of DMN Decision Tables", BPM 2016): a decision tree over some columns gives rows that neither
// overlap nor leave anything out; then a tenth of the rows is moved in one column. The tree is a random one,
// for the loans that the published one was learnt from are not public. Every row has an answer of its own, so
// that every overlap counts, as there. Prints how long both questions took together, how many findings and
// in them how many sets are told, and how many sets the published sweep tells of the same table (written down
// here from its description: column by column, sets that lie in another left out, neighbouring strips
// joined).
//
//   bench_analysis_tables [ROWS COLUMNS]
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <ctime>
#include <map>
#include <random>
#include <set>

#include "compiler/analysis/analysis.hpp"
#include "compiler/compile.hpp"

using namespace linelaw::compiler;

namespace {

constexpr int numbers_to = 999;  // of a numeric column; every third column is a list of eight values

struct Box {
    std::vector<int> low;
    std::vector<int> high;
};

bool is_list(std::size_t column) {
    return column % 3 == 2;
}

std::vector<Box> tree(std::mt19937& random, std::size_t columns, std::size_t rows) {
    Box all{std::vector<int>(columns, 0), {}};
    for (std::size_t c = 0; c < columns; ++c) all.high.push_back(is_list(c) ? 7 : numbers_to);
    std::vector<Box> boxes{all};
    while (boxes.size() < rows) {
        const std::size_t i = random() % boxes.size();
        const std::size_t c = random() % columns;
        Box& box = boxes[i];
        if (box.low[c] == box.high[c]) continue;
        const int cut =
            box.low[c] + static_cast<int>(random() % static_cast<unsigned>(box.high[c] - box.low[c]));
        Box upper = box;
        box.high[c] = cut;
        upper.low[c] = cut + 1;
        boxes.push_back(std::move(upper));
    }
    return boxes;
}

// "row 17" of each that was moved.
std::set<std::string> move_some(std::mt19937& random, std::vector<Box>& boxes) {
    std::set<std::string> moved;
    for (std::size_t r = 0; r < boxes.size(); ++r) {
        if (random() % 10 != 0) continue;
        Box& box = boxes[r];
        moved.insert(fmt::format("row {}", r + 1));
        const std::size_t c = random() % box.low.size();
        const int most = is_list(c) ? 7 : numbers_to;
        const int by = 1 + static_cast<int>(random() % (is_list(c) ? 2 : 40));
        int& end = random() % 2 == 0 ? box.low[c] : box.high[c];
        end = std::clamp(end + (random() % 2 == 0 ? by : -by), 0, most);
        if (box.low[c] > box.high[c]) std::swap(box.low[c], box.high[c]);
    }
    return moved;
}

std::string cell(std::size_t column, int low, int high) {
    if (!is_list(column)) {
        if (low == 0 && high == numbers_to) return "any";
        return low == high ? std::to_string(low) : fmt::format("{} .. {}", low, high);
    }
    if (low == 0 && high == 7) return "any";
    std::string text = low == high ? "" : "one of ";
    for (int v = low; v <= high; ++v) text += fmt::format("{}v{}", v > low ? ", " : "", v);
    return text;
}

std::string vocabulary(std::size_t columns) {
    std::string text =
        "vocabulary bench\n  edition 1\n\npatient\n  age : age 0 days .. 120 years\n\nevent insertion "
        "\"Insertion\"\n"
        "event removal \"Removal\"\nevent decision \"Decision\"\n  answer : count 0 .. 9999\n";
    for (std::size_t c = 0; c < columns; ++c)
        text += is_list(c) ? fmt::format("  c{} : one of v0, v1, v2, v3, v4, v5, v6, v7\n", c)
                           : fmt::format("  c{} : count 0 .. {}\n", c, numbers_to);
    return text;
}

std::string policy(const std::vector<Box>& boxes) {
    std::string text =
        "policy \"Bench\"\n  edition 1\n  in force from 2026-03-01 until 2027-02-28\n  review by 2027-01-15\n"
        "  time zone UTC\n  uses vocabulary \"bench.linelaw\"\n  undocumented counts as not assessable\n\n"
        "table t\n  given ";
    const std::size_t columns = boxes[0].low.size();
    for (std::size_t c = 0; c < columns; ++c) text += fmt::format("{}c{}", c > 0 ? " | " : "", c);
    text += " gives answer\n";
    for (std::size_t r = 0; r < boxes.size(); ++r) {
        text += "  row ";
        for (std::size_t c = 0; c < columns; ++c)
            text += (c > 0 ? " | " : "") + cell(c, boxes[r].low[c], boxes[r].high[c]);
        text += fmt::format(" gives {}\n", r);
    }
    return text +
           "\nclause decided\n  \"Decide as the table says.\"\n  at decision\n  must answer is t.answer\n  "
           "reason \"bench\"\n";
}

// ---- the published sweep

using Some = std::vector<std::size_t>;  // rows, rising

// Sets of rows with a point in common, none within another. A sweep along each column in turn; where nothing
// began since the last end, the rows there are among those of that end.
class SweptOverlaps {
  public:
    explicit SweptOverlaps(const std::vector<Box>& boxes) : boxes_(boxes), of_row_(boxes.size()) {
        Some all(boxes.size());
        for (std::size_t r = 0; r < all.size(); ++r) all[r] = r;
        sweep(all, 0);
    }
    std::size_t count() const { return sets_.size(); }

  private:
    const std::vector<Box>& boxes_;
    std::vector<Some> sets_;
    std::vector<Some> of_row_;  // the sets that it is in

    void sweep(const Some& rows, std::size_t column) {
        if (rows.size() < 2) return;
        if (column == boxes_[0].low.size()) return take(rows);
        struct Bound {
            int at;
            bool ends;
            std::size_t row;
        };
        std::vector<Bound> bounds;
        for (const std::size_t r : rows) {
            bounds.push_back({boxes_[r].low[column], false, r});
            bounds.push_back({boxes_[r].high[column], true, r});
        }
        std::sort(bounds.begin(), bounds.end(), [](const Bound& a, const Bound& b) {
            return a.at != b.at ? a.at < b.at : a.ends < b.ends;
        });
        Some active;
        bool began = false;
        for (const Bound& bound : bounds) {
            const auto place = std::lower_bound(active.begin(), active.end(), bound.row);
            if (!bound.ends) {
                active.insert(place, bound.row);
                began = true;
                continue;
            }
            if (began) sweep(active, column + 1);
            began = false;
            active.erase(std::lower_bound(active.begin(), active.end(), bound.row));
        }
    }

    void take(const Some& rows) {
        for (const std::size_t s : of_row_[rows[0]])
            if (std::includes(sets_[s].begin(), sets_[s].end(), rows.begin(), rows.end())) return;
        for (std::size_t s = 0; s < sets_.size();) {  // those that lie in this one go
            if (!std::includes(rows.begin(), rows.end(), sets_[s].begin(), sets_[s].end())) {
                ++s;
                continue;
            }
            sets_[s] = std::move(sets_.back());
            sets_.pop_back();
            index();
        }
        sets_.push_back(rows);
        for (const std::size_t r : rows) of_row_[r].push_back(sets_.size() - 1);
    }

    void index() {
        for (Some& sets : of_row_) sets.clear();
        for (std::size_t s = 0; s < sets_.size(); ++s)
            for (const std::size_t r : sets_[s]) of_row_[r].push_back(s);
    }
};

// Strips without a row, column by column, neighbouring ones joined.
class SweptGaps {
  public:
    explicit SweptGaps(const std::vector<Box>& boxes) : boxes_(boxes), columns_(boxes[0].low.size()) {
        Some all(boxes.size());
        for (std::size_t r = 0; r < all.size(); ++r) all[r] = r;
        Box prefix{std::vector<int>(columns_, 0), {}};
        for (std::size_t c = 0; c < columns_; ++c) prefix.high.push_back(is_list(c) ? 7 : numbers_to);
        sweep(all, 0, prefix);
        while (joined()) {
        }
    }
    std::size_t count() const { return gaps_.size(); }

  private:
    const std::vector<Box>& boxes_;
    std::size_t columns_;
    std::vector<Box> gaps_;

    void sweep(const Some& rows, std::size_t column, Box& prefix) {
        if (rows.empty()) {
            gaps_.push_back(prefix);
            return;
        }
        if (column == columns_) return;
        const int low = prefix.low[column];
        const int high = prefix.high[column];
        std::vector<int> cuts{low, high + 1};
        for (const std::size_t r : rows) {
            cuts.push_back(boxes_[r].low[column]);
            cuts.push_back(boxes_[r].high[column] + 1);
        }
        std::sort(cuts.begin(), cuts.end());
        cuts.erase(std::unique(cuts.begin(), cuts.end()), cuts.end());
        for (std::size_t i = 0; i + 1 < cuts.size(); ++i) {
            Some here;
            for (const std::size_t r : rows)
                if (boxes_[r].low[column] <= cuts[i] && cuts[i] <= boxes_[r].high[column]) here.push_back(r);
            prefix.low[column] = cuts[i];
            prefix.high[column] = cuts[i + 1] - 1;
            sweep(here, column + 1, prefix);
        }
        prefix.low[column] = low;
        prefix.high[column] = high;
    }

    bool joined() {
        const std::size_t before = gaps_.size();
        for (std::size_t c = columns_; c-- > 0;) {
            std::map<std::pair<std::vector<int>, std::vector<int>>, std::vector<std::pair<int, int>>> alike;
            for (Box& gap : gaps_) {
                const std::pair<int, int> range{gap.low[c], gap.high[c]};
                gap.low[c] = gap.high[c] = 0;
                alike[{gap.low, gap.high}].push_back(range);
            }
            gaps_.clear();
            for (auto& [rest, ranges] : alike) {
                std::sort(ranges.begin(), ranges.end());
                for (std::size_t i = 0; i < ranges.size();) {
                    std::size_t end = i + 1;
                    while (end < ranges.size() && ranges[end].first == ranges[end - 1].second + 1) ++end;
                    gaps_.push_back({rest.first, rest.second});
                    gaps_.back().low[c] = ranges[i].first;
                    gaps_.back().high[c] = ranges[end - 1].second;
                    i = end;
                }
            }
        }
        return gaps_.size() < before;
    }
};

// ---- ours

void measure(std::size_t rows, std::size_t columns, bool against_the_sweep) {
    std::mt19937 random(static_cast<unsigned>(rows * 10 + columns));
    std::vector<Box> boxes = tree(random, columns, rows);
    const std::set<std::string> moved = move_some(random, boxes);
    const Compilation compilation =
        compile("policy", [&](const std::string& path) -> std::optional<std::string> {
            return path == "policy" ? policy(boxes) : vocabulary(columns);
        });
    if (!compilation.compiled) {
        fmt::print("does not compile: {}\n", compilation.diagnostics[0].message);
        return;
    }
    analysis::Limits limits;
    limits.findings = 100'000;
    double least = 1e9;
    std::size_t overlaps = 0;
    std::size_t sets = 0;
    std::size_t of_moved = 0;
    std::size_t gaps = 0;
    for (int run = 0; run < 5; ++run) {
        const std::clock_t begin = std::clock();  // of the processor: other work does not count
        const analysis::Analysis analysis = analysis::analyse(compilation, limits);
        least = std::min(least, static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC);
        overlaps = sets = of_moved = gaps = 0;
        for (const auto& d : analysis.diagnostics) {
            if (d.code == "conflict.table") {
                ++overlaps;
                // A finding about one row has a note for each set of rows that it overlaps.
                sets += std::max<std::size_t>(1, d.notes.size());
                of_moved += d.notes.empty() || moved.count(d.labels[0].text) != 0 ? 1 : 0;
            }
            gaps += d.code == "gap.table" || d.code == "gap.boundary" ? 1 : 0;
        }
        if (run == 0)
            for (const std::string& line : analysis.not_done) fmt::print("      {}\n", line);
    }
    fmt::print(
        "{:5} rows x {}: {:7.1f} ms for the whole analysis (the least of 5 runs); {} findings of "
        "overlapping rows, {} sets in them",
        rows, columns, least * 1000, overlaps, sets);
    if (against_the_sweep) fmt::print(" (the sweep: {})", SweptOverlaps(boxes).count());
    fmt::print("; {} rows were moved, {} findings name a row that was not as the one to narrow", moved.size(),
               overlaps - of_moved);
    fmt::print("; {} missing rows", gaps);
    if (against_the_sweep) fmt::print(" (the sweep: {})", SweptGaps(boxes).count());
    fmt::print("\n");
    std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
    if (argc == 3) {
        measure(static_cast<std::size_t>(std::atoi(argv[1])), static_cast<std::size_t>(std::atoi(argv[2])),
                false);
        return 0;
    }
    for (const std::size_t columns : {3, 5})
        for (const std::size_t rows : {500, 1000, 1500}) measure(rows, columns, true);
    measure(1500, 7, false);
    measure(5000, 7, false);
}
