#include "compiler/analysis/zone.hpp"

#include <algorithm>

namespace linelaw::compiler::analysis {

Zone::Zone(std::size_t clocks) : size_(clocks + 1), bounds_(size_ * size_) {
    for (std::size_t i = 0; i < size_; ++i) {
        at(i, i) = Bound::at_most(0);
        at(0, i) = Bound::at_most(0);
    }
}

void Zone::limit(std::size_t i, std::size_t j, Bound b) {
    if (empty_ || !(b < at(i, j))) return;
    if (b + at(j, i) < Bound::at_most(0)) {
        empty_ = true;
        return;
    }
    at(i, j) = b;
    for (std::size_t k = 0; k < size_; ++k) {
        const Bound through = at(k, i) + b;
        if (!through.bounded()) continue;
        for (std::size_t l = 0; l < size_; ++l) at(k, l) = std::min(at(k, l), through + at(j, l));
    }
}

void Zone::close() {
    for (std::size_t k = 0; k < size_; ++k)
        for (std::size_t i = 0; i < size_; ++i) {
            if (!at(i, k).bounded()) continue;
            for (std::size_t j = 0; j < size_; ++j) at(i, j) = std::min(at(i, j), at(i, k) + at(k, j));
        }
    for (std::size_t i = 0; i < size_; ++i) empty_ = empty_ || at(i, i) < Bound::at_most(0);
}

void Zone::equate(std::size_t a, std::size_t b) {
    limit(a + 1, b + 1, Bound::at_most(0));
    limit(b + 1, a + 1, Bound::at_most(0));
}

bool Zone::apart_from(const Zone& other) const {
    if (empty_ || other.empty_) return true;
    for (std::size_t i = 0; i < size_; ++i)
        for (std::size_t j = 0; j < size_; ++j)
            if (at(i, j) + other.at(j, i) < Bound::at_most(0)) return true;
    return false;
}

void Zone::meet(const Zone& other) {
    if (empty_ || other.empty_) {
        empty_ = true;
        return;
    }
    for (std::size_t i = 0; i < size_; ++i)
        for (std::size_t j = 0; j < size_ && !empty_; ++j) limit(i, j, other.at(i, j));
}

void Zone::free(std::size_t c) {
    const std::size_t x = c + 1;
    for (std::size_t i = 0; i < size_; ++i) {
        if (i == x) continue;
        at(x, i) = Bound::none();
        at(i, x) = at(i, 0);  // the clock is at least 0
    }
    at(0, x) = Bound::at_most(0);
}

void Zone::reset(std::size_t c) {
    const std::size_t x = c + 1;
    for (std::size_t i = 0; i < size_; ++i) {
        if (i == x) continue;
        at(x, i) = at(0, i);
        at(i, x) = at(i, 0);
    }
}

void Zone::copy(std::size_t to, std::size_t from) {
    const std::size_t x = to + 1;
    const std::size_t y = from + 1;
    if (x == y) return;
    for (std::size_t i = 0; i < size_; ++i) {
        if (i == x) continue;
        at(x, i) = at(y, i);
        at(i, x) = at(i, y);
    }
    at(x, x) = Bound::at_most(0);
    at(x, y) = at(y, x) = Bound::at_most(0);
}

void Zone::let_pass() {
    for (std::size_t i = 1; i < size_; ++i) at(i, 0) = Bound::none();
}

void Zone::just_after() {
    for (std::size_t i = 1; i < size_; ++i) {
        at(i, 0) = Bound::none();
        at(0, i) = at(0, i).opened();
    }
    close();
}

void Zone::come_from() {
    for (std::size_t i = 1; i < size_; ++i) {
        at(0, i) = Bound::at_most(0);
        for (std::size_t j = 1; j < size_; ++j) at(0, i) = std::min(at(0, i), at(j, i));
    }
}

void Zone::just_before() {
    for (std::size_t i = 1; i < size_; ++i) {
        at(i, 0) = at(i, 0).opened();
        at(0, i) = at(0, i).closed();
    }
    close();
}

void Zone::reach(const std::vector<std::size_t>& clocks) {
    for (const std::size_t c : clocks) {
        at(c + 1, 0) = at(c + 1, 0).closed();
        at(0, c + 1) = at(0, c + 1).opened();
    }
    close();
}

bool Zone::includes(const Zone& other) const {
    if (other.empty_) return true;
    if (empty_) return false;
    for (std::size_t i = 0; i < bounds_.size(); ++i)
        if (bounds_[i] < other.bounds_[i]) return false;
    return true;
}

void Zone::widen(const Zone& other) {
    if (other.empty_) return;
    if (empty_) {
        *this = other;
        return;
    }
    for (std::size_t i = 0; i < bounds_.size(); ++i) bounds_[i] = std::max(bounds_[i], other.bounds_[i]);
}

std::optional<Zone::Stay> Zone::when(const std::vector<std::int64_t>& values, std::int64_t parts,
                                     std::uint32_t mask) const {
    Stay stay{0, false, std::numeric_limits<std::int64_t>::max(), false};
    const auto counts = [&](std::size_t c) { return (mask >> c & 1U) != 0; };
    for (std::size_t a = 0; a < clocks(); ++a) {
        if (!counts(a)) continue;
        const Bound most = upper(a);
        if (most.bounded()) {
            const std::int64_t to = most.value() * parts - values[a];
            if (to < stay.to || (to == stay.to && most.strict()))
                stay.to = to, stay.before_to = most.strict();
        }
        const Bound least = lower(a);
        const std::int64_t from = -least.value() * parts - values[a];
        if (from > stay.from || (from == stay.from && least.strict()))
            stay.from = from, stay.after_from = least.strict();
        for (std::size_t b = 0; b < clocks(); ++b) {
            if (a == b || !counts(b)) continue;
            const Bound apart = difference(a, b);
            if (!apart.bounded()) continue;
            const std::int64_t is = values[a] - values[b];
            if (is > apart.value() * parts || (is == apart.value() * parts && apart.strict()))
                return std::nullopt;
        }
    }
    if (stay.from > stay.to || (stay.from == stay.to && (stay.after_from || stay.before_to)))
        return std::nullopt;
    return stay;
}

// ---- unions

void add(Zones& zones, Zone zone) {
    if (zone.empty()) return;
    for (const Zone& z : zones)
        if (z.includes(zone)) return;
    zones.erase(std::remove_if(zones.begin(), zones.end(), [&](const Zone& z) { return zone.includes(z); }),
                zones.end());
    zones.push_back(std::move(zone));
}

Zones both(const Zones& a, const Zones& b) {
    Zones result;
    for (const Zone& x : a)
        for (const Zone& y : b) {
            if (x.apart_from(y)) continue;
            Zone z = x;
            z.meet(y);
            add(result, std::move(z));
        }
    return result;
}

class Federation {
    static bool share(const Zone& a, const Zone& b) {
        if (a.apart_from(b)) return false;
        Zone shared = a;
        shared.meet(b);
        return !shared.empty();
    }

