#include "runtime/report.hpp"

#include <fmt/format.h>

#include "runtime/findings_words.hpp"
#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime {
namespace {

std::string known(const Audited& audited, const Tally& tally) {
    if (!tally.first || !tally.last) return "no record was judged";
    const Zone zone = Zone::of(audited.time_zone);
    return fmt::format("Records from {} to {}", Words::date(zone.date_of(*tally.first)),
                       Words::date(zone.date_of(*tally.last)));
}

std::string head(const Audited& audited, const Tally& tally) {
    std::string out =
        fmt::format("<header><p class=\"eyebrow\">Line-care audit</p><h1>{}</h1><p class=\"meta\">",
                    html::escaped(audited.title));
    if (!audited.edition.empty())
        out += (audited.editions.empty() ? "Edition " : "Editions ") + html::escaped(audited.edition) + ". ";
    out += known(audited, tally) + ".</p>";
    out += fmt::format(
        "<p class=\"meta\">Findings judge documentation, not patients and not people. Before acting on one, "
        "{}; "
        "above all with neonates, with a sensitivity, and where a catheter has moved: it is never pushed "
        "back "
        "in. A policy that came with this program is invented, and not one to adopt.</p>",
        before_acting);
    return out + R"(<nav aria-label="Sections"><ul><li><a href="#attention">What needs attention</a></li>
<li><a href="#places">Where</a></li><li><a href="#clauses">Clause by clause</a></li>
<li><a href="#worst">Worst findings</a></li>)" +
           std::string(sections::review(audited, tally).empty() ? ""
                                                                : "<li><a href=\"#review\">Review</a></li>") +
           R"(<li><a href="#unused">Not used</a></li>
<li><a href="#method">How to read it</a></li></ul></nav></header>
)";
}

}  // namespace

std::string report_html(const Audited& audited, const Tally& tally) {
    const Comparisons comparisons = compare_groups(audited, tally);
    std::string body = head(audited, tally);
    body += "<main id=\"main\">\n";
    body += sections::attention(audited, tally, comparisons);
    body += sections::coverage(audited, tally);
    body += sections::places(audited, tally, comparisons);
    body += sections::clauses(audited, tally);
    body += sections::worst(audited, tally);
    body += sections::review(audited, tally);
    body += sections::unused(audited, tally);
    body += sections::method(audited, tally);
    body += "</main>\n";
    body += fmt::format("<footer>Made by linelaw {} from policy {}, without network or script.</footer>",
                        html::escaped(audited.program_version), html::escaped(audited.content_hash));
    return html::page("Line-care audit: " + audited.title, body);
}

}  // namespace linelaw::runtime
