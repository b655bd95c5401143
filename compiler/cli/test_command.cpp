// `linelaw test`: run a policy's examples, and say which clauses none of them pins down.
#include <fmt/format.h>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/examples.hpp"
#include "compiler/report.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::vector<std::string> policies;
    std::string format = "text";
    Manner manner;
};

// What was run of one policy.
struct Tested {
    std::string path;
    grammar::Sources sources;
    ExampleReport report;
};

std::string where(const Tested& tested, grammar::Place place) {
    const auto at = tested.sources.locate(place.text, place.begin);
    return fmt::format("{}:{}:{}", tested.sources.text(place.text).name, at.line, at.column);
}

std::size_t failures(const ExampleReport& report) {
    std::size_t n = 0;
    for (const auto& result : report.results) n += result.failed.empty() ? 0 : 1;
    return n;
}

void list_unpinned(const std::vector<std::string>& ids, std::string_view what) {
    if (!ids.empty()) say(fmt::format("no example shows {}: {}\n", what, in_ticks(ids, "and")));
}

void print_text(const Tested& tested, bool quiet) {
    for (const auto& result : tested.report.results) {
        for (const auto& failed : result.failed)
            say(fmt::format("{}: example \"{}\": {}\n", where(tested, failed.place), result.title,
                            failed.message));
    }
    if (quiet) return;
    list_unpinned(tested.report.never_met, "kept");
    list_unpinned(tested.report.never_against, "broken");
    const auto failed = failures(tested.report);
    say(fmt::format("{}: {} of {} examples as expected\n", tested.path, tested.report.results.size() - failed,
                    tested.report.results.size()));
}

std::string xml(std::string_view text) {
    std::string out;
    for (const char c : text) {
        if (c == '&')
            out += "&amp;";
        else if (c == '<')
            out += "&lt;";
        else if (c == '>')
            out += "&gt;";
        else if (c == '"')
            out += "&quot;";
        else if (static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t')
            out += ' ';
        else
            out += c;
    }
    return out;
}

std::string junit(const std::vector<Tested>& all) {
    std::string out = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites>\n";
    for (const auto& tested : all) {
        out += fmt::format("  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"0\">\n",
                           xml(tested.path), tested.report.results.size(), failures(tested.report));
        for (const auto& result : tested.report.results) {
            out += fmt::format("    <testcase classname=\"{}\" name=\"{}\"", xml(tested.path),
                               xml(result.title));
            if (result.failed.empty()) {
                out += "/>\n";
                continue;
            }
            out += ">\n";
            for (const auto& failed : result.failed)
                out += fmt::format("      <failure message=\"{}\">{}: {}</failure>\n", xml(failed.message),
                                   xml(where(tested, failed.place)), xml(failed.message));
            out += "    </testcase>\n";
        }
        out += "  </testsuite>\n";
    }
    return out + "</testsuites>\n";
}

int run(const Options& options) {
    std::vector<Tested> all;
    for (const auto& path : options.policies) {
        if (path != "-" && !read_file(path)) {
            warn(fmt::format("the file `{}` cannot be read\n", path));
            return not_carried_out;
        }
        Compilation compilation = compile(path);
        if (!compilation.compiled) {
            warn(grammar::render_text(compilation.sources, compilation.diagnostics,
                                      render_options(options.manner, Stream::error)));
            warn(fmt::format("{}: not tested: it does not compile\n", path));
            return findings;
        }
        auto report = run_examples(*compilation.compiled);
        all.push_back({path, std::move(compilation.sources), std::move(report)});
    }
    if (options.format == "junit") say(junit(all));
    std::size_t failed = 0;
    for (const auto& tested : all) {
        if (options.format == "text") print_text(tested, options.manner.quiet);
        failed += failures(tested.report);
    }
    return failed > 0 ? findings : nothing_against;
}

}  // namespace

void add_test(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command =
        app.add_subcommand("test", "Run the policy's examples; which clauses no example pins down");
    command->add_option("policy", options->policies, "Policies; `-` is standard input")->required();
    command->add_option("--format", options->format, "text or junit")
        ->check(CLI::IsMember({"text", "junit"}));
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
