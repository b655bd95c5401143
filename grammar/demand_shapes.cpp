#include "grammar/demand_shapes.hpp"

#include <initializer_list>
#include <string_view>

#include "grammar/slip_words.hpp"
#include "grammar/words.hpp"

namespace linelaw::grammar {

using std::string_view;

namespace {

// Whether one of the words or phrases stands in the fault's line.
bool says_until(const TextView& view, const Fault& fault, std::uint32_t end,
                std::initializer_list<string_view> phrases) {
    std::uint32_t at = fault.at;
    while (!view.is_line_start(at)) at = view.token_before(at).begin;
    for (; at < end; at = view.after_blanks(view.token(at).end)) {
        for (const string_view phrase : phrases)
            if (view.phrase(at, phrase) != 0) return true;
    }
    return false;
}
bool says(const TextView& view, const Fault& fault, std::initializer_list<string_view> phrases) {
    return says_until(view, fault, view.line_end(fault.at), phrases);
}
bool says_before(const TextView& view, const Fault& fault, std::initializer_list<string_view> phrases) {
    return says_until(view, fault, fault.at, phrases);
}

}  // namespace

std::string shift_shape(const TextView& view, const Fault& fault) {
    if (!says(view, fault, {"shift", "shifts"})) return {};
    return "of shifts one says `EVENT within the same shift`, `EVENT within the next shift` or `EVENT each "
           "shift`";
}

std::string demand_shape(const TextView& view, const Fault& fault) {
    if (says(view, fault, {"follow steps", "in this order"}))
        return "steps are written `follow steps A, B, C`, and `in order` after them where the order counts";
    if (says(view, fault, {"unless"}))
        return "what may come sooner is written `EVENT no more often than every 72 h unless CONDITION`";
    if (says(view, fault, {"document", "chart", "record", "note"}))
        return "what is charted is written `document ATTRIBUTE, ATTRIBUTE`";
    if (view.slice(view.token(fault.at)) == ",") {
        // What stands before the comma is a whole demand, or the first of several events.
        const string_view next = view.slice(view.token(view.after_blanks(fault.at + 1)));
        if (next == "grace" || next == "no")
            return "leave out the comma: the demand goes on with " + quoted(next);
        if (says_before(view, fault, {"every", "within", "each", "have had", "in the last"}))
            return "a clause has one demand of this kind: write a clause of its own for what stands after "
                   "the "
                   "comma";
        if (says_before(view, fault,
                        {"at least", "at most", "more than", "less than", "is", "between", ">", "<",
                         ">=", "<=", "=", "!="}))
            return "two demands are joined by `and` where both must be kept: `ATTRIBUTE at least 30 s and "
                   "ATTRIBUTE at least 2 min`";
        return "events of which one will do are joined by `or`: `EVENT or EVENT at least every 7 days`";
    }
    if (std::string shifts = shift_shape(view, fault); !shifts.empty()) return shifts;
    if (says(view, fault, {"once", "twice", "thrice", "times", "day", "daily"}))
        return "how often is written `EVENT each calendar day`, `EVENT at least 2 times each calendar day` "
               "or "
               "`EVENT at most 6 times in 12 h`";
    if (says(view, fault, {"maximum", "max", "maximally", "minimum", "minimal"}))
        return "a bound is written `ATTRIBUTE at most 5 mL` or `ATTRIBUTE at least 5 mL`";
    if (says(view, fault, {"with"}))
        return "what the event must have is written after `where`: `EVENT where ATTRIBUTE at least 10 mL "
               "within 10 min`";
    return "a demand is written as `EVENT at least every 7 days`, `EVENT no more often than every 72 h`, "
           "`EVENT within 2 h`, `not EVENT`, `document ATTRIBUTE, …` or `ATTRIBUTE at least 30 s`";
}

}  // namespace linelaw::grammar
