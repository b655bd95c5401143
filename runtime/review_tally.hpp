// The auditor's round over a run's opportunities: what was settled after chart review, what is new and gone
// since an earlier run, and a sample to be reviewed by hand. Adds up like the tally: any parts, in any order,
// give the whole.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/outcome.hpp"
#include "runtime/result.hpp"
#include "runtime/review.hpp"
#include "runtime/statistics.hpp"

namespace linelaw::runtime {

struct SettledFinding {
    std::string episode;
    std::string care_unit;
    std::uint32_t item = none;
    Outcome recorded = Outcome::missed;  // as the records have it
    Outcome settled = Outcome::excused;  // the same where the settlement changes nothing that counts
    std::string reason;
    bool operator==(const SettledFinding&) const = default;
};

struct SinceEarlier {
    std::uint64_t earlier = 0;  // findings of the earlier run
    std::uint64_t same = 0;
    std::uint64_t fresh = 0;
    std::map<std::uint32_t, std::uint64_t> fresh_by;  // by item
    std::vector<EarlierFinding> gone;                 // in the order of their ids
    std::uint64_t not_judged() const { return earlier - same - gone.size(); }
    bool operator==(const SinceEarlier&) const = default;
};

// One opportunity drawn for review by hand. Reviewers see all but outcome, closed and said.
struct Sampled {
    std::uint64_t rank = 0;  // by which it was drawn: a hash of its id under the seed
    std::string id;
    std::string episode;
    std::string care_unit;
    std::string place;  // file:line of its record
    std::string part;
    std::uint32_t item = none;
    Outcome outcome = Outcome::met;
    Instant opened = 0;
    std::optional<Instant> limit;
    std::optional<Instant> closed;
    std::string said;
    auto order() const { return std::tie(rank, id); }
    bool operator==(const Sampled&) const = default;
};
// The lowest ranks of each stratum: an item, and whether it was met or counts against.
struct Sample {
    struct Stratum {
        std::uint64_t population = 0;
        std::vector<Sampled> lowest;  // in order
        bool operator==(const Stratum&) const = default;
    };
    std::uint64_t wanted = 0;
    std::map<std::pair<std::uint32_t, bool>, Stratum> strata;  // item, met
    bool would_keep(const Stratum& stratum, std::uint64_t rank) const;
    void keep(Stratum& stratum, Sampled sampled) const;
    void add(const Sample& other);
    // As many as were wanted, or all: one of every item first, then of every stratum in turns. In the order
    // of the items, then of rank; their place in it is the number on the form.
    std::vector<Sampled> drawn() const;
    bool operator==(const Sample&) const = default;
};
// Names the sample as drawn, so that answers are never held against another one.
std::string sample_code(const std::vector<Sampled>& drawn);

// How a reviewer's answers agree with the tool's, or with another reviewer's.
struct Agreement {
    std::string first;   // "linelaw", or a reviewer's column
    std::string second;  // a reviewer's column
    // Met and met, met and against, against and met, against and against: the first's answer, then the
    // second's.
    std::vector<std::uint64_t> table = {0, 0, 0, 0};
    std::uint64_t no_answer = 0;  // blank, or `cannot tell`, by either
    std::optional<Kappa> kappa;
};
// Reads the answers' sheet (sample.csv, filled in) against the sample as drawn again.
Result<std::vector<Agreement>> agreements(std::string_view csv, const std::string& name,
                                          const std::vector<Sampled>& drawn);

struct ReviewTally {
    std::set<std::string> settlements;              // ids that the file of settlements names
    std::map<std::string, SettledFinding> settled;  // those that were found, by id
    std::optional<SinceEarlier> since;
    Sample sample;
    std::vector<Agreement> agreements;           // of one run; not added up
    std::vector<std::string> unmatched() const;  // settlements that no finding of the run bears
    void add(const ReviewTally& other);
};

struct ReviewOptions {
    const Settled* settled = nullptr;  // none: nothing was settled
    const Earlier* earlier = nullptr;
    std::uint64_t sample = 0;
    std::uint64_t seed = 0;
    bool any() const { return settled != nullptr || earlier != nullptr || sample != 0; }
};

}  // namespace linelaw::runtime
