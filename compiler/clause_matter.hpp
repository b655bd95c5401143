// What a clause of a compiled policy looks at, and the values at which its answer may change: the events and
// attributes that it speaks of, the constants that they are compared with, its spans of time. Knows nothing
// of episodes.
#pragma once

#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "runtime/policy.hpp"

namespace linelaw::compiler {

// An attribute with the values worth giving it: each constant, and its neighbours on both sides.
struct Choice {
    std::string name;
    runtime::Type type;
    std::vector<std::int64_t> values;  // never empty
};
struct KindMatter {
    std::vector<Choice> attributes;
    std::vector<std::int64_t> delays;             // of charting, microseconds
    std::vector<std::vector<std::string>> steps;  // lists that a clause asks for
};
struct Matter {
    std::vector<Choice> patient;
    std::vector<Choice> line;
    std::vector<std::pair<std::int32_t, runtime::AgeUnit>> ages;  // completed
    std::map<runtime::EventKindId, KindMatter> kinds;
    std::vector<std::int64_t> spans;  // microseconds; a day is 24 h, a month 30 days
};

// Of these clauses together, with the ladders that they start and the clauses that override them or that
// they override.
Matter matter_of(const runtime::Policy& policy, const std::vector<runtime::ClauseId>& clauses);

}  // namespace linelaw::compiler
