// `linelaw why`: one episode's timeline, clause by clause: what opened, was due, closed and why.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <algorithm>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/episodes.hpp"
#include "compiler/cli/input_notes.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/output_folder.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/cli/why_page.hpp"
#include "compiler/cli/why_words.hpp"
#include "compiler/read_back.hpp"
#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/findings_inputs.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/nearest.hpp"
#include "runtime/summary.hpp"
#include "runtime/tally.hpp"

namespace linelaw::compiler::cli {
namespace {

using Json = nlohmann::ordered_json;
using runtime::Episode;
using runtime::Instant;
using runtime::Judgement;
using runtime::none;
using runtime::Opportunity;
using runtime::Policy;

struct Options {
    std::vector<std::string> operands;
    std::string episode;
    std::string clause;
    std::string as_of;
    std::string format = "text";
    bool against = false;
    std::vector<std::string> accept;
    Manner manner;
};

// "catheter_migration" takes all of its steps.
bool is_asked(const Options& options, const std::string& name) {
    return options.clause.empty() || name == options.clause || name.rfind(options.clause + " ", 0) == 0;
}

class Timeline {
  public:
    Timeline(const Options& options, const Policy& policy, std::optional<Instant> as_of)
        : options_(options),
          policy_(policy),
          as_of_(as_of),
          words_(policy),
          writer_(policy, as_of),
          nearest_(policy, as_of),
          colored_(colored(options.manner, Stream::output)) {}

    std::string text(const Episode& episode, const Judgement& all) {
        out_.clear();
        against_ = false;
        head(episode);
        const runtime::Items items(policy_);
        std::vector<std::string> quiet;
        for (std::size_t i = 0; i < items.size(); ++i) {
            const std::string name = runtime::item_name(policy_, items[i]);
            if (!is_asked(options_, name)) continue;
            std::vector<const Opportunity*> of_item;
            for (const Opportunity& o : all) {
                if (items.of(o) == i) of_item.push_back(&o);
            }
            if (of_item.empty()) {
                quiet.push_back(name);
            } else {
                item(episode, all, name, of_item);
            }
        }
        if (!quiet.empty() && options_.clause.empty() && !options_.against) {
            out_ += fmt::format("Nothing was asked for by: {}\n", fmt::join(quiet, ", "));
        }
        if (options_.against && !against_)
            out_ += fmt::format("Nothing counts against what is documented here{}.\n",
                                options_.clause.empty() ? "" : " by " + options_.clause);
        return out_;
    }

  private:
    std::string styled(const std::string& text, const char* code) const {
        return colored_ ? fmt::format("\x1b[{}m{}\x1b[0m", code, text) : text;
    }

    void head(const Episode& episode) {
        out_ +=
            styled("Episode " + episode.key, "1") + episode_words(policy_, episode, as_of_, words_) + "\n\n";
    }

