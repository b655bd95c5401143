// What an audit's tally says: rates with their intervals, lateness, line-days. The figures that the table,
// the JSON and the page all show are made here, once. Every figure's unit and reading is in
// docs/audit-method.md.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/result.hpp"
#include "runtime/shard.hpp"
#include "runtime/statistics.hpp"
#include "runtime/tally.hpp"

namespace linelaw::runtime {

constexpr std::string_view summary_schema = "linelaw/summary/1";
constexpr std::string_view partial_schema = "linelaw/partial/4";

// What was audited and how, as far as a summary needs it: a partial summary carries it, so that parts can be
// added up without the policy. Two parts fit together where it is equal.
struct AuditedItem {
    OriginKind origin = OriginKind::clause;
    std::string id;       // of the clause, ladder or bundle
    std::string name;     // the same, with the step of a ladder, and the edition where several have it
    std::string edition;  // "edition 5", of several
    std::string sentence;
    Priority priority = Priority::major;  // of a ladder and a bundle: the highest of its clauses'
    bool over_time = false;               // a clause over stretches of time: `at least every`
    std::string asks_nothing;  // "starts device_failure", "left to judgement": nothing of its own to count
    std::vector<std::string> sources;  // "Guidelines …, CDC/HICPAC 2011, dressing regimens, category IB"
    std::string advice;
    bool operator==(const AuditedItem&) const = default;
};
// What the months are plotted as: share met (p), against per 1 000 line-days (u), number against (c, for
// equal exposures).
enum class ControlKind : std::uint8_t { p, u, c };
struct ChartChoice {
    ControlKind control = ControlKind::p;
    ChartRules rules;
    bool operator==(const ChartChoice&) const = default;
};
// One of several policies or editions.
struct AuditedEdition {
    std::string title;
    std::string edition;
    std::string content_hash;
    std::string in_force;  // as of Audited
    std::string review_by;
    std::string owner;
    bool operator==(const AuditedEdition&) const = default;
};
struct Audited {
    std::string program_version;
    std::string title;
    std::string edition;
    std::string content_hash;
    std::string time_zone;
    std::string owner;
    std::string in_force;                  // "2026-03-01 until 2027-02-28", or empty
    std::string review_by;                 // a date, or empty
    std::vector<AuditedEdition> editions;  // in the order of Coverage::editions; empty: one policy judged all
    std::vector<AuditedItem> items;
    std::vector<std::string> by;
    std::int64_t count_at = 0;  // microseconds after midnight
    std::string as_of;          // an instant, or empty
    bool strict = false;
    ChartChoice charts;
    bool keys = true;          // false: no pseudonymous key is shown
    std::uint64_t sample = 0;  // drawn for review by hand, under this seed
    std::uint64_t seed = 0;
    std::string settled;   // hash of the file of settlements; empty: none
    std::string earlier;   // hash of the earlier run's findings; empty: none
    std::string patients;  // a mark of the secret under which patients' keys are hashed; empty: none
    bool operator==(const Audited&) const = default;
};
Audited audited(const Policy& policy, const TallyOptions& options, bool strict, std::string program_version);

// ---- figures

constexpr std::uint64_t few = 20;  // fewer counted opportunities than this are marked as a small number

struct Rate {
    std::uint64_t met = 0;
    std::uint64_t counted = 0;                      // met and against
    double share = 0;                               // met of counted
    Interval interval;                              // Wilson, 95 %
    bool exercised() const { return counted > 0; }  // else there is no evidence, and no rate
    bool small() const { return counted < few; }
    std::uint64_t against() const { return counted - met; }
};
Rate rate_of(const Counts& counts);

// The same rate's interval where what is of one line goes together. Nothing where fewer than two lines have
// any counted, and of months, whose lines are not told apart.
struct RateOfLines {
    double design_effect = 1;  // the interval is Wilson's of so many times fewer opportunities
    Interval interval;         // 95 %
};
std::optional<RateOfLines> rate_of_lines(const Counts& counts);
Clustered clustered(const Counts& counts);
std::uint64_t total_of(const Counts& counts);  // all outcomes, counted or not
// Whether there is anything to tell of it: an outcome, or only time, as of a month in which nothing fell due
// and something stayed overdue.
bool anything_in(const Counts& counts);
std::uint64_t count_of(const Counts& counts, Outcome outcome);

// The same after review: what people settled taken in. And of clauses and ladders, what then counts against.
Counts after_review(const Tally& tally, std::size_t item);
std::uint64_t against_after_review(const Audited& audited, const Tally& tally);
std::uint64_t settled_of(const Tally& tally, std::size_t item);

// Outcomes against per 1 000 line-days (each line's calendar days), with its exact Poisson interval; nothing
// without line-days.
struct PerThousand {
    double rate = 0;
    Interval interval;
};
std::optional<PerThousand> per_thousand(std::uint64_t against, std::uint64_t line_days);
// Of a clause: nothing, too, where nothing exercised it. No evidence is not 0.
std::optional<PerThousand> per_thousand(const Rate& rate, std::uint64_t line_days);

// Share of the time over which the clause applied in which nothing was past its limit; nothing where it never
// applied.
std::optional<double> time_in_order(const Counts& counts);

// The fixed bin that holds a quantile of the lateness of `late` ones: more than `low_s`, at most `high_s`
// (none in the last bin). Nothing where none was late.
struct LatenessBin {
    std::int64_t low_s = 0;
    std::optional<std::int64_t> high_s;
};
std::optional<LatenessBin> lateness_quantile(const Counts& counts, double quantile);

// Who judged how much, and what nobody did, a row each: "edition 4, in force from … until …" with its
// figures. Nothing where one policy judged all.
struct CoverageRow {
    std::string who;
    std::string note;  // its days and hash, or what happened to what is counted here
    Covered judged;
};
std::vector<CoverageRow> coverage_rows(const Audited& audited, const Tally& tally);

std::uint64_t patient_days(const Tally& tally);  // of all care units, each patient once a day
std::uint64_t against_in(const Audited& audited, const Tally& tally);  // of clauses and ladders
std::uint64_t values_set_aside(const Tally& tally);
std::string month_name(std::int32_t month);  // 2026-03

// ---- numbers as people read them

std::string grouped(std::uint64_t number);  // 12,345
std::string percent(double share);          // 91.2 %; never 100.0 % or 0.0 % where it is not quite that
std::string percent_range(const Interval& shares);   // 89.3–92.8 %
std::string lateness_words(const LatenessBin& bin);  // 4 h to 6 h
std::string_view outcome_words(Outcome outcome);     // "no longer due"

// ---- forms

std::string summary_json(const Audited& audited, const Tally& tally);
// One row an item in each group (all, care units, months, attributes), RFC 4180, with a header.
std::string summary_csv(const Audited& audited, const Tally& tally);
// For a terminal or a text file.
struct TableOptions {
    bool color = false;
    std::size_t width = 100;
};
std::string summary_table(const Audited& audited, const Tally& tally, const TableOptions& options);

// A partial summary: everything that adding up needs. Canonical: equal tallies give equal bytes.
std::string partial_json(const Audited& audited, const Tally& tally, const Cut& cut = {});
// A JSON object as one that says the hash of its spelling first, so that one that was damaged is known; and
// what was sealed, nothing where it does not fit.
std::string sealed(std::string_view json);
std::optional<std::string> unsealed(std::string_view text);
struct Partial {
    Audited audited;
    Tally tally;
    Cut cut;
};
Result<Partial> read_partial(std::string_view json);

}  // namespace linelaw::runtime
