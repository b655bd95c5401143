// Tells a story as an episode: what is known of patient and line, what sets the states up, and the events.
// Knows nothing of what the runtime says of it.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/analysis/clock_changes.hpp"
#include "compiler/analysis/episode_text.hpp"
#include "compiler/analysis/workspace.hpp"

namespace linelaw::compiler::analysis {

// An event of a history: so many microseconds after insertion, with attributes somewhere in a diagram.
struct StoryEvent {
    std::int64_t at = 0;
    runtime::EventKindId kind = runtime::none;
    Node attributes = always;
};
struct Story {
    std::vector<std::uint32_t> point;  // a cell for every variable: the situation that it is told of
    std::int64_t start = 8 * runtime::microseconds_per_hour;  // of the insertion, on the wall clock
    std::vector<StoryEvent> events;
    std::optional<StoryEvent> last;  // what would answer then, and breaks another clause
    std::int64_t until = 0;          // the moment at which no care is left
    std::int64_t limit = 0;          // with nothing more done, something breaks here or just after
    std::size_t into_corner = 0;     // events that break nothing yet; of corners
    bool corner = false;
    std::optional<ClockChange> change;  // it is told across this one,
    std::int64_t change_at = 0;         // so long after insertion; else the clocks do not change
};

// How much of the story.
struct Telling {
    std::size_t events = 0;  // so many of its events
    bool with_last = false;  // and the answer at its end
    std::int64_t until = 0;  // and how far the record is known
};
// Nothing where the situation cannot be told (a condition outside the fragment decides it).
std::optional<DraftEpisode> told(Workspace& work, const std::vector<runtime::ClauseId>& clauses,
                                 const Box& box, const Story& story, const Telling& telling);

}  // namespace linelaw::compiler::analysis
