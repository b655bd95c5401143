// Convex sets of clock values, given by bounds on clocks and on differences of two clocks, and finite unions
// of them. Knows nothing of rules.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <vector>

namespace linelaw::compiler::analysis {

// A bound on a difference: below `value`, or at most that. Ordered by strength.
class Bound {
  public:
    constexpr Bound() = default;
    static constexpr Bound below(std::int64_t value) { return Bound(2 * value); }
    static constexpr Bound at_most(std::int64_t value) { return Bound(2 * value + 1); }
    static constexpr Bound none() { return {}; }

    constexpr bool bounded() const { return code_ != std::numeric_limits<std::int64_t>::max(); }
    constexpr std::int64_t value() const { return code_ >> 1; }
    constexpr bool strict() const { return (code_ & 1) == 0; }
    constexpr Bound opened() const { return bounded() ? below(value()) : none(); }
    constexpr Bound closed() const { return bounded() ? at_most(value()) : none(); }
    // Of what this bound leaves out, the difference the other way round.
    constexpr Bound opposite() const { return strict() ? at_most(-value()) : below(-value()); }

    friend constexpr Bound operator+(Bound a, Bound b) {
        if (!a.bounded() || !b.bounded()) return none();
        return a.strict() || b.strict() ? below(a.value() + b.value()) : at_most(a.value() + b.value());
    }
    friend constexpr bool operator<(Bound a, Bound b) { return a.code_ < b.code_; }
    friend constexpr bool operator==(Bound a, Bound b) { return a.code_ == b.code_; }

  private:
    explicit constexpr Bound(std::int64_t code) : code_(code) {}
    std::int64_t code_ = std::numeric_limits<std::int64_t>::max();
};

// Clocks are numbered from 0. Always closed under consequence; an empty one answers `empty` and nothing else
// may be asked of it.
class Zone {
  public:
    explicit Zone(std::size_t clocks);  // every clock at least 0

    std::size_t clocks() const { return size_ - 1; }
    bool empty() const { return empty_; }
    Bound upper(std::size_t c) const { return at(c + 1, 0); }
    Bound lower(std::size_t c) const { return at(0, c + 1); }  // on minus the clock
    Bound difference(std::size_t a, std::size_t b) const { return at(a + 1, b + 1); }

    // Each cuts the zone down.
    void limit_upper(std::size_t c, Bound b) { limit(c + 1, 0, b); }
    void limit_lower(std::size_t c, Bound b) { limit(0, c + 1, b); }
    void equate(std::size_t a, std::size_t b);
    void meet(const Zone& other);

    void free(std::size_t c);   // the clock may have any value
    void reset(std::size_t c);  // the clock is 0
    void copy(std::size_t to, std::size_t from);
    void let_pass();     // and all that comes after, as long as one likes
    void just_after();   // all that comes after, and it not
    void come_from();    // and all that comes before
    void just_before();  // the values from which a moment leads into the zone
    // What lies later, up to the bounds and these clocks' strict ones included.
    void reach(const std::vector<std::size_t>& clocks);

    bool includes(const Zone& other) const;
    // Whether one bound of each says already that they share nothing. They may share nothing all the same.
    bool apart_from(const Zone& other) const;
    void widen(const Zone& other);  // the narrowest zone that has both

    // The times after which `values` (in parts of a unit) lie in the zone, looking at `mask`'s clocks only.
    struct Stay {
        std::int64_t from = 0;
        bool after_from = false;  // only after it
        std::int64_t to = 0;
        bool before_to = false;
    };
    std::optional<Stay> when(const std::vector<std::int64_t>& values, std::int64_t parts,
                             std::uint32_t mask) const;

    friend class Federation;

  private:
    Bound at(std::size_t i, std::size_t j) const { return bounds_[i * size_ + j]; }
    Bound& at(std::size_t i, std::size_t j) { return bounds_[i * size_ + j]; }
    void limit(std::size_t i, std::size_t j, Bound b);
    void close();

    std::size_t size_;
    bool empty_ = false;
    std::vector<Bound> bounds_;  // of clock i less clock j; 0 is the clock that stands still
};

using Zones = std::vector<Zone>;  // a union of them, none empty

void add(Zones& zones, Zone zone);  // unless one has it already; those that it has go
Zones both(const Zones& a, const Zones& b);
Zones without(Zones from, const Zone& what);
Zones without(Zones from, const Zones& what);
// From where time leads into `goal` before it leads into any of `bad`.
Zones before(const Zone& goal, const Zones& bad);

}  // namespace linelaw::compiler::analysis
