// The answer first: which clauses need attention, and how sure the figures are.
#include <fmt/format.h>

#include <algorithm>

#include "runtime/comparisons.hpp"
#include "runtime/months.hpp"
#include "runtime/report_charts.hpp"
#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime::sections {
namespace {

using html::escaped;

constexpr std::size_t listed = 6;

struct Ranked {
    std::size_t item = 0;
    Rate rate;
};

// Clauses and ladders with findings against them: by priority, then by their number.
std::vector<Ranked> ranked(const Audited& audited, const Tally& tally) {
    std::vector<Ranked> out;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        if (audited.items[i].origin == OriginKind::bundle) continue;
        const Rate rate = rate_of(tally.all.counts[i]);
        if (rate.against() > 0) out.push_back({i, rate});
    }
    std::stable_sort(out.begin(), out.end(), [&](const Ranked& a, const Ranked& b) {
        const Priority pa = audited.items[a.item].priority;
        const Priority pb = audited.items[b.item].priority;
        return pa != pb ? pa < pb : a.rate.against() > b.rate.against();
    });
    return out;
}

// Where it stands apart, once looking at many is allowed for; empty where nothing does.
std::string where(const Comparisons& comparisons, std::size_t item) {
    std::string out;
    for (const Comparison& c : comparisons.by.find(by_care_unit)->second) {
        if (c.item != item || !c.apart() || !c.lower()) continue;
        out += fmt::format(" In {} {} met, {}.",
                           c.group.empty() ? "records without a care unit" : escaped(c.group),
                           html::rate_words(c.here), comparison_words(c, comparisons.made));
    }
    return out;
}

std::string signal(const Audited& audited, const Tally& tally, std::size_t item) {
    const MonthChart chart = month_chart(tally, item, audited.charts);
    std::string out;
    for (const ChartSignal s : chart.signals)
        out += fmt::format(" Run chart: {}.", signal_words(chart, s, audited.charts.rules));
    return out;
}

std::string entry(const Audited& audited, const Tally& tally, const Comparisons& comparisons,
                  const Ranked& ranked) {
    const AuditedItem& item = audited.items[ranked.item];
    const Rate& rate = ranked.rate;
    std::string out = "<li><div>";
    out += fmt::format("<h3><a href=\"#{}\">{}</a> <span class=\"badge {}\">{}</span></h3>",
                       html::anchor("item", item.name), escaped(item.sentence), priority_name(item.priority),
                       priority_name(item.priority));
    out += fmt::format("<p><span class=\"count-against\">{} of {}</span> counted against it{}.{}{}</p>",
                       grouped(rate.against()), grouped(rate.counted), rate.small() ? ", a small number" : "",
                       where(comparisons, ranked.item), signal(audited, tally, ranked.item));
    out += fmt::format("</div><div class=\"chart-side\"><span class=\"meta\">met {}</span>{}</div></li>\n",
                       html::rate_words(rate), charts::interval(rate, item.name));
    return out;
}

std::string figure(std::string_view name, const std::string& number, const std::string& note) {
    return fmt::format("<div><dt>{}</dt><dd>{}<small>{}</small></dd></div>", name, number, note);
}

std::uint64_t total(const Audited& audited, const Tally& tally, Outcome outcome) {
    std::uint64_t sum = 0;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        if (audited.items[i].origin != OriginKind::bundle) sum += count_of(tally.all.counts[i], outcome);
    }
    return sum;
}
std::uint64_t total(const Audited& audited, const Tally& tally) {
    std::uint64_t sum = 0;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        if (audited.items[i].origin != OriginKind::bundle) sum += total_of(tally.all.counts[i]);
    }
    return sum;
}

