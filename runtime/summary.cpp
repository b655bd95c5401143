#include "runtime/summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "runtime/findings_words.hpp"
#include "runtime/joined.hpp"

namespace linelaw::runtime {
namespace {

std::string source_line(const Policy& policy, const SourceRef& ref, EditionId edition) {
    std::string line = ref.source;
    for (const Source& source : policy.sources) {
        if (source.name != ref.source || source.edition != edition) continue;
        line = source.title;
        if (!source.by.empty()) line += ", " + source.by;
        if (!source.year.empty()) line += " " + source.year;
    }
    if (!ref.where.empty()) line += ", " + ref.where;
    if (!ref.category.empty()) line += ", category " + ref.category;
    return line;
}

Priority highest_starting(const Policy& policy, LadderId ladder) {
    Priority highest = Priority::advisory;
    for (const Clause& clause : policy.clauses) {
        if (clause.otherwise_escalate == ladder || clause.then_escalate == ladder) {
            highest = std::min(highest, clause.priority);
        }
    }
    return highest;
}

// "The line may have failed. Step 1: notify the provider within 15 min."
std::string step_sentence(const Policy& policy, const Ladder& ladder, std::uint32_t step) {
    const Words words(policy);
    std::string out = ladder.sentence;
    if (!out.empty()) out += out.back() == '.' ? " " : ". ";
    if (step >= ladder.steps.size()) {
        const LadderHold& hold = ladder.holds[step - ladder.steps.size()];
        return out +
               fmt::format("Hold: no {} until {}.", words.events(hold.events), words.events(hold.until));
    }
    std::string roles;
    for (const RoleId role : ladder.steps[step].roles)
        roles += (roles.empty() ? "" : " or ") + Words::name(policy.roles[role]);
    return out + fmt::format("Step {}: notify the {} within {}.", step + 1, roles,
                             Words::span(ladder.steps[step].within));
}

AuditedItem audited_item(const Policy& policy, const Item& item) {
    AuditedItem out;
    const auto of = [&](EditionId edition) {
        return edition == none ? std::string() : edition_words(policy, edition);
    };
    out.origin = item.origin;
    out.name = item_name(policy, item);
    switch (item.origin) {
        case OriginKind::clause: {
            const Clause& clause = policy.clauses[item.item];
            out.id = clause.id;
            out.edition = of(clause.edition);
            out.sentence = clause.sentence;
            out.priority = clause.priority;
            out.over_time = std::holds_alternative<AtLeastEvery>(clause.demand);
            if (std::holds_alternative<LeavesToJudgement>(clause.demand))
                out.asks_nothing = "left to judgement";
            else if (std::holds_alternative<NoDemand>(clause.demand) && clause.then_escalate != none)
                out.asks_nothing = "starts " + policy.ladders[clause.then_escalate].id;
            out.advice = clause.advice;
            for (const SourceRef& ref : clause.sources)
                out.sources.push_back(source_line(policy, ref, clause.edition));
            break;
        }
        case OriginKind::ladder: {
            const Ladder& ladder = policy.ladders[item.item];
            out.id = ladder.id;
            out.edition = of(ladder.edition);
            out.sentence = step_sentence(policy, ladder, item.step);
            out.priority = highest_starting(policy, item.item);
            break;
        }
        case OriginKind::bundle: {
            const Bundle& bundle = policy.bundles[item.item];
            out.id = bundle.id;
            out.edition = of(bundle.edition);
            out.sentence = bundle.title;
            out.priority = Priority::advisory;
            for (const ClauseId clause : bundle.of) {
                out.priority = std::min(out.priority, policy.clauses[clause].priority);
            }
            break;
        }
    }
    return out;
}

}  // namespace

Audited audited(const Policy& policy, const TallyOptions& options, bool strict, std::string program_version) {
    Audited out;
    out.program_version = std::move(program_version);
    out.title = policy.title;
    out.edition = policy.edition;
    out.content_hash = policy.content_hash;
    out.time_zone = policy.time_zone;
    out.owner = policy.owner;
    out.in_force = in_force_words(policy.in_force_from, policy.in_force_until);
    if (policy.review_by) out.review_by = write_date(*policy.review_by);
    for (const Edition& e : policy.editions)
        out.editions.push_back({e.title, e.edition, e.content_hash,
                                in_force_words(e.in_force_from, e.in_force_until),
                                e.review_by ? write_date(*e.review_by) : "", e.owner});
    const Items items(policy);
    for (std::size_t i = 0; i < items.size(); ++i) out.items.push_back(audited_item(policy, items[i]));
    out.by = options.by;
    out.count_at = options.count_at;
    if (options.as_of) out.as_of = write_instant(*options.as_of);
    out.strict = strict;
    return out;
}

Rate rate_of(const Counts& counts) {
    Rate rate;
    for (std::size_t i = 0; i < outcome_count; ++i) {
        const auto outcome = static_cast<Outcome>(i);
        if (counts_for(outcome)) rate.met += counts.outcomes[i];
        if (counts_for(outcome) || counts_against(outcome)) rate.counted += counts.outcomes[i];
    }
    if (!rate.exercised()) return rate;
    rate.share = static_cast<double>(rate.met) / static_cast<double>(rate.counted);
    rate.interval = wilson(rate.met, rate.counted);
    return rate;
}

Clustered clustered(const Counts& counts) {
    const Rate rate = rate_of(counts);
    return {rate.met,           rate.counted,       counts.lines,
            counts.met_squared, counts.met_counted, counts.counted_squared};
}

std::optional<RateOfLines> rate_of_lines(const Counts& counts) {
    if (counts.lines < 2) return std::nullopt;
    const Clustered lines = clustered(counts);
    const double effect = design_effect({lines});
    return RateOfLines{effect, wilson_clustered(lines.met, lines.counted, effect)};
}

std::uint64_t total_of(const Counts& counts) {
    std::uint64_t total = 0;
    for (const std::uint64_t count : counts.outcomes) total += count;
    return total;
}

bool anything_in(const Counts& counts) {
    return total_of(counts) > 0 || counts.applied_s > 0;
}

std::uint64_t count_of(const Counts& counts, Outcome outcome) {
    return counts.outcomes[static_cast<std::size_t>(outcome)];
}

Counts after_review(const Tally& tally, std::size_t item) {
    Counts counts = item < tally.all.counts.size() ? tally.all.counts[item] : Counts{};
    for (const auto& [id, finding] : tally.review.settled) {
        if (finding.item != item) continue;
        std::uint64_t& from = counts.outcomes[static_cast<std::size_t>(finding.recorded)];
        if (from > 0) --from, ++counts.outcomes[static_cast<std::size_t>(finding.settled)];
    }
    return counts;
}

std::uint64_t against_after_review(const Audited& audited, const Tally& tally) {
    std::uint64_t against = 0;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        if (audited.items[i].origin != OriginKind::bundle)
            against += rate_of(after_review(tally, i)).against();
    }
    return against;
}

