// How to read the page, and what it was made from.
#include <fmt/format.h>

#include "runtime/findings_words.hpp"
#include "runtime/months.hpp"
#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime::sections {
namespace {

using html::escaped;

std::string term(std::string_view name, const std::string& meaning) {
    return fmt::format("<dt>{}</dt><dd>{}</dd>", name, meaning);
}

}  // namespace

std::string coverage(const Audited& audited, const Tally& tally) {
    std::vector<std::vector<std::string>> rows;
    for (const CoverageRow& row : coverage_rows(audited, tally))
        rows.push_back({escaped(row.who), escaped(row.note), grouped(row.judged.episodes),
                        grouped(row.judged.line_days)});
    if (rows.empty()) return "";
    return "<section aria-labelledby=\"editions\"><h2 id=\"editions\">Which policy judged what</h2>" +
           html::table(
               "Each episode is judged by the policy that governs it, in the edition in force on the day",
               {{"Policy", false}, {"Days", false}, {"Episodes", true}, {"Line-days", true}}, rows) +
           "</section>\n";
}

std::string method(const Audited& audited, const Tally& tally) {
    std::string out =
        "<section aria-labelledby=\"method\"><h2 id=\"method\">How to read it</h2><dl class=\"terms\">";
    out += term("Opportunity",
                "One occasion on which a clause asked for something. Each has exactly one outcome. Rates are "
                "outcomes over opportunities, never over records.");
    out +=
        term("Rate",
             "Met, of those counted: met and against (late, missed, early, not met). Excused, no longer due, "
             "pending and not assessable count in neither number and are always shown beside it.");
    out += term("Interval",
                "Wilson’s score interval, 95 %, without continuity correction. Where what is of one line is "
                "taken together: the same of as many fewer opportunities as the design effect says.");
    out += term(
        "Month",
        "That in which it was due, or in which it closed where that came first; of what has no due time, "
        "that of the event.");
    out += term(
        "Line-days",
        fmt::format(
            "Two readings. Each line: the calendar days ({}) on which it was in place; the day "
            "of insertion is day 1. Patients: those with at least one line, counted once a day "
            "at {:02}:{:02}; two lines in one patient give one. Rates per 1,000 use the first, of all lines, "
            "even where a clause concerns few of them: they are for workload, not for comparing "
            "units of another mix.",
            escaped(audited.time_zone), audited.count_at / microseconds_per_hour,
            audited.count_at / microseconds_per_minute % 60));
    out += term("Time in order",
                "Share of the time over which a clause applied in which none of its opportunities was past "
                "its limit. One neglect of 28 days is one opportunity, good care is four; this figure sees "
                "the difference.");
    out += term(
        "Run chart",
        fmt::format(
            "{} by month about the median (dashed); months in which nothing was counted are left out. "
            "Signals: {}. "
            "<code>shift</code> is a run longer, and <code>crossings</code> are fewer, than the limits that "
            "depend "
            "on the number of months off the median allow (Anhøj and Olesen 2014). Dotted: limits of a "
            "{}-chart, 3 "
            "standard deviations about the whole period’s value for each month’s number, cut at zero.{}",
            Words::sentence_case(std::string(value_name(audited.charts.control))),
            audited.charts.rules == ChartRules{}
                ? "<code>shift</code> and <code>crossings</code>"
                : "<code>" + escaped(write_chart_rules(audited.charts.rules)) + "</code>",
            control_name(audited.charts.control),
            audited.charts.control == ControlKind::c ? " A c-chart takes the months for equally large."
                                                     : ""));
    out += term(
        "Comparison of care units",
        "Each against all the others together, where both have at least the small number counted. Marked "
        "is only what Fisher’s exact test finds at 5 % shared out among all comparisons made, by care unit "
        "and by what else was grouped by (Bonferroni), and whose interval leaves zero out: Newcombe’s "
        "hybrid score interval of the difference of the shares met, widened for as many. Both are "
        "reckoned as though the opportunities were as many times fewer as those of one line go together (the "
        "design "
        "effect). Nothing is ranked.");
    out += term("Small number",
                fmt::format("Fewer than {} counted. The mark is this program’s own choice.", few));
    out += "</dl>";
    std::vector<std::vector<std::string>> rows = {
        {"Policy", escaped(audited.title)},
        {"Edition", escaped(audited.edition)},
        {"Content hash", "<code>" + escaped(audited.content_hash) + "</code>"},
    };
    const std::vector<CoverageRow> judges = coverage_rows(audited, tally);  // the editions first
    for (std::size_t i = 0; i < audited.editions.size(); ++i) {
        const AuditedEdition& e = audited.editions[i];
        const std::string review = e.review_by.empty() ? "" : ", review by " + e.review_by;
        rows.push_back({escaped(judges[i].who), escaped(judges[i].note) + ", <code>" +
                                                    escaped(e.content_hash) + "</code>" + escaped(review)});
    }
    if (!audited.owner.empty()) rows.push_back({"Owner", escaped(audited.owner)});
    if (!audited.in_force.empty()) rows.push_back({"In force", escaped(audited.in_force)});
    if (!audited.review_by.empty()) rows.push_back({"Review by", escaped(audited.review_by)});
    rows.push_back({"Time zone", escaped(audited.time_zone)});
    rows.push_back({"Horizon", audited.as_of.empty()
                                   ? "each record’s own end"
                                   : "each record’s own end, else " + escaped(audited.as_of)});
    if (tally.first) rows.push_back({"Known from", write_instant(*tally.first)});
    if (tally.last) rows.push_back({"Known until", write_instant(*tally.last)});
    rows.push_back({"Values that cannot be used",
                    audited.strict ? "quarantine their record (strict)" : "are set aside"});
    rows.push_back({"Program", "linelaw " + escaped(audited.program_version)});
    return out + html::table("What this page was made from", {{"", false}, {"", false}}, rows) +
           "</section>\n";
}

}  // namespace linelaw::runtime::sections
