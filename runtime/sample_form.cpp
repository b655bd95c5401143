#include "runtime/sample_form.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <set>

#include "runtime/csv.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/report_html.hpp"

namespace linelaw::runtime {
namespace {

using html::escaped;

std::string row(std::string_view name, const std::string& value) {
    return fmt::format("<dt>{}</dt><dd>{}</dd>", name, value);
}

std::string entry(const Audited& audited, const Sampled& sampled, std::size_t number, const Words& words) {
    const AuditedItem& item = audited.items[sampled.item];
    std::string out = fmt::format(
        "<li class=\"review\" id=\"number-{0}\"><h2>{0}. {1}</h2><p class=\"sentence\">{2}</p><dl "
        "class=\"facts\">",
        number, escaped(item.name), escaped(item.sentence));
    if (audited.keys) out += row("Episode", "<code>" + escaped(sampled.episode) + "</code>");
    out += row("Record", "<code>" + escaped(sampled.place) + "</code>");
    if (!sampled.care_unit.empty()) out += row("Care unit", escaped(sampled.care_unit));
    if (!sampled.part.empty()) out += row("Part", escaped(sampled.part));
    out += row("Occasion", escaped(words.when(sampled.opened)));
    if (sampled.limit) out += row("In time until", escaped(words.when(*sampled.limit)));
    return out +
           "</dl><p class=\"answer\">From the chart, was this kept? <span>☐ met</span> <span>☐ "
           "against</span> "
           "<span>☐ cannot tell</span></p><p class=\"notes\">Why:</p></li>\n";
}

}  // namespace

std::string sample_html(const Audited& audited, const Tally& tally) {
    const std::vector<Sampled> drawn = tally.review.sample.drawn();
    Policy zone_only;
    zone_only.time_zone = audited.time_zone;
    const Words words(zone_only);
    std::string out =
        fmt::format("<header><p class=\"eyebrow\">Review by hand</p><h1>{}</h1>", escaped(audited.title));
    out += fmt::format(
        "<p class=\"meta\">Edition {}, policy <code>{}</code>. Sample <code>{}</code>: {} occasions, seed "
        "{}. Times "
        "are those of {}.</p>",
        escaped(audited.edition), escaped(audited.content_hash), sample_code(drawn), drawn.size(),
        audited.seed, escaped(audited.time_zone));
    out +=
        "<p>For each occasion read the chart, and say whether the sentence was kept: <b>met</b>, "
        "<b>against</b> (late, "
        "missed, too early or not done so), or <b>cannot tell</b>. What the program found is not on this "
        "form, and "
        "should not be looked at before. Write the answers into <code>sample.csv</code>, one column a "
        "reviewer "
        "(<code>reviewer_1</code> …), and give it to the next audit with <code>--reviewed "
        "sample.csv</code>.</p>"
        "<p class=\"meta\">Findings judge documentation, not patients and not people. Before acting on "
        "one, " +
        std::string(before_acting) +
        ".</p>"
        "<p class=\"signature\">Reviewer: <span></span> Date: <span></span></p></header><main "
        "id=\"main\"><ol "
        "class=\"reviews\">\n";
    for (std::size_t i = 0; i < drawn.size(); ++i) out += entry(audited, drawn[i], i + 1, words);
    return html::page("Review by hand: " + audited.title, out + "</ol></main>");
}

std::string sample_csv(const Audited& audited, const Tally& tally) {
    const std::vector<Sampled> drawn = tally.review.sample.drawn();
    const std::string code = sample_code(drawn);
    std::string out = "sample,number,clause,reviewer_1,reviewer_2,note\r\n";
    for (std::size_t i = 0; i < drawn.size(); ++i) {
        put_cell(out, code);
        put_cell(out, std::to_string(i + 1));
        put_cell(out, audited.items[drawn[i].item].name);
        put_cell(out, "");
        put_cell(out, "");
        put_cell(out, "", true);
    }
    return out;
}

std::string sample_key(const Audited& audited, const Tally& tally) {
    const std::vector<Sampled> drawn = tally.review.sample.drawn();
    const std::string code = sample_code(drawn);
    std::string out;
    for (std::size_t i = 0; i < drawn.size(); ++i) {
        const Sampled& sampled = drawn[i];
        const bool met = counts_for(sampled.outcome);
        nlohmann::ordered_json entry;
        entry["schema"] = "linelaw/sample/1";
        entry["sample"] = code;
        entry["number"] = i + 1;
        if (audited.keys) entry["id"] = sampled.id;
        if (audited.keys) entry["episode"] = sampled.episode;
        entry["record"] = sampled.place;
        entry["item"] = audited.items[sampled.item].name;
        entry["outcome"] = outcome_names[static_cast<std::size_t>(sampled.outcome)];
        entry["drawn_of"] = tally.review.sample.strata.at({sampled.item, met}).population;
        entry["opened"] = write_instant(sampled.opened);
        entry["limit"] = sampled.limit ? nlohmann::ordered_json(write_instant(*sampled.limit)) : nullptr;
        entry["closed"] = sampled.closed ? nlohmann::ordered_json(write_instant(*sampled.closed)) : nullptr;
        entry["said"] = sampled.said;
        out += entry.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
    }
    return out;
}

}  // namespace linelaw::runtime