std::uint64_t settled_of(const Tally& tally, std::size_t item) {
    return static_cast<std::uint64_t>(
        std::count_if(tally.review.settled.begin(), tally.review.settled.end(),
                      [&](const auto& entry) { return entry.second.item == item; }));
}

std::optional<PerThousand> per_thousand(std::uint64_t against, std::uint64_t line_days) {
    if (line_days == 0) return std::nullopt;
    const double thousands = static_cast<double>(line_days) / 1000;
    return PerThousand{static_cast<double>(against) / thousands, poisson(against, thousands)};
}

std::optional<PerThousand> per_thousand(const Rate& rate, std::uint64_t line_days) {
    return rate.exercised() ? per_thousand(rate.against(), line_days) : std::nullopt;
}

std::optional<double> time_in_order(const Counts& counts) {
    if (counts.applied_s == 0) return std::nullopt;
    const std::uint64_t overdue = std::min(counts.overdue_s, counts.applied_s);
    return 1 - static_cast<double>(overdue) / static_cast<double>(counts.applied_s);
}

std::optional<LatenessBin> lateness_quantile(const Counts& counts, double quantile) {
    std::uint64_t total = 0;
    for (const std::uint64_t count : counts.lateness) total += count;
    if (total == 0) return std::nullopt;
    const auto rank = static_cast<std::uint64_t>(std::ceil(quantile * static_cast<double>(total)));
    std::uint64_t seen = 0;
    std::size_t bin = 0;
    while (bin + 1 < lateness_bin_count && (seen += counts.lateness[bin]) < rank) ++bin;
    LatenessBin out;
    if (bin > 0) out.low_s = lateness_bounds_s[bin - 1];
    if (bin < lateness_bounds_s.size()) out.high_s = lateness_bounds_s[bin];
    return out;
}

