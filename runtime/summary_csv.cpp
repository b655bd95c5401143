// The summary as CSV: one row an item in each group, for spreadsheets.
#include <fmt/format.h>

#include "runtime/csv.hpp"
#include "runtime/summary.hpp"

namespace linelaw::runtime {
namespace {

std::string number(double value) {
    return fmt::format("{:.4f}", value);
}

void put_row(std::string& out, std::string_view by, std::string_view group_name, const AuditedItem& item,
             const Counts& counts, std::uint64_t line_days) {
    const Rate rate = rate_of(counts);
    const auto order = item.over_time ? time_in_order(counts) : std::nullopt;
    const auto per = per_thousand(rate, line_days);
    put_cell(out, by);
    put_cell(out, group_name);
    put_cell(out, item.origin == OriginKind::clause   ? "clause"
                  : item.origin == OriginKind::ladder ? "ladder"
                                                      : "bundle");
    put_cell(out, item.name);
    put_cell(out, priority_name(item.priority));
    for (const std::uint64_t count : counts.outcomes) put_cell(out, std::to_string(count));
    put_cell(out, std::to_string(rate.counted));
    put_cell(out, std::to_string(rate.against()));
    put_cell(out, rate.exercised() ? number(rate.share) : "");
    put_cell(out, rate.exercised() ? number(rate.interval.low) : "");
    put_cell(out, rate.exercised() ? number(rate.interval.high) : "");
    put_cell(out, order ? number(*order) : "");
    put_cell(out, std::to_string(line_days));
    put_cell(out, per ? number(per->rate) : "");
    put_cell(out, per ? number(per->interval.low) : "");
    put_cell(out, per ? number(per->interval.high) : "");
    const auto of_lines = rate_of_lines(counts);
    put_cell(out, of_lines ? number(of_lines->design_effect) : "");
    put_cell(out, of_lines ? number(of_lines->interval.low) : "");
    put_cell(out, of_lines ? number(of_lines->interval.high) : "", true);
}

void put_group(std::string& out, const Audited& audited, std::string_view by, std::string_view name,
               const Group& group, bool whole) {
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        const Counts counts = i < group.counts.size() ? group.counts[i] : Counts{};
        if (whole || anything_in(counts)) put_row(out, by, name, audited.items[i], counts, group.line_days);
    }
}

}  // namespace

std::string summary_csv(const Audited& audited, const Tally& tally) {
    std::string out =
        "by,group,origin,item,priority,met,late,missed,early,not_met,excused,no_longer_due,pending,not_"
        "assessable,"
        "counted,against,rate,rate_low_95,rate_high_95,time_in_order,line_days,against_per_1000_line_days,"
        "against_per_1000_low_95,against_per_1000_high_95,design_effect,rate_low_95_of_lines,rate_high_95_of_"
        "lines\r\n";
    put_group(out, audited, "all", "", tally.all, true);
    for (const auto& [unit, group] : tally.by_care_unit)
        put_group(out, audited, "care_unit", unit, group, false);
    for (const auto& [month, group] : tally.by_month) {
        put_group(out, audited, "month", month_name(month), group, false);
    }
    for (const auto& [attribute, groups] : tally.by) {
        for (const auto& [value, group] : groups) put_group(out, audited, attribute, value, group, false);
    }
    return out;
}

}  // namespace linelaw::runtime