std::string figures(const Audited& audited, const Tally& tally) {
    const std::uint64_t against = against_in(audited, tally);
    const std::uint64_t met = total(audited, tally, Outcome::met);
    std::string out = "<dl class=\"figures\">";
    out += figure("Records judged", grouped(tally.judged),
                  fmt::format("of {} read; {} quarantined", grouped(tally.read), grouped(tally.quarantined)));
    out += figure("Opportunities counted", grouped(met + against),
                  fmt::format("{} met, {} against", grouped(met), grouped(against)));
    out += figure(
        "Not counted", grouped(total(audited, tally) - met - against),
        fmt::format("{} not assessable, {} pending", grouped(total(audited, tally, Outcome::not_assessable)),
                    grouped(total(audited, tally, Outcome::pending))));
    out += figure("Line-days", grouped(tally.all.line_days),
                  fmt::format("calendar days, each line; {} patients’ line-days at {:02}:{:02}",
                              grouped(patient_days(tally)), audited.count_at / microseconds_per_hour,
                              audited.count_at / microseconds_per_minute % 60));
    if (const auto rate = per_thousand(against, tally.all.line_days); rate && met + against > 0) {
        out += figure("Against per 1,000 line-days", fmt::format("{:.1f}", rate->rate),
                      "clauses and escalations together; a measure of workload, not for comparing");
    }
    return out + "</dl>\n";
}

std::string names(const Audited& audited, const std::vector<std::size_t>& items) {
    std::string out;
    for (const std::size_t i : items) {
        out += fmt::format("{}<a href=\"#{}\"><code>{}</code></a>", out.empty() ? "" : ", ",
                           html::anchor("item", audited.items[i].name), escaped(audited.items[i].name));
    }
    return out;
}

std::string compared(const Comparisons& comparisons) {
    const std::vector<Comparison>& cells = comparisons.by.find(by_care_unit)->second;
    if (cells.empty()) return "";
    const auto apart =
        std::count_if(cells.begin(), cells.end(), [](const Comparison& c) { return c.apart(); });
    return fmt::format(
        "<li>Care units: each was compared with the others together, clause by clause, in {} comparisons. {} "
        "by "
        "Fisher’s exact test at 5 % shared out among all {} comparisons of this page (Bonferroni) (<a "
        "href=\"#places\">where</a>). A difference is a question to ask, not a verdict.</li>",
        cells.size(),
        apart == 0 ? "None stands apart" : fmt::format("{} {} apart", apart, apart == 1 ? "stands" : "stand"),
        comparisons.made);
}

// Clauses of whose opportunities more are unknown than count against them, the most unknown first.
std::string unknown(const Audited& audited, const Tally& tally) {
    std::vector<std::size_t> items;
    const auto unknown_of = [&](std::size_t i) {
        return count_of(tally.all.counts[i], Outcome::not_assessable);
    };
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        if (audited.items[i].origin == OriginKind::bundle) continue;
        const Rate rate = rate_of(tally.all.counts[i]);
        if (rate.exercised() && unknown_of(i) > rate.against()) items.push_back(i);
    }
    if (items.empty()) return "";
    std::stable_sort(items.begin(), items.end(),
                     [&](std::size_t a, std::size_t b) { return unknown_of(a) > unknown_of(b); });
    const std::size_t more = items.size() - std::min(listed, items.size());
    items.resize(items.size() - more);
    return fmt::format(
        "<li>More is unknown (not assessable) than counts against, so that the rate may be far from what it "
        "looks like: {}{}.</li>",
        names(audited, items), more == 0 ? "" : fmt::format(" and {} more", more));
}

