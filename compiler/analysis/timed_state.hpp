// Positions of the timed game: regions of clocks and what is open, and how letters and time move them.
// Internal to the solver.
#pragma once

#include <array>
#include <cstring>
#include <functional>

#include "compiler/analysis/timed_game.hpp"

namespace linelaw::compiler::analysis {

constexpr std::size_t most_clocks = 16;
constexpr std::size_t most_counters = 10;

// Where a clock stands. Told apart by *regions*: its whole units and the rank of its fraction among all
// clocks' (0: none). Told apart by *cells*: the last of the constants it is compared with that it has
// reached, and whether it is past it (rank 1) or on it (0). Beyond its largest constant nothing more is told;
// stopped, it does not run.
enum class Grain : std::uint8_t { regions, cells };

struct Position {
    static constexpr std::uint16_t beyond = 0xFFFE;
    static constexpr std::uint16_t stopped = 0xFFFF;
    std::uint32_t flags = 0;
    std::array<std::uint16_t, most_clocks> whole{};
    std::array<std::uint16_t, most_counters> counter{};
    std::array<std::uint8_t, most_clocks> rank{};
    bool operator==(const Position& other) const { return std::memcmp(this, &other, sizeof *this) == 0; }
};
static_assert(std::has_unique_object_representations_v<Position>);

struct PositionHash {
    std::size_t operator()(const Position& p) const;
};

// What a letter does to the clocks, in order; the history's exact times follow the same moves.
struct ClockMove {
    enum class Kind : std::uint8_t { reset, stop, copy } kind = Kind::reset;
    std::size_t clock = 0;
    std::size_t from = 0;
};

class TimedRules {
  public:
    // Answers nothing where the problem needs more clocks, counters or flags than a position has. `problem`
    // must outlive the result.
    static std::optional<TimedRules> make(const TimedProblem& problem, Grain grain = Grain::regions);

    const TimedProblem& problem() const { return *problem_; }
    std::size_t clocks() const { return caps_.size(); }
    Position start() const;
    Letters used() const;  // letters that some rule speaks of; nobody cares for the others

    // Whether the letter breaks no rule here and now that binds it: care is bound by those that bind, the
    // environment by all.
    bool allowed(const Position& p, unsigned l) const;
    bool clean(const Position& p) const { return !flag(p, unclean); }
    bool open_to_care(const Position& p, unsigned l) const;  // response_only letters answer something
    Position after(const Position& p, unsigned l, std::vector<ClockMove>* moves = nullptr) const;
    // The next region in time; nothing where a rule breaks there. `unit` is set where a whole unit of the
    // stay has passed: care must let that happen again and again.
    std::optional<Position> later(const Position& p, bool& unit,
                                  std::vector<ClockMove>* moves = nullptr) const;
    // Whether some clock stands at a whole number, so that the next region lies just after.
    static bool on_the_dot(const Position& p, std::size_t clocks);
    static bool runs(const Position& p, std::size_t clock) { return p.whole[clock] < Position::beyond; }

    // By cells only. `hits` are the clocks that come to their next constant together, of a position with none
    // on the dot; from one with some on the dot, time just leaves it, and a clock that a rule starts there
    // has just started.
    std::optional<Position> later(const Position& p, std::uint32_t hits, bool& unit,
                                  std::vector<ClockMove>& moves) const;
    std::int64_t cut(std::size_t clock, std::size_t i) const { return cuts_[clock][i]; }

  private:
    static constexpr unsigned unclean = 31;  // of flags
    struct Newest {  // a clock since the newest of some letters; from the start on only where a deadline
                     // needs it
        Letters letters = 0;
        std::size_t clock = 0;
        bool from_start = false;
        unsigned flag = 0;  // of from_start: one of them came
    };
    struct RuleState {
        std::size_t newest = SIZE_MAX;  // index into newest_
        std::size_t clock = SIZE_MAX;   // own clock, or the first of several
        unsigned flag = 0;              // first of its flags
        std::size_t counter = SIZE_MAX;
    };

    std::size_t add_clock(std::uint32_t cap);
    void add_cut(std::size_t clock, std::uint32_t at);
    std::size_t newest_of(Letters letters, std::uint32_t cap, bool from_start = false);
    bool came(const Position& p, std::size_t newest) const;
    bool just_now(const Position& p, std::size_t newest) const;
    bool just_moved(const Position& p, const Guard& guard) const;
    std::size_t newest_at(const GuardAtom& atom) const;
    unsigned add_flag() { return flags_++; }
    void other_answers(Letters both, Letters answers, std::uint32_t cap);
    std::optional<std::size_t> answered_by(Letters answers, unsigned l) const;
    bool build();

    std::uint32_t half(const Position& p, std::size_t clock) const;  // in half units
    std::uint32_t units(const Position& p, std::size_t clock) const {
        return grain_ == Grain::cells ? cuts_[clock][p.whole[clock]] : p.whole[clock];
    }
    std::size_t last_whole(std::size_t clock) const {
        return grain_ == Grain::cells ? cuts_[clock].size() - 1 : caps_[clock];
    }
    std::optional<Position> arrive(Position p, bool unit, std::vector<ClockMove>* moves) const;
    bool flag(const Position& p, unsigned f) const { return (p.flags >> f & 1U) != 0; }
    static void set(Position& p, unsigned f, bool on) {
        p.flags = on ? p.flags | 1U << f : p.flags & ~(1U << f);
    }
    bool holds(const Position& p, const Guard& guard) const;
    void reset(Position& p, std::size_t clock, std::vector<ClockMove>* moves) const;
    void stop(Position& p, std::size_t clock, std::vector<ClockMove>* moves) const;
    void copy(Position& p, std::size_t to, std::size_t from, std::vector<ClockMove>* moves) const;
    void tidy(Position& p) const;  // ranks without holes
    void follow_guards(Position& p, std::vector<ClockMove>* moves) const;
    // Both: false where a rule that binds breaks; one that does not spoils the history only.
    bool pass_boundaries(Position& p, std::vector<ClockMove>* moves) const;  // of days and shifts
    bool in_time(Position& p) const;
    bool breaks(const Position& p, unsigned l, std::size_t rule) const;
    void spoil(Position& p) const;  // the history is no longer clean: limits that do not bind are forgotten
    std::uint16_t end_of(const Until& until, std::uint32_t phase_half) const;

    const TimedProblem* problem_ = nullptr;
    Grain grain_ = Grain::regions;
    std::vector<std::uint32_t> caps_;
    std::vector<std::vector<std::uint32_t>> cuts_;  // by clock, rising, from 0
    std::vector<Newest> newest_;
    std::vector<RuleState> states_;
    std::size_t dwell_ = SIZE_MAX;
    std::size_t phase_ = 0;  // of the day where a rule asks for days or shifts, else of the unit
    std::size_t counters_ = 0;
    unsigned flags_ = 0;
};

}  // namespace linelaw::compiler::analysis