    void item(const Episode& episode, const Judgement& all, const std::string& name,
              const std::vector<const Opportunity*>& opportunities) {
        const bool any = std::any_of(opportunities.begin(), opportunities.end(),
                                     [](const Opportunity* o) { return counts_against(o->outcome); });
        against_ = against_ || any;
        if (options_.against && !any) return;
        out_ += fmt::format("{}  {}\n", styled(name, "1"),
                            runtime::priority_name(runtime::priority_of(policy_, *opportunities.front())));
        const std::string& sentence = runtime::sentence_of(policy_, *opportunities.front());
        if (!sentence.empty()) out_ += "  " + sentence + "\n";
        if (opportunities.front()->origin == runtime::OriginKind::clause)
            out_ += rule(policy_.clauses[opportunities.front()->item]);
        for (const Opportunity* o : opportunities) {
            if (!options_.against || counts_against(o->outcome)) opportunity(episode, all, *o);
        }
        out_ += '\n';
    }
    // The words of the policy that decided, and where they stand; as the program reads them, where one clause
    // is asked.
    std::string rule(const runtime::Clause& clause) const {
        std::string out;
        if (clause.place.line != 0) out += fmt::format("  {}:{}\n", clause.place.file, clause.place.line);
        if (options_.clause.empty()) return out;
        std::string text = read_back(policy_, clause);
        while (!text.empty() && text.back() == '\n') text.pop_back();
        out += "  | ";
        for (const char c : text) out += c == '\n' ? std::string("\n  | ") : std::string(1, c);
        return out + "\n";
    }
    void opportunity(const Episode& episode, const Judgement& all, const Opportunity& o) {
        const std::string outcome(runtime::outcome_words(o.outcome));
        const bool against = counts_against(o.outcome);
        out_ += fmt::format("  {:<14} {}\n",
                            against ? styled(outcome, "1;31") +
                                          std::string(14 - std::min<std::size_t>(14, outcome.size()), ' ')
                                    : outcome,
                            times_of(o, episode, words_));
        std::string finding;
        writer_.json(finding, episode, o, all);
        const Json json = Json::parse(finding);
        line(json["said"]);
        for (const std::string& words : evidence_lines(json, words_)) line(words);
        if (const auto nearest = nearest_.find(episode, o)) line("→ " + nearest->said);
    }
    void line(const std::string& text) { out_ += fmt::format("                 {}\n", text); }
    const Options& options_;
    const Policy& policy_;
    std::optional<Instant> as_of_;
    runtime::Words words_;
    runtime::FindingWriter writer_;
    runtime::NearestFinder nearest_;
    bool colored_;
    bool against_ = false;  // anything
    std::string out_;
};

std::vector<Opportunity> asked_of(const Policy& policy, const Judgement& all, const Options& options) {
    const runtime::Items items(policy);
    std::vector<Opportunity> asked;
    for (const Opportunity& o : all) {
        if (options.against && !counts_against(o.outcome)) continue;
        if (is_asked(options, runtime::item_name(policy, items[items.of(o)]))) asked.push_back(o);
    }
    return asked;
}

// Findings with what `why` adds: the words that decided, and the nearest thing that would have met it.
std::string json_lines(const Policy& policy, const Episode& episode, const Judgement& all,
                       std::optional<Instant> as_of, const Options& options) {
    const runtime::FindingWriter writer(policy, as_of);
    runtime::NearestFinder finder(policy, as_of);
    std::string out;
    for (const Opportunity& o : asked_of(policy, all, options)) {
        std::string finding;
        writer.json(finding, episode, o, all);
        Json json = Json::parse(finding);
        Json why = Json::object();
        if (o.origin == runtime::OriginKind::clause) {
            const runtime::Clause& clause = policy.clauses[o.item];
            why["policy"] = {{"file", clause.place.file}, {"line", clause.place.line}};
            why["words"] = read_back(policy, clause);
        }
        const auto nearest = finder.find(episode, o);
        why["would_have_met"] = nullptr;
        if (nearest) {
            why["would_have_met"] = {
                {"change", runtime::nearest_kind_names[static_cast<std::size_t>(nearest->kind)]},
                {"event", policy.event_kinds[nearest->event].name},
                {"times", nearest->times},
                {"at", runtime::write_instant(nearest->at)},
                {"said", nearest->said}};
            if (nearest->index != none)
                why["would_have_met"]["pointer"] =
                    runtime::pointer_of(policy, episode.events[nearest->index]);
        }
        json["why"] = std::move(why);
        out += json.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
    }
    return out;
}

// Whether what `--clause` names is there.
bool is_known(const Policy& policy, const Options& options) {
    const runtime::Items items(policy);
    for (std::size_t i = 0; i < items.size(); ++i)
        if (is_asked(options, runtime::item_name(policy, items[i]))) return true;
    return false;
}

int run(const Options& options) {
    const Operands given = operands(options.operands);
    if (given.records.empty())
        return refuse({"operands", "no record was given; write `linelaw why POLICY RECORD`"});
    const auto policy = policy_of(given, options.accept, options.manner);
    if (!policy) return not_carried_out;
    if (!is_known(*policy, options))
        return refuse({"option.clause",
                       fmt::format("the policy has no clause, bundle or escalation `{}`", options.clause)});
    std::optional<Instant> as_of;
    if (!options.as_of.empty()) {
        const auto at = moment(options.as_of, policy->time_zone);
        if (!at) return refuse(at.error());
        as_of = *at;
    }
    runtime::Engine engine(*policy);
    std::optional<int> status;
    std::size_t seen = 0;
    std::string first;
    Timeline timeline(options, *policy, as_of);
    std::optional<runtime::Error> failed;
    std::uint64_t unread = 0;
    runtime::ReadCounts not_used;  // of the record read last
    EpisodeSinks sinks;
    sinks.not_used = [&](const runtime::ReadCounts& counts) { not_used = counts; };
    sinks.episode = [&](const Episode& episode, const EpisodePlace&) {
        ++seen;
        if (!options.episode.empty() && episode.key != options.episode) return true;
        if (options.episode.empty() && seen > 1) return false;  // which one? said below
        const auto& all = engine.judge(episode, as_of);
        first = options.format == "json" ? json_lines(*policy, episode, all, as_of, options)
                : options.format == "html"
                    ? why_page(*policy, episode, asked_of(*policy, all, options), all, as_of)
                    : timeline.text(episode, all);
        const bool any = std::any_of(all.begin(), all.end(),
                                     [](const Opportunity& o) { return counts_against(o.outcome); });
        status = any ? findings : nothing_against;
        if (!options.manner.quiet) warn(not_used_note(not_used));
        return options.episode.empty();
    };
    sinks.spoiled = [&](const runtime::Spoiled& spoiled, const std::string& key, const EpisodePlace& place) {
        ++unread;
        if (key == options.episode || options.episode.empty()) {
            failed = runtime::Error{
                spoiled.code, fmt::format("{}:{}: this record is quarantined: {} {}", place.file, place.line,
                                          spoiled.reason, spoiled.pointer)};
        }
    };
    const auto files = record_files(given.records, options.manner.quiet);
    if (!files) return refuse(files.error());
    if (auto read = read_episodes(*policy, *files, sinks); !read) return refuse(read.error());
    if (seen > 1 && options.episode.empty()) {
        return refuse(
            {"records.many", "there are several records in what was given; say which with --episode KEY"});
    }
    if (!status && failed) return refuse(*failed);
    if (!status) {
        return refuse({"records.none",
                       options.episode.empty()
                           ? "there is no record in what was given"
                           : fmt::format("there is no episode `{}` in what was given{}", options.episode,
                                         unread == 0 ? ""
                                                     : "; some records could not be read, and `linelaw audit "
                                                       "--out DIR` says which and why")});
    }
    if (auto written = write_out(first); !written) return refuse(written.error());
    return *status;
}

}  // namespace

void add_why(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand("why", "One episode's timeline: what opened, was due, closed and why");
    command
        ->add_option("operands", options->operands,
                     "POLICY RECORD: a policy (text or compiled), then a file or `-`")
        ->required();
    command->add_option("--episode", options->episode, "Its key, where there are several records");
    command->add_option("--clause", options->clause, "Only this clause, bundle or escalation");
    command->add_flag("--against", options->against, "Only what counts against");
    command->add_option("--as-of", options->as_of,
                        "Until when the record is known, where it does not say so itself");
    command->add_option("--format", options->format, "text, json (findings, one a line) or html (a page)")
        ->check(CLI::IsMember({"text", "json", "html"}));
    add_accept(*command, options->accept);
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
