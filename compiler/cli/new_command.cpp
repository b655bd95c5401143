// `linelaw new`: a policy to begin with, from the questions of a vocabulary.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <filesystem>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/cli/write_file.hpp"
#include "compiler/compile.hpp"
#include "compiler/skeleton.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::string vocabulary;
    std::string output = "-";
    Manner manner;
};

// A policy names its vocabulary beside itself.
std::string beside(const std::string& vocabulary, const std::string& output) {
    if (output == "-") return vocabulary;
    const auto folder = std::filesystem::absolute(output).parent_path();
    return std::filesystem::absolute(vocabulary).lexically_relative(folder).generic_string();
}

int run(const Options& options) {
    const auto refuse = [&](std::string_view path, std::string_view why) {
        warn(fmt::format("the file `{}` {}\n", path, why));
        return not_carried_out;
    };
    if (options.vocabulary == "-")
        return refuse("-", "cannot be a vocabulary here: the policy that is made has to name it");
    if (const auto text = content_of(options.vocabulary, longest_text); !text)
        return cli::refuse(text.error());
    const Compilation compilation = compile(options.vocabulary);
    if (!compilation.compiled) {
        warn(grammar::render_text(compilation.sources, compilation.diagnostics,
                                  render_options(options.manner, Stream::error)));
        return not_carried_out;
    }
    grammar::Sources sources;
    Report report(sources);
    const Layers layers = read_layers(options.vocabulary, read_file, sources, report);
    if (layers.is_policy) return refuse(options.vocabulary, "is a policy; `new` takes a vocabulary");
    const std::string text = skeleton(layers, beside(options.vocabulary, options.output));
    if (options.output == "-") {
        say(text);
        return nothing_against;
    }
    if (std::filesystem::exists(options.output))
        return refuse(options.output, "is there already and is left as it is");
    if (const auto written = write_atomically(options.output, text); !written)
        return cli::refuse(written.error());
    return nothing_against;
}

}  // namespace

void add_new(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand(
        "new",
        "A policy to begin with: a vocabulary's questions, each left to judgement until it is written");
    command->add_option("vocabulary", options->vocabulary, "The vocabulary")->required();
    command->add_option("-o,--output", options->output,
                        "The file to write, which must not be there yet; `-` is standard output");
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
