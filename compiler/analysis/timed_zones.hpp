// The timed game where its constants lie far apart (minutes beside days): instead of every region, positions
// are told apart by which constants the clocks have passed only, and the rest is kept as sets of clock
// values. As exact as the regions, and indifferent to the unit. Internal to the solver.
#pragma once

#include <unordered_map>

#include "compiler/analysis/timed_state.hpp"
#include "compiler/analysis/zone.hpp"

namespace linelaw::compiler::analysis {

enum class By : std::uint8_t { environment, care, time };

struct PlaceMove {
    By by = By::time;
    unsigned letter = 0;
    std::uint32_t hits = 0;  // of time: the clocks that come to a constant; 0 where time leaves one
    bool unit = false;       // of time: a unit of the stay is over
    std::uint32_t to = 0;
    std::vector<ClockMove> moves;
};

// Values in one place: what the clocks' cells and the flags are.
struct Place {
    Position position;
    bool on_the_dot = false;
    bool leaves = false;        // care may end the stay
    std::uint32_t running = 0;  // clocks
    Zone cell;
    Zone hull;                      // of what is reached
    std::vector<PlaceMove> onward;  // letters, then time
    std::vector<std::size_t> nodes;
    std::vector<std::uint32_t> into;  // places that lead here
};

// What is reached at once from a node before it by one of its place's moves. In a place with no clock on the
// dot it has all that comes after, too.
struct Node {
    std::uint32_t place = 0;
    Zone zone;
    std::size_t parent = SIZE_MAX;
    std::size_t move = 0;  // of the parent's place
};

class PlaceGraph {
  public:
    explicit PlaceGraph(const TimedRules& rules) : rules_(rules), used_(rules.used()) {}

    bool explore(std::size_t limit);  // false where there are more nodes than the limit

    const TimedRules& rules() const { return rules_; }
    Letters used() const { return used_; }
    const std::vector<Place>& places() const { return places_; }
    const std::vector<Node>& nodes() const { return nodes_; }

    // The values of `from` from which the move leads into `target`; for time that runs to a constant, the
    // values that the clocks have at that very moment, which lie on the end of the place.
    Zone back(std::uint32_t from, const PlaceMove& move, const Zone& target) const;
    // The values at the moment in which time comes to the end of the place by this move.
    Zone end_of(const Place& place, const PlaceMove& move) const;
    // Every value of the place that may come to `zone` by waiting in it.
    Zone waiting(const Place& place, Zone zone) const;
    void forget_stopped(Zone& zone, std::uint32_t running) const;

  private:
    const TimedRules& rules_;
    Letters used_;
    std::vector<Place> places_;
    std::vector<Node> nodes_;
    std::unordered_map<Position, std::uint32_t, PositionHash> known_;

    std::uint32_t place_of(const Position& p);
    void letters(std::uint32_t at);
    void enter(std::size_t parent, std::size_t move, Zone zone);
    void expand(std::size_t node);
    void run_out(std::size_t node, const Zone& zone, std::size_t clock, std::uint32_t hits);
    std::size_t move_by_time(std::uint32_t at, std::uint32_t hits);
};

}  // namespace linelaw::compiler::analysis
