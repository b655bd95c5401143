// The auditor's round: what was settled after chart review, what is new and gone, how reviewers agree with
// the tool.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "runtime/report_html.hpp"
#include "runtime/report_sections.hpp"

namespace linelaw::runtime::sections {
namespace {

using html::escaped;

std::string item_link(const Audited& audited, std::size_t item) {
    const std::string& name = audited.items[item].name;
    return fmt::format("<a href=\"#{}\">{}</a>", html::anchor("item", name), escaped(name));
}

std::string rates_after_review(const Audited& audited, const Tally& tally) {
    std::vector<std::vector<std::string>> rows;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        const std::uint64_t settled = settled_of(tally, i);
        if (settled == 0) continue;
        const Rate recorded = rate_of(tally.all.counts[i]);
        const Rate reviewed = rate_of(after_review(tally, i));
        rows.push_back({item_link(audited, i), grouped(settled), grouped(recorded.against()),
                        html::rate_words(recorded), grouped(reviewed.against()), html::rate_words(reviewed)});
    }
    if (rows.empty()) return "";
    return html::table("Rates as recorded and after review",
                       {{"Clause", false},
                        {"Settled", true},
                        {"Against, as recorded", true},
                        {"Met, as recorded", true},
                        {"Against, after review", true},
                        {"Met, after review", true}},
                       rows);
}

std::string settled_part(const Audited& audited, const Tally& tally) {
    const ReviewTally& review = tally.review;
    if (review.settlements.empty()) return "";
    const std::vector<std::string> unmatched = review.unmatched();
    std::string out = fmt::format(
        "<h3>Settled after chart review</h3><p>{} of {} settlements are of findings in these records. Every "
        "other "
        "figure on this page is as recorded; only the table here takes the settlements in.</p>\n",
        review.settled.size(), review.settlements.size());
    out += rates_after_review(audited, tally);
    std::vector<std::vector<std::string>> rows;
    for (const auto& [id, f] : review.settled) {
        rows.push_back({audited.keys ? "<code>" + escaped(id) + "</code>" : grouped(rows.size() + 1),
                        audited.keys ? "<code>" + escaped(f.episode) + "</code>" : "left out",
                        item_link(audited, f.item), std::string(outcome_words(f.recorded)),
                        f.settled == f.recorded ? counts_against(f.recorded) ? "confirmed" : "no change"
                                                : std::string(outcome_words(f.settled)),
                        escaped(f.reason)});
    }
    if (!rows.empty()) {
        out += html::folded("The settlements as a table", html::table("Settlements",
                                                                      {{"Finding", false},
                                                                       {"Episode", false},
                                                                       {"Clause", false},
                                                                       {"As recorded", false},
                                                                       {"Settled as", false},
                                                                       {"Reason", false}},
                                                                      rows));
    }
    if (unmatched.empty()) return out;
    out += fmt::format(
        "<p class=\"signal\">{} settled {} no longer there: no opportunity in these records bears "
        "that name. The record was corrected at its opening, or is not among these.</p>",
        unmatched.size(), unmatched.size() == 1 ? "finding is" : "findings are");
    if (!audited.keys) return out;
    std::string names;
    for (const std::string& id : unmatched)
        names += (names.empty() ? "" : ", ") + ("<code>" + escaped(id) + "</code>");
    return out + "<p>" + names + "</p>\n";
}

std::string since_part(const Audited& audited, const Tally& tally) {
    if (!tally.review.since) return "";
    const SinceEarlier& since = *tally.review.since;
    std::string out = fmt::format(
        "<h3>Since the earlier run</h3><p>Of {} findings then, {} are the same, {} are gone, and {} are of "
        "episodes "
        "that are not among these records. {} are new.</p>\n",
        grouped(since.earlier), grouped(since.same), grouped(since.gone.size()), grouped(since.not_judged()),
        grouped(since.fresh));
    std::map<std::string, std::uint64_t> gone_by;
    for (const EarlierFinding& f : since.gone) ++gone_by[f.item];
    std::vector<std::vector<std::string>> rows;
    for (std::size_t i = 0; i < audited.items.size(); ++i) {
        const auto fresh = since.fresh_by.find(static_cast<std::uint32_t>(i));
        const auto gone = gone_by.find(audited.items[i].name);
        const std::uint64_t new_here = fresh == since.fresh_by.end() ? 0 : fresh->second;
        const std::uint64_t gone_here = gone == gone_by.end() ? 0 : gone->second;
        if (new_here + gone_here > 0)
            rows.push_back({item_link(audited, i), grouped(new_here), grouped(gone_here)});
    }
    if (!rows.empty())
        out +=
            html::table("New and gone, by clause", {{"Clause", false}, {"New", true}, {"Gone", true}}, rows);
    if (!since.gone.empty()) out += "<p class=\"meta\">Those gone are in <code>gone.ndjson</code>.</p>\n";
    return out;
}

std::string agreement_part(const Tally& tally) {
    if (tally.review.agreements.empty()) return "";
    std::vector<std::vector<std::string>> rows;
    for (const Agreement& a : tally.review.agreements) {
        rows.push_back({escaped(a.first) + " and " + escaped(a.second), grouped(a.table[0]),
                        grouped(a.table[1]), grouped(a.table[2]), grouped(a.table[3]), grouped(a.no_answer),
                        a.kappa ? percent(a.kappa->agreement) : "none to tell",
                        a.kappa ? fmt::format("{:.2f} ({:.2f} to {:.2f})", a.kappa->kappa,
                                              a.kappa->interval.low, a.kappa->interval.high)
                                : "not defined: all answers are alike"});
    }
    return html::table("Agreement on the sample",
                       {{"Who", false},
                        {"Both met", true},
                        {"Met, against", true},
                        {"Against, met", true},
                        {"Both against", true},
                        {"No answer", true},
                        {"Agree", true},
                        {"Kappa (95 %)", true}},
                       rows) +
           "<p class=\"meta\">Cohen’s kappa with the large-sample interval of Fleiss, Cohen and Everitt. It "
           "is of the "
           "sample as drawn, which takes met and against of each clause in turns, not of all "
           "opportunities.</p>\n";
}

std::string sample_part(const Tally& tally) {
    const Sample& sample = tally.review.sample;
    if (sample.wanted == 0) return "";
    const std::vector<Sampled> drawn = sample.drawn();
    std::set<std::uint32_t> exercised;
    std::set<std::uint32_t> seen;
    for (const auto& [key, stratum] : sample.strata) exercised.insert(key.first);
    for (const Sampled& s : drawn) seen.insert(s.item);
    std::string out = fmt::format(
        "<h3>Sample for review by hand</h3><p>{} drawn, of {} of the {} clauses and escalation steps that "
        "were "
        "exercised. The form is <code>sample.html</code>, the sheet for the answers <code>sample.csv</code>; "
        "what the "
        "program found is in <code>sample_key.ndjson</code>, apart.</p>\n",
        drawn.size(), seen.size(), exercised.size());
    if (seen.size() < exercised.size()) {
        out += fmt::format("<p class=\"signal\">Too few to see every clause: at least {} are needed.</p>\n",
                           exercised.size());
    }
    return out + agreement_part(tally);
}

}  // namespace

std::string review(const Audited& audited, const Tally& tally) {
    const std::string body = settled_part(audited, tally) + since_part(audited, tally) + sample_part(tally);
    if (body.empty()) return "";
    return "<section aria-labelledby=\"review\"><h2 id=\"review\">Review</h2>\n" + body + "</section>\n";
}

}  // namespace linelaw::runtime::sections
