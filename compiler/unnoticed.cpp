#include "compiler/unnoticed.hpp"

#include <algorithm>
#include <map>
#include <memory>

#include "compiler/examples.hpp"
#include "compiler/small_episodes.hpp"
#include "compiler/smaller_draft.hpp"
#include "grammar/format.hpp"
#include "grammar/parse.hpp"

namespace linelaw::compiler {

using analysis::DraftEpisode;
using runtime::Outcome;

namespace {

// A change, the policy that it makes, and the engine that judges by it.
struct Altered {
    Alteration alteration;
    std::unique_ptr<Compiled> compiled;
    std::unique_ptr<DraftJudge> judge;
};

// An example under construction: the episode, and the verdict of the policy that a change turns.
struct Found {
    std::unique_ptr<SmallEpisode> small;
    Verdict expected;  // as the policy has it; its `times` may be none
    bool counted = false;

    bool holds(const Verdicts& verdicts) const {
        const auto times = times_of(verdicts, expected);
        return counted ? times == expected.times : times > 0;
    }
};

// Verdicts that people understand at once come first: one that is there and not a count of it, something that
// was done or not done rather than what nobody can know, and of the clause that was changed.
std::size_t rank(const Verdict& v, bool counted, const std::vector<runtime::ClauseId>& focus) {
    const bool near = v.origin == runtime::OriginKind::ladder ||
                      (v.origin == runtime::OriginKind::clause &&
                       std::find(focus.begin(), focus.end(), v.item) != focus.end());
    const std::size_t doubt = v.outcome == Outcome::not_assessable  ? 60
                              : v.outcome == Outcome::pending       ? 10
                              : v.outcome == Outcome::no_longer_due ? 5
                                                                    : 0;
    return doubt + (v.times == 0 ? 25 : counted ? 8 : 0) + (near ? 0 : 50);
}
std::size_t rank(const Found& found, const std::vector<runtime::ClauseId>& focus) {
    return rank(found.expected, found.counted, focus);
}

// The verdict by which the two differ most plainly.
std::optional<Found> difference(const Verdicts& before, const Verdicts& after,
                                const std::vector<runtime::ClauseId>& focus) {
    std::optional<Found> best;
    const auto consider = [&](Verdict v) {
        v.times = times_of(before, v);
        const auto now = times_of(after, v);
        if (v.times == now) return;
        const bool counted = v.times == 0 || now > 0;
        if (!best || rank(v, counted, focus) < rank(*best, focus)) best = Found{nullptr, v, counted};
    };
    for (const auto& v : before) consider(v);
    for (const auto& v : after) consider(v);
    return best;
}

std::string spaced(std::string_view outcome) {
    std::string words(outcome);
    std::replace(words.begin(), words.end(), '_', ' ');
    return words;
}

class Search {
  public:
    Search(const Compilation& compilation, const UnnoticedOptions& options)
        : compilation_(compilation),
          options_(options),
          compiled_(*compilation.compiled),
          report_(sources_),
          layers_(read_layers(path(), reader_of(content()), sources_, report_)),
          judge_(compiled_.policy) {}

    Unnoticed run() {
        auto survivors = try_all();
        for (auto& [item, all] : survivors) look_for_examples(item, all);
        const auto by_place = [](const Alteration& a, const Alteration& b) {
            return a.shown.begin < b.shown.begin;
        };
        for (auto& missing : out_.missing)
            std::stable_sort(missing.notices.begin(), missing.notices.end(), by_place);
        std::stable_sort(out_.missing.begin(), out_.missing.end(), [&](const auto& a, const auto& b) {
            return by_place(a.notices.front(), b.notices.front());
        });
        std::stable_sort(out_.same.begin(), out_.same.end(), by_place);
        return std::move(out_);
    }

  private:
    const std::string& path() const { return compilation_.sources.text(0).name; }
    const std::string& content() const { return compilation_.sources.text(0).content; }
    // The texts that the policy was read from, with its own replaced.
    FileReader reader_of(std::string own) const {
        return [this, own = std::move(own)](const std::string& wanted) -> std::optional<std::string> {
            if (wanted == path()) return own;
            for (std::uint32_t t = 0; t < compilation_.sources.size(); ++t)
                if (compilation_.sources.text(t).name == wanted) return compilation_.sources.text(t).content;
            return std::nullopt;
        };
    }
    // The policy's text with blanks for its examples, so that every other place stays where it is.
    std::string blanked() const {
        std::string out = content();
        for (const auto* item : layers_.items)
            if (item->place.text == 0 && std::holds_alternative<grammar::ExampleItem>(item->node))
                std::fill(out.begin() + item->place.begin, out.begin() + item->place.end, ' ');
        return out;
    }
    std::optional<Compiled> compile_text(const std::string& text) const {
        return compile(path(), reader_of(text)).compiled;
    }
    static bool all_as_expected(const Compiled& compiled) {
        const auto report = run_examples(compiled);
        return std::all_of(report.results.begin(), report.results.end(),
                           [](const ExampleResult& result) { return result.failed.empty(); });
    }
    // Whether an episode that one of them read can be judged by the other.
    bool same_vocabulary(const runtime::Policy& other) const {
        const auto& policy = compiled_.policy;
        return policy.symbols == other.symbols && policy.fields == other.fields &&
               policy.event_kinds.size() == other.event_kinds.size() &&
               policy.clauses.size() == other.clauses.size();
    }

