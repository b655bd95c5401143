// The demands of language.md §3, each judged as §4.3 to §4.6 say.
#pragma once

#include "tests/differential/applies.hpp"
#include "tests/differential/literal.hpp"

namespace linelaw::literal {

// An opportunity on its way: its outcome before exceptions, and what they need to know.
struct Opening {
    Row row;
    int clause = -1;
    const Life* part = nullptr;
    Truth why = Truth::unknown;       // of `not assessable`
    const Event* event = nullptr;     // the event judged, for `not met` and `early`
    const Event* asked_by = nullptr;  // the trigger, of `at`, `after` and `before`
    bool exclusive = false;           // the limit is past at its instant
    bool period = false;              // of `each …`: exceptions are asked over all of it
};

// The moment itself, for `then escalate`.
struct Trigger {
    Instant at = 0;
    Truth truth = Truth::no;  // yes: it opens; else why nobody knows
    const Event* event = nullptr;
    bool before_view = false;  // the insertion before the left edge, or a `once` that is true at it
};

struct Limit {
    Instant due = 0;
    Instant limit = 0;
    bool exclusive = false;
    bool past(Instant t) const { return exclusive ? t >= limit : t > limit; }
};

struct Judging {
    const Book& book;
    const Record& record;
    const Clause& clause;
    int index = 0;
    const Life* part = nullptr;
};

std::vector<Trigger> triggers(const Judging& j);
std::vector<Opening> open_all(const Judging& j);
// §4.2 undocumented counts, §4.6 exceptions.
void settle(const Judging& j, Opening& opening);

struct Period {
    Instant start = 0;
    Instant end = 0;
};
// Those that begin before `until` and end after `from`.
std::vector<Period> periods(const Book& book, grammar::Period kind, Instant from, Instant until);

}  // namespace linelaw::literal
