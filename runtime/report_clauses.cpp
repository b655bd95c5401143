// Clause by clause: its sentence, its rate with the interval, its outcomes, its months.
#include <fmt/format.h>

#include "runtime/findings_words.hpp"
#include "runtime/months.hpp"
#include "runtime/report_charts.hpp"
#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime::sections {
namespace {

using html::escaped;

// Works without a script: report.css looks whether the box is ticked.
constexpr std::string_view on_paper =
    "<p class=\"meta\">An asterisk marks a small number.</p><p class=\"screen-only\"><label><input "
    "type=\"checkbox\" id=\"print-all\"> When printing, print the charts, months, worst findings and "
    "timelines of "
    "every clause too (many pages)</label></p><p class=\"paper-only\">Each clause’s outcomes, months and "
    "worst "
    "findings are on the page as it is shown on a screen, where a box says to print them too.</p>\n";

constexpr std::size_t fewest_months = 2;  // fewer are no chart

// "; 71–88 % where what is of one line is taken together"; nothing where the lines do not show it.
std::string wider_by_lines(const Counts& counts) {
    const auto of_lines = rate_of_lines(counts);
    if (!of_lines || of_lines->design_effect == 1) return "";
    return "; " + percent_range(of_lines->interval) + " where what is of one line is taken together";
}

std::string facts(const AuditedItem& item, const Counts& counts, const Tally& tally, std::size_t index) {
    const std::uint64_t line_days = tally.all.line_days;
    const std::uint64_t settled = settled_of(tally, index);
    const Rate reviewed = rate_of(after_review(tally, index));
    const Rate rate = rate_of(counts);
    std::string list;
    if (item.over_time) {
        if (const auto order = time_in_order(counts)) {
            list += fmt::format(
                "<li>Time in order: {} of the time over which it applied, nothing was past its limit.</li>",
                percent(*order));
        }
    }
    if (const auto median = lateness_quantile(counts, 0.5)) {
        list += fmt::format(
            "<li>Those that came late came {} past the limit (median); nine of ten within {} (from fixed "
            "bins). Those missed never came and are not in these two.</li>",
            lateness_words(*median), lateness_words(*lateness_quantile(counts, 0.9)));
    }
    if (const auto per = per_thousand(rate, line_days)) {
        list +=
            fmt::format("<li>Against, per 1,000 line-days: {:.2f} ({:.2f}–{:.2f}, exact Poisson 95 %).</li>",
                        per->rate, per->interval.low, per->interval.high);
    }
    if (settled > 0) {
        list += fmt::format("<li>After chart review (<a href=\"#review\">{} settled</a>): {} met.</li>",
                            settled, html::rate_words(reviewed));
    }
    std::string out = "<div class=\"facts\"><div><div class=\"rate\">";
    if (rate.exercised()) {
        out += fmt::format("{} met<small>{} of {} counted; 95 % interval {}{}{}</small></div>{}",
                           percent(rate.share), grouped(rate.met), grouped(rate.counted),
                           percent_range(rate.interval), wider_by_lines(counts),
                           rate.small() ? "; a small number" : "", charts::interval(rate, item.name));
    } else if (!item.asks_nothing.empty()) {
        out += fmt::format("Nothing to count<small>{}; nothing else is asked here</small></div>",
                           html::escaped(item.asks_nothing));
    } else {
        out += "No evidence<small>nothing that counts exercised it; this is not 100 %</small></div>";
    }
    return out + "</div><ul>" + list + "</ul></div>\n";
}

std::string signal_lines(const MonthChart& chart, const ChartRules& rules) {
    std::string below;
    std::string above;
    for (const MonthPoint& point : chart.points) {
        if (point.below()) below += (below.empty() ? "" : ", ") + month_name(point.month);
        if (point.above()) above += (above.empty() ? "" : ", ") + month_name(point.month);
    }
    const auto beyond = [&](const char* side, const std::string& months) {
        if (months.empty()) return std::string();
        return fmt::format(
            "<p class=\"signal\">{} the control limits (3 standard deviations; diamonds): {}.</p>", side,
            months);
    };
    std::string out;
    for (const ChartSignal signal : chart.signals) {
        out += fmt::format("<p class=\"signal\">{}.</p>",
                           Words::sentence_case(signal_words(chart, signal, rules)));
    }
    out += beyond("Below", below) + beyond("Above", above);
    if (!out.empty()) return out;
    return chart.run.longest_allowed
               ? "<p class=\"meta\">No signal by the rules that were asked for. It does not follow that "
                 "nothing "
                 "changed: a small change, or one in few months, shows none.</p>"
               : "<p class=\"meta\">Fewer than ten useful months: too few for run-chart signals.</p>";
}

std::string months(const Audited& audited, const Tally& tally, std::size_t index) {
    const AuditedItem& item = audited.items[index];
    const MonthChart chart = month_chart(tally, index, audited.charts);
    if (chart.points.size() < fewest_months) return "";
    std::vector<std::vector<std::string>> rows;
    for (const MonthPoint& point : chart.points) {
        Rate rate;
        rate.met = point.met;
        rate.counted = point.counted;
        rate.share = static_cast<double>(point.met) / static_cast<double>(point.counted);
        rate.interval = wilson(rate.met, rate.counted);
        const auto per = per_thousand(rate, point.line_days);
        rows.push_back(
            {month_name(point.month), grouped(rate.met), grouped(rate.counted), html::rate_words(rate),
             per ? fmt::format("{:.2f} ({:.2f}–{:.2f})", per->rate, per->interval.low, per->interval.high)
                 : "no line-days",
             value_words(chart.kind, point.limits.lower) + " to " +
                 value_words(chart.kind, point.limits.upper),
             point.below()   ? "below"
             : point.above() ? "above"
                             : ""});
    }
    const std::string caution = item.over_time
                                    ? "<p class=\"meta\">The months within one interval of the record’s "
                                      "beginning look better than they are (<a href=\"#sure\">why</a>).</p>"
                                    : "";
    return "<figure>" + charts::run(chart, item.name) + "<figcaption>" +
           signal_lines(chart, audited.charts.rules) + caution + "</figcaption></figure>" +
           html::folded(
               "The months as a table",
               html::table("By month: " + item.name,
                           {{"Month", false},
                            {"Met", true},
                            {"Counted", true},
                            {"Share met (95 %, Wilson)", true},
                            {"Against per 1,000 line-days (95 %, Poisson)", true},
                            {fmt::format("Control limits ({}-chart, 3 sd)", control_name(chart.kind)), true},
                            {"Signal", false}},
                           rows));
}

// Whoever looks at many charts finds points beyond the limits by chance alone: how many, to be set beside
// those that are.
std::string expected_by_chance(const Audited& audited, const Tally& tally) {
    std::size_t points = 0;
    std::size_t beyond = 0;
    double expected = 0;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        const MonthChart chart = month_chart(tally, i, audited.charts);
        if (chart.points.size() < fewest_months) continue;
        points += chart.points.size();
        for (const MonthPoint& point : chart.points) {
            beyond += point.below() || point.above() ? 1 : 0;
            expected += point.chance_beyond;
        }
    }
    if (points == 0) return "";
    return fmt::format(
        "<p class=\"meta\">The charts of all months together have {} points, of which {} {} beyond the "
        "control "
        "limits (3 standard deviations); about {:.1f} would by chance alone. Neither these limits nor the "
        "rules "
        "of the run charts are corrected for the number of charts.</p>\n",
        grouped(points), grouped(beyond), beyond == 1 ? "lies" : "lie", expected);
}

