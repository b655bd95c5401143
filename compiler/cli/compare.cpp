// `linelaw compare`: what a new policy changes against an old one, in words, in work and on records.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <algorithm>

#include "compiler/analysis/analysis.hpp"
#include "compiler/cli/commands.hpp"
#include "compiler/cli/compare_text.hpp"
#include "compiler/cli/input_notes.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/output_folder.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/compile.hpp"
#include "compiler/trial.hpp"
#include "grammar/render.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::string before;
    std::string after;
    std::vector<std::string> records;
    std::string format = "text";
    Manner manner;
};

// A policy's text, compiled; nothing where it cannot be, and then why has been written to standard error.
std::optional<Compilation> read_policy(const std::string& path, const Manner& manner) {
    const auto text = path == "-" ? runtime::Result<std::string>("") : content_of(path, longest_text);
    if (!text) {
        refuse(text.error());
        return std::nullopt;
    }
    if (grammar::is_json(*text)) {
        warn(fmt::format(
            "`{}` is JSON, as compiled policies are, and clauses are compared as they are written: give the "
            "policy's text\n",
            path));
        return std::nullopt;
    }
    Compilation compilation = compile(path);
    if (!compilation.compiled) {
        warn(grammar::render_text(compilation.sources, compilation.diagnostics,
                                  render_options(manner, Stream::error)));
        return std::nullopt;
    }
    return compilation;
}

std::string head_of(const Compilation& compilation, const std::string& path) {
    const runtime::Policy& policy = compilation.compiled->policy;
    return fmt::format("{}, edition {} ({})", policy.title, policy.edition, path);
}

// Or may do so: what was not weighed must be read by somebody.
bool gives_up_something(const analysis::Comparison& comparison) {
    using Kind = analysis::Difference::Kind;
    if (std::any_of(comparison.changes.begin(), comparison.changes.end(),
                    [](const auto& change) { return change.weighed != analysis::Weighed::yes; }))
        return true;
    return std::any_of(comparison.differences.begin(), comparison.differences.end(), [](const auto& d) {
        return d.kind == Kind::looser || d.kind == Kind::incomparable || d.kind == Kind::dropped;
    });
}

int run(const Options& options) {
    const auto before = read_policy(options.before, options.manner);
    const auto after = read_policy(options.after, options.manner);
    if (!before || !after) return not_carried_out;
    Compared compared;
    compared.before = head_of(*before, options.before);
    compared.after = head_of(*after, options.after);
    compared.comparison = compiler::compared(*before, *after);
    if (!options.records.empty()) {
        const auto files = record_files(options.records, options.manner.quiet);
        if (!files) return refuse(files.error());
        auto replayed = replay(before->compiled->policy, after->compiled->policy, *files);
        if (!replayed) return refuse(replayed.error());
        if (replayed->records + replayed->unread == 0)
            return refuse({"records.none", "there is no record in what was given"});
        compared.replay = std::move(*replayed);
    }
    const std::string text = options.format == "json" ? comparison_json(compared) : comparison_text(compared);
    if (auto written = write_out(text); !written) return refuse(written.error());
    return gives_up_something(compared.comparison) ? findings : nothing_against;
}

}  // namespace

void add_compare(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand(
        "compare",
        "What a new policy changes: stricter, looser, added, dropped, every change of the text; with "
        "--records, what flips");
    command->add_option("old", options->before, "The policy as it was")->required();
    command->add_option("new", options->after, "The policy as it is to be")->required();
    command
        ->add_option("--records", options->records,
                     "A file or folder of records, or `-`: judged by both; may be given again")
        ->type_size(1)
        ->allow_extra_args(false);
    command->add_option("--format", options->format, "text or json")->check(CLI::IsMember({"text", "json"}));
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
