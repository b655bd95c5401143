// `linelaw due`: a worklist, what is due next and when, as of a moment, by care unit.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <memory>
#include <optional>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/episodes.hpp"
#include "compiler/cli/input_notes.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/output_folder.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/cli/worklist.hpp"

namespace linelaw::compiler::cli {
namespace {

using runtime::Episode;
using runtime::Instant;

struct Options {
    std::vector<std::string> operands;
    std::string as_of;
    std::string within = "24 h";
    std::string care_unit;
    std::string format = "table";
    std::vector<std::string> accept;
    Manner manner;
};

// "24 h", "90 min", "2 days": how far ahead to look.
std::optional<std::int64_t> ahead(const std::string& text) {
    double number = 0;
    const auto [rest, fault] = std::from_chars(text.data(), text.data() + text.size(), number);
    if (fault != std::errc()) return std::nullopt;
    const auto end = static_cast<std::size_t>(rest - text.data());
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
    runtime::Worklist worklist(*policy, as_of, *within, options.care_unit);
    std::uint64_t read = 0;
    std::uint64_t spoiled = 0;
    runtime::ReadCounts not_used;
    EpisodeSinks sinks;
    sinks.episode = [&](const Episode& episode, const EpisodePlace&) {
        return ++read, worklist.add(episode), true;
    };
    sinks.not_used = [&](const runtime::ReadCounts& seen) { not_used.add(seen); };
    sinks.spoiled = [&](const runtime::Spoiled&, const std::string&, const EpisodePlace&) { ++spoiled; };
    const auto files = record_files(given.records, options.manner.quiet);
    if (!files) return refuse(files.error());
    if (auto done = read_episodes(*policy, *files, sinks); !done) return refuse(done.error());
    if (read + spoiled == 0) return refuse({"records.none", "there is no record in what was given"});
    if (spoiled > 0) {
        warn(
            fmt::format("{} of {} records could not be read and are not in this list; `linelaw audit --out "
                        "DIR` says why\n",
                        spoiled, read + spoiled));
    }
    if (!options.manner.quiet) warn(not_used_note(not_used));
    const std::vector<runtime::Task> tasks = worklist.take();
    const WorklistView view{*policy, worklist.words(), as_of, options.within, read, spoiled};
    const std::string text = options.format == "json"  ? worklist_json(tasks, view)
                             : options.format == "csv" ? worklist_csv(tasks, view)
                             : options.format == "html"
                                 ? worklist_html(tasks, view)
                                 : worklist_table(tasks, view, colored(options.manner, Stream::output));
    if (auto written = write_out(text); !written) return refuse(written.error());
    const bool overdue =
        std::any_of(tasks.begin(), tasks.end(), [&](const runtime::Task& t) { return t.overdue(as_of); });
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
    command->add_option("--format", options->format, "table, csv, json or html (a page)")
        ->check(CLI::IsMember({"table", "csv", "json", "html"}));
    command->add_option("--care-unit", options->care_unit, "Only this care unit");
    add_accept(*command, options->accept);
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
