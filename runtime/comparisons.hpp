// Groups (care units, values of an attribute) set beside all the others of their kind, clause by clause. Who
// looks at a hundred cells finds five by chance alone: what is said to stand apart is what Fisher's exact
// test finds at 5 % shared out among all the comparisons of the summary (Bonferroni), whatever they are
// grouped by, and what the interval that is widened for as many keeps clear of zero.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/summary.hpp"

namespace linelaw::runtime {

struct Comparison {
    std::size_t item = 0;
    std::string group;
    Rate here;
    Rate elsewhere;            // all the other groups together
    Difference widened;        // of the shares met, here less elsewhere; at the confidence of each of all
    Interval usual;            // of the same; 95 %
    double design_effect = 1;  // tested as so many times fewer opportunities: those of one line go together
    bool lower() const { return widened.difference < 0; }
    bool apart() const { return widened.apart(); }
};
constexpr std::string_view by_care_unit = "care_unit";
struct Comparisons {
    // By care unit, and by each attribute: clauses and ladders by group where both sides have at least `few`
    // counted; in the order of the items, then of the groups' names.
    std::map<std::string, std::vector<Comparison>, std::less<>> by;
    std::size_t made = 0;  // of all
    double confidence_of_each = usual_confidence;
    // nullptr: not compared
    const Comparison* find(std::string_view grouped_by, std::size_t item, const std::string& group) const;
};
Comparisons compare_groups(const Audited& audited, const Tally& tally);
// "11.3 points lower than elsewhere (4.0 to 18.6, 95 % widened for all 96 compared)"
std::string comparison_words(const Comparison& comparison, std::size_t looked_at);
// "-7.1 to -0.02": points of per cent with their signs, with as many places as it takes to tell from zero.
std::string points(double share);
std::string points_range(const Interval& shares);

}  // namespace linelaw::runtime
