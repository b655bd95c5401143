// `linelaw explain`: what a diagnostic means, an example that causes it, and its mend.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <algorithm>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/pages.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/report.hpp"
#include "grammar/diagnostic.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::string code;
    Manner manner;
};

// Markdown as a terminal shows it well: headings stand out, examples are set in, the rest is as written.
std::string for_terminal(std::string_view markdown, bool color) {
    std::string out;
    bool example = false;
    std::size_t begin = 0;
    while (begin < markdown.size()) {
        const auto end = std::min(markdown.find('\n', begin), markdown.size());
        const std::string_view line = markdown.substr(begin, end - begin);
        begin = end + 1;
        if (line.substr(0, 3) == "```") {
            example = !example;
            continue;
        }
        const auto text = line.find_first_not_of('#');
        if (!example && !line.empty() && line.front() == '#' && text != std::string_view::npos)
            out += fmt::format("{}{}{}\n", color ? "\033[1m" : "", line.substr(text + 1),
                               color ? "\033[0m" : "");
        else
            out += fmt::format("{}{}\n", example && !line.empty() ? "    " : "", line);
    }
    return out;
}

void list_all() {
    for (const auto& code : grammar::diagnostic_codes())
        say(fmt::format("{:<24} {}\n", code.code, code.title));
}

int run(const Options& options) {
    if (options.code.empty()) {
        list_all();
        return nothing_against;
    }
    const auto& all = pages();
    const auto page =
        std::find_if(all.begin(), all.end(), [&](const Page& p) { return p.code == options.code; });
    if (page != all.end()) {
        say(for_terminal(page->markdown, colored(options.manner, Stream::output)));
        return nothing_against;
    }
    if (const auto* code = grammar::find_diagnostic_code(options.code)) {
        say(fmt::format("{}: {}\n", code->code, code->title));
        return nothing_against;
    }
    std::vector<std::string> codes;
    for (const auto& code : grammar::diagnostic_codes()) codes.emplace_back(code.code);
    warn(fmt::format("there is no diagnostic `{}`", options.code));
    if (const auto meant = near(options.code, codes).word)
        warn(fmt::format("; perhaps `{}`\n", *meant));
    else
        warn("; `linelaw explain` lists them all\n");
    return not_carried_out;
}

}  // namespace

void add_explain(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command =
        app.add_subcommand("explain", "What a diagnostic means, an example that causes it, and its mend");
    command->add_option("code", options->code,
                        "The code, as `conflict.interval`; without one, all are listed");
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
