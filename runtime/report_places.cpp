// Where: a heat map of clause by care unit, and the same for whatever the audit was asked to group by.
#include <fmt/format.h>

#include "runtime/comparisons.hpp"
#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime::sections {
namespace {

using html::escaped;

std::string group_name(const std::string& name) {
    return name.empty() ? "not recorded" : escaped(name);
}

std::string cell(const Counts& counts, const Comparison* comparison, std::size_t looked_at) {
    const Rate rate = rate_of(counts);
    if (!rate.exercised()) return "<td class=\"none\"><span>no evidence</span></td>";
    std::string apart;
    if (comparison != nullptr && comparison->apart()) {
        apart = fmt::format("<span class=\"apart\" title=\"{}\">{}</span>",
                            escaped(comparison_words(*comparison, looked_at)),
                            comparison->lower() ? "▼ lower" : "▲ higher");
    }
    return fmt::format("<td style=\"--against-share:{:.3f}\">{}<span>{} of {}{}</span><span>{}</span>{}</td>",
                       1 - rate.share, percent(rate.share), grouped(rate.met), grouped(rate.counted),
                       rate.small() ? " *" : "",
                       fmt::format("{:.1f}–{:.1f}", 100 * rate.interval.low, 100 * rate.interval.high),
                       apart);
}

std::string p_words(double p) {
    return p < 0.0001 ? "&lt;0.0001" : fmt::format("{:.4f}", p);
}

std::string apart_list(const Audited& audited, const Comparisons& comparisons, std::string_view by,
                       std::string_view what) {
    const std::vector<Comparison>& cells = comparisons.by.find(by)->second;
    if (cells.empty()) return "";
    std::vector<std::vector<std::string>> rows;
    for (const Comparison& c : cells) {
        if (!c.apart()) continue;
        rows.push_back(
            {fmt::format("<a href=\"#{}\">{}</a>", html::anchor("item", audited.items[c.item].name),
                         escaped(audited.items[c.item].name)),
             group_name(c.group), html::rate_words(c.here), html::rate_words(c.elsewhere),
             points(c.widened.difference), points_range(c.usual), points_range(c.widened.interval),
             p_words(c.widened.p)});
    }
    if (rows.empty()) {
        return fmt::format(
            "<p class=\"meta\">None stands apart from the others in {} comparisons, once looking at all {} "
            "of "
            "this page is allowed for.</p>\n",
            cells.size(), comparisons.made);
    }
    return html::table(
               fmt::format("Apart from the others, of {} compared: by clause and {}", cells.size(), what),
               {{"Clause", false},
                {"Where", false},
                {"Met here", true},
                {"Met elsewhere", true},
                {"Difference, points", true},
                {"95 %", true},
                {"95 %, widened for all", true},
                {"p (Fisher)", true}},
               rows) +
           fmt::format(
               "<p class=\"meta\">In the policy’s order, not ranked. Apart is what Fisher’s exact test "
               "finds at 5 % shared out among all {} comparisons of this page (Bonferroni). Difference "
               "of shares met, here less elsewhere, with Newcombe’s hybrid score interval, and the same "
               "widened for so many.</p>\n",
               comparisons.made);
}

std::string heat_map(const Audited& audited, const Comparisons& comparisons, std::string_view by,
                     std::string_view what, const std::map<std::string, Group>& groups) {
    const std::string caption = fmt::format("Share met, by clause and {}", what);
    std::string out = fmt::format(
        "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"{0}\"><table "
        "class=\"heat\"><caption>{0}</caption><thead><tr><th scope=\"col\">Clause</th>",
        escaped(caption));
    for (const auto& [name, group] : groups) {
        out += fmt::format("<th scope=\"col\">{}<br><span class=\"soft\">{} line-days</span></th>",
                           group_name(name), grouped(group.line_days));
    }
    out += "</tr></thead><tbody>";
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        bool exercised = false;
        for (const auto& [name, group] : groups)
            exercised = exercised || rate_of(group.counts[i]).exercised();
        if (!exercised) continue;
        const AuditedItem& item = audited.items[i];
        out += fmt::format("<tr><th scope=\"row\"><a href=\"#{}\">{}</a></th>",
                           html::anchor("item", item.name), escaped(item.name));
        for (const auto& [name, group] : groups)
            out += cell(group.counts[i], comparisons.find(by, i, name), comparisons.made);
        out += "</tr>\n";
    }
    return out + "</tbody></table></div>\n" + apart_list(audited, comparisons, by, what);
}

}  // namespace

std::string places(const Audited& audited, const Tally& tally, const Comparisons& comparisons) {
    std::string out = "<section aria-labelledby=\"places\"><h2 id=\"places\">Where</h2>\n";
    out += fmt::format(
        "<p>Share met, met of counted, and the 95 % interval in per cent. The stronger a cell’s colour, the "
        "larger the "
        "share "
        "against. An asterisk marks fewer than {} counted. ▼ and ▲ mark what is lower or higher than all the "
        "others together beyond chance, with looking at many allowed for. Clauses that no unit exercised are "
        "left "
        "out here.</p>\n",
        few);
    out += heat_map(audited, comparisons, by_care_unit, "care unit", tally.by_care_unit);
    for (const auto& [attribute, groups] : tally.by)
        out += heat_map(audited, comparisons, attribute, attribute, groups);
    return out + "</section>\n";
}

}  // namespace linelaw::runtime::sections
