// `linelaw due`: a worklist, what is due next and when, as of a moment, by care unit.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <tuple>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/episodes.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/output_folder.hpp"
#include "compiler/cli/terminal.hpp"
#include "runtime/csv.hpp"
#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
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
    std::string as_of;
    std::string within = "24 h";
    std::string format = "table";
    std::vector<std::string> accept;
    Manner manner;
};

struct Task {
    std::string care_unit;
    std::string episode;
    std::string what;
    std::string item;
    runtime::Priority priority = runtime::Priority::major;
    Instant opened = 0;
    Instant due = 0;
    Instant limit = 0;
    std::optional<Instant> known_until;  // where the record ends before the moment of the list
    auto order() const { return std::tie(care_unit, limit, priority, episode, item); }
};

// "24 h", "90 min", "2 days": how far ahead to look.
std::optional<std::int64_t> ahead(const std::string& text) {
    std::size_t end = 0;
    double number = 0;
    try {
        number = std::stod(text, &end);
    } catch (const std::exception&) {
        return std::nullopt;
    }
    const std::string unit = text.substr(std::min(text.size(), text.find_first_not_of(' ', end)));
    std::int64_t grain = 0;
    if (unit == "min") grain = runtime::microseconds_per_minute;
    if (unit == "h") grain = runtime::microseconds_per_hour;
    if (unit == "day" || unit == "days") grain = 24 * runtime::microseconds_per_hour;
    constexpr double most = 3660.0 * 24 * 3'600'000'000.0;
    const double micro = number * static_cast<double>(grain);
    if (grain == 0 || !(number >= 0) || micro > most) return std::nullopt;
    return static_cast<std::int64_t>(micro);
}

class Worklist {
  public:
    Worklist(const Policy& policy, Instant as_of, std::int64_t within)
        : policy_(policy), words_(policy), engine_(policy), items_(policy), as_of_(as_of), within_(within) {}

    void add(const Episode& whole) {
        const Episode episode = known_by_then(whole);
        if (episode.events.empty() && !episode.observed_from) return;
        if (episode.inserted_at && *episode.inserted_at > as_of_) return;
        engine_.begin(episode);
        engine_.feed(episode);
        engine_.advance(episode, as_of_);
        for (const runtime::Due& due : engine_.due(episode)) {
            const Opportunity& o = due.opportunity;
            if (!o.due || *o.due > as_of_ + within_) continue;
            tasks_.push_back(task(episode, o));
        }
    }
    std::vector<Task> take() {
        std::sort(tasks_.begin(), tasks_.end(),
                  [](const Task& a, const Task& b) { return a.order() < b.order(); });
        return std::move(tasks_);
    }
    const runtime::Words& words() const { return words_; }

  private:
    // The record as it stood then: nothing that came later.
    Episode known_by_then(const Episode& whole) const {
        Episode episode = whole;
        episode.events.erase(std::remove_if(episode.events.begin(), episode.events.end(),
                                            [&](const runtime::Event& e) { return e.at > as_of_; }),
                             episode.events.end());
        if (episode.removed_at && *episode.removed_at > as_of_) episode.removed_at.reset();
        if (episode.observed_until && *episode.observed_until > as_of_) episode.observed_until.reset();
        return episode;
    }
    Task task(const Episode& episode, const Opportunity& o) const {
        Task task;
        task.care_unit = episode.care_unit;
        task.episode = episode.key;
        task.what = asked_for(o);
        if (o.part_kind != none) task.what += " of " + words_.part(o.part_kind, o.part, episode);
        task.item = runtime::item_name(policy_, items_[items_.of(o)]);
        task.priority = runtime::priority_of(policy_, o);
        task.opened = o.opened;
        task.due = *o.due;
        task.limit = o.limit.value_or(*o.due);
        if (episode.observed_until) task.known_until = episode.observed_until;
        return task;
    }
    std::string asked_for(const Opportunity& o) const {
        if (o.origin == runtime::OriginKind::ladder) {
            const runtime::Ladder& ladder = policy_.ladders[o.item];
            if (o.step >= ladder.steps.size())
                return "hold until " + words_.events(ladder.holds[o.step - ladder.steps.size()].until);
            std::string roles;
            for (const runtime::RoleId role : ladder.steps[o.step].roles) {
                roles += (roles.empty() ? "" : " or ") + runtime::Words::name(policy_.roles[role]);
            }
            return "notify the " + roles;
        }
        return std::visit(runtime::overloaded{
                              [&](const runtime::AtLeastEvery& d) { return words_.events(d.events); },
                              [&](const runtime::EachPeriod& d) { return words_.events(d.events); },
                              [&](const runtime::Within& d) { return words_.events(d.events); },
                              [&](const runtime::WithinEitherSide& d) { return words_.events(d.events); },
                              [&](const auto&) { return policy_.clauses[o.item].sentence; },
                          },
                          policy_.clauses[o.item].demand);
    }

