// `linelaw audit`: records judged by a policy; findings, summary, quarantine, and a page to read.
#include "runtime/audit.hpp"

#include <fmt/format.h>
#include <CLI/CLI.hpp>
#include <memory>

#include "compiler/cli/audit_files.hpp"
#include "compiler/cli/audit_progress.hpp"
#include "compiler/cli/checkpoint.hpp"
#include "compiler/cli/commands.hpp"
#include "compiler/cli/input_notes.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/output_folder.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/compile.hpp"
#include "runtime/findings.hpp"
#include "runtime/instant_reader.hpp"
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
    std::string settled;
    std::string since;
    std::string reviewed;
    std::string partial_key;
    std::string shard;
    std::string compress = "none";
    bool resume = false;
    std::optional<double> checkpoint_every;
    std::uint64_t sample = 0;
    std::uint64_t seed = 0;
    bool no_keys = false;
    unsigned jobs = 0;
    bool strict = false;
    std::vector<std::string> accept;
    Manner manner;
};

runtime::Result<runtime::AuditOptions> audit_options(const Options& options, const Operands& given,
                                                     const runtime::Policy& policy) {
    runtime::AuditOptions out;
    auto files = record_files(given.records, options.manner.quiet);
    if (!files) return tl::unexpected(files.error());
    out.inputs = std::move(*files);
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
    const auto at = runtime::read_time_of_day(options.count_at);
    if (!at) {
        return tl::unexpected(runtime::Error{
            "option.time", fmt::format("`{}` is no time of day; write 07:00", options.count_at)});
    }
    out.tally.count_at = *at;
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

// What the auditor brings along, read before anything is judged.
struct Brought {
    std::optional<runtime::Settled> settled;
    std::optional<runtime::Earlier> earlier;
    std::string answers;
    std::string settled_hash;
    std::string patients;  // a mark of the secret, by which parts under different ones are told apart
    std::optional<runtime::HashKey> key;
};

std::string mark_of(std::string_view text) {
    return fmt::format("{:016x}", runtime::keyed_hash({}, text));
}

runtime::Result<void> bring_key(const Options& options, Brought& brought) {
    if (options.partial_key.empty()) return {};
    if (options.no_keys) {
        return tl::unexpected(runtime::Error{
            "option.keys",
            "--partial-key and --no-keys do not go together: a partial summary holds keys of episodes"});
    }
    const auto secret = content_of(options.partial_key, longest_text);
    if (!secret) return tl::unexpected(secret.error());
    constexpr std::size_t shortest = 16;
    if (secret->size() < shortest) {
        return tl::unexpected(runtime::Error{
            "option.partial_key",
            fmt::format("{}: a secret has at least {} bytes; make one with `head -c 32 /dev/urandom > {}`",
                        options.partial_key, shortest, options.partial_key)});
    }
    brought.key = runtime::hash_key(*secret);
    brought.patients = fmt::format("{:016x}", runtime::keyed_hash(*brought.key, "linelaw partial summary"));
    return {};
}

runtime::Result<void> bring_review(const Options& options, Brought& brought) {
    if (!options.settled.empty()) {
        const auto text = content_of(options.settled);
        if (!text) return tl::unexpected(text.error());
        auto settled = runtime::Settled::read(*text, options.settled);
        if (!settled) return tl::unexpected(settled.error());
        brought.settled.emplace(std::move(*settled));
        brought.settled_hash = mark_of(*text);
    }
    if (!options.since.empty()) {
        auto earlier = runtime::Earlier::read(options.since);
        if (!earlier) return tl::unexpected(earlier.error());
        brought.earlier.emplace(std::move(*earlier));
    }
    if (options.sample != 0 && options.out.empty()) {
        return tl::unexpected(runtime::Error{"option.sample",
                                             "--sample needs --out DIR: the form, the sheet for the "
                                             "answers and the tool's own answers are files there"});
    }
    if (options.reviewed.empty()) return {};
    if (options.sample == 0) {
        return tl::unexpected(runtime::Error{
            "option.reviewed", "--reviewed needs the --sample and --seed with which the sample was drawn"});
    }
    auto answers = content_of(options.reviewed);
    if (!answers) return tl::unexpected(answers.error());
    brought.answers = std::move(*answers);
    return {};
}

struct Job {
    const Options& options;
    const runtime::Policy& policy;
    runtime::AuditOptions wanted;
    runtime::ChartChoice charts;
    Brought brought;
};

runtime::Audited described(const Job& job) {
    auto audited = runtime::audited(job.policy, job.wanted.tally, job.wanted.strict, LINELAW_VERSION);
    audited.charts = job.charts;
    audited.keys = job.wanted.keys;
    audited.sample = job.options.sample;
    audited.seed = job.options.sample != 0 ? job.options.seed : 0;
    audited.settled = job.brought.settled_hash;
    if (job.brought.earlier) audited.earlier = job.brought.earlier->mark();
    audited.patients = job.brought.patients;
    return audited;
}

// The reviewers' answers against the sample as it was drawn again.
runtime::Result<void> take_answers(const Job& job, runtime::Tally& tally) {
    if (job.options.reviewed.empty()) return {};
    auto agreements =
        runtime::agreements(job.brought.answers, job.options.reviewed, tally.review.sample.drawn());
    if (!agreements) return tl::unexpected(agreements.error());
    tally.review.agreements = std::move(*agreements);
    return {};
}

std::string summary_text(const Options& options, const runtime::Audited& audited, const runtime::Tally& tally,
                         Stream stream) {
    if (options.summary == "json") return runtime::summary_json(audited, tally);
    if (options.summary == "csv") return runtime::summary_csv(audited, tally);
    return runtime::summary_table(audited, tally, {colored(options.manner, stream), 100});
}

int status_of(const runtime::Audited& audited, const runtime::Tally& tally) {
    return runtime::against_after_review(audited, tally) + tally.quarantined > 0 ? findings : nothing_against;
}

// What is shown while judging goes on, and what is said of the files afterwards.
runtime::AuditSinks shown(const Job& job, LookNotes& looks) {
    runtime::AuditSinks sinks;
    sinks.progress = progress_line(!job.options.manner.quiet);
    if (!job.options.manner.quiet)
        sinks.look = [&looks](const std::string& file, std::string_view look) { looks.add(file, look); };
    return sinks;
}

// Findings on standard output, so that they can be piped; the summary on standard error.
int audit_to_output(const Job& job) {
    const bool piped = job.wanted.findings != runtime::FindingsWanted::nothing;
    LookNotes looks;
    runtime::AuditSinks sinks = shown(job, looks);
    if (piped) {
        if (job.wanted.csv) {
            if (auto written = write_out(runtime::csv_header()); !written) return refuse(written.error());
        }
        sinks.findings = [](std::string_view text) { return write_out(text); };
    }
    const auto tally = runtime::audit(job.policy, job.wanted, sinks);
    sinks.progress = nullptr;  // what follows is written where the line stood
    warn(looks.said());
    if (!tally) return refuse(tally.error());
    if (tally->read == 0) return refuse({"records.none", "there is no record in what was given"});
    const auto audited = described(job);
    if (piped) {
        if (!job.options.manner.quiet) warn(summary_text(job.options, audited, *tally, Stream::error));
    } else if (auto written = write_out(summary_text(job.options, audited, *tally, Stream::output));
               !written) {
        return refuse(written.error());
    }
    return status_of(audited, *tally);
}

runtime::Packing packing_of(const Options& options) {
    return options.compress == "zstd"   ? runtime::Packing::zstd
           : options.compress == "gzip" ? runtime::Packing::gzip
                                        : runtime::Packing::plain;
}

// Where the audit goes on from; nothing where it begins at the first record, which is then said.
runtime::Result<std::optional<Note>> note_of(const Job& job, OutputFolder& folder,
                                             const std::optional<MadeWith>& made) {
    if (!job.options.resume) {
        folder.begin_anew();
        return std::nullopt;
    }
    folder.keep();
    auto note = made ? read_note(folder.note_path(), *made) : std::nullopt;
    if (!note) return note;
    if (*note) return note;
    if (!job.options.manner.quiet) {
        warn(made
                 ? fmt::format("{}: there is no checkpoint here; the audit begins at the first record\n",
                               job.options.out)
                 : "what is not a file cannot be read a second time; the audit begins at the first record\n");
    }
    folder.begin_anew();
    folder.keep(false);
    return note;
}

int refuse_and_say_how_to_go_on(const OutputFolder& folder, const runtime::Error& error) {
    const int status = refuse(error);
    if (folder.kept()) {
        warn(fmt::format(
            "What was done until the last checkpoint is kept in {}. When the cause is mended, the "
            "same command with --resume goes on from there.\n",
            folder.unfinished_path()));
    }
    return status;
}

// All that is still to do for an audit of which all files are whole.
int put_in_place(OutputFolder& folder, const Complete& complete) {
    if (auto placed = folder.place(complete.files); !placed)
        return refuse_and_say_how_to_go_on(folder, placed.error());
    if (auto written = write_out(complete.said); !written) return refuse(written.error());
    return complete.status;
}

runtime::Result<runtime::Cut> cut_of(const Job& job, OutputFolder& folder, const Checkpoints& checkpoints) {
    if (job.wanted.shard.whole()) return runtime::Cut{};
    std::uint64_t bytes = 0;
    const auto& inputs = checkpoints.made_with->inputs;  // shards are cut from files alone
    for (const MadeWith::Input& input : inputs) bytes += input.size;
    runtime::Cut cut{
        job.wanted.shard,
        fmt::format("{} bytes in {} files", runtime::grouped(bytes), runtime::grouped(inputs.size())),
        job.options.findings,
        {}};
    const auto names = folder.finish();
    if (!names) return tl::unexpected(names.error());
    for (const std::string& name : *names) {
        auto stored = runtime::stored_file(folder.beside(name));
        if (!stored) return tl::unexpected(stored.error());
        cut.files.push_back(std::move(*stored));
    }
    return cut;
}

runtime::Result<Complete> write_folder(const Job& job, OutputFolder& folder, const Checkpoints& checkpoints) {
    LookNotes looks;
    auto tally =
        audit_into(folder, job.policy, job.wanted, packing_of(job.options), checkpoints, shown(job, looks));
    warn(looks.said());
    if (!tally) return tl::unexpected(tally.error());
    if (auto taken = take_answers(job, *tally); !taken) return tl::unexpected(taken.error());
    const auto audited = described(job);
    const auto cut = cut_of(job, folder, checkpoints);
    if (!cut) return tl::unexpected(cut.error());
    if (auto written = put_summaries(folder, audited, *tally, *cut); !written)
        return tl::unexpected(written.error());
    auto files = folder.finish();
    if (!files) return tl::unexpected(files.error());
    Complete complete{std::move(*files), status_of(audited, *tally), {}};
    if (!job.options.manner.quiet) {
        complete.said = summary_text(job.options, audited, *tally, Stream::output);
        if (job.options.summary == "table")
            complete.said += fmt::format("\nreport: {}\n", folder.path_of("report.html"));
    }
    if (checkpoints.made_with) {
        if (auto noted = folder.note(write_note(*checkpoints.made_with, complete)); !noted)
            return tl::unexpected(noted.error());
    }
    return complete;
}

int audit_to_folder(const Job& job) {
    auto folder = OutputFolder::open(job.options.out);
    if (!folder) return refuse(folder.error());
    auto made = made_with(job.wanted, described(job), packing_of(job.options));
    if (!made) return refuse(made.error());
    if (*made) (*made)->options.emplace_back("--reviewed", mark_of(job.brought.answers));
    auto note = note_of(job, *folder, *made);
    if (!note) return refuse(note.error());
    Checkpoints checkpoints{std::move(*made), std::nullopt, job.options.checkpoint_every};
    if (*note) {
        if (const auto* complete = std::get_if<Complete>(&**note)) return put_in_place(*folder, *complete);
        checkpoints.from = std::move(std::get<Halfway>(**note));
        if (job.brought.earlier && !job.brought.earlier->note(checkpoints.from->noted))
            return refuse(
                {"resume.damaged", fmt::format("{}: this checkpoint is damaged", folder->note_path())});
    }
    const auto complete = write_folder(job, *folder, checkpoints);
    return complete ? put_in_place(*folder, *complete)
                    : refuse_and_say_how_to_go_on(*folder, complete.error());
}

runtime::Error option_error(const char* option, std::string message) {
    return {fmt::format("option.{}", option), std::move(message)};
}

runtime::Result<void> see_to_out(const Options& options) {
    if (!options.out.empty()) {
        const bool goes_on = options.resume && OutputFolder::is_unfinished(options.out);
        const bool draws = options.sample != 0 && !goes_on;
        return draws ? see_to_sheet(options.out, options.reviewed) : runtime::Result<void>{};
    }
    const char* given = !options.shard.empty()       ? "--shard"
                        : options.resume             ? "--resume"
                        : options.compress != "none" ? "--compress"
                        : options.checkpoint_every   ? "--checkpoint-every"
                                                     : nullptr;
    if (given == nullptr) return {};
    return tl::unexpected(
        option_error("out", fmt::format("{} needs --out DIR: without it no file is written", given)));
}

runtime::Result<runtime::Shard> shard_of(const Options& options) {
    if (options.shard.empty()) return runtime::Shard{};
    const auto shard = runtime::read_shard(options.shard);
    if (!shard) {
        return tl::unexpected(option_error(
            "shard", fmt::format("`{}` is no shard; write 3/8 for the third of eight", options.shard)));
    }
    if (options.partial_key.empty() && !shard->whole()) {
        return tl::unexpected(
            option_error("shard",
                         "--shard needs --partial-key FILE, the same for every shard: without it there is no "
                         "partial.json for `merge` to add up"));
    }
    return *shard;
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
    Job job{options, *policy, *wanted, *charts, {}};
    if (auto brought = bring_key(options, job.brought); !brought) return refuse(brought.error());
    if (auto brought = bring_review(options, job.brought); !brought) return refuse(brought.error());
    if (auto seen = see_to_out(options); !seen) return refuse(seen.error());
    const auto shard = shard_of(options);
    if (!shard) return refuse(shard.error());
    job.wanted.shard = *shard;
    job.wanted.tally.patient_key = job.brought.key;
    job.wanted.keys = !options.no_keys;
    job.wanted.review = {job.brought.settled ? &*job.brought.settled : nullptr,
                         job.brought.earlier ? &*job.brought.earlier : nullptr, options.sample, options.seed};
    return options.out.empty() ? audit_to_output(job) : audit_to_folder(job);
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
        ->add_option(
            "--by", options->by,
            "An attribute to group by as well: facility, line.kind, patient.setting …; may be given again")
        ->type_size(1)
        ->allow_extra_args(false);
    command->add_option("--count-at", options->count_at,
                        "Time of day of the daily count of patients with a line");
    command->add_option(
        "--settled", options->settled,
        fmt::format("Rulings after chart review, one a line: a finding's id, `excused` or `not met`, the "
                    "reason, such as `{}`",
                    runtime::settlement_example));
    command->add_option(
        "--since", options->since,
        "An earlier run (its folder or findings.ndjson): says what is new, gone and the same");
    command->add_option("--sample", options->sample, "Draw so many opportunities for review by hand")
        ->check(CLI::Range(std::uint64_t{1}, std::uint64_t{10000}));
    constexpr std::uint64_t most_seed = 999'999'999'999'999;  // exact in whatever reads the summary
    command->add_option("--seed", options->seed, "Of the sample")
        ->capture_default_str()
        ->check(CLI::Range(std::uint64_t{0}, most_seed));
    command->add_option(
        "--reviewed", options->reviewed,
        "The sample's sheet (sample.csv), filled in: says how the reviewers agree with this program");
    command->add_flag("--no-keys", options->no_keys, "Leave even pseudonymous keys out of every output");
    command->add_option(
        "--partial-key", options->partial_key,
        "A file with a secret: write partial.json for `merge`, patients' keys hashed under it");
    command
        ->add_option("--compress", options->compress,
                     "Of the files with a line a finding, record or value: none, gzip or zstd")
        ->check(CLI::IsMember({"none", "gzip", "zstd"}))
        ->capture_default_str();
    command->add_option("--shard", options->shard,
                        "Of all records only a part, 3/8 for the third of eight; `merge` puts them together");
    command->add_flag("--resume", options->resume,
                      "Go on with the audit into --out that was stopped, from its last checkpoint");
    command
        ->add_option("--checkpoint-every", options->checkpoint_every,
                     "Seconds between checkpoints; if not given, ten or more, so that they cost little")
        ->check(CLI::Range(0.0, 86400.0));
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
