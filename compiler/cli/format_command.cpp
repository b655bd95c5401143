// `linelaw format`: policies and vocabularies in canonical layout.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/cli/write_file.hpp"
#include "compiler/compile.hpp"
#include "grammar/format.hpp"
#include "grammar/parse.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::vector<std::string> policies;
    bool check = false;
    Manner manner;
};

// Whether the text is read as the tree that it was written from, no comment lost.
bool says_the_same(const std::string& path, const std::string& formatted, const grammar::Tree& tree) {
    grammar::Sources sources;
    const auto again = grammar::parse(sources, sources.add({path, formatted}));
    return again.diagnostics.empty() && again.tree.comments.size() == tree.comments.size() &&
           grammar::dump(again.tree) == grammar::dump(tree);
}

int format_one(const std::string& path, const Options& options) {
    const auto content = content_of(path, longest_text);
    if (!content) return refuse(content.error());
    grammar::Sources sources;
    const auto text = sources.add({path, *content});
    const auto parsed = grammar::parse(sources, text);
    if (!parsed.diagnostics.empty()) {
        warn(
            grammar::render_text(sources, parsed.diagnostics, render_options(options.manner, Stream::error)));
        warn(fmt::format("{}: not formatted\n", path));
        return findings;
    }
    const std::string formatted = grammar::format(sources, text, parsed.tree);
    if (!says_the_same(path, formatted, parsed.tree)) {
        warn(
            fmt::format("{}: left as it is: laid out, it would no longer say the same, which is a fault of "
                        "this program\n",
                        path));
        return not_carried_out;
    }
    if (options.check) {
        if (formatted == *content) return nothing_against;
        say(fmt::format("{}: not in canonical layout\n", path));
        return findings;
    }
    if (path == "-") {
        say(formatted);
        return nothing_against;
    }
    if (formatted == *content) return nothing_against;
    if (const auto written = write_atomically(path, formatted); !written) return refuse(written.error());
    if (!options.manner.quiet) say(fmt::format("{}: formatted\n", path));
    return nothing_against;
}

}  // namespace

void add_format(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand("format", "Canonical layout of policies and vocabularies, in place");
    command
        ->add_option("policy", options->policies,
                     "The files; `-` is standard input, written to standard output")
        ->required();
    command->add_flag("--check", options->check,
                      "Change nothing; say which files are not in canonical layout");
    add_manner(*command, options->manner);
    command->callback([options, &chosen] {
        chosen = [options] {
            int status = nothing_against;
            for (const auto& path : options->policies) status = std::max(status, format_one(path, *options));
            return status;
        };
    });
}

}  // namespace linelaw::compiler::cli
