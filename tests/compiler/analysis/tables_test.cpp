// Rows of tables: boxes must say what decision diagrams say, of random small tables.
#include <fmt/format.h>
#include <algorithm>
#include <catch2/catch.hpp>
#include <random>
#include <set>

#include "compiler/analysis/table_faults.hpp"
#include "tests/compiler/analysis/texts.hpp"

using namespace linelaw::compiler::analysis;

namespace {

const char* table_words = R"(vocabulary tables
  edition 1
patient
  age : age 0 days .. 120 years
line
  kind : one of picc, port, midline
event insertion "Insertion"
event removal "Removal"
event decision "Decision"
  level  : count 0 .. 9
  length : length 0 cm .. 20 cm in cm
  way    : one of a, b, c, d
  answer : count 0 .. 9
)";

std::string cell(std::mt19937& random, int column) {
    const auto upto = [&](unsigned n) { return static_cast<int>(random() % n); };
    if (upto(5) == 0) return "any";
    const char* unit = column == 1 ? " cm" : "";
    switch (column) {
        case 0:
        case 1: {
            const int low = upto(9);
            switch (upto(4)) {
                case 0:
                    return fmt::format("{}{}", low, unit);
                case 1:
                    return fmt::format("more than {}{}", low, unit);
                case 2:
                    return fmt::format("at most {}{}", low, unit);
                default:
                    return fmt::format("{}{} .. {}{}", low, unit, low + upto(static_cast<unsigned>(10 - low)),
                                       unit);
            }
        }
        case 2:
            return upto(3) == 0 ? "b" : upto(2) == 0 ? "one of a, c" : "one of b, c, d";
        case 3:
            return upto(2) == 0 ? "at least 2 months" : "at most 17 years";
        default:
            return upto(2) == 0 ? "picc" : "one of port, midline";
    }
}

std::string table(std::mt19937& random) {
    std::string text = "table t\n  given level | length | way | patient.age | line.kind gives answer\n";
    if (random() % 3 == 0) text.insert(text.find('\n') + 1, "  first row wins\n");
    for (unsigned r = 0; r < 2 + random() % 6; ++r) {
        text += "  row ";
        for (int c = 0; c < 5; ++c) text += (c > 0 ? " | " : "") + cell(random, c);
        text += fmt::format(" gives {}\n", random() % 3);
    }
    return text + "clause decided\n  \"Test.\"\n" +
           (random() % 2 == 0 ? "  for line.kind is one of picc, port\n" : "") +
           "  at decision\n  must answer is t.answer\n  reason \"test\"\n";
}

Node all_of_them(Diagrams& d, const std::vector<RowFaults::Gap>& gaps) {
    Node node = never;
    for (const RowFaults::Gap& gap : gaps) node = d.either(node, d.box(gap.box));
    return node;
}

// Which rows lie together in some set.
std::set<std::pair<std::size_t, std::size_t>> pairs(const RowFaults& faults) {
    std::set<std::pair<std::size_t, std::size_t>> result;
    for (const RowFaults::Overlap& overlap : faults.overlaps)
        for (const std::size_t a : overlap.rows)
            for (const std::size_t b : overlap.rows)
                if (a < b) result.emplace(a, b);
    return result;
}

// Every overlap is told once; of those told together each ends with the one row gone.
void check_told_together(const std::vector<RowFaults::Overlap>& overlaps,
                         const std::vector<std::size_t>& answer, std::size_t& together) {
    std::multiset<std::vector<std::size_t>> before;
    std::multiset<std::vector<std::size_t>> told;
    for (const RowFaults::Overlap& overlap : overlaps) before.insert(overlap.rows);
    for (const OverlapsOfRow& some : told_together(overlaps, answer)) {
        REQUIRE((some.overlaps.size() > 1) == some.row.has_value());
        together += some.row ? 1 : 0;
        for (const RowFaults::Overlap& overlap : some.overlaps) {
            told.insert(overlap.rows);
            if (!some.row) continue;
            std::set<std::size_t> others;
            for (const std::size_t r : overlap.rows)
                if (r != *some.row) others.insert(answer[r]);
            CHECK(std::count(overlap.rows.begin(), overlap.rows.end(), *some.row) == 1);
            CHECK(others.size() == 1);
        }
    }
    CHECK(told == before);
}

}  // namespace

TEST_CASE("boxes say of a table's rows what diagrams say") {
    std::mt19937 random(11);
    std::size_t gaps = 0;
    std::size_t overlaps = 0;
    std::size_t dead = 0;
    std::size_t together = 0;
    for (int i = 0; i < 150; ++i) {
        const std::string text = policy(table(random));
        INFO(text);
        const auto compilation = compiled(text, table_words);
        Analysis result;
        const Limits limits;
        Workspace work(compilation, limits, result);
        TableUse use;
        for (const auto& expression : work.policy.expressions)
            if (const auto* value = std::get_if<linelaw::runtime::TableValue>(&expression)) use.value = value;
        REQUIRE(use.value != nullptr);
        use.table = use.value->table;
        while (work.policy.event_kinds[++use.kind].name != "decision") {
        }
        use.scope = work.diagrams.both(work.applies(0, use.kind).yes, work.possible(0));
        const std::optional<RowFaults> boxes = faults_by_boxes(work, use);
        REQUIRE(boxes);
        const RowFaults diagrams = faults_by_diagrams(work, use);
        const Node scope = work.diagrams.all_of({use.scope, work.situations.documented(std::vector<bool>(
                                                                work.situations.variables().size(), true))});
        const Node left_open = work.diagrams.both(all_of_them(work.diagrams, diagrams.gaps), scope);
        CHECK(work.diagrams.both(all_of_them(work.diagrams, boxes->gaps), scope) == left_open);
        CHECK(boxes->dead == diagrams.dead);
        CHECK(pairs(*boxes) == pairs(diagrams));
        for (const RowFaults::Overlap& overlap : boxes->overlaps)
            for (const std::size_t r : overlap.rows)
                CHECK(
                    work.diagrams.both(
                        work.diagrams.box(overlap.box),
                        work.situations.fits_row(*use.value, work.policy.tables[use.table].rows[r], use.kind)
                            .yes) != never);
        check_told_together(boxes->overlaps, answers_of_rows(work, work.policy.tables[use.table]), together);
        gaps += boxes->gaps.size();
        overlaps += boxes->overlaps.size();
        dead += boxes->dead.size();
    }
    CHECK(gaps > 100);
    CHECK(overlaps > 50);
    CHECK(dead > 2);
    CHECK(together > 10);
}
