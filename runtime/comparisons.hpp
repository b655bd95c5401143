// Groups (care units, values of an attribute) set beside all the others of their kind, clause by clause. Who
// looks at a hundred cells finds five by chance alone: the intervals are widened for the number of cells that
// are looked at (Bonferroni), and nothing is said to stand apart unless the widened one leaves zero out.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "runtime/summary.hpp"

namespace linelaw::runtime {

struct Comparison {
    std::size_t item = 0;
    std::string group;
    Rate here;
    Rate elsewhere;         // all the other groups together
    double difference = 0;  // of the shares met, here less elsewhere
    Interval interval;      // Newcombe's hybrid score interval, 95 %
    Interval widened;       // the same, so that all of them together have 95 %
    bool apart() const { return widened.low > 0 || widened.high < 0; }
};
struct Comparisons {
    // Clauses and ladders by group where both sides have at least `few` counted; in the order of the items,
    // then of the groups' names.
    std::vector<Comparison> all;
    double confidence_of_each = usual_confidence;
    const Comparison* find(std::size_t item, const std::string& group) const;  // nullptr: not compared
};
Comparisons compare_groups(const Audited& audited, const std::map<std::string, Group>& groups);
// "11.3 points lower than elsewhere (4.0 to 18.6, 95 % for all 96 compared)"
std::string comparison_words(const Comparison& comparison, std::size_t looked_at);

}  // namespace linelaw::runtime
