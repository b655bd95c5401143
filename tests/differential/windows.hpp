// Windows and clocks of conditions: which events a moment sees, and from when they count (language.md §4.1).
// Shared by the files of the conditions only.
#pragma once

#include "tests/differential/conditions.hpp"

namespace linelaw::literal {

struct Anchor {
    Instant at = 0;
    Truth why = Truth::yes;  // yes: certainly an event; else why it may be none
};

// The instants from which a clock over EVENTS may count, newest first: every uncertain match newer than the
// newest certain one, and that one, or, where there is none, the beginning. `any_before`: or any time before.
struct Anchors {
    std::vector<Anchor> list;
    bool any_before = false;
    Truth why = Truth::missing;
};
Anchors anchors_of(const grammar::Events& events, const Ask& ask);

// One answer where every anchor agrees, else unknown for the anchors' reason.
template <typename Answer>
Truth where_all_agree(const Anchors& anchors, const Answer& answer) {
    std::optional<Truth> out;
    for (const Anchor& a : anchors.list) {
        const Truth t = answer(a.at);
        if (out && *out != t)
            return is_known(*out) && is_known(t) ? anchors.why : worse(worse(*out, t), anchors.why);
        out = t;
    }
    if (anchors.any_before && *out != answer(-far_future)) return anchors.why;
    return *out;
}

// The window's beginnings: `since` gives them, else there is one, long ago.
Anchors window_anchors(const grammar::Window& window, const Ask& ask);
// §4.1 what the asking moment sees: windows, clocks and counts.
bool sees(const Ask& ask, const Event& e);
// §4.1 "`no EVENTS in the last D` is false until the line has been in for D".
Truth in_for(const grammar::Events& events, const grammar::Window& window, const Ask& ask);

}  // namespace linelaw::literal
