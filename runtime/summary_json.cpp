// The summary as JSON. Rounded to fixed places, so that equal tallies give equal bytes.
#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string>

#include "runtime/comparisons.hpp"
#include "runtime/months.hpp"
#include "runtime/summary.hpp"
#include "runtime/summary_review.hpp"

namespace linelaw::runtime {
namespace {

using Json = nlohmann::ordered_json;

// What is not quite zero is not rounded to it, and zero has no sign.
double rounded(double value, double places) {
    constexpr double finest = 1e12;
    while (value != 0 && places < finest && std::round(value * places) == 0) places *= 10;
    return std::round(value * places) / places + 0.0;
}
Json share(double value) {
    return rounded(value, 1e4);
}
Json shares(const Interval& interval) {
    return {share(interval.low), share(interval.high)};
}

// Three digits of it, however small.
double digits_of(double p) {
    const std::string text = fmt::format("{:.2e}", p);
    double out = 0;
    std::from_chars(text.data(), text.data() + text.size(), out);  // std::stod would follow the locale
    return out;
}

Json bin(const std::optional<LatenessBin>& lateness) {
    if (!lateness) return nullptr;
    return {{"more_than_s", lateness->low_s},
            {"at_most_s", lateness->high_s ? Json(*lateness->high_s) : Json(nullptr)}};
}

Json figures(const AuditedItem& item, const Counts& counts, std::uint64_t line_days) {
    Json out;
    out["opportunities"] = total_of(counts);
    Json outcomes;
    for (std::size_t i = 0; i < outcome_count; ++i)
        outcomes[std::string(outcome_names[i])] = counts.outcomes[i];
    out["outcomes"] = std::move(outcomes);
    const Rate rate = rate_of(counts);
    out["counted"] = rate.counted;
    out["against"] = rate.against();
    out["rate"] = rate.exercised() ? share(rate.share) : Json(nullptr);
    out["rate_interval_95"] = rate.exercised() ? shares(rate.interval) : Json(nullptr);
    const auto of_lines = rate_of_lines(counts);
    out["rate_interval_95_of_lines"] = of_lines ? shares(of_lines->interval) : Json(nullptr);
    out["design_effect"] = of_lines ? Json(digits_of(of_lines->design_effect)) : Json(nullptr);
    out["evidence"] = !rate.exercised() ? "none" : rate.small() ? "few" : "enough";
    if (item.over_time) {
        const auto order = time_in_order(counts);
        out["time_in_order"] = order ? share(*order) : Json(nullptr);
        out["applied_s"] = counts.applied_s;
        out["overdue_s"] = counts.overdue_s;
    }
    out["lateness_median"] = bin(lateness_quantile(counts, 0.5));
    out["lateness_90th"] = bin(lateness_quantile(counts, 0.9));
    const auto per = per_thousand(rate, line_days);
    out["against_per_1000_line_days"] = per ? Json(rounded(per->rate, 1e3)) : Json(nullptr);
    out["against_per_1000_line_days_interval_95"] =
        per ? Json({rounded(per->interval.low, 1e3), rounded(per->interval.high, 1e3)}) : Json(nullptr);
    return out;
}

constexpr std::array<const char*, 3> origin_keys = {"clause", "ladder", "bundle"};

Json run_chart_json(const MonthChart& chart) {
    Json out;
    out["control"] = control_name(chart.kind);
    out["months"] = chart.points.size();
    out["useful"] = chart.run.useful;
    out["median"] = rounded(chart.run.median, 1e4);
    out["longest_run"] = chart.run.longest_run;
    out["crossings"] = chart.run.crossings;
    out["longest_trend"] = chart.run.longest_trend;
    out["signals"] = Json::array();
    for (const ChartSignal signal : chart.signals) out["signals"].push_back(signal_name(signal));
    out["beyond_limits"] = Json::array();
    for (const MonthPoint& point : chart.points) {
        if (!point.below() && !point.above()) continue;
        out["beyond_limits"].push_back(
            {{"month", month_name(point.month)}, {"side", point.below() ? "below" : "above"}});
    }
    return out;
}

// All were made together, so each has the confidence that all of them leave to it.
Json comparisons_json(const Audited& audited, const Tally& tally) {
    const Comparisons comparisons = compare_groups(audited, tally);
    Json out;
    for (const auto& [by, cells] : comparisons.by) {
        Json& grouped_by = out[by];
        grouped_by["compared"] = cells.size();
        grouped_by["compared_together"] = comparisons.made;
        grouped_by["confidence_of_each"] = rounded(comparisons.confidence_of_each, 1e6);
        grouped_by["apart"] = Json::array();
        for (const Comparison& c : cells) {
            if (!c.apart()) continue;
            Json entry;
            entry[origin_keys[static_cast<std::size_t>(audited.items[c.item].origin)]] =
                audited.items[c.item].name;
            entry["group"] = c.group.empty() ? Json(nullptr) : Json(c.group);
            entry["rate"] = share(c.here.share);
            entry["rate_elsewhere"] = share(c.elsewhere.share);
            entry["design_effect"] = digits_of(c.design_effect);
            entry["fisher_exact_p"] = digits_of(c.widened.p);
            entry["difference"] = share(c.widened.difference);
            entry["difference_interval_95"] = shares(c.usual);
            entry["difference_interval_95_of_all"] = shares(c.widened.interval);
            grouped_by["apart"].push_back(std::move(entry));
        }
    }
    return out;
}

// The items of one origin; in a group only those of which there is anything to tell.
Json items(const Audited& audited, const Group& group, OriginKind origin, bool whole, const Tally* tally) {
    Json out = Json::array();
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        const AuditedItem& item = audited.items[i];
        const Counts counts = i < group.counts.size() ? group.counts[i] : Counts{};
        if (item.origin != origin || (!whole && !anything_in(counts))) continue;
        Json entry;
        entry[origin_keys[static_cast<std::size_t>(origin)]] = item.name;
        if (whole) {
            entry["sentence"] = item.sentence;
            entry["priority"] = priority_name(item.priority);
            if (!item.sources.empty()) entry["sources"] = item.sources;
        }
        entry.update(figures(item, counts, group.line_days));
        if (whole && tally != nullptr)
            entry["run_chart"] = run_chart_json(month_chart(*tally, i, audited.charts));
        out.push_back(std::move(entry));
    }
    return out;
}

// `tally` where the whole is told: then each item has its run chart.
void put_items(Json& out, const Audited& audited, const Group& group, bool whole,
               const Tally* tally = nullptr) {
    out["clauses"] = items(audited, group, OriginKind::clause, whole, tally);
    out["ladders"] = items(audited, group, OriginKind::ladder, whole, tally);
    out["bundles"] = items(audited, group, OriginKind::bundle, whole, tally);
}

Json group_json(const Audited& audited, const char* key, const std::string& name, const Group& group,
                std::optional<std::uint64_t> patients) {
    Json out;
    out[key] = name.empty() ? Json(nullptr) : Json(name);
    if (group.episodes > 0) out["episodes"] = group.episodes;
    out["line_days"] = group.line_days;
    if (patients) out["patient_days"] = *patients;
    put_items(out, audited, group, false);
    return out;
}

Json faults(const std::map<std::string, std::uint64_t>& by) {
    Json out = Json::array();
    for (const auto& [fault, count] : by) {
        const std::size_t space = fault.find(' ');
        out.push_back(
            {{"code", fault.substr(0, space)}, {"pointer", fault.substr(space + 1)}, {"count", count}});
    }
    return out;
}

Json policy_json(const Audited& audited) {
    Json out = {{"title", audited.title},
                {"edition", audited.edition},
                {"content_hash", audited.content_hash},
                {"time_zone", audited.time_zone}};
    if (!audited.in_force.empty()) out["in_force"] = audited.in_force;
    if (!audited.review_by.empty()) out["review_by"] = audited.review_by;
    return out;
}

Json judged_json(const Covered& judged) {
    return {{"episodes", judged.episodes}, {"line_days", judged.line_days}};
}

// Of several policies or editions: each, with what it judged; and what none did, or more than one would have.
Json coverage_json(const Audited& audited, const Tally& tally) {
    Json out;
    out["editions"] = Json::array();
    for (std::size_t i = 0; i < audited.editions.size(); ++i) {
        const AuditedEdition& e = audited.editions[i];
        Json entry = {{"title", e.title}, {"edition", e.edition}, {"content_hash", e.content_hash}};
        if (!e.in_force.empty()) entry["in_force"] = e.in_force;
        if (!e.review_by.empty()) entry["review_by"] = e.review_by;
        const Covered judged = i < tally.coverage.editions.size() ? tally.coverage.editions[i] : Covered{};
        entry["judged"] = judged_json(judged);
        out["editions"].push_back(std::move(entry));
    }
    out["no_edition_in_force"] = judged_json(tally.coverage.no_edition);
    out["no_policy_governs"] = judged_json(tally.coverage.not_governed);
    out["several_policies_govern"] = judged_json(tally.coverage.several);
    return out;
}

Json records_json(const Tally& tally) {
    Json out;
    out["read"] = tally.read;
    out["judged"] = tally.judged;
    out["quarantined"] = tally.quarantined;
    out["values_set_aside"] = values_set_aside(tally);
    out["events_after_observed_until"] = tally.seen.after_observed_until;
    out["identical_repeats_dropped"] = tally.seen.identical_repeats;
    out["without_patient_key"] = tally.without_patient_key;
    out["episodes_repeated"] = tally.episodes.repeated();
    out["quarantined_by"] = faults(tally.quarantined_by);
    out["set_aside_by"] = faults(tally.set_aside_by);
    out["unknown_keys"] = tally.seen.unknown_keys;
    out["unknown_events"] = tally.seen.unknown_events;
    return out;
}

Json worst_json(const Audited& audited, const Tally& tally) {
    Json out = Json::array();
    for (const WorstFinding& finding : tally.worst) {
        Json entry;
        if (audited.keys) entry["id"] = finding.id, entry["episode"] = finding.episode;
        if (!finding.care_unit.empty()) entry["care_unit"] = finding.care_unit;
        const AuditedItem& item = audited.items[finding.item];
        entry[origin_keys[static_cast<std::size_t>(item.origin)]] = item.name;
        entry["priority"] = priority_name(finding.priority);
        entry["outcome"] = outcome_names[static_cast<std::size_t>(finding.outcome)];
        entry["lateness_s"] = finding.lateness / microseconds_per_second;
        entry["said"] = finding.said;
        out.push_back(std::move(entry));
    }
    return out;
}

}  // namespace

