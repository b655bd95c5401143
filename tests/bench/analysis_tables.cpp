// Decision tables as published evaluations of overlap and gap detection make them: a random decision tree
// over some columns gives rows that neither overlap nor leave anything out; then a tenth of the rows is moved
// in one column. Prints what is found and how long it took.
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <random>

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

void move_some(std::mt19937& random, std::vector<Box>& boxes) {
    for (Box& box : boxes) {
        if (random() % 10 != 0) continue;
        const std::size_t c = random() % box.low.size();
        const int most = is_list(c) ? 7 : numbers_to;
        const int by = 1 + static_cast<int>(random() % (is_list(c) ? 2 : 40));
        int& end = random() % 2 == 0 ? box.low[c] : box.high[c];
        end = std::clamp(end + (random() % 2 == 0 ? by : -by), 0, most);
        if (box.low[c] > box.high[c]) std::swap(box.low[c], box.high[c]);
    }
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
        "event removal \"Removal\"\nevent decision \"Decision\"\n  answer : count 0 .. 99\n";
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
        text += fmt::format(" gives {}\n", r % 7);
    }
    return text +
           "\nclause decided\n  \"Decide as the table says.\"\n  at decision\n  must answer is t.answer\n  "
           "reason \"bench\"\n";
}

void measure(std::size_t rows, std::size_t columns) {
    std::mt19937 random(static_cast<unsigned>(rows * 10 + columns));
    std::vector<Box> boxes = tree(random, columns, rows);
    move_some(random, boxes);
    const Compilation compilation =
        compile("policy", [&](const std::string& path) -> std::optional<std::string> {
            return path == "policy" ? policy(boxes) : vocabulary(columns);
        });
    if (!compilation.compiled) {
        fmt::print("does not compile: {}\n", compilation.diagnostics[0].message);
        return;
    }
    const auto begin = std::chrono::steady_clock::now();
    const analysis::Analysis analysis = analysis::analyse(compilation);
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    std::size_t overlaps = 0;
    std::size_t gaps = 0;
    for (const auto& d : analysis.diagnostics) {
        overlaps += d.code == "conflict.table" ? 1 : 0;
        gaps += d.code == "gap.table" || d.code == "gap.boundary" ? 1 : 0;
    }
    fmt::print("{:5} rows x {}: {:7.3f} s, {} sets of overlapping rows, {} missing rows\n", rows, columns,
               seconds, overlaps, gaps);
    for (const std::string& line : analysis.not_done) fmt::print("      {}\n", line);
}

}  // namespace

int main(int argc, char** argv) {
    if (argc == 3) {
        measure(static_cast<std::size_t>(std::atoi(argv[1])), static_cast<std::size_t>(std::atoi(argv[2])));
        return 0;
    }
    for (const std::size_t columns : {3, 5, 7})
        for (const std::size_t rows : {500, 1000, 1500}) measure(rows, columns);
    measure(5000, 7);
}