std::string outcome_table(const AuditedItem& item, const Counts& counts) {
    std::vector<std::vector<std::string>> rows;
    for (std::size_t i = 0; i < outcome_count; ++i) {
        const auto outcome = static_cast<Outcome>(i);
        const char* counted = counts_for(outcome)       ? "for"
                              : counts_against(outcome) ? "against"
                                                        : "not counted";
        rows.push_back({std::string(outcome_words(outcome)), grouped(counts.outcomes[i]), counted});
    }
    return html::folded("The outcomes as a table",
                        html::table("Outcomes: " + item.name,
                                    {{"Outcome", false}, {"Opportunities", true}, {"Counts", false}}, rows));
}

std::string article(const Audited& audited, const Tally& tally, std::size_t index) {
    const AuditedItem& item = audited.items[index];
    const Counts& counts = tally.all.counts[index];
    std::string out =
        fmt::format("<article id=\"{}\"><h3><code>{}</code> <span class=\"badge {}\">{}</span></h3>",
                    html::anchor("item", item.name), escaped(item.name), priority_name(item.priority),
                    priority_name(item.priority));
    out += fmt::format("<p class=\"sentence\">{}</p>\n", escaped(item.sentence));
    out += facts(item, counts, tally, index);
    if (total_of(counts) > 0) {
        out += charts::outcomes(counts, item.name) + outcome_table(item, counts) +
               months(audited, tally, index) + worst_of(tally, index);
    }
    for (const std::string& source : item.sources)
        out += fmt::format("<p class=\"meta\">Source: {}.</p>", escaped(source));
    if (!item.advice.empty()) out += fmt::format("<p class=\"meta\">Advice: {}</p>", escaped(item.advice));
    return out + "</article>\n";
}

