// Where and when a clause applies (language.md §4.3, §4.6): the line or part in place, `for` and `while`, and
// no overriding clause. Found by asking at every candidate moment.
#pragma once

#include "tests/differential/conditions.hpp"

namespace linelaw::literal {

// The line (or part) in place.
Truth in_place(const Clause& clause, const Record& record, const Life* part, Position position);

// Whether the clause applies at a moment, and at an event that it is judged at.
Truth applies(const Book& book, const Clause& clause, const Record& record, const Life* part,
              Position position);
Truth applies_at(const Book& book, const Clause& clause, const Record& record, const Life* part,
                 const Event& event);

// Every instant at which something that the clause's conditions rest on may change, from the start of the
// record to its horizon.
std::vector<Instant> instants(const Book& book, const Clause& clause, const Record& record);

// Every moment at which something that the clause's conditions rest on may change, in order, from the line's
// (or part's) beginning to just after its end, or to the horizon. Between two of them nothing changes.
std::vector<Position> moments(const Book& book, const Clause& clause, const Record& record, const Life* part);

// A piece of time over which the clause applies, does not, or nobody knows.
struct Stretch {
    Truth truth = Truth::no;
    Position begin;
    Position end;            // first moment that is not in it
    bool ended = false;      // by the horizon otherwise
    bool at_edge = false;    // begins at the left edge
    Truth then = Truth::no;  // what follows
};
// Those with truth `no` are left out, and those that begin and end at one instant.
std::vector<Stretch> stretches(const Book& book, const Clause& clause, const Record& record,
                               const Life* part);

}  // namespace linelaw::literal
