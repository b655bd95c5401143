// Boxes against every point, one by one.
#include <catch2/catch.hpp>
#include <functional>
#include <random>
#include <set>

#include "compiler/analysis/box_cover.hpp"

using namespace linelaw::compiler::analysis;

namespace {

struct Drawn {
    std::vector<CoverColumn> columns;
    std::vector<Cells> boxes;
};

Drawn draw(std::mt19937& random) {
    Drawn drawn;
    for (unsigned c = 0; c < 1 + random() % 4; ++c) {
        CoverColumn column{CellSet(2 + random() % 6), random() % 2 == 0};
        for (std::size_t i = 0; i < column.domain.size(); ++i) column.domain.put(i, random() % 6 != 0);
        drawn.columns.push_back(std::move(column));
    }
    for (unsigned b = 0; b < random() % 9; ++b) {
        Cells& box = drawn.boxes.emplace_back();
        for (const CoverColumn& column : drawn.columns) {
            const std::size_t size = column.domain.size();
            CellSet& cells = box.emplace_back(size);
            const std::size_t first = random() % size;
            cells.put_range(first, first + random() % (size - first));
            if (random() % 4 == 0) cells.put(random() % size, random() % 2 == 0);  // a hole, or one apart
        }
    }
    return drawn;
}

using Point = std::vector<std::size_t>;

bool inside(const Cells& box, const Point& point) {
    for (std::size_t c = 0; c < point.size(); ++c)
        if (!box[c].has(point[c])) return false;
    return true;
}

void each_point(const std::vector<CoverColumn>& columns, const std::function<void(const Point&)>& see) {
    Point point;
    const std::function<void()> go = [&] {
        if (point.size() == columns.size()) return see(point);
        const CellSet& domain = columns[point.size()].domain;
        for (std::size_t i = 0; i < domain.size(); ++i) {
            if (!domain.has(i)) continue;
            point.push_back(i);
            go();
            point.pop_back();
        }
    };
    go();
}

bool any_inside(const std::vector<Cells>& boxes, const Point& point, std::size_t before) {
    for (std::size_t b = 0; b < before; ++b)
        if (inside(boxes[b], point)) return true;
    return false;
}

}  // namespace

TEST_CASE("boxes meet, cover and leave out what their points do") {
    std::mt19937 random(7);
    std::size_t uncovered = 0;
    std::size_t hidden = 0;
    for (int i = 0; i < 3000; ++i) {
        const Drawn drawn = draw(random);
        const BoxCover cover(drawn.columns, drawn.boxes);
        std::set<std::pair<std::uint32_t, std::uint32_t>> meeting;
        std::vector<bool> hidden_by_earlier(drawn.boxes.size(), true);
        bool cut = false;
        const std::vector<Cells> open = cover.uncovered(100'000, cut);
        REQUIRE_FALSE(cut);
        each_point(drawn.columns, [&](const Point& point) {
            REQUIRE(any_inside(open, point, open.size()) !=
                    any_inside(drawn.boxes, point, drawn.boxes.size()));
            for (std::uint32_t b = 0; b < drawn.boxes.size(); ++b) {
                if (!inside(drawn.boxes[b], point)) continue;
                if (!any_inside(drawn.boxes, point, b)) hidden_by_earlier[b] = false;
                for (std::uint32_t a = 0; a < b; ++a)
                    if (inside(drawn.boxes[a], point)) meeting.emplace(a, b);
            }
        });
        const auto pairs = cover.meeting();
        REQUIRE(std::set<std::pair<std::uint32_t, std::uint32_t>>(pairs.begin(), pairs.end()) == meeting);
        for (std::uint32_t b = 0; b < drawn.boxes.size(); ++b) {
            REQUIRE(cover.covered_by_earlier(b) == hidden_by_earlier[b]);
            hidden += hidden_by_earlier[b] ? 1 : 0;
        }
        uncovered += open.size();
    }
    CHECK(uncovered > 1000);
    CHECK(hidden > 1000);
}

TEST_CASE("what is left uncovered is told in boxes that no neighbouring cell widens") {
    std::mt19937 random(8);
    for (int i = 0; i < 1000; ++i) {
        const Drawn drawn = draw(random);
        bool cut = false;
        const BoxCover cover(drawn.columns, drawn.boxes);
        for (const Cells& box : cover.uncovered(100'000, cut))
            for (std::size_t c = 0; c < box.size(); ++c) {
                const CellSet& domain = drawn.columns[c].domain;
                for (std::size_t cell = 0; cell < domain.size(); ++cell) {
                    if (!domain.has(cell) || box[c].has(cell)) continue;
                    std::size_t next = cell + 1;  // its neighbours within the domain
                    while (next < domain.size() && !domain.has(next)) ++next;
                    std::size_t before = cell;
                    while (before > 0 && !domain.has(before - 1)) --before;
                    const bool beside =
                        (next < domain.size() && box[c].has(next)) || (before > 0 && box[c].has(before - 1));
                    if (drawn.columns[c].ordered && !beside) continue;
                    std::vector<CoverColumn> wider;
                    for (std::size_t k = 0; k < box.size(); ++k)
                        wider.push_back({box[k], drawn.columns[k].ordered});
                    wider[c].domain = CellSet(domain.size());
                    wider[c].domain.put(cell);
                    bool in_the_way = false;
                    each_point(wider, [&](const Point& point) {
                        in_the_way = in_the_way || any_inside(drawn.boxes, point, drawn.boxes.size());
                    });
                    REQUIRE(in_the_way);
                }
            }
    }
}