  public:
    // What lies in `z` and not in `what`, in pieces that share nothing.
    static void cut(Zone z, const Zone& what, Zones& pieces) {
        if (what.includes(z)) return;
        if (!share(z, what)) {
            pieces.push_back(std::move(z));
            return;
        }
        for (std::size_t i = 0; i < z.size_; ++i)
            for (std::size_t j = 0; j < z.size_; ++j) {
                const Bound b = what.at(i, j);
                if (i == j || !(b < z.at(i, j))) continue;
                Zone outside = z;
                outside.limit(j, i, b.opposite());
                if (!outside.empty()) pieces.push_back(std::move(outside));
                z.limit(i, j, b);
            }
    }
};

Zones without(Zones from, const Zone& what) {
    if (what.empty()) return from;
    Zones result;
    for (Zone& z : from) Federation::cut(std::move(z), what, result);
    return result;
}

Zones without(Zones from, const Zones& what) {
    for (const Zone& z : what) {
        if (from.empty()) break;
        from = without(std::move(from), z);
    }
    return from;
}

Zones before(const Zone& goal, const Zones& bad) {
    Zone from = goal;
    from.come_from();
    Zones result{from};
    for (const Zone& b : bad) {
        if (result.empty()) break;
        Zone to_bad = b;
        to_bad.come_from();
        Zone met = from;
        met.meet(to_bad);
        if (met.empty()) continue;  // no time leads to both
        Zones avoids = without(Zones{from}, to_bad);
        Zone early = goal;
        early.meet(to_bad);
        if (!early.empty())
            for (Zone& z : without(Zones{early}, b)) {
                z.come_from();
                add(avoids, std::move(z));
            }
        result = both(result, avoids);
    }
    return result;
}

}  // namespace linelaw::compiler::analysis
