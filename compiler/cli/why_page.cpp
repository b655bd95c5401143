#include "compiler/cli/why_page.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "compiler/cli/why_words.hpp"
#include "compiler/read_back.hpp"
#include "runtime/findings.hpp"
#include "runtime/nearest.hpp"
#include "runtime/report_charts.hpp"
#include "runtime/report_html.hpp"
#include "runtime/tally.hpp"

namespace linelaw::compiler::cli {
namespace {

using runtime::Episode;
using runtime::Instant;
using runtime::Judgement;
using runtime::Opportunity;
using runtime::Policy;
using runtime::Words;
using runtime::html::escaped;

class WhyPage {
  public:
    WhyPage(const Policy& policy, const Episode& episode, const Judgement& all, std::optional<Instant> as_of)
        : policy_(policy),
          episode_(episode),
          all_(all),
          as_of_(as_of),
          items_(policy),
          words_(policy),
          writer_(policy, as_of),
          nearest_(policy, as_of) {}

    std::string make(const std::vector<Opportunity>& shown) {
        std::string out = fmt::format(
            "<header><p class=\"eyebrow\">Why: one episode</p><h1>Episode {}</h1><p class=\"meta\">Episode "
            "{}{}.</p>"
            "<p class=\"meta\">{}, edition {}, policy <code>{}</code>.</p><p class=\"meta\">Findings judge "
            "documentation, not patients and not people. Before acting on one, {}.</p></header><main "
            "id=\"main\">",
            escaped(episode_.key), escaped(episode_.key),
            escaped(episode_words(policy_, episode_, as_of_, words_)), escaped(policy_.title),
            escaped(policy_.edition), escaped(policy_.content_hash), runtime::before_acting);
        out += timeline(shown);
        for (std::size_t i = 0; i < items_.size(); ++i) {
            std::string entries;
            const Opportunity* first = nullptr;
            for (const Opportunity& o : shown) {
                if (items_.of(o) != i) continue;
                if (first == nullptr) first = &o;
                entries += entry(o);
            }
            if (first != nullptr) out += article(i, *first, entries);
        }
        if (shown.empty()) out += "<p class=\"lead\">Nothing was asked for here.</p>";
        return runtime::html::page("Why: episode " + episode_.key, out + "</main>");
    }

  private:
    std::string timeline(const std::vector<Opportunity>& shown) const {
        runtime::WorstFinding drawn;
        drawn.episode = episode_.key;
        drawn.bars = runtime::bars_of(policy_, items_, episode_, shown);
        if (drawn.bars.empty()) return "";
        drawn.end = runtime::horizon_of(episode_, as_of_);
        drawn.begin = episode_.inserted_at.value_or(episode_.observed_from.value_or(drawn.end));
        const auto audited = runtime::audited(policy_, {}, false, LINELAW_VERSION);
        return "<section aria-labelledby=\"timeline\"><h2 id=\"timeline\">Timeline</h2><figure>" +
               runtime::charts::timeline(audited, drawn, words_.zone()) +
               "<figcaption class=\"meta\">Grey: waited for. Coloured and striped: past its limit. Disc: "
               "met. "
               "Diamond: against. Ring: not counted. Each is told below, clause by "
               "clause.</figcaption></figure>"
               "</section>";
    }
    std::string article(std::size_t i, const Opportunity& first, const std::string& entries) const {
        const std::string name = runtime::item_name(policy_, items_[i]);
        const auto priority = runtime::priority_name(runtime::priority_of(policy_, first));
        std::string out = fmt::format(
            "<section aria-labelledby=\"{0}\"><h2 id=\"{0}\"><code>{1}</code> <span class=\"badge "
            "{2}\">{2}</span>"
            "</h2><p class=\"lead\">{3}</p>",
            runtime::html::anchor("item", name), escaped(name), priority,
            escaped(runtime::sentence_of(policy_, first)));
        if (first.origin == runtime::OriginKind::clause) {
            const runtime::Clause& clause = policy_.clauses[first.item];
            out += fmt::format("<p class=\"meta\"><code>{}:{}</code></p><pre class=\"words\">{}</pre>",
                               escaped(clause.place.file), clause.place.line,
                               escaped(read_back(policy_, clause)));
        }
        return out + "<ol class=\"findings\">" + entries + "</ol></section>\n";
    }
    std::string entry(const Opportunity& o) {
        std::string finding;
        writer_.json(finding, episode_, o, all_);
        const auto json = nlohmann::ordered_json::parse(finding);
        std::string out =
            fmt::format("<li><h3{}>{}</h3><p class=\"meta\">{}</p><p class=\"said\">{}</p>",
                        counts_against(o.outcome) ? " class=\"count-against\"" : "",
                        escaped(Words::sentence_case(std::string(runtime::outcome_words(o.outcome)))),
                        escaped(Words::sentence_case(times_of(o, episode_, words_))),
                        escaped(json["said"].get<std::string>()));
        if (const auto nearest = nearest_.find(episode_, o))
            out += fmt::format("<p>{}.</p>", escaped(Words::sentence_case(nearest->said)));
        const auto evidence = evidence_lines(json, words_);
        if (!evidence.empty()) {
            out += "<p class=\"meta\">What decided it:</p><ul class=\"sure\">";
            for (const std::string& line : evidence) out += "<li>" + escaped(line) + "</li>";
            out += "</ul>";
        }
        return out + "</li>\n";
    }

    const Policy& policy_;
    const Episode& episode_;
    const Judgement& all_;
    std::optional<Instant> as_of_;
    runtime::Items items_;
    Words words_;
    runtime::FindingWriter writer_;
    runtime::NearestFinder nearest_;
};

}  // namespace

std::string why_page(const Policy& policy, const Episode& episode, const std::vector<Opportunity>& shown,
                     const Judgement& all, std::optional<Instant> as_of) {
    return WhyPage(policy, episode, all, as_of).make(shown);
}

}  // namespace linelaw::compiler::cli
