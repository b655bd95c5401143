// The worst findings, each with its episode's timeline; and what was not used of the records, and why.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "runtime/fault_words.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/report_charts.hpp"
#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime::sections {
namespace {

using html::escaped;

std::string bars_table(const Audited& audited, const WorstFinding& finding, const Zone& zone) {
    std::vector<std::vector<std::string>> rows;
    const auto when = [&](const std::optional<Instant>& t) {
        return t ? write_local(*t, zone) : std::string();
    };
    for (const Bar& bar : finding.bars) {
        std::string name = escaped(audited.items[bar.item].name);
        if (!bar.part.empty()) name += " " + escaped(bar.part);
        rows.push_back({name, write_local(bar.opened, zone), when(bar.due), when(bar.limit), when(bar.closed),
                        std::string(outcome_words(bar.outcome))});
    }
    return html::folded("The episode as a table", html::table((audited.keys ? "Episode " + finding.episode
                                                                            : std::string("The episode")) +
                                                                  ", times in " + audited.time_zone,
                                                              {{"Clause", false},
                                                               {"Opened", false},
                                                               {"Due", false},
                                                               {"Limit", false},
                                                               {"Closed", false},
                                                               {"Outcome", false}},
                                                              rows));
}

std::string episode_words(const Audited& audited, const WorstFinding& finding) {
    return audited.keys ? "Episode <code>" + escaped(finding.episode) + "</code>" : "Episode (key left out)";
}

// The finding with only the rows of its episode in which something counts against: what the page shows of
// those that are not among the worst of all, so that it stays short. `linelaw why` shows the whole episode.
WorstFinding where_against(const WorstFinding& finding) {
    std::set<std::pair<std::uint32_t, std::string>> rows;
    for (const Bar& bar : finding.bars) {
        if (counts_against(bar.outcome)) rows.insert({bar.item, bar.part});
    }
    WorstFinding out = finding;
    out.bars.clear();
    for (const Bar& bar : finding.bars) {
        if (rows.count({bar.item, bar.part}) != 0) out.bars.push_back(bar);
    }
    return out;
}

// `drawn_at`: the number of the finding whose timeline is this episode's; its own where it is drawn here.
std::string finding_entry(const Audited& audited, const WorstFinding& finding, const Zone& zone,
                          std::size_t number, std::size_t drawn_at) {
    const AuditedItem& item = audited.items[finding.item];
    std::string out = fmt::format(
        "<li id=\"finding-{}\"><h3>{} <span class=\"badge {}\">{}</span></h3><p class=\"said\">{}</p>",
        number, escaped(Words::sentence_case(std::string(outcome_words(finding.outcome)))),
        priority_name(finding.priority), priority_name(finding.priority), escaped(finding.said));
    if (!finding.nearest.empty())
        out += fmt::format("<p>{}.</p>", escaped(Words::sentence_case(finding.nearest)));
    out += fmt::format(
        "<p class=\"meta\">{}{}{} <a href=\"#{}\"><code>{}</code></a>{}</p>", episode_words(audited, finding),
        finding.care_unit.empty() ? "" : ", care unit " + escaped(finding.care_unit),
        item.origin == OriginKind::ladder ? ", escalation" : ", clause", html::anchor("item", item.name),
        escaped(item.name), audited.keys ? ", finding <code>" + finding.id + "</code>" : "");
    if (drawn_at == number) {
        const WorstFinding shown = number > worst_kept ? where_against(finding) : finding;
        out += "<figure class=\"by-choice\">" + charts::timeline(audited, shown, zone) +
               "<figcaption class=\"meta\">Grey: waited for. Coloured and striped: past its limit. Disc: "
               "met. Diamond: "
               "against. Ring: not counted.</figcaption></figure>" +
               bars_table(audited, shown, zone);
    } else {
        out += fmt::format("<p class=\"meta\"><a href=\"#finding-{}\">This episode’s timeline</a></p>",
                           drawn_at);
    }
    return out + "</li>\n";
}

std::string fault_table(const std::string& caption, const std::map<std::string, std::uint64_t>& by,
                        const char* unit) {
    std::vector<std::pair<std::string, std::uint64_t>> sorted(by.begin(), by.end());
    std::stable_sort(sorted.begin(), sorted.end(),
                     [](const auto& a, const auto& b) { return a.second > b.second; });
    std::vector<std::vector<std::string>> rows;
    for (const auto& [fault, count] : sorted) {
        const std::size_t space = fault.find(' ');
        const std::string pointer = fault.substr(space + 1);
        const std::string code = fault.substr(0, space);
        rows.push_back({escaped(fault_in_words(code)) + " <code>" + escaped(code) + "</code>",
                        pointer.empty() ? "the whole record" : "<code>" + escaped(pointer) + "</code>",
                        grouped(count)});
    }
    return html::table(caption, {{"Why", false}, {"Where in the record", false}, {unit, true}}, rows);
}

std::string name_table(const std::string& caption, const char* name,
                       const std::map<std::string, std::uint64_t>& by) {
    std::vector<std::vector<std::string>> rows;
    for (const auto& [key, count] : by) rows.push_back({"<code>" + escaped(key) + "</code>", grouped(count)});
    return html::table(caption, {{name, false}, {"Times", true}}, rows);
}

}  // namespace

