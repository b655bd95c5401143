// Ladders and bundles of language.md §4.7.
#pragma once

#include "tests/differential/demands.hpp"

namespace linelaw::literal {

// What starts a ladder, or leaves it unknown whether it starts.
struct Start {
    Instant at = 0;
    Truth truth = Truth::yes;
    int clause = -1;
    const Life* part = nullptr;
    const Event* event = nullptr;
};

std::vector<Row> climb(const Book& book, const Record& record, const grammar::EscalationItem& ladder,
                       std::vector<Start> starts);

std::vector<Row> bundle(const Book& book, const Record& record, const grammar::BundleItem& item,
                        const std::vector<Opening>& openings);

}  // namespace linelaw::literal
