// The meeting as a function: for the program and for the timed test.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "tests/differential/tally.hpp"

namespace linelaw::literal {

struct MeetingOptions {
    std::string vocabulary;         // of the random policies
    int small_events = -1;          // the small world up to so many events; none below 0
    int pair_events = -1;           // and its pairs of clauses
    std::size_t small_stride = 1;   // every so many of its records
    std::uint64_t comparisons = 0;  // at random, at least so many …
    double seconds = 0;             // … and for so long
    std::uint64_t seed = 1;
    unsigned jobs = 1;  // threads; each has its own seed
    int most_cases = 10;
    std::function<void(const std::string&)> progress;  // called by one thread at a time
};

struct Meeting {
    Counts counts;
    std::uint64_t differences = 0;
    std::vector<std::string> cases;
    std::uint64_t policies = 0, refused = 0, records = 0, quarantined = 0;
    std::uint64_t stepwise = 0, reordered = 0, cut = 0, documented = 0, due = 0;  // properties held so often
    std::map<std::string, int> refusals;  // by the first line of the problem
    double took = 0;
    void add(const Meeting& other);
    std::string report(std::uint64_t least) const;
};

Meeting meet(const MeetingOptions& options);

}  // namespace linelaw::literal
