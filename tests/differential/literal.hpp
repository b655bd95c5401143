// The second evaluator: slow, literal, written from docs/language.md alone. It holds a whole record in
// memory, asks every condition at every moment at which it may change, and shares no evaluation code with
// runtime/.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "tests/differential/book.hpp"

namespace linelaw::literal {

// One opportunity, as both evaluators must give it.
struct Row {
    std::string id;    // clause, ladder or bundle
    int step = -1;     // of a ladder, from 0; holds after the steps
    std::string part;  // name or number
    std::string outcome;
    Instant opened = 0;
    std::optional<Instant> due;
    std::optional<Instant> limit;
    std::optional<Instant> closed;
};

// In no particular order. Throws std::runtime_error where the record is one that would be quarantined.
std::vector<Row> judge(const Book& book, const nlohmann::json& record);

}  // namespace linelaw::literal