// "3 late, 1 missed"; of what counts against, or of what is not counted.
std::string told(const Counts& counts, bool against) {
    std::string out;
    for (std::size_t i = 0; i < outcome_count; ++i) {
        const auto outcome = static_cast<Outcome>(i);
        if (counts.outcomes[i] == 0 || counts_for(outcome) || counts_against(outcome) != against) continue;
        out += fmt::format("{}{} {}", out.empty() ? "" : ", ", grouped(counts.outcomes[i]),
                           outcome_words(outcome));
    }
    return out.empty() ? "none" : out;
}

// All of one kind in one table: what is looked at first, and what is printed.
std::string overview(const Audited& audited, const Tally& tally, OriginKind origin,
                     std::string_view caption) {
    std::vector<std::vector<std::string>> rows;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        const AuditedItem& item = audited.items[i];
        if (item.origin != origin) continue;
        const Counts& counts = tally.all.counts[i];
        const Rate rate = rate_of(counts);
        std::string met = rate.exercised()            ? html::rate_words(rate) + (rate.small() ? " *" : "")
                          : item.asks_nothing.empty() ? "no evidence"
                                                      : "nothing to count: " + escaped(item.asks_nothing);
        const auto order = item.over_time ? time_in_order(counts) : std::nullopt;
        rows.push_back(
            {fmt::format("<a href=\"#{}\"><code>{}</code></a><span class=\"asked\">{}</span>",
                         html::anchor("item", item.name), escaped(item.name), escaped(item.sentence)),
             std::string(priority_name(item.priority)),
             rate.exercised() ? fmt::format("{} of {}", grouped(rate.met), grouped(rate.counted)) : "",
             std::move(met), told(counts, true), told(counts, false), order ? percent(*order) : ""});
    }
    return html::table(caption,
                       {{"What is asked", false},
                        {"Priority", false},
                        {"Met of counted", true},
                        {"Rate (95 %, Wilson)", true},
                        {"Against", false},
                        {"Not counted", false},
                        {"Time in order", true}},
                       rows);
}

std::string group(const Audited& audited, const Tally& tally, OriginKind origin, std::string_view caption) {
    std::string out;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        if (audited.items[i].origin == origin) out += article(audited, tally, i);
    }
    if (out.empty()) return out;
    return "<div class=\"overview\">" + overview(audited, tally, origin, caption) +
           "</div><div class=\"by-choice\">\n" + out + "</div>";
}

}  // namespace

std::string clauses(const Audited& audited, const Tally& tally) {
    std::string out = "<section aria-labelledby=\"clauses\"><h2 id=\"clauses\">Clause by clause</h2>\n" +
                      std::string(on_paper) + expected_by_chance(audited, tally) +
                      group(audited, tally, OriginKind::clause, "Clauses") + "</section>\n";
    if (const std::string ladders = group(audited, tally, OriginKind::ladder, "Escalations");
        !ladders.empty()) {
        out +=
            "<section aria-labelledby=\"ladders\"><h2 id=\"ladders\">Escalations</h2><p>Each step of a "
            "ladder is an "
            "opportunity of its own; so is each hold.</p>\n" +
            ladders + "</section>\n";
    }
    if (const std::string bundles = group(audited, tally, OriginKind::bundle, "Bundles"); !bundles.empty()) {
        out +=
            "<section aria-labelledby=\"bundles\"><h2 id=\"bundles\">Bundles, all or none</h2><p>A bundle is "
            "met only "
            "where none of its clauses counts against and none is unassessable.</p>\n" +
            bundles + "</section>\n";
    }
    return out;
}

}  // namespace linelaw::runtime::sections