    // The changes that no example notices, by the item that they stand in, in the order of the text.
    std::vector<std::pair<std::string, std::vector<Altered>>> try_all() {
        std::vector<std::pair<std::string, std::vector<Altered>>> survivors;
        const auto alterations = alterations_of(layers_);
        const std::string without_examples = blanked();
        std::size_t done = 0;
        for (const auto& alteration : alterations) {
            if (options_.progress) options_.progress(done++, alterations.size());
            auto compiled = compile_text(altered(content(), alteration));
            // An example may speak of what was taken away: a step of a ladder.
            const bool examples_fail = !compiled && compile_text(altered(without_examples, alteration));
            if (!examples_fail && (!compiled || !same_vocabulary(compiled->policy))) continue;
            ++out_.tried;
            if (examples_fail || !all_as_expected(*compiled)) {
                ++out_.noticed;
                continue;
            }
            if (survivors.empty() || survivors.back().first != alteration.item)
                survivors.emplace_back(alteration.item, std::vector<Altered>{});
            auto owned = std::make_unique<Compiled>(std::move(*compiled));
            auto judge = std::make_unique<DraftJudge>(owned->policy);
            survivors.back().second.push_back({alteration, std::move(owned), std::move(judge)});
        }
        return survivors;
    }

    std::vector<runtime::ClauseId> focus_of(const std::string& item) const {
        std::vector<runtime::ClauseId> focus;
        for (const auto& id : clauses_resting_on(layers_, item))
            for (runtime::ClauseId c = 0; c < compiled_.policy.clauses.size(); ++c)
                if (compiled_.policy.clauses[c].id == id) focus.push_back(c);
        return focus;
    }

    void look_for_examples(const std::string& item, std::vector<Altered>& all) {
        const auto focus = focus_of(item);
        std::vector<std::string> seeds;
        seeds.reserve(compiled_.examples.size());
        for (const auto& example : compiled_.examples) seeds.push_back(example.record);
        // A term may be of many clauses, which are looked at one after the other.
        std::vector<std::vector<runtime::ClauseId>> parts;
        for (const auto clause : focus) parts.push_back({clause});
        for (const auto& part : parts) {
            if (all.empty()) break;
            const auto episodes = small_episodes(judge_, part, seeds, options_.episodes);
            for (std::size_t a = 0; a < all.size();) {
                auto found = told_apart(all[a], episodes, part);
                if (!found || !say(*found, all, a)) ++a;
            }
        }
        for (auto& altered : all) out_.same.push_back(std::move(altered.alteration));
        all.clear();
    }

    // The smallest of the episodes that the two policies judge differently.
    std::optional<Found> told_apart(Altered& altered,
                                    const std::vector<std::unique_ptr<SmallEpisode>>& episodes,
                                    const std::vector<runtime::ClauseId>& focus) {
        runtime::Engine engine(altered.compiled->policy);
        std::optional<Found> best;
        const SmallEpisode* smallest = nullptr;
        const auto size = [](const SmallEpisode& e) { return e.draft.events.size(); };
        for (const auto& small : episodes) {
            auto found = difference(small->verdicts, verdicts_of(engine.judge(small->episode)), focus);
            if (!found) continue;
            if (best && std::pair(rank(*best, focus), size(*smallest)) <=
                            std::pair(rank(*found, focus), size(*small)))
                continue;
            best = std::move(found);
            smallest = small.get();
        }
        if (!best) return std::nullopt;
        best->small = judge_.judge(smallest->draft);
        shrink(*best, altered, focus);
        return best;
    }

    // Leaves out what the difference does not need.
    void shrink(Found& found, Altered& altered, const std::vector<runtime::ClauseId>& focus) {
        smaller_draft(found.small->draft, [&](const DraftEpisode& draft) {
            auto small = judge_.judge(draft);
            if (!small) return false;
            const auto after = altered.judge->judge(draft);
            if (!after) return false;
            auto other = difference(small->verdicts, after->verdicts, focus);
            if (!other || rank(*other, focus) > rank(found, focus)) return false;
            other->small = std::move(small);
            found = std::move(*other);
            return true;
        });
    }

