// Where: a heat map of clause by care unit, and the same for whatever the audit was asked to group by.
#include <fmt/format.h>

#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime::sections {
namespace {

using html::escaped;

std::string group_name(const std::string& name) {
    return name.empty() ? "not recorded" : escaped(name);
}

std::string cell(const Counts& counts) {
    const Rate rate = rate_of(counts);
    if (!rate.exercised()) return "<td class=\"none\"><span>no evidence</span></td>";
    return fmt::format("<td style=\"--against-share:{:.3f}\">{}<span>{} of {}{}</span></td>", 1 - rate.share,
                       percent(rate.share), grouped(rate.met), grouped(rate.counted),
                       rate.small() ? " *" : "");
}

std::string heat_map(const Audited& audited, const std::string& caption,
                     const std::map<std::string, Group>& groups) {
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
        for (const auto& [name, group] : groups) out += cell(group.counts[i]);
        out += "</tr>\n";
    }
    return out + "</tbody></table></div>\n";
}

}  // namespace

std::string places(const Audited& audited, const Tally& tally) {
    std::string out = "<section aria-labelledby=\"places\"><h2 id=\"places\">Where</h2>\n";
    out += fmt::format(
        "<p>Share met, and met of counted. The stronger a cell’s colour, the larger the share against. An "
        "asterisk marks fewer than {} counted. Clauses that no unit exercised are left out here.</p>\n",
        few);
    out += heat_map(audited, "Share met, by clause and care unit", tally.by_care_unit);
    for (const auto& [attribute, groups] : tally.by) {
        out += heat_map(audited, "Share met, by clause and " + attribute, groups);
    }
    return out + "</section>\n";
}

}  // namespace linelaw::runtime::sections
