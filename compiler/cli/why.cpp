// `linelaw why`: one episode's timeline, clause by clause: what opened, was due, closed and why.
#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <optional>
#include <set>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/episodes.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/output_folder.hpp"
#include "compiler/cli/terminal.hpp"
#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/findings_inputs.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/summary.hpp"
#include "runtime/tally.hpp"

namespace linelaw::compiler::cli {
namespace {

using runtime::Episode;
using runtime::Instant;
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

// The kinds of event that could have answered a clause's opportunity.
const runtime::Events* awaited(const runtime::Clause& clause) {
    return std::visit(runtime::overloaded{
                          [](const runtime::AtLeastEvery& d) { return &d.events; },
                          [](const runtime::EachPeriod& d) { return &d.events; },
                          [](const runtime::Within& d) { return &d.events; },
                          [](const runtime::WithinEitherSide& d) { return &d.events; },
                          [](const runtime::HaveHad& d) { return &d.events; },
                          [](const auto&) -> const runtime::Events* { return nullptr; },
                      },
                      clause.demand);
}

class Timeline {
  public:
    Timeline(const Options& options, const Policy& policy, std::optional<Instant> as_of)
        : options_(options),
          policy_(policy),
          as_of_(as_of),
          words_(policy),
          writer_(policy, as_of),
          colored_(colored(options.manner, Stream::output)) {}

