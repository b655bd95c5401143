// Decision diagrams against plain enumeration.
#include <catch2/catch.hpp>
#include <random>

#include "compiler/analysis/diagram.hpp"

using namespace linelaw::compiler::analysis;

namespace {

// A random function over three variables of 3, 4 and 2 cells, as a truth table and as a diagram.
struct Random {
    std::mt19937 random;
    Diagrams diagrams{100'000};
    std::vector<std::uint32_t> widths{3, 4, 2};

    explicit Random(unsigned seed) : random(seed) {
        for (const std::uint32_t width : widths) diagrams.add_variable(width);
    }
    std::vector<bool> table() {
        std::vector<bool> t(24);
        for (std::size_t i = 0; i < t.size(); ++i) t[i] = random() % 2 == 0;
        return t;
    }
    Node diagram(const std::vector<bool>& t) {
        Node n = never;
        for (std::uint32_t i = 0; i < t.size(); ++i)
            if (t[i]) n = diagrams.either(n, point(i));
        return n;
    }
    Node point(std::uint32_t i) {
        return diagrams.all_of(
            {diagrams.cell(0, i % 3), diagrams.cell(1, i / 3 % 4), diagrams.cell(2, i / 12)});
    }
};

}  // namespace

TEST_CASE("equal conditions are the same node, and operations are those of sets") {
    for (unsigned seed = 0; seed < 200; ++seed) {
        Random r(seed);
        const std::vector<bool> a = r.table();
        const std::vector<bool> b = r.table();
        std::vector<bool> both(24);
        std::vector<bool> either(24);
        std::vector<bool> without(24);
        for (std::size_t i = 0; i < 24; ++i) {
            both[i] = a[i] && b[i];
            either[i] = a[i] || b[i];
            without[i] = a[i] && !b[i];
        }
        const Node x = r.diagram(a);
        const Node y = r.diagram(b);
        CHECK(r.diagrams.both(x, y) == r.diagram(both));
        CHECK(r.diagrams.either(x, y) == r.diagram(either));
        CHECK(r.diagrams.without(x, y) == r.diagram(without));
        std::vector<bool> forgotten(24);
        for (std::uint32_t i = 0; i < 24; ++i)
            for (std::uint32_t c = 0; c < 4; ++c)
                forgotten[i] = forgotten[i] || a[i % 3 + 3 * c + 12 * (i / 12)];
        CHECK(r.diagrams.forget(x, {false, true, false}) == r.diagram(forgotten));
    }
}

TEST_CASE("a widened box stays inside, and nothing can be left out or added") {
    for (unsigned seed = 0; seed < 200; ++seed) {
        Random r(seed);
        const Node bad = r.diagram(r.table());
        const Node possible = r.diagram(r.table());
        const Node here = r.diagrams.both(bad, possible);
        if (here == never) continue;
        const Box box = r.diagrams.widen(here, possible, r.diagrams.assignment(here), {2, 1, 0});
        const auto inside = [&](const Box& b) {
            return r.diagrams.implies(r.diagrams.both(r.diagrams.box(b), possible), here);
        };
        REQUIRE(inside(box));
        for (std::size_t i = 0; i < box.size(); ++i) {
            Box fewer = box;
            fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
            CHECK_FALSE(inside(fewer));
            for (std::size_t c = 0; c < box[i].cells.size(); ++c) {
                if (box[i].cells.has(c)) continue;
                Box wider = box;
                wider[i].cells.put(c);
                Box only = box;
                only[i].cells = CellSet(box[i].cells.size());
                only[i].cells.put(c);
                const bool possible_there = r.diagrams.both(r.diagrams.box(only), possible) != never;
                CHECK((!possible_there || !inside(wider)));
            }
        }
    }
}

TEST_CASE("diagrams that outgrow their limit say so") {
    Diagrams diagrams(8);
    for (int i = 0; i < 8; ++i) diagrams.add_variable(3);
    Node n = always;
    CHECK_THROWS_AS(
        [&] {
            for (std::uint32_t v = 0; v < 8; v += 2)
                n = diagrams.both(n, diagrams.either(diagrams.cell(v, 0), diagrams.cell(v + 1, 1)));
        }(),
        DiagramsExhausted);
}
