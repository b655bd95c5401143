// `linelaw schema`: a JSON Schema of the records that a policy takes.
#include <CLI/CLI.hpp>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/load.hpp"
#include "runtime/record_schema.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::string policy;
    Manner manner;
};

int run(const Options& options) {
    const Loaded loaded = load_policy(options.policy);
    // What records look like hangs on the vocabulary alone: no conflict or gap stops it.
    const auto& compiled = loaded.compilation.compiled;
    if (!loaded.policy && !compiled) {
        warn(what_was_said(loaded, render_options(options.manner, Stream::error)));
        return not_carried_out;
    }
    say(runtime::record_schema(loaded.policy ? *loaded.policy : compiled->policy));
    return nothing_against;
}

}  // namespace

void add_schema(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand("schema", "A JSON Schema of the records that a policy takes");
    command->add_option("policy", options->policy, "The policy, as a text or compiled; `-` is standard input")
        ->required();
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