std::vector<CoverageRow> coverage_rows(const Audited& audited, const Tally& tally) {
    std::vector<CoverageRow> rows;
    if (audited.editions.empty()) return rows;
    const bool one_title =
        std::all_of(audited.editions.begin(), audited.editions.end(),
                    [&](const AuditedEdition& e) { return e.title == audited.editions.front().title; });
    for (std::size_t i = 0; i < audited.editions.size(); ++i) {
        const AuditedEdition& e = audited.editions[i];
        std::string who = one_title ? "" : e.title;
        if (!e.edition.empty()) who += (who.empty() ? "edition " : ", edition ") + e.edition;
        rows.push_back({who, e.in_force.empty() ? "on any day" : "in force " + e.in_force,
                        i < tally.coverage.editions.size() ? tally.coverage.editions[i] : Covered{}});
    }
    const auto beside = [&](const char* who, const char* note, const Covered& judged) {
        if (judged.episodes > 0) rows.push_back({who, note, judged});
    };
    beside("no edition in force", "judged by nobody on those days", tally.coverage.no_edition);
    beside("no policy known to govern", "judged by nobody", tally.coverage.not_governed);
    beside("more than one policy governs", "judged by the one that was given first", tally.coverage.several);
    return rows;
}

std::uint64_t patient_days(const Tally& tally) {
    std::vector<const PatientDays*> units;
    for (const auto& [unit, days] : tally.patient_days) units.push_back(&days);
    return PatientDays::count_together(units);
}

std::uint64_t against_in(const Audited& audited, const Tally& tally) {
    std::uint64_t against = 0;
    for (std::size_t i = 0; i < tally.all.counts.size(); ++i) {
        if (audited.items[i].origin != OriginKind::bundle) against += rate_of(tally.all.counts[i]).against();
    }
    return against;
}

std::uint64_t values_set_aside(const Tally& tally) {
    std::uint64_t total = 0;
    for (const auto& [fault, count] : tally.set_aside_by) total += count;
    return total;
}

std::string month_name(std::int32_t month) {
    return fmt::format("{:04}-{:02}", month / 12, month % 12 + 1);
}

std::string grouped(std::uint64_t number) {
    std::string digits = std::to_string(number);
    for (std::size_t i = digits.size(); i > 3; i -= 3) digits.insert(i - 3, ",");
    return digits;
}

std::string percent(double share) {
    if (share < 1 && share >= 0.9995) return ">99.9 %";
    if (share > 0 && share < 0.0005) return "<0.1 %";
    return fmt::format("{:.1f} %", 100 * share);
}

std::string percent_range(const Interval& shares) {
    return fmt::format("{:.1f}–{:.1f} %", 100 * shares.low, 100 * shares.high);
}

std::string lateness_words(const LatenessBin& bin) {
    const std::string low = Words::lasted(bin.low_s * microseconds_per_second);
    if (!bin.high_s) return "more than " + low;
    const std::string high = Words::lasted(*bin.high_s * microseconds_per_second);
    return bin.low_s == 0 ? "up to " + high : low + " to " + high;
}

std::string_view outcome_words(Outcome outcome) {
    constexpr std::array<std::string_view, outcome_count> words = {
        "met", "late", "missed", "early", "not met", "excused", "no longer due", "pending", "not assessable"};
    return words[static_cast<std::size_t>(outcome)];
}

}  // namespace linelaw::runtime
