// `linelaw merge`: partial summaries of one policy added up, to the bytes of one run over all.
#include <fmt/format.h>

#include <filesystem>
#include <memory>

#include "compiler/cli/audit_files.hpp"
#include "compiler/cli/commands.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/compile.hpp"

namespace linelaw::compiler::cli {
namespace {

struct Options {
    std::vector<std::string> partials;
    std::string out;
    std::string summary = "table";
    Manner manner;
};

runtime::Result<runtime::Partial> read_one(const std::string& given) {
    std::error_code ignored;
    const std::string path = std::filesystem::is_directory(given, ignored)
                                 ? (std::filesystem::path(given) / "partial.json").string()
                                 : given;
    const auto text = read_file(path);
    if (!text) return tl::unexpected(runtime::Error{"file.read", fmt::format("cannot read {}", path)});
    auto partial = runtime::read_partial(*text);
    if (!partial) {
        return tl::unexpected(
            runtime::Error{partial.error().code, fmt::format("{}: {}", path, partial.error().message)});
    }
    return partial;
}

// Why two parts do not fit together, in the words of what a reader can change.
std::string difference(const runtime::Audited& a, const runtime::Audited& b) {
    if (a.content_hash != b.content_hash) return "it was judged by another policy, or another edition of it";
    if (a.as_of != b.as_of) return "it was judged as of another moment (--as-of)";
    if (a.by != b.by) return "it is grouped by other attributes (--by)";
    if (a.count_at != b.count_at) return "its patients were counted at another time of day (--count-at)";
    if (a.charts != b.charts) return "its charts follow other rules (--chart-rules, --control-chart)";
    if (a.patients != b.patients) return "its patients are hashed under another secret (--partial-key)";
    if (a.settled != b.settled) return "it took other settlements in (--settled)";
    if (a.earlier != b.earlier) return "it was held against another earlier run (--since)";
    if (a.sample != b.sample || a.seed != b.seed) return "its sample was drawn otherwise (--sample, --seed)";
    if (a.strict != b.strict) return "one of the two was judged --strict";
    return "it was made by another version of the program";
}

int run(const Options& options) {
    runtime::Partial sum;
    for (std::size_t i = 0; i < options.partials.size(); ++i) {
        auto partial = read_one(options.partials[i]);
        if (!partial) return refuse(partial.error());
        if (i == 0) {
            sum = std::move(*partial);
        } else if (partial->audited == sum.audited) {
            sum.tally.add(partial->tally);
        } else {
            return refuse({"partial.differs",
                           fmt::format("{} does not fit with {}: {}", options.partials[i],
                                       options.partials[0], difference(sum.audited, partial->audited))});
        }
    }
    std::string text =
        options.summary == "json" ? runtime::summary_json(sum.audited, sum.tally)
        : options.summary == "csv"
            ? runtime::summary_csv(sum.audited, sum.tally)
            : runtime::summary_table(sum.audited, sum.tally, {colored(options.manner, Stream::output), 100});
    if (!options.out.empty()) {
        auto folder = OutputFolder::open(options.out);
        if (!folder) return refuse(folder.error());
        if (auto written = put_summaries(*folder, sum.audited, sum.tally); !written)
            return refuse(written.error());
        if (auto committed = folder->commit(); !committed) return refuse(committed.error());
        if (options.summary == "table") text += fmt::format("\nreport: {}\n", folder->path_of("report.html"));
    }
    if (options.out.empty() || !options.manner.quiet) {
        if (auto written = write_out(text); !written) return refuse(written.error());
    }
    return runtime::against_after_review(sum.audited, sum.tally) + sum.tally.quarantined > 0
               ? findings
               : nothing_against;
}

}  // namespace

void add_merge(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand("merge", "Add up partial summaries, to the bytes of one run over all");
    command->add_option("partials", options->partials, "The partial.json of each audit, or its folder")
        ->required();
    command->add_option("--out", options->out,
                        "The folder to write summary.json, partial.json and report.html into");
    command->add_option("--summary", options->summary, "Of the summary that is shown: table, json or csv")
        ->check(CLI::IsMember({"table", "json", "csv"}));
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