    const Policy& policy_;
    runtime::Words words_;
    runtime::Engine engine_;
    runtime::Items items_;
    Instant as_of_;
    std::int64_t within_;
    std::vector<Task> tasks_;
};

std::string when_to(Instant limit, Instant as_of) {
    if (limit < as_of) return "overdue " + runtime::Words::lasted(as_of - limit);
    return "in " + runtime::Words::lasted(limit - as_of);
}

std::string table(const std::vector<Task>& tasks, const runtime::Words& words, Instant as_of,
                  const Options& options, const std::string& zone) {
    const bool color = colored(options.manner, Stream::output);
    std::string out = fmt::format("due as of {} ({}), overdue or within {}: {}\n", words.when(as_of), zone,
                                  options.within, tasks.size());
    const std::string* unit = nullptr;
    bool stale = false;
    for (const Task& task : tasks) {
        if (unit == nullptr || *unit != task.care_unit) {
            const std::string name = task.care_unit.empty() ? "no care unit recorded" : task.care_unit;
            out += fmt::format("\n{}{}{}\n", color ? "\x1b[1m" : "", name, color ? "\x1b[0m" : "");
            unit = &task.care_unit;
        }
        std::string mark;
        if (task.known_until) mark = " *", stale = true;
        const bool overdue = task.limit < as_of;
        out +=
            fmt::format("  {}{:<22}{} {:<18} {:<12} {}  ({}, {}){}\n", color && overdue ? "\x1b[1;31m" : "",
                        when_to(task.limit, as_of), color && overdue ? "\x1b[0m" : "",
                        "by " + runtime::write_local(task.limit, words.zone()), task.episode, task.what,
                        task.item, runtime::priority_name(task.priority), mark);
    }
    if (stale) out += "\n* the record ends before this moment; what came after it is not known here\n";
    out +=
        "\nA worklist from what is charted. Before acting, read the chart; the facility's policy and "
        "licensed\nclinical judgement decide.\n";
    return out;
}

std::string csv(const std::vector<Task>& tasks, Instant as_of) {
    std::string out = "care_unit,episode,what,item,priority,opened,due,limit,overdue_s,known_until\r\n";
    for (const Task& task : tasks) {
        runtime::put_cell(out, task.care_unit);
        runtime::put_cell(out, task.episode);
        runtime::put_cell(out, task.what);
        runtime::put_cell(out, task.item);
        runtime::put_cell(out, runtime::priority_name(task.priority));
        runtime::put_cell(out, runtime::write_instant(task.opened));
        runtime::put_cell(out, runtime::write_instant(task.due));
        runtime::put_cell(out, runtime::write_instant(task.limit));
        runtime::put_cell(out, std::to_string((as_of - task.limit) / runtime::microseconds_per_second));
        runtime::put_cell(out, task.known_until ? runtime::write_instant(*task.known_until) : "", true);
    }
    return out;
}