    std::string expectation(const Found& found) const {
        const auto& policy = compiled_.policy;
        const auto& v = found.expected;
        std::string words = v.origin == runtime::OriginKind::clause   ? policy.clauses[v.item].id
                            : v.origin == runtime::OriginKind::bundle ? policy.bundles[v.item].id
                                                                      : policy.ladders[v.item].id;
        if (v.origin == runtime::OriginKind::ladder) words += " step " + std::to_string(v.step + 1);
        words += ' ' + spaced(runtime::outcome_names.at(static_cast<std::size_t>(v.outcome)));
        return found.counted ? words + ' ' + std::to_string(v.times) + " times" : words;
    }
    // A title that no example bears: the item, and what about it is held.
    std::string title_of(const Alteration& alteration) {
        std::string words = alteration.item + ": " + alteration.words;
        words.erase(std::remove(words.begin(), words.end(), '`'), words.end());
        words.erase(std::remove(words.begin(), words.end(), '"'), words.end());
        for (const auto& [from, to] :
             {std::pair<std::string, std::string>{" becomes ", ", not "}, {" is left out", " counts"}})
            if (const auto at = words.find(from); at != std::string::npos) words.replace(at, from.size(), to);
        std::string title = words;
        const auto taken = [&](const std::string& one) {
            return std::any_of(compiled_.examples.begin(), compiled_.examples.end(),
                               [&](const Example& e) { return e.title == one; }) ||
                   std::any_of(titles_.begin(), titles_.end(), [&](const auto& t) { return t == one; });
        };
        for (int n = 2; taken(title); ++n) title = words + " (" + std::to_string(n) + ")";
        titles_.push_back(title);
        return title;
    }

    // In the formatter's layout, without an `until` that says no more than the last event; empty where the
    // example cannot be said.
    std::string canonical(std::string example, const DraftEpisode& draft) const {
        if (const auto at = example.find("\n  until ");
            at != std::string::npos && draft.until == latest(draft))
            example.erase(at, example.find('\n', at + 1) - at);
        const std::string head = "policy \"P\"\n\n";
        grammar::Sources sources;
        const auto text = sources.add({"example", head + example});
        const auto parsed = grammar::parse(sources, text);
        if (!parsed.diagnostics.empty()) return "";
        std::string laid_out = grammar::format(sources, text, parsed.tree);
        return laid_out.substr(std::min(laid_out.size(), head.size()));
    }

    // Pastes the example into the policy and into the changed one and runs both; then takes away whatever
    // other change it notices too.
    bool say(const Found& found, std::vector<Altered>& all, std::size_t a) {
        const std::string example =
            canonical(analysis::as_example(found.small->draft, compiled_.policy, title_of(all[a].alteration),
                                           {expectation(found)}),
                      found.small->draft);
        if (example.empty()) return false;
        const auto pasted = [&](const std::string& text) { return compile_text(text + "\n\n" + example); };
        const auto as_it_is = pasted(content());
        const auto changed = pasted(altered(content(), all[a].alteration));  // may lack a step it speaks of
        if (!as_it_is || !all_as_expected(*as_it_is) || (changed && all_as_expected(*changed))) return false;
        MissingExample missing{example, {}};
        for (std::size_t other = 0; other < all.size();) {
            const auto judged = all[other].judge->judge(found.small->draft);
            if (other != a && (!judged || found.holds(judged->verdicts))) {
                ++other;
                continue;
            }
            missing.notices.push_back(all[other].alteration);
            all.erase(all.begin() + static_cast<std::ptrdiff_t>(other));
            if (other < a)
                --a;
            else if (other == a)
                a = all.size();  // it is gone
        }
        out_.missing.push_back(std::move(missing));
        return true;
    }

    const Compilation& compilation_;
    const UnnoticedOptions& options_;
    const Compiled& compiled_;
    grammar::Sources sources_;
    Report report_;
    Layers layers_;
    DraftJudge judge_;
    std::vector<std::string> titles_;
    Unnoticed out_;
};

}  // namespace

std::size_t Unnoticed::unnoticed() const {
    std::size_t n = 0;
    for (const auto& one : missing) n += one.notices.size();
    return n;
}

Unnoticed find_unnoticed(const Compilation& compilation, const UnnoticedOptions& options) {
    return Search(compilation, options).run();
}

std::vector<grammar::Diagnostic> diagnostics_of(const Unnoticed& unnoticed) {
    std::vector<grammar::Diagnostic> all;
    for (const auto& missing : unnoticed.missing) {
        const auto& first = missing.notices.front();
        const std::string message =
            missing.notices.size() == 1
                ? "no example notices when " + first.words
                : "no example notices any of these " + std::to_string(missing.notices.size()) + " changes";
        auto diagnostic = grammar::make_diagnostic("example.missing", message, first.shown, first.words);
        if (missing.notices.size() == 1) diagnostic.labels.front().text.clear();
        for (std::size_t i = 1; i < missing.notices.size(); ++i)
            diagnostic.labels.push_back({missing.notices[i].shown, missing.notices[i].words});
        diagnostic.witness.emplace();
        diagnostic.witness->example = missing.example;
        all.push_back(std::move(diagnostic));
    }
    return all;
}

}  // namespace linelaw::compiler
