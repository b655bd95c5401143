// The worst findings, each with its episode's timeline; and what was not used of the records, and why.
#include <fmt/format.h>

#include <algorithm>
#include <set>

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
    return html::folded("The episode as a table",
                        html::table("Episode " + finding.episode + ", times in " + audited.time_zone,
                                    {{"Clause", false},
                                     {"Opened", false},
                                     {"Due", false},
                                     {"Limit", false},
                                     {"Closed", false},
                                     {"Outcome", false}},
                                    rows));
}

std::string finding_entry(const Audited& audited, const WorstFinding& finding, const Zone& zone,
                          bool with_timeline) {
    const AuditedItem& item = audited.items[finding.item];
    std::string out = fmt::format(
        "<li id=\"finding-{}\"><h3>{} <span class=\"badge {}\">{}</span></h3><p class=\"said\">{}</p><p "
        "class=\"meta\">Episode "
        "<code>{}</code>{}{} <a href=\"#{}\"><code>{}</code></a>, finding <code>{}</code></p>",
        finding.id, escaped(Words::sentence_case(std::string(outcome_words(finding.outcome)))),
        priority_name(finding.priority), priority_name(finding.priority), escaped(finding.said),
        escaped(finding.episode),
        finding.care_unit.empty() ? "" : ", care unit " + escaped(finding.care_unit),
        item.origin == OriginKind::ladder ? ", escalation" : ", clause", html::anchor("item", item.name),
        escaped(item.name), finding.id);
    if (with_timeline) {
        out += "<figure>" + charts::timeline(audited, finding, zone) +
               "<figcaption class=\"meta\">Grey: waited for. Coloured and striped: past its limit. Disc: "
               "met. Diamond: "
               "against. Ring: not counted.</figcaption></figure>" +
               bars_table(audited, finding, zone);
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
        rows.push_back({"<code>" + escaped(fault.substr(0, space)) + "</code>",
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

std::string worst(const Audited& audited, const Tally& tally) {
    const Zone zone = Zone::find(audited.time_zone).value_or(Zone::utc());
    std::string out = "<section aria-labelledby=\"worst\"><h2 id=\"worst\">Worst findings</h2>\n";
    if (tally.worst.empty()) return out + "<p>Nothing counts against any clause.</p></section>\n";
    out += fmt::format(
        "<p>The worst {} of {}: by priority, then by how long past the limit, then by key. Times are those "
        "of "
        "{}.</p><ol class=\"findings\">",
        tally.worst.size(), grouped(against_in(audited, tally)), escaped(audited.time_zone));
    std::set<std::string> drawn;
    for (const WorstFinding& finding : tally.worst) {
        out += finding_entry(audited, finding, zone, drawn.insert(finding.episode).second);
    }
    return out + "</ol></section>\n";
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
