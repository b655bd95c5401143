// How a dressing change, and an insertion, was done and charted: antiseptic, scrubbing, drying, steps,
// length. Each clause judged at such an event is accounted for where its values are chosen.
#pragma once

#include <string>

#include "policies/demo/generator/stay.hpp"

namespace linelaw::demo {

// Charts the insertion, with the dressing then put on; answers what the record lets one know of that dressing
// (empty: nothing).
std::string chart_insertion(Stay& stay, const std::string& dressing);
// The same for a dressing change; `length` is the external length, in tenths of a centimetre.
std::string chart_change(Stay& stay, Time at, const std::string& dressing, std::int64_t length);

// At an insertion: who put the line in, where, with how many attempts, in which order; its length.
void chart_practices(Stay& stay, Event& insertion);
// Who must have, and who must not have, chlorhexidine in the dressing put on (empty: nobody can tell which it
// was).
void account_chlorhexidine(Stay& stay, Time at, const std::string& dressing);

// A value that a reader must set aside, with what is wrong with it counted in `stay.set_aside`.
std::string spoiled_number(Stay& stay);
std::string spoiled_word(Stay& stay);
std::string spoiled_flag(Stay& stay);

}  // namespace linelaw::demo