std::string json(const std::vector<Task>& tasks, Instant as_of) {
    nlohmann::ordered_json out;
    out["schema"] = "linelaw/due/1";
    out["as_of"] = runtime::write_instant(as_of);
    out["due"] = nlohmann::ordered_json::array();
    for (const Task& task : tasks) {
        nlohmann::ordered_json entry;
        if (!task.care_unit.empty()) entry["care_unit"] = task.care_unit;
        entry["episode"] = task.episode;
        entry["what"] = task.what;
        entry["item"] = task.item;
        entry["priority"] = runtime::priority_name(task.priority);
        entry["opened"] = runtime::write_instant(task.opened);
        entry["due"] = runtime::write_instant(task.due);
        entry["limit"] = runtime::write_instant(task.limit);
        entry["overdue_s"] = (as_of - task.limit) / runtime::microseconds_per_second;
        if (task.known_until) entry["known_until"] = runtime::write_instant(*task.known_until);
        out["due"].push_back(std::move(entry));
    }
    return out.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

Instant clock_now() {
    using namespace std::chrono;
    return duration_cast<microseconds>(system_clock::now().time_since_epoch()).count();
}

int run(const Options& options) {
    const Operands given = operands(options.operands);
    if (given.records.empty())
        return refuse({"operands", "no records were given; write `linelaw due POLICY RECORDS…`"});
    const auto policy = policy_of(given, options.accept, options.manner);
    if (!policy) return not_carried_out;
    Instant as_of = clock_now();
    if (!options.as_of.empty()) {
        const auto at = moment(options.as_of, policy->time_zone);
        if (!at) return refuse(at.error());
        as_of = *at;
    }
    const auto within = ahead(options.within);
    if (!within)
        return refuse({"option.within",
                       fmt::format("`{}` is no time ahead; write 24 h, 90 min or 2 days", options.within)});
    Worklist worklist(*policy, as_of, *within);
    std::uint64_t read = 0;
    std::uint64_t spoiled = 0;
    EpisodeSinks sinks;
    sinks.episode = [&](const Episode& episode, const EpisodePlace&) {
        return ++read, worklist.add(episode), true;
    };
    sinks.spoiled = [&](const runtime::Spoiled&, const EpisodePlace&) { ++spoiled; };
    if (auto done = read_episodes(*policy, given.records, sinks); !done) return refuse(done.error());
    if (read + spoiled == 0) return refuse({"records.none", "there is no record in what was given"});
    if (spoiled > 0) {
        warn(
            fmt::format("{} of {} records could not be read and are not in this list; `linelaw audit --out "
                        "DIR` says why\n",
                        spoiled, read + spoiled));
    }
    const std::vector<Task> tasks = worklist.take();
    const std::string text = options.format == "json" ? json(tasks, as_of)
                             : options.format == "csv"
                                 ? csv(tasks, as_of)
                                 : table(tasks, worklist.words(), as_of, options, policy->time_zone);
    if (auto written = write_out(text); !written) return refuse(written.error());
    const bool overdue =
        std::any_of(tasks.begin(), tasks.end(), [&](const Task& t) { return t.limit < as_of; });
    return overdue || spoiled > 0 ? findings : nothing_against;
}

}  // namespace

void add_due(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command =
        app.add_subcommand("due", "What is due next and when, as of a moment: a worklist by care unit");
    command
        ->add_option("operands", options->operands,
                     "POLICY RECORDS…: a policy (text or compiled), then files, folders or `-`")
        ->required();
    command->add_option("--as-of", options->as_of, "The moment of the list; now, if not given");
    command->add_option("--within", options->within, "How far ahead: 24 h, 90 min, 2 days")
        ->capture_default_str();
    command->add_option("--format", options->format, "table, csv or json")
        ->check(CLI::IsMember({"table", "csv", "json"}));
    add_accept(*command, options->accept);
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