std::vector<const WorstFinding*> listed(const Tally& tally) {
    std::vector<const WorstFinding*> out;
    std::set<std::string> ids;
    for (const WorstFinding& finding : tally.worst) {
        if (ids.insert(finding.id).second) out.push_back(&finding);
    }
    for (const auto& [item, findings] : tally.worst_of) {
        for (const WorstFinding& finding : findings) {
            if (ids.insert(finding.id).second) out.push_back(&finding);
        }
    }
    return out;
}

std::string worst_of(const Tally& tally, std::size_t item) {
    const auto found = tally.worst_of.find(static_cast<std::uint32_t>(item));
    if (found == tally.worst_of.end() || found->second.empty()) return "";
    const std::vector<const WorstFinding*> all = listed(tally);
    std::string out = "<h4>The worst</h4><ul class=\"worst\">";
    for (const WorstFinding& finding : found->second) {
        const auto at =
            std::find_if(all.begin(), all.end(), [&](const auto* f) { return f->id == finding.id; });
        out += fmt::format(
            "<li>{} <a href=\"#finding-{}\" aria-label=\"Timeline of this finding\">Timeline</a></li>",
            escaped(finding.said), at - all.begin() + 1);
    }
    return out + "</ul>\n";
}

std::string worst(const Audited& audited, const Tally& tally) {
    const Zone zone = Zone::of(audited.time_zone);
    std::string out = "<section aria-labelledby=\"worst\"><h2 id=\"worst\">Worst findings</h2>\n";
    if (tally.worst.empty()) return out + "<p>Nothing counts against any clause.</p></section>\n";
    out += fmt::format(
        "<p>The worst {} of {}: by priority, then by how long past the limit, then by key. Times are those "
        "of {}. Every finding is in <code>findings.ndjson</code>, where the audit was asked for it.</p><ol "
        "class=\"findings\">",
        tally.worst.size(), grouped(against_in(audited, tally)), escaped(audited.time_zone));
    std::map<std::string, std::size_t> drawn;  // episode, number of the finding with its timeline
    const std::vector<const WorstFinding*> all = listed(tally);
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (i == tally.worst.size()) {
            out += fmt::format(
                "</ol><div class=\"by-choice\"><h3>The worst of each clause</h3><p>Up to "
                "{} of each, "
                "without those above. Their timelines show the clauses that something counts against; "
                "<code>linelaw "
                "why</code> shows the whole episode.</p><ol class=\"findings\">",
                worst_kept_each);
        }
        const std::size_t drawn_at = drawn.emplace(all[i]->episode, i + 1).first->second;
        out += finding_entry(audited, *all[i], zone, i + 1, drawn_at);
    }
    return out + (all.size() > tally.worst.size() ? "</ol></div></section>\n" : "</ol></section>\n");
}

std::string unused(const Audited&, const Tally& tally) {
    std::string out = "<section aria-labelledby=\"unused\"><h2 id=\"unused\">Not used, and why</h2>\n";
    out += fmt::format(
        "<p>{} records read = {} judged + {} quarantined. {} values were set aside: they count as not "
        "documented, and what hangs on them is not assessable.</p>\n",
        grouped(tally.read), grouped(tally.judged), grouped(tally.quarantined),
        grouped(values_set_aside(tally)));
    if (!tally.quarantined_by.empty()) {
        out += fault_table("Quarantined records, by fault", tally.quarantined_by, "Records");
        out +=
            "<p class=\"meta\">Each is in <code>quarantine.ndjson</code> with its file, line, place and "
            "reason.</p>";
    }
    if (!tally.set_aside_by.empty()) {
        out += fault_table("Values set aside, by fault", tally.set_aside_by, "Values");
        out +=
            "<p class=\"meta\">Each is in <code>set_aside.ndjson</code> with its file, line and place.</p>";
    }
    if (!tally.seen.unknown_keys.empty()) {
        out +=
            name_table("Keys that the vocabulary does not have (mistyped?)", "Key", tally.seen.unknown_keys);
    }
    if (!tally.seen.unknown_events.empty()) {
        out +=
            name_table("Types of event that the vocabulary does not have", "Type", tally.seen.unknown_events);
    }
    const ReadCounts& seen = tally.seen;
    if (seen.after_observed_until + seen.identical_repeats + tally.without_patient_key > 0) {
        out += fmt::format(
            "<ul class=\"sure\"><li>{} events lay past the end of their record and were set "
            "aside.</li><li>{} "
            "events were identical repeats and were dropped.</li><li>{} records bear no patient key; each "
            "was "
            "taken for a patient of its own in the patients’ line-days.</li></ul>",
            grouped(seen.after_observed_until), grouped(seen.identical_repeats),
            grouped(tally.without_patient_key));
    }
    return out + "</section>\n";
}

}  // namespace linelaw::runtime::sections