std::string summary_json(const Audited& audited, const Tally& tally) {
    Json out;
    out["schema"] = summary_schema;
    out["program"] = "linelaw " + audited.program_version;
    out["policy"] = policy_json(audited);
    if (!audited.editions.empty()) out["policies"] = coverage_json(audited, tally);
    out["settings"] = {{"strict", audited.strict},
                       {"by", audited.by},
                       {"chart_rules", write_chart_rules(audited.charts.rules)},
                       {"control_chart", control_name(audited.charts.control)}};
    out["settings"]["keys"] = audited.keys;
    out["settings"]["as_of"] = audited.as_of.empty() ? Json(nullptr) : Json(audited.as_of);
    out["records"] = records_json(tally);
    out["known_from"] = tally.first ? Json(write_instant(*tally.first)) : Json(nullptr);
    out["known_until"] = tally.last ? Json(write_instant(*tally.last)) : Json(nullptr);
    out["line_days"] = {{"each_line", tally.all.line_days},
                        {"patients", patient_days(tally)},
                        {"patients_counted_at", write_time_of_day(audited.count_at)}};
    put_items(out, audited, tally.all, true, &tally);
    out["worst"] = worst_json(audited, tally);
    out["review"] = review_summary(audited, tally);
    out["care_units"] = Json::array();
    for (const auto& [unit, group] : tally.by_care_unit) {
        const auto days = tally.patient_days.find(unit);
        out["care_units"].push_back(group_json(audited, "care_unit", unit, group,
                                               days == tally.patient_days.end() ? 0 : days->second.count()));
    }
    out["comparisons"] = comparisons_json(audited, tally);
    out["months"] = Json::array();
    for (const auto& [month, group] : tally.by_month) {
        out["months"].push_back(group_json(audited, "month", month_name(month), group, std::nullopt));
    }
    out["by"] = Json::object();
    for (const auto& [attribute, groups] : tally.by) {
        Json values = Json::array();
        for (const auto& [value, group] : groups) {
            values.push_back(group_json(audited, "value", value, group, std::nullopt));
        }
        out["by"][attribute] = std::move(values);
    }
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace linelaw::runtime
