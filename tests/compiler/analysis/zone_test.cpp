// Sets of clock values, each operation against what it says of single points.
#include <catch2/catch.hpp>
#include <random>

#include "compiler/analysis/zone.hpp"

using namespace linelaw::compiler::analysis;

namespace {

constexpr std::size_t clocks = 2;
constexpr std::int64_t parts = 4;  // points lie on quarters of a unit
constexpr std::uint32_t all = 3;

bool holds(const Zone& zone, std::int64_t x, std::int64_t y) {
    if (zone.empty()) return false;
    const auto stay = zone.when({x, y}, parts, all);
    return stay && stay->from == 0 && !stay->after_from;
}
bool holds(const Zones& zones, std::int64_t x, std::int64_t y) {
    for (const Zone& zone : zones)
        if (holds(zone, x, y)) return true;
    return false;
}

Zone random_zone(std::mt19937& random) {
    for (;;) {
        Zone zone(clocks);
        const auto bound = [&](std::int64_t value) {
            return random() % 2 == 0 ? Bound::below(value) : Bound::at_most(value);
        };
        for (std::size_t c = 0; c < clocks; ++c) {
            zone.limit_upper(c, bound(static_cast<std::int64_t>(random() % 4 + 1)));
            zone.limit_lower(c, bound(-static_cast<std::int64_t>(random() % 3)));
        }
        if (random() % 2 == 0) {
            Zone other(clocks);
            other.copy(0, 1);
            other.let_pass();
            if (random() % 2 == 0) zone.meet(other);
        }
        if (!zone.empty()) return zone;
    }
}

template <typename Check>
void each_point(const Check& check) {
    for (std::int64_t x = 0; x <= 5 * parts; ++x)
        for (std::int64_t y = 0; y <= 5 * parts; ++y) check(x, y);
}

}  // namespace

TEST_CASE("what is left of a set without others has every point of it that they have not") {
    std::mt19937 random(7);
    for (int i = 0; i < 40; ++i) {
        const Zones from{random_zone(random), random_zone(random)};
        const Zones what{random_zone(random), random_zone(random)};
        const Zones rest = without(from, what);
        const Zones shared = both(from, what);
        bool right = true;
        each_point([&](std::int64_t x, std::int64_t y) {
            right = right && holds(rest, x, y) == (holds(from, x, y) && !holds(what, x, y)) &&
                    holds(shared, x, y) == (holds(from, x, y) && holds(what, x, y));
        });
        REQUIRE(right);
    }
}

TEST_CASE("a goal is reached where time leads to it before it leads to anything bad") {
    std::mt19937 random(8);
    for (int i = 0; i < 40; ++i) {
        const Zone goal = random_zone(random);
        const Zones bad{random_zone(random), random_zone(random)};
        const Zones from = before(goal, bad);
        bool right = true;
        each_point([&](std::int64_t x, std::int64_t y) {
            // Bounds are whole, so eighths of a unit show every point of a line that matters.
            bool reaches = false;
            for (std::int64_t t = 0; t <= 12 * parts && !reaches; ++t) {
                const auto at = [&](const Zone& zone) {
                    const auto stay = zone.when({2 * x + t, 2 * y + t}, 2 * parts, all);
                    return stay && stay->from == 0 && !stay->after_from;
                };
                if (at(bad[0]) || at(bad[1])) break;
                reaches = at(goal);
            }
            right = right && holds(from, x, y) == reaches;
        });
        REQUIRE(right);
    }
}

TEST_CASE("a bound and its opposite leave nothing out and share nothing") {
    CHECK(Bound::below(3).opposite() == Bound::at_most(-3));
    CHECK(Bound::at_most(3).opposite() == Bound::below(-3));
    CHECK(Bound::below(3) < Bound::at_most(3));
    CHECK(Bound::below(-1) < Bound::at_most(-1));
    CHECK(Bound::at_most(-1).value() == -1);
    CHECK((Bound::at_most(2) + Bound::below(-3)) == Bound::below(-1));
    CHECK_FALSE((Bound::none() + Bound::below(1)).bounded());
}
