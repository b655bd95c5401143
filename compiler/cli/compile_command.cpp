// `linelaw compile`: a policy's text to the compiled policy that everything else runs.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/cli/write_file.hpp"
#include "compiler/load.hpp"
#include "runtime/policy_json.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::string policy;
    std::string output;
    std::vector<std::string> accept;
    Manner manner;
};

int run(const Options& options) {
    const Loaded loaded = load_policy(options.policy, options.accept);
    warn(what_was_said(loaded, render_options(options.manner, Stream::error)));
    if (!loaded.policy) {
        if (loaded.error) return not_carried_out;
        warn(fmt::format("{}: not compiled; `linelaw check` says more\n", options.policy));
        return findings;
    }
    const std::string json = runtime::write_policy(*loaded.policy);
    if (const auto read = runtime::read_policy(json); !read) {
        warn(
            fmt::format("{}: not compiled: nothing could read what would be written ({}), which is a fault "
                        "of this program\n",
                        options.policy, read.error().message));
        return not_carried_out;
    }
    if (options.output == "-") {
        say(json);
        return nothing_against;
    }
    if (const auto written = write_atomically(options.output, json); !written) return refuse(written.error());
    return nothing_against;
}

}  // namespace

void add_compile(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand("compile", "The compiled policy: JSON, for everything that runs it");
    command->add_option("policy", options->policy, "The policy; `-` is standard input")->required();
    command->add_option("-o,--output", options->output, "The file to write; `-` is standard output")
        ->required();
    add_accept(*command, options->accept);
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
