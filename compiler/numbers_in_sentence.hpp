// The amounts that an English sentence says: "7 days", "two minutes", "half an hour", "twice a day",
// "weekly". Knows nothing of clauses.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "grammar/tree.hpp"

namespace linelaw::compiler {

// An amount in a form that is equal for equal amounts: 48 h and 2 days are the same.
using AmountKey = std::string;

AmountKey time_key(std::int64_t microseconds, std::int64_t months);
AmountKey physical_key(int dimension, std::int64_t grains);
AmountKey count_key(std::string_view decimal);  // "02.50" is "2.5"
AmountKey day_key();                            // `each calendar day`
AmountKey shift_key();                          // `each shift`, `the same shift`

struct Said {
    std::string words;                // as the sentence has them
    std::vector<AmountKey> readings;  // any of them: "twice a day" is 2 and a day, or every 12 h
    bool checked = true;              // false: too vague to be held against the rule ("one")
    // What stands before or behind it, if it says a bound: "at least 3 cm", "3 cm or more".
    std::optional<grammar::Comparator> bound = {};
    // How far apart, where the sentence says which way: "at least every 7 days" is at most that far apart,
    // "no more often than every 4 days" at least that far.
    std::optional<grammar::Comparator> apart = {};
};
std::vector<Said> numbers_in(std::string_view sentence);

}  // namespace linelaw::compiler
