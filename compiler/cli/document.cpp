// `linelaw document`: the policy for the people who sign it and work by it.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include "compiler/accepted.hpp"
#include "compiler/cli/commands.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/cli/write_file.hpp"
#include "compiler/document/document.hpp"
#include "compiler/read_file.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::string policy;
    std::string format = "markdown";
    std::string since;
    std::string output = "-";
    Manner manner;
};

// A policy that can be documented; says why where there is none.
std::optional<Compilation> read(const std::string& path, const Options& options) {
    if (path != "-")
        if (const auto text = content_of(path, longest_text); !text) {
            refuse(text.error());
            return std::nullopt;
        }
    Compilation compilation = compile(path);
    if (!compilation.compiled) {
        warn(grammar::render_text(compilation.sources, compilation.diagnostics,
                                  render_options(options.manner, Stream::error)));
        return std::nullopt;
    }
    if (compilation.compiled->policy.title.empty()) {
        warn(fmt::format("{}: a vocabulary is read with the policies that use it\n", path));
        return std::nullopt;
    }
    return compilation;
}

int run(const Options& options) {
    auto compilation = read(options.policy, options);
    if (!compilation) return not_carried_out;
    std::optional<Compilation> before;
    if (!options.since.empty()) {
        before = read(options.since, options);
        if (!before) return not_carried_out;
    }
    auto analysis = analysis::analyse(*compilation);
    for (const auto& diagnostic : analysis.diagnostics) compilation->diagnostics.push_back(diagnostic);
    for (const auto& path : compilation->compiled->measured_against) {
        const Compilation baseline = compile(path);
        if (!baseline.compiled) {
            analysis.not_done.push_back("not measured against `" + path + "`: it does not compile");
            continue;
        }
        for (auto& diagnostic : analysis::measure_against(*compilation, baseline))
            compilation->diagnostics.push_back(std::move(diagnostic));
    }
    accept_findings(*compilation, {}, analysis.not_done.empty());
    const auto document = document::document(*compilation, analysis, before ? &*before : nullptr);
    const std::string text =
        options.format == "html" ? document::as_html(document) : document::as_markdown(document);
    if (options.output == "-") {
        say(text);
    } else if (const auto written = write_atomically(options.output, text); !written) {
        return refuse(written.error());
    }
    if (document.open == 0) return nothing_against;
    if (!options.manner.quiet)
        warn(fmt::format("{}: not ready to sign; `linelaw check` says why\n", options.policy));
    return findings;
}

}  // namespace

void add_document(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand(
        "document", "The policy for people: contents, clauses with their read-back, checklist, sign-off");
    command->add_option("policy", options->policy, "The policy; `-` is standard input")->required();
    command->add_option("--format", options->format, "markdown or html")
        ->check(CLI::IsMember({"markdown", "html"}));
    command->add_option("--since", options->since, "An earlier edition: what changed since is told in words");
    command->add_option("-o,--output", options->output, "The file to write; `-` is standard output");
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
