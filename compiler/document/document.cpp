#include "compiler/document/document.hpp"

#include <fmt/format.h>

#include "compiler/document/markdown.hpp"
#include "compiler/document/sections.hpp"
#include "compiler/words.hpp"

namespace linelaw::compiler::document {

using namespace runtime;

namespace {

std::string head(const Policy& policy) {
    std::vector<std::vector<std::string>> rows;
    const auto row = [&](std::string_view what, const std::string& value) {
        if (!value.empty()) rows.push_back({std::string(what), value});
    };
    row("Edition", escaped(policy.edition));
    std::string force = policy.in_force_from ? "from " + day(*policy.in_force_from) : "";
    if (policy.in_force_until) force += " until " + day(*policy.in_force_until);
    row("In force", force);
    row("Review by", policy.review_by ? day(*policy.review_by) : "");
    row("Owner", escaped(policy.owner));
    row("Governs", policy.governs == none ? "" : with_names(condition_in_words(policy, policy.governs)));
    row("Time zone", escaped(policy.time_zone));
    row("Word list",
        escaped(policy.vocabulary +
                (policy.vocabulary_edition.empty() ? "" : ", edition " + policy.vocabulary_edition)));
    row("Content hash", code(policy.content_hash));
    return "# " + escaped(policy.title) + "\n\n" + table({"", ""}, rows);
}

// One paragraph each, where a reader is about to act on what follows.
std::string cautions() {
    return "- This document is made from the text of the policy. Where it differs from the facility's "
           "approved policy, from "
           "local regulation, or from the instructions for use of a product, those come first; so does the "
           "judgement of the "
           "licensed clinician at the bedside.\n"
           "- Neonates, above all the premature, and patients who are sensitive to an antiseptic, an "
           "adhesive or a metal, "
           "need care that a general rule does not know. Ask before you prepare the skin.\n"
           "- Never advance a catheter that has moved out. Secure it as it is, stop what must not run where "
           "its tip may be, "
           "and have the position of the tip confirmed before it is used.\n"
           "- What is judged by this policy is what was charted. A finding is about documentation, not about "
           "a patient, and "
           "not about a person.\n"
           "- A policy that came with the program is invented, or an extract of published guidance, to show "
           "how it works. It "
           "is not a policy to adopt.\n\n";
}

std::string checked(const Compilation& compilation, const analysis::Analysis& analysis, std::size_t& open) {
    const Policy& policy = compilation.compiled->policy;
    std::string standing;
    for (const auto& diagnostic : compilation.diagnostics) {
        if (diagnostic.severity == grammar::Severity::note) continue;
        ++open;
        standing += "- " + with_names(diagnostic.message) + " (" + code(diagnostic.code) + ")\n";
    }
    std::string out = fmt::format(
        "{} clauses. {} of them were followed exactly through every situation that the word "
        "list can describe.\n\n",
        policy.clauses.size(), analysis.exact.size());
    if (!analysis.not_exact.empty()) {
        out += "Not followed exactly:\n\n";
        for (const auto& not_exact : analysis.not_exact)
            out += "- " + clause_link(policy.clauses[not_exact.clause]) + ": " + with_names(not_exact.why) +
                   '\n';
        out += '\n';
    }
    for (const auto& line : analysis.not_done) out += "Not done: " + with_names(line) + "\n\n";
    const bool all_followed = analysis.not_exact.empty() && analysis.not_done.empty();
    if (open == 0 && !all_followed)
        return out +
               "Nothing was found against it **as far as it was followed**. What is named above may clash or "
               "leave a case out without this being known: read it beside the rest before "
               "you sign.\n\n";
    if (open == 0) return out + "Nothing stands against it.\n\n";
    return out + "**Not ready to sign.** This stands against it:\n\n" + standing + '\n';
}

std::string sign_off(const Policy& policy) {
    std::string out =
        "I have read the clauses and what will be judged by each, the departures, and what was let "
        "stand.\n\n";
    std::vector<std::vector<std::string>> rows;
    if (!policy.owner.empty()) rows.push_back({escaped(policy.owner), "", "", ""});
    for (const auto& role : policy.roles) rows.push_back({escaped(plain(role)), "", "", ""});
    rows.insert(rows.end(), 3, {"", "", "", ""});
    return out + table({"for", "name", "signature", "date"}, rows) + "Edition " + escaped(policy.edition) +
           (policy.in_force_from ? ", in force from " + day(*policy.in_force_from) : "") + ", content hash " +
           code(policy.content_hash) + ": the reports of audits by this very text bear the same.\n\n";
}

struct Part {
    std::string id;
    std::string heading;
    std::string content;
};

std::string contents(const std::vector<Part>& parts, const std::vector<Phase>& phases, const Policy& policy) {
    std::string out;
    for (const auto& part : parts) {
        out += "- " + link(escaped(part.heading), anchor_of(part.heading)) + '\n';
        if (part.id != "clauses") continue;
        for (const auto& phase : phases) {
            std::vector<std::string> links;
            for (const ClauseId c : phase.clauses) links.push_back(clause_link(policy.clauses[c]));
            out += "  - " + link(escaped(phase.title), anchor_of(phase.title)) + ": " + joined(links, ", ") +
                   '\n';
        }
    }
    return out + '\n';
}

}  // namespace

Document document(const Compilation& compilation, const analysis::Analysis& analysis,
                  const Compilation* before) {
    const Compiled& compiled = *compilation.compiled;
    const Policy& policy = compiled.policy;
    const std::vector<Phase> grouped = phases(compiled);
    const Checklists lists = checklists(compilation);
    Document out;
    out.title = policy.title;
    std::vector<Part> parts{
        {"cautions", "Before you use this document", cautions()},
        {"checked", "What was checked", checked(compilation, analysis, out.open)},
        {"changes", "What changed", before == nullptr ? "" : changes(*before, compilation)},
        {"clauses", "Clauses", clauses(compiled, grouped)},
        {"escalations", "Who is called, and who next", escalations(policy)},
        {"tables", "Tables", look_up_tables(compilation)},
        {"bundles", "Bundles", bundles(compiled)},
        {"questions", "Questions and their answers", answers(compiled, analysis)},
        {"departures", "Departures, and what is let stand", departures(compiled)},
        {"sources", "Sources", sources(policy)},
        {"trace", "Clauses, sources and examples", trace(compiled)},
        {"checklist", "Bedside checklist", lists.bedside},
        {"other-events", "Checklist for other events", lists.other_events},
        {"sign-off", "Sign-off", sign_off(policy)},
    };
    std::vector<Part> kept;
    for (auto& part : parts)
        if (!part.content.empty()) kept.push_back(std::move(part));
    out.sections.push_back({"", head(policy)});
    out.sections.push_back({"contents", "## Contents\n\n" + contents(kept, grouped, policy)});
    for (const auto& part : kept)
        out.sections.push_back({part.id, "## " + escaped(part.heading) + "\n\n" + part.content});
    return out;
}

std::string as_markdown(const Document& document) {
    std::string out;
    for (const auto& section : document.sections) out += section.markdown;
    while (out.size() > 1 && out[out.size() - 2] == '\n') out.pop_back();
    return out;
}

}  // namespace linelaw::compiler::document