    std::string text(const Episode& episode, const std::vector<Opportunity>& all) {
        out_.clear();
        head(episode);
        const runtime::Items items(policy_);
        std::vector<std::string> quiet;
        for (std::size_t i = 0; i < items.size(); ++i) {
            const std::string name = runtime::item_name(policy_, items[i]);
            if (!wanted(name)) continue;
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
        return out_;
    }

  private:
    bool wanted(const std::string& name) const {
        return options_.clause.empty() || name == options_.clause ||
               name.rfind(options_.clause + " ", 0) == 0;
    }
    std::string styled(const std::string& text, const char* code) const {
        return colored_ ? fmt::format("\x1b[{}m{}\x1b[0m", code, text) : text;
    }

    void head(const Episode& episode) {
        out_ += styled("Episode " + episode.key, "1");
        if (!episode.care_unit.empty()) out_ += " in " + episode.care_unit;
        out_ += ": ";
        out_ += episode.inserted_at ? "in since " + words_.when(*episode.inserted_at) : "insertion not known";
        if (episode.observed_from) out_ += ", known from " + words_.when(*episode.observed_from);
        if (episode.removed_at) out_ += ", removed " + words_.on(*episode.removed_at);
        out_ += fmt::format(", known until {} ({})\n\n", words_.when(runtime::horizon_of(episode, as_of_)),
                            policy_.time_zone);
    }

    void item(const Episode& episode, const std::vector<Opportunity>& all, const std::string& name,
              const std::vector<const Opportunity*>& opportunities) {
        const bool any = std::any_of(opportunities.begin(), opportunities.end(),
                                     [](const Opportunity* o) { return counts_against(o->outcome); });
        if (options_.against && !any) return;
        out_ += fmt::format("{}  {}\n", styled(name, "1"),
                            runtime::priority_name(runtime::priority_of(policy_, *opportunities.front())));
        const std::string& sentence = sentence_of(*opportunities.front());
        if (!sentence.empty()) out_ += "  " + sentence + "\n";
        for (const Opportunity* o : opportunities) {
            if (!options_.against || counts_against(o->outcome)) opportunity(episode, all, *o);
        }
        out_ += '\n';
    }
    const std::string& sentence_of(const Opportunity& o) const {
        switch (o.origin) {
            case runtime::OriginKind::ladder:
                return policy_.ladders[o.item].sentence;
            case runtime::OriginKind::bundle:
                return policy_.bundles[o.item].title;
            case runtime::OriginKind::clause:
                break;
        }
        return policy_.clauses[o.item].sentence;
    }

    void opportunity(const Episode& episode, const std::vector<Opportunity>& all, const Opportunity& o) {
        const std::string outcome(runtime::outcome_words(o.outcome));
        const bool against = counts_against(o.outcome);
        out_ += fmt::format("  {:<14} {}\n",
                            against ? styled(outcome, "1;31") +
                                          std::string(14 - std::min<std::size_t>(14, outcome.size()), ' ')
                                    : outcome,
                            times(o, episode));
        out_ += fmt::format("                 {}\n", writer_.said(episode, o, all));
        const std::string events = events_of(episode, o);
        if (!events.empty()) out_ += fmt::format("                 {}\n", events);
        if (const std::string near = nearest(episode, o); !near.empty())
            out_ += fmt::format("                 {}\n", near);
    }
    std::string times(const Opportunity& o, const Episode& episode) const {
        std::string text = "opened " + words_.when(o.opened);
        if (o.part_kind != none) text = words_.part(o.part_kind, o.part, episode) + ": " + text;
        if (o.due) text += ", due " + words_.when_beside(*o.due, o.opened);
        if (o.limit && o.limit != o.due) text += ", limit " + words_.when_beside(*o.limit, *o.due);
        if (o.closed) text += ", closed " + words_.when_beside(*o.closed, o.opened);
        return text;
    }
    std::string events_of(const Episode& episode, const Opportunity& o) const {
        std::string text;
        const auto add = [&](const char* role, std::uint32_t index) {
            const runtime::Event& event = episode.events[index];
            text += fmt::format("{}{} {} {}", text.empty() ? "" : "; ", role, words_.event(event.kind),
                                runtime::pointer_of(policy_, event));
            if (event.id != none) text += fmt::format(" ({})", episode.texts[event.id]);
        };
        if (o.opened_by != none) add("opened by", o.opened_by);
        if (o.closed_by != none && o.closed_by != o.opened_by) add("closed by", o.closed_by);
        return text;
    }
    // Of what was missed or not had: the event of that kind that lies nearest to when it was asked for.
    std::string nearest(const Episode& episode, const Opportunity& o) const {
        if (o.origin != runtime::OriginKind::clause) return "";
        if (o.outcome != runtime::Outcome::missed && o.outcome != runtime::Outcome::not_met) return "";
        const runtime::Events* events = awaited(policy_.clauses[o.item]);
        if (events == nullptr) return "";
        const Instant from = o.opened;
        const Instant until = o.limit.value_or(o.opened);
        const runtime::Event* best = nullptr;
        Instant distance = 0;
        for (const runtime::Event& event : episode.events) {
            const bool kind = std::any_of(events->begin(), events->end(),
                                          [&](const auto& p) { return p.event == event.kind; });
            if (!kind) continue;
            const Instant away = event.at < from ? from - event.at : event.at > until ? event.at - until : 0;
            if (best == nullptr || away < distance) best = &event, distance = away;
        }
        if (best == nullptr) return "none of that kind is in the record";
        if (distance == 0) return "";
        return fmt::format("the nearest {} came {}, {} too {} ({})", words_.event(best->kind),
                           words_.on(best->at), runtime::Words::lasted(distance),
                           best->at < from ? "early" : "late", runtime::pointer_of(policy_, *best));
    }

    const Options& options_;
    const Policy& policy_;
    std::optional<Instant> as_of_;
    runtime::Words words_;
    runtime::FindingWriter writer_;
    bool colored_;
    std::string out_;
};

std::string json_lines(const Policy& policy, const Episode& episode, const std::vector<Opportunity>& all,
                       std::optional<Instant> as_of, bool against) {
    const runtime::FindingWriter writer(policy, as_of);
    std::string out;
    for (const Opportunity& o : all) {
        if (!against || counts_against(o.outcome)) writer.json(out, episode, o, all);
    }
    return out;
}

int run(const Options& options) {
    const Operands given = operands(options.operands);
    if (given.records.empty())
        return refuse({"operands", "no record was given; write `linelaw why POLICY RECORD`"});
    const auto policy = policy_of(given, options.accept, options.manner);
    if (!policy) return not_carried_out;
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
    EpisodeSinks sinks;
    sinks.episode = [&](const Episode& episode, const EpisodePlace&) {
        ++seen;
        if (!options.episode.empty() && episode.key != options.episode) return true;
        if (options.episode.empty() && seen > 1) return false;  // which one? said below
        const auto& all = engine.judge(episode, as_of);
        first = options.format == "json" ? json_lines(*policy, episode, all, as_of, options.against)
                                         : timeline.text(episode, all);
        const bool any = std::any_of(all.begin(), all.end(),
                                     [](const Opportunity& o) { return counts_against(o.outcome); });
        status = any ? findings : nothing_against;
        return options.episode.empty();
    };
    sinks.spoiled = [&](const runtime::Spoiled& spoiled, const EpisodePlace& place) {
        if (options.episode.empty() && !status) {
            failed = runtime::Error{
                spoiled.code, fmt::format("{}:{}: this record is quarantined: {} {}", place.file, place.line,
                                          spoiled.reason, spoiled.pointer)};
        }
    };
    if (auto read = read_episodes(*policy, given.records, sinks); !read) return refuse(read.error());
    if (seen > 1 && options.episode.empty()) {
        return refuse(
            {"records.many", "there are several records in what was given; say which with --episode KEY"});
    }
    if (!status && failed) return refuse(*failed);
    if (!status) {
        return refuse({"records.none",
                       options.episode.empty()
                           ? "there is no record in what was given"
                           : fmt::format("there is no episode `{}` in what was given", options.episode)});
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
    command->add_option("--format", options->format, "text or json (findings, one a line)")
        ->check(CLI::IsMember({"text", "json"}));
    add_accept(*command, options->accept);
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
