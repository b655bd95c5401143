// The joint timed problem of some clauses in one situation, as a game: care chooses its events, whatever may
// trigger a clause may happen at any time, and time passes densely. Whether care can go on keeping every rule
// for ever is decided exactly, over regions of clocks. Knows nothing of policies: events are letters, times
// are whole numbers of a unit that divides every constant.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace linelaw::compiler::analysis {

using Letters = std::uint64_t;  // a set of letters, a bit each
constexpr unsigned most_letters = 64;
constexpr Letters letter(unsigned l) {
    return Letters{1} << l;
}

// A condition on the clocks of the history. Bounds are in half units: 2n is n exactly, 2n+1 between n and
// n+1.
struct GuardAtom {
    Letters newest = 0;  // how long ago the newest of these came; 0: since the line came in
    std::uint32_t low = 0;
    std::uint32_t high = std::numeric_limits<std::uint32_t>::max();
    bool never_yet = false;  // holds where none of them has come (and then only this counts)
};
struct Guard {
    bool always = true;
    std::vector<std::vector<GuardAtom>> ways;  // any of these, all of each
};

struct Deadline {  // at least every
    Letters answers = 0;
    std::uint32_t limit = 0;
};
struct Gap {  // no more often than every
    Letters events = 0;
    std::uint32_t shortest = 0;
    Letters exempt = 0;  // by `unless`
};
struct Response {  // within, after
    Letters triggers = 0;
    Letters answers = 0;
    std::uint32_t limit = 0;
    bool at_start = false;     // triggered by the insertion
    bool by_guard = false;     // triggered when the guard turns true (`once`)
    bool either_side = false;  // an answer so long before the trigger counts too
};
struct Until {  // within the same shift, the next shift, so many calendar days: before the end of a period
    Letters triggers = 0;
    Letters answers = 0;
    bool at_start = false;
    enum class Which : std::uint8_t { same, next } which = Which::same;
    std::vector<std::pair<std::uint32_t, std::uint32_t>> periods;
};
struct Had {  // before: have had
    Letters triggers = 0;
    Letters before = 0;
    std::optional<std::uint32_t> window;  // none: ever
};
struct Forbidden {
    Letters events = 0;
};
struct AtMost {  // at most N times in D
    Letters events = 0;
    std::uint32_t times = 1;
    std::uint32_t in = 0;
};
struct Each {  // N times each calendar day or shift
    Letters answers = 0;
    std::uint32_t times = 1;
    std::vector<std::pair<std::uint32_t, std::uint32_t>>
        periods;  // from the day's begin; may end on the next day
};
struct Hold {  // no new E until F
    Letters starts = 0;
    Letters held = 0;
    Letters releases = 0;
    bool at_start = false;
};

// A rule that does not bind care still says what the environment may do (nothing that breaks it at once) and
// which histories are clean: a corner is reached without anything being broken.
struct Rule {
    std::uint32_t clause = 0;
    bool binds = true;
    Guard guard;
    std::variant<Deadline, Gap, Response, Until, Had, Forbidden, AtMost, Each, Hold> what;
};

struct TimedProblem {
    unsigned letters = 0;
    Letters environment = 0;    // may happen at any time at which it breaks nothing at once
    Letters response_only = 0;  // care may do these as the answer to a pending response only
    Letters leaving = 0;        // ends the stay: no rule is left
    std::uint32_t day = 0;      // length of a day, where a rule asks for days or shifts
    std::vector<Rule> rules;
};

enum class Verdict : std::uint8_t { keeps, corner, conflict, exhausted };

// One thing that happens, so many units of time after the start (a fraction where it must not be whole).
struct TimedStep {
    std::int64_t at = 0;  // in the sub-units asked for
    unsigned letter = 0;
    bool environment = false;
};
struct TimedAnswer {
    Verdict verdict = Verdict::keeps;
    std::size_t states = 0;
    // Of conflict and corner: a history in which every event is where care is driven to, up to a moment,
    // `until`, at which a rule must break; `last` are the letters that break one then.
    std::vector<TimedStep> history;
    std::size_t into_corner = 0;  // of corner: so many steps lead into it
    std::vector<unsigned> last;
    std::int64_t until = 0;
    std::int64_t limit = 0;  // with nothing more done, a rule breaks here or just after
};

// `sub_units` (at least 2) divide the unit for the times of the history; what must come just after a moment
// comes so many sub-units after it, where there is room. Tried by regions first, and by zones where there are
// too many of those; both are exact.
TimedAnswer solve(const TimedProblem& problem, std::size_t state_limit, std::int64_t sub_units = 60,
                  std::int64_t just_after = 1);
TimedAnswer solve_by_regions(const TimedProblem& problem, std::size_t state_limit,
                             std::int64_t sub_units = 60, std::int64_t just_after = 1);
TimedAnswer solve_by_zones(const TimedProblem& problem, std::size_t zone_limit, std::int64_t sub_units = 60,
                           std::int64_t just_after = 1);

}  // namespace linelaw::compiler::analysis