std::string how_sure(const Audited& audited, const Tally& tally, const Comparisons& comparisons) {
    std::vector<std::size_t> unexercised;
    std::vector<std::size_t> small;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        const Rate rate = rate_of(tally.all.counts[i]);
        if (!rate.exercised()) {
            if (audited.items[i].asks_nothing.empty()) unexercised.push_back(i);
        } else if (rate.small()) {
            small.push_back(i);
        }
    }
    const std::uint64_t opportunities = total(audited, tally);
    const std::uint64_t unassessable = total(audited, tally, Outcome::not_assessable);
    std::string out = "<h3 id=\"sure\">How sure</h3><ul class=\"sure\">";
    if (tally.quarantined > 0) {
        out += fmt::format(
            "<li>{} of {} records could not be read as they are and stand in no figure (<a "
            "href=\"#unused\">why</a>).</li>",
            grouped(tally.quarantined), grouped(tally.read));
    }
    if (const std::uint64_t repeated = tally.episodes.repeated(); repeated > 0) {
        out += fmt::format(
            "<li>Records of an episode that another record was of, too: {} of {} judged. Each counts by "
            "itself: "
            "do the extracts overlap?</li>",
            grouped(repeated), grouped(tally.judged));
    }
    if (unassessable > 0 && opportunities > 0) {
        out += fmt::format(
            "<li>{} of {} opportunities ({}) could not be assessed from what is recorded. "
            "They count neither for nor against.</li>",
            grouped(unassessable), grouped(opportunities),
            percent(static_cast<double>(unassessable) / static_cast<double>(opportunities)));
    }
    out += unknown(audited, tally);
    if (!small.empty()) {
        out += fmt::format("<li>Fewer than {} counted, so read the interval and not the rate: {}.</li>", few,
                           names(audited, small));
    }
    if (!unexercised.empty()) {
        out +=
            fmt::format("<li>No evidence either way, because nothing in the records exercised them: {}.</li>",
                        names(audited, unexercised));
    }
    out +=
        "<li>Every rate has its Wilson 95 % interval, which takes opportunities as independent. Those of one "
        "line go together: where the lines show it, the wider interval stands beside it, clause by clause. "
        "The tests of differences allow for it.</li>";
    if (std::any_of(audited.items.begin(), audited.items.end(),
                    [](const AuditedItem& item) { return item.over_time; }))
        out +=
            "<li>Of <code>at least every</code>, what was done counts as soon as it is done, what was not "
            "only "
            "once its time is past. So a short record, and the first months of a long one, look better than "
            "they are: compare only months that begin more than the longest interval after the record "
            "does.</li>";
    out += compared(comparisons);
    return out + "</ul>\n";
}

}  // namespace

std::string attention(const Audited& audited, const Tally& tally, const Comparisons& comparisons) {
    const std::vector<Ranked> order = ranked(audited, tally);
    std::string out =
        "<section aria-labelledby=\"attention\"><h2 id=\"attention\">What needs attention</h2>\n";
    if (tally.judged == 0) {
        out += "<p class=\"lead\">No record could be judged.</p>\n";
    } else if (order.empty()) {
        out += "<p class=\"lead\">Nothing counts against any clause.</p>\n";
    } else {
        std::size_t critical = 0;
        for (const Ranked& r : order)
            critical += audited.items[r.item].priority == Priority::critical ? 1 : 0;
        out += fmt::format(
            "<p class=\"lead\">{} of {} clauses and escalation steps {} outcomes that count against {}; {} "
            "of them {} critical.</p>\n",
            order.size(),
            std::count_if(audited.items.begin(), audited.items.end(),
                          [](const AuditedItem& i) { return i.origin != OriginKind::bundle; }),
            order.size() == 1 ? "has" : "have", order.size() == 1 ? "it" : "them", critical,
            critical == 1 ? "is" : "are");
        out += "<ol class=\"attention\">";
        for (std::size_t i = 0; i < std::min(listed, order.size()); ++i)
            out += entry(audited, tally, comparisons, order[i]);
        out += "</ol>\n";
        if (order.size() > listed) {
            out += fmt::format(
                "<p class=\"meta\">By priority, then by the number against; {} more below, under <a "
                "href=\"#clauses\">Clause by clause</a>.</p>",
                order.size() - listed);
        } else {
            out += "<p class=\"meta\">By priority, then by the number against.</p>";
        }
    }
    return out + figures(audited, tally) + how_sure(audited, tally, comparisons) + "</section>\n";
}

}  // namespace linelaw::runtime::sections
