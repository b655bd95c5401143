// `linelaw compile`: a policy's text to the compiled policy that everything else runs.
#include <fmt/format.h>

#include <algorithm>

#include "compiler/accepted.hpp"
#include "compiler/analysis/analysis.hpp"
#include "compiler/cli/commands.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/compile.hpp"
#include "runtime/policy_json.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::string policy;
    std::string output;
    std::vector<std::string> accept;
    Manner manner;
};

bool stops(const grammar::Diagnostic& diagnostic) {
    return diagnostic.severity == grammar::Severity::error ||
           diagnostic.severity == grammar::Severity::against;
}

int run(const Options& options) {
    if (options.policy != "-" && !read_file(options.policy)) {
        warn(fmt::format("the file `{}` cannot be read\n", options.policy));
        return not_carried_out;
    }
    Compilation compilation = compile(options.policy);
    if (compilation.compiled && compilation.compiled->policy.title.empty()) {
        warn(fmt::format("{}: a vocabulary is compiled with the policies that use it\n", options.policy));
        return not_carried_out;
    }
    if (compilation.compiled) {
        auto analysis = analysis::analyse(compilation);
        for (auto& diagnostic : analysis.diagnostics)
            compilation.diagnostics.push_back(std::move(diagnostic));
        accept_findings(compilation, options.accept, false);
    }
    std::vector<grammar::Diagnostic> stopping;
    std::copy_if(compilation.diagnostics.begin(), compilation.diagnostics.end(), std::back_inserter(stopping),
                 stops);
    warn(grammar::render_text(compilation.sources, stopping, render_options(options.manner, Stream::error)));
    if (!stopping.empty() || !compilation.compiled) {
        warn(fmt::format("{}: not compiled; `linelaw check` says more\n", options.policy));
        return findings;
    }
    const std::string json = runtime::write_policy(compilation.compiled->policy);
    if (options.output == "-") {
        say(json);
        return nothing_against;
    }
    if (const auto written = write_atomically(options.output, json); !written) {
        warn(written.error().message + '\n');
        return not_carried_out;
    }
    return nothing_against;
}

}  // namespace

void add_compile(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand("compile", "The compiled policy: JSON, for everything that runs it");
    command->add_option("policy", options->policy, "The policy; `-` is standard input")->required();
    command->add_option("-o,--output", options->output, "The file to write; `-` is standard output")
        ->required();
    command
        ->add_option("--accept", options->accept, "A code whose findings are let stand; may be given again")
        ->type_size(1)
        ->allow_extra_args(false);
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
