// `linelaw test`: run a policy's examples, and say which clauses, and which small changes to the policy, none
// of them pins down.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <algorithm>

#include "compiler/cli/commands.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/examples.hpp"
#include "compiler/read_file.hpp"
#include "compiler/report.hpp"
#include "compiler/unnoticed.hpp"
#include "runtime/report_html.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::vector<std::string> policies;
    std::string format = "text";
    bool no_mutations = false;
    Manner manner;
};

// What was run of one policy.
struct Tested {
    std::string path;
    grammar::Sources sources;
    ExampleReport report;
    std::optional<Unnoticed> unnoticed;  // none where it was not looked for
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

std::string changes(std::size_t n) {
    return n == 1 ? "1 small change" : fmt::format("{} small changes", n);
}

// What became of the changes that were tried.
std::string sum_of(const Unnoticed& unnoticed) {
    if (unnoticed.tried == 0) return "no small change to it is still a policy";
    std::string out =
        fmt::format("{} to it: {} noticed by its examples", changes(unnoticed.tried), unnoticed.noticed);
    if (const auto n = unnoticed.unnoticed(); n > 0)
        out += fmt::format(", {} not; {} would notice {}", n,
                           unnoticed.missing.size() == 1
                               ? "the example above"
                               : fmt::format("the {} examples above", unnoticed.missing.size()),
                           n == 1 ? "it" : "them");
    if (!unnoticed.same.empty())
        out += fmt::format("; {} cannot be told apart from it", unnoticed.same.size());
    return out;
}

void print_unnoticed(const Tested& tested, const Options& options) {
    const auto diagnostics = diagnostics_of(*tested.unnoticed);
    if (!diagnostics.empty()) {
        say(grammar::render_text(tested.sources, diagnostics,
                                 render_options(options.manner, Stream::output)));
        say("\neach example says what the policy asks now; read it, and paste it where that is what is "
            "meant\n");
    }
    for (const auto& same : tested.unnoticed->same)
        say(
            fmt::format("{}: cannot be told apart: no small episode differs where {}; that it means the same "
                        "is not shown\n",
                        where(tested, same.shown), same.words));
}

void print_text(const Tested& tested, const Options& options) {
    for (const auto& result : tested.report.results) {
        for (const auto& failed : result.failed)
            say(fmt::format("{}: example \"{}\": {}\n", where(tested, failed.place), result.title,
                            failed.message));
    }
    if (options.manner.quiet) return;
    if (tested.unnoticed) print_unnoticed(tested, options);
    list_unpinned(tested.report.never_met, "kept");
    list_unpinned(tested.report.never_against, "broken");
    const auto failed = failures(tested.report);
    say(fmt::format("{}: {} of {} examples as expected\n", tested.path, tested.report.results.size() - failed,
                    tested.report.results.size()));
    if (tested.unnoticed)
        say(fmt::format("{}: {}\n", tested.path, sum_of(*tested.unnoticed)));
    else if (!options.no_mutations)
        say(fmt::format("{}: small changes to it were not tried: first mend the examples\n", tested.path));
}

// XML has no room for most control characters, not even escaped.
std::string xml(std::string_view text) {
    std::string out = runtime::html::escaped(text);
    std::replace_if(
        out.begin(), out.end(), [](unsigned char c) { return c < 0x20 && c != '\n' && c != '\t'; }, ' ');
    return out;
}

// The changes that were not noticed by any example, as a suite in which nothing fails: what it says is for
// information.
std::string junit_of_changes(const Tested& tested) {
    const auto& unnoticed = *tested.unnoticed;
    const auto skipped = unnoticed.unnoticed() + unnoticed.same.size();
    std::string out = fmt::format(
        "  <testsuite name=\"{0}: small changes\" tests=\"{1}\" failures=\"0\" errors=\"0\" "
        "skipped=\"{1}\">\n",
        xml(tested.path), skipped);
    out += fmt::format(
        "    <properties>\n      <property name=\"tried\" value=\"{}\"/>\n"
        "      <property name=\"noticed\" value=\"{}\"/>\n    </properties>\n",
        unnoticed.tried, unnoticed.noticed);
    const auto testcase = [&](const Alteration& alteration, std::string_view message,
                              std::string_view example) {
        out += fmt::format("    <testcase classname=\"{}\" name=\"{}\">\n      <skipped message=\"{}\"/>\n",
                           xml(alteration.item),
                           xml(where(tested, alteration.shown) + ": " + alteration.words), xml(message));
        if (!example.empty()) out += fmt::format("      <system-out>{}</system-out>\n", xml(example));
        out += "    </testcase>\n";
    };
    for (const auto& missing : unnoticed.missing)
        for (const auto& alteration : missing.notices)
            testcase(alteration, "no example notices; the one given here would", missing.example);
    for (const auto& alteration : unnoticed.same)
        testcase(alteration, "no small episode that was tried shows a difference", "");
    return out + "  </testsuite>\n";
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
        if (tested.unnoticed) out += junit_of_changes(tested);
    }
    return out + "</testsuites>\n";
}

// Changes are tried only where the examples hold: else every change would be noticed.
std::optional<Unnoticed> unnoticed_of(const Compilation& compilation, const ExampleReport& report,
                                      const Options& options) {
    if (options.no_mutations || failures(report) > 0) return std::nullopt;
    ProgressLine progress(!options.manner.quiet);
    UnnoticedOptions wanted;
    wanted.progress = [&](std::size_t done, std::size_t of) {
        progress.show(
            [&](double /*seconds*/) { return fmt::format("{} of {} small changes tried", done, of); });
    };
    return find_unnoticed(compilation, wanted);
}

int run(const Options& options) {
    std::vector<Tested> all;
    for (const auto& path : options.policies) {
        if (path != "-")
            if (const auto text = content_of(path, longest_text); !text) return refuse(text.error());
        Compilation compilation = compile(path);
        if (!compilation.compiled) {
            warn(grammar::render_text(compilation.sources, compilation.diagnostics,
                                      render_options(options.manner, Stream::error)));
            warn(fmt::format("{}: not tested: it does not compile\n", path));
            return findings;
        }
        auto report = run_examples(*compilation.compiled);
        auto unnoticed = unnoticed_of(compilation, report, options);
        all.push_back({path, std::move(compilation.sources), std::move(report), std::move(unnoticed)});
    }
    if (options.format == "junit") say(junit(all));
    std::size_t failed = 0;
    for (const auto& tested : all) {
        if (options.format == "text") print_text(tested, options);
        failed += failures(tested.report);
    }
    return failed > 0 ? findings : nothing_against;
}

}  // namespace

void add_test(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand(
        "test", "Run the policy's examples; which clauses and small changes no example shows");
    command->add_option("policy", options->policies, "Policies; `-` is standard input")->required();
    command->add_option("--format", options->format, "text or junit")
        ->check(CLI::IsMember({"text", "junit"}));
    command->add_flag("--no-mutations", options->no_mutations,
                      "Run the examples alone, without trying small changes to the policy");
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
