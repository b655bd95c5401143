// Where the patient is, over which stretches; and the shifts and dates that lie whole in one of them.
#pragma once

#include "policies/demo/generator/stay.hpp"

namespace linelaw::demo {

struct Period {
    Time begin = 0;
    Time end = 0;
};

enum class Where { hospital, outside, unknown };

// A stretch in the hospital or outside it; a move from one ward to another ends none.
struct Stretch {
    Time begin = 0;
    Time end = 0;
    Where where = Where::unknown;
    bool turns_unknown = false;  // what follows is unknown

    // Its end, where it is not that of the record.
    std::optional<Time> ends(const Stay& s) const {
        return end != s.end() || s.removed ? std::optional<Time>(end) : std::nullopt;
    }
};

std::vector<Stretch> stretches(const Stay& stay);
// Day shifts 07:00–19:30 and night shifts 19:00–07:30 that touch the stretch.
std::vector<Period> shifts(const Stretch& stretch);
std::vector<Period> dates(const Stretch& stretch);
// Whole inside the stretch; one that runs when the patient's place becomes unknown may be; one that still
// runs at the horizon has no end to ask for.
bool whole(const Stay& stay, const Stretch& stretch, const Period& period);
// One opportunity for each period that is whole in the stretch, and for one that may be.
void account_periods(Stay& stay, const std::string& clause, const Stretch& stretch,
                     const std::vector<Period>& periods, const std::vector<Time>& events);

}  // namespace linelaw::demo
