// An episode with whatever it does not need left out: events, values, the age, the time after its last event.
#pragma once

#include <functional>

#include "compiler/analysis/episode_text.hpp"

namespace linelaw::compiler {

// Leaves out one thing after the other for as long as `still` says yes to what is left. What it said yes to
// last is the answer; the draft itself where it never did.
analysis::DraftEpisode smaller_draft(analysis::DraftEpisode draft,
                                     const std::function<bool(const analysis::DraftEpisode&)>& still);

}  // namespace linelaw::compiler
