// Opportunities and their outcomes: all that the engine says. Findings (the JSON that people read) are made
// from these, the policy and the record by findings.hpp; a second evaluation is never made.
#pragma once

#include <algorithm>
#include <array>
#include <compare>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/time.hpp"

namespace linelaw::runtime {

enum class Outcome : std::uint8_t {
    met,
    late,
    missed,
    early,
    not_met,  // counted: met for, the other four against
    excused,
    no_longer_due,
    pending,
    not_assessable,  // never counted, always shown beside the rate
};
constexpr std::size_t outcome_count = 9;
constexpr std::array<std::string_view, outcome_count> outcome_names = {
    "met", "late", "missed", "early", "not_met", "excused", "no_longer_due", "pending", "not_assessable"};
constexpr bool counts_for(Outcome o) {
    return o == Outcome::met;
}
constexpr bool counts_against(Outcome o) {
    return o >= Outcome::late && o <= Outcome::not_met;
}

enum class OriginKind : std::uint8_t { clause, ladder, bundle };

// One occasion on which something was asked for. Event members are indexes into Episode::events, or none.
struct Opportunity {
    OriginKind origin = OriginKind::clause;
    std::uint32_t item = none;   // clause, ladder or bundle
    std::uint32_t step = none;   // of a ladder, from 0; a hold is steps.size() + its index
    ClauseId started_by = none;  // the clause that started the ladder
    PartKindId part_kind = none;
    std::uint32_t part = none;  // name of the part (into Episode::texts), or its number for counted parts
    Outcome outcome = Outcome::pending;
    Outcome before_exception = Outcome::pending;  // what it would have been, where outcome is excused
    std::uint32_t exception = none;               // index of the exception that excused it
    Instant opened = 0;
    // From when the clause applied, where an answer from before opened it.
    Instant applies_from = std::numeric_limits<Instant>::min();
    std::uint32_t nth = 0;  // of those of one item, step and part that opened at one instant, from 0
    std::optional<Instant> due;
    std::optional<Instant> limit;    // due plus grace; a calendar limit is already past at this instant
    std::optional<Instant> closed;   // none while pending at the horizon
    std::uint32_t opened_by = none;  // the event that opened it: a trigger, or the answer before it
    std::uint32_t closed_by = none;  // the event that answered or broke it
};

// All that the engine says of one episode.
struct Judgement {
    struct Member {  // one of the clauses' opportunities that a bundle's is made of
        std::uint32_t bundle = none;
        Instant opened = 0;        // the bundle's opportunity
        std::uint32_t member = 0;  // into opportunities
        auto operator<=>(const Member&) const = default;
    };
    std::vector<Opportunity> opportunities;  // in the engine's order
    std::vector<Member> members;             // rising

    // Those of a bundle's opportunity, or of a copy of it; none of any other.
    std::span<const Member> members_of(const Opportunity& o) const {
        if (o.origin != OriginKind::bundle) return {};
        const Member first{o.item, o.opened, 0};
        const Member last{o.item, o.opened, none};
        return {std::lower_bound(members.begin(), members.end(), first),
                std::upper_bound(members.begin(), members.end(), last)};
    }
    auto begin() const { return opportunities.begin(); }
    auto end() const { return opportunities.end(); }
    std::size_t size() const { return opportunities.size(); }
    const Opportunity& operator[](std::size_t i) const { return opportunities[i]; }
};

}  // namespace linelaw::runtime
