// `linelaw audit`: records judged by a policy; findings, summary, quarantine, and a page to read.
#include "runtime/audit.hpp"

#include <fmt/format.h>
#include <memory>

#include "compiler/cli/audit_files.hpp"
#include "compiler/cli/commands.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/output_folder.hpp"
#include "compiler/cli/terminal.hpp"
#include "runtime/findings.hpp"
#include "runtime/summary.hpp"

namespace linelaw::compiler::cli {
namespace {

struct Options {
    std::vector<std::string> operands;
    std::string out;
    std::string findings;  // against, all, none; empty: against with --out, none without
    std::string format = "ndjson";
    std::string summary = "table";
    std::string as_of;
    std::string count_at = "07:00";
    std::vector<std::string> by;
    std::string chart_rules = "shift,crossings";
    std::string control_chart = "p";
    unsigned jobs = 0;
    bool strict = false;
    std::vector<std::string> accept;
    Manner manner;
};

// Records, rate, share and time left.
std::string progress_words(const runtime::Progress& progress, double seconds) {
    std::string line = fmt::format(
        "{} records, {} a second", runtime::grouped(progress.records),
        runtime::grouped(static_cast<std::uint64_t>(static_cast<double>(progress.records) / seconds)));
    if (progress.bytes_total > 0 && progress.bytes_read > 0) {
        const double share =
            static_cast<double>(progress.bytes_read) / static_cast<double>(progress.bytes_total);
        line += fmt::format(", {:.0f} %, {:.0f} s left", 100 * share, seconds * (1 - share) / share);
    }
    return line;
}

runtime::Result<runtime::AuditOptions> audit_options(const Options& options, const Operands& given,
                                                     const runtime::Policy& policy) {
    runtime::AuditOptions out;
    out.inputs = given.records;
    out.jobs = options.jobs;
    out.strict = options.strict;
    out.csv = options.format == "csv";
    std::string findings = options.findings;
    if (findings.empty()) findings = options.out.empty() ? "none" : "against";
    out.findings = findings == "all"    ? runtime::FindingsWanted::all
                   : findings == "none" ? runtime::FindingsWanted::nothing
                                        : runtime::FindingsWanted::against;
    out.tally.by = options.by;
    if (!options.as_of.empty()) {
        const auto as_of = moment(options.as_of, policy.time_zone);
        if (!as_of) return tl::unexpected(as_of.error());
        out.tally.as_of = *as_of;
    }
    const auto at = moment("1970-01-01T" + options.count_at + "Z", "UTC");
    const auto at_minute = at ? at : moment("1970-01-01T" + options.count_at + ":00Z", "UTC");
    if (!at_minute || *at_minute < 0 || *at_minute >= 24 * runtime::microseconds_per_hour) {
        return tl::unexpected(runtime::Error{
            "option.time", fmt::format("`{}` is no time of day; write 07:00", options.count_at)});
    }
    out.tally.count_at = *at_minute;
    return out;
}

runtime::Result<runtime::ChartChoice> chart_choice(const Options& options) {
    const auto rules = runtime::read_chart_rules(options.chart_rules);
    if (!rules) {
        return tl::unexpected(runtime::Error{
            "option.chart_rules",
            fmt::format(
                "`{}` are no rules of run charts; write some of shift, crossings, runs, run-6, trend-5, "
                "with commas between",
                options.chart_rules)});
    }
    const auto control = options.control_chart == "u"   ? runtime::ControlKind::u
                         : options.control_chart == "c" ? runtime::ControlKind::c
                                                        : runtime::ControlKind::p;
    return runtime::ChartChoice{control, *rules};
}

runtime::Audited described(const runtime::Policy& policy, const runtime::AuditOptions& wanted,
                           const runtime::ChartChoice& charts) {
    auto audited = runtime::audited(policy, wanted.tally, wanted.strict, LINELAW_VERSION);
    audited.charts = charts;
    return audited;
}

std::string summary_text(const Options& options, const runtime::Audited& audited, const runtime::Tally& tally,
                         Stream stream) {
    if (options.summary == "json") return runtime::summary_json(audited, tally);
    if (options.summary == "csv") return runtime::summary_csv(audited, tally);
    return runtime::summary_table(audited, tally, {colored(options.manner, stream), 100});
}

int status_of(const runtime::Audited& audited, const runtime::Tally& tally) {
    return runtime::against_in(audited, tally) + tally.quarantined > 0 ? findings : nothing_against;
}

// Findings on standard output, so that they can be piped; the summary on standard error.
int audit_to_output(const Options& options, const runtime::Policy& policy,
                    const runtime::AuditOptions& wanted, const runtime::ChartChoice& charts) {
    ProgressLine progress(!options.manner.quiet);
    const bool piped = wanted.findings != runtime::FindingsWanted::nothing;
    runtime::AuditSinks sinks;
    if (piped) {
        if (wanted.csv) {
            if (auto written = write_out(runtime::csv_header()); !written) return refuse(written.error());
        }
        sinks.findings = [](std::string_view text) { return write_out(text); };
    }
    sinks.progress = [&](const runtime::Progress& p) {
        progress.show([&](double seconds) { return progress_words(p, seconds); });
    };
    const auto tally = runtime::audit(policy, wanted, sinks);
    if (!tally) return refuse(tally.error());
    if (tally->read == 0) return refuse({"records.none", "there is no record in what was given"});
    const auto audited = described(policy, wanted, charts);
    if (piped) {
        if (!options.manner.quiet) warn(summary_text(options, audited, *tally, Stream::error));
    } else if (auto written = write_out(summary_text(options, audited, *tally, Stream::output)); !written) {
        return refuse(written.error());
    }
    return status_of(audited, *tally);
}

int audit_to_folder(const Options& options, const runtime::Policy& policy,
                    const runtime::AuditOptions& wanted, const runtime::ChartChoice& charts) {
    auto folder = OutputFolder::open(options.out);
    if (!folder) return refuse(folder.error());
    const auto tally = audit_into(
        *folder, policy, wanted,
        [progress = std::make_shared<ProgressLine>(!options.manner.quiet)](const runtime::Progress& p) {
            progress->show([&](double seconds) { return progress_words(p, seconds); });
        });
    if (!tally) return refuse(tally.error());
    const auto audited = described(policy, wanted, charts);
    if (auto written = put_summaries(*folder, audited, *tally); !written) return refuse(written.error());
    if (auto committed = folder->commit(); !committed) return refuse(committed.error());
    if (!options.manner.quiet) {
        std::string text = summary_text(options, audited, *tally, Stream::output);
        if (options.summary == "table") text += fmt::format("\nreport: {}\n", folder->path_of("report.html"));
        if (auto written = write_out(text); !written) return refuse(written.error());
    }
    return status_of(audited, *tally);
}

int run(const Options& options) {
    const Operands given = operands(options.operands);
    if (given.records.empty()) {
        return refuse(
            {"operands",
             "no records were given; write `linelaw audit POLICY RECORDS…`, `-` for standard input"});
    }
    const auto policy = policy_of(given, options.accept, options.manner);
    if (!policy) return not_carried_out;
    const auto wanted = audit_options(options, given, *policy);
    if (!wanted) return refuse(wanted.error());
    const auto charts = chart_choice(options);
    if (!charts) return refuse(charts.error());
    return options.out.empty() ? audit_to_output(options, *policy, *wanted, *charts)
                               : audit_to_folder(options, *policy, *wanted, *charts);
}

}  // namespace

void add_audit(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command =
        app.add_subcommand("audit", "Judge records by a policy: findings, summary, quarantine, a page");
    command
        ->add_option("operands", options->operands,
                     "POLICY RECORDS…: a policy (text or compiled), then files, folders or `-`")
        ->required();
    command->add_option("--out", options->out,
                        "The folder to write findings, summary, quarantine and report.html into");
    command
        ->add_option("--findings", options->findings,
                     "Which findings: against (the default with --out), all or none")
        ->check(CLI::IsMember({"against", "all", "none"}));
    command->add_option("--format", options->format, "Of the findings: ndjson or csv")
        ->check(CLI::IsMember({"ndjson", "csv"}));
    command->add_option("--summary", options->summary, "Of the summary that is shown: table, json or csv")
        ->check(CLI::IsMember({"table", "json", "csv"}));
    command->add_option("--as-of", options->as_of,
                        "Until when records are known that do not say so themselves");
    command
        ->add_option("--by", options->by,
                     "An attribute to group by as well: facility, line.kind, patient.setting …")
        ->type_size(1)
        ->allow_extra_args(false);
    command->add_option("--count-at", options->count_at,
                        "Time of day of the daily count of patients with a line");
    command
        ->add_option("--chart-rules", options->chart_rules,
                     "What run charts take for a signal: shift, crossings, runs, run-6, trend-5 …")
        ->capture_default_str();
    command
        ->add_option("--control-chart", options->control_chart,
                     "Of the months: p (share met), u (against per 1,000 line-days), c (number against)")
        ->check(CLI::IsMember({"p", "u", "c"}))
        ->capture_default_str();
    command
        ->add_option("--jobs", options->jobs, "Threads that judge; as many as there are cores if not given")
        ->check(CLI::Range(1U, 1024U));
    command->add_flag("--strict", options->strict, "A value that cannot be used quarantines its record");
    add_accept(*command, options->accept);
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
