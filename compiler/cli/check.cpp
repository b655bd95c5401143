// `linelaw check`: everything that can be said of a policy without a record.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <algorithm>
#include <array>
#include <chrono>

#include "compiler/accepted.hpp"
#include "compiler/analysis/analysis.hpp"
#include "compiler/cli/commands.hpp"
#include "compiler/cli/diagnostics_json.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/cli/terminal.hpp"
#include "compiler/compile.hpp"
#include "compiler/hygiene.hpp"
#include "compiler/read_back.hpp"

namespace linelaw::compiler::cli {

namespace {

struct Options {
    std::vector<std::string> policies;
    std::string format = "text";
    std::vector<std::string> accept;
    std::string against;
    std::string today;
    bool together = false;
    bool read_back = false;
    bool answers = false;
    Manner manner;
};

// One policy and all that is said of it.
struct Checked {
    std::string path;
    Compilation compilation;
    analysis::Analysis analysis;
    std::vector<std::string> not_done;
};

runtime::CivilDate today(const Options& options) {
    if (const auto date = runtime::read_date(options.today)) return *date;
    const auto now = std::chrono::system_clock::now().time_since_epoch();
    return runtime::Zone::utc().date_of(std::chrono::duration_cast<std::chrono::microseconds>(now).count());
}

template <typename T>
void append(std::vector<T>& all, std::vector<T> more) {
    for (auto& one : more) all.push_back(std::move(one));
}

void measure(Checked& checked, const std::string& baseline_path) {
    const Compilation baseline = compile(baseline_path);
    if (!baseline.compiled) {
        checked.not_done.push_back("not measured against `" + baseline_path + "`: it does not compile");
        return;
    }
    append(checked.compilation.diagnostics, analysis::measure_against(checked.compilation, baseline));
}

Checked check_one(const std::string& path, const Options& options) {
    Checked checked;
    checked.path = path;
    checked.compilation = compile(path);
    if (!checked.compilation.compiled) {
        checked.not_done.emplace_back("conflicts and gaps were not looked for: the errors come first");
        return checked;
    }
    if (checked.compilation.compiled->policy.title.empty()) return checked;  // a vocabulary alone
    check_review(checked.compilation, today(options), checked.compilation.diagnostics);
    checked.analysis = analysis::analyse(checked.compilation);
    checked.not_done = checked.analysis.not_done;
    append(checked.compilation.diagnostics, std::move(checked.analysis.diagnostics));
    for (const auto& baseline : checked.compilation.compiled->measured_against) measure(checked, baseline);
    if (!options.against.empty()) measure(checked, options.against);
    accept_findings(checked.compilation, options.accept, checked.not_done.empty());
    return checked;
}

// What is accepted is counted apart.
std::size_t weight(const grammar::Diagnostic& diagnostic) {
    return diagnostic.accepted.empty() ? static_cast<std::size_t>(diagnostic.severity) : 4;
}

using Counts = std::array<std::size_t, 5>;  // by weight
Counts count(const std::vector<grammar::Diagnostic>& diagnostics) {
    Counts counts{};
    for (const auto& diagnostic : diagnostics) ++counts.at(weight(diagnostic));
    return counts;
}

std::string counted(std::size_t n, std::string_view one, std::string_view many) {
    return fmt::format("{} {}", n, n == 1 ? one : many);
}

std::string summary(const Checked& checked) {
    const Counts counts = count(checked.compilation.diagnostics);
    std::string out = fmt::format("{}: ", checked.path);
    const std::size_t unknown = checked.analysis.not_exact.size();
    const std::string not_followed = unknown == 0 ? ""
                                                  : fmt::format("; {} not looked through to the end",
                                                                counted(unknown, "clause", "clauses"));
    if (checked.compilation.diagnostics.empty()) return out + "nothing found" + not_followed + "\n";
    return out + fmt::format("{}, {}, {}, {}{}{}\n", counted(counts[0], "error", "errors"),
                             counted(counts[1], "conflict or gap", "conflicts and gaps"),
                             counted(counts[2], "warning", "warnings"), counted(counts[3], "note", "notes"),
                             counts[4] == 0 ? "" : fmt::format(", {} accepted", counts[4]), not_followed);
}

// How far the answer reaches: what was analysed exactly, what not, and why.
std::string reach(const Checked& checked) {
    std::string out;
    if (checked.compilation.compiled) {
        const auto& clauses = checked.compilation.compiled->policy.clauses;
        if (!checked.analysis.exact.empty() || !checked.analysis.not_exact.empty())
            out += fmt::format("{} of {} analysed exactly\n", checked.analysis.exact.size(),
                               counted(clauses.size(), "clause", "clauses"));
        for (const auto& not_exact : checked.analysis.not_exact)
            out += fmt::format("  not `{}`: {}\n", clauses[not_exact.clause].id, not_exact.why);
    }
    for (const auto& line : checked.not_done) out += line + '\n';
    return out;
}

void print_text(const Checked& checked, const Options& options) {
    const auto render = render_options(options.manner, Stream::output);
    std::vector<grammar::Diagnostic> shown;
    for (const auto& diagnostic : checked.compilation.diagnostics)
        if (!options.manner.quiet || diagnostic.severity != grammar::Severity::note)
            shown.push_back(diagnostic);
    if (!shown.empty()) say(grammar::render_text(checked.compilation.sources, shown, render) + '\n');
    if (options.answers)
        for (const auto& table : checked.analysis.questions)
            say(analysis::render_question_table(table, render.width) + '\n');
    if (options.read_back && checked.compilation.compiled) say(read_back(*checked.compilation.compiled));
    if (options.manner.quiet) return;
    say(summary(checked));
    say(reach(checked));
}

// The clauses of all as one policy, each named with its policy; what each says by itself is for its own
// check.
std::optional<Checked> check_together(const Options& options) {
    std::vector<Compilation> policies;
    for (const auto& path : options.policies) {
        policies.push_back(compile(path));
        if (policies.back().compiled) continue;
        warn(grammar::render_text(policies.back().sources, policies.back().diagnostics,
                                  render_options(options.manner, Stream::error)));
        return std::nullopt;
    }
    std::vector<const Compilation*> all;
    for (const auto& policy : policies) all.push_back(&policy);
    Checked checked;
    for (const auto& path : options.policies) checked.path += (checked.path.empty() ? "" : " + ") + path;
    analysis::Together together = analysis::together(all);
    checked.compilation = std::move(together.compilation);
    checked.analysis = analysis::analyse(checked.compilation);
    for (const auto& line : together.left_out) checked.not_done.push_back("not checked together: " + line);
    append(checked.not_done, checked.analysis.not_done);
    for (auto& diagnostic : checked.analysis.diagnostics)  // that two policies agree is nothing against them
        if (diagnostic.code != "redundant.clause")
            checked.compilation.diagnostics.push_back(std::move(diagnostic));
    accept_findings(checked.compilation, options.accept, checked.not_done.empty());
    return checked;
}

int run(const Options& options) {
    std::vector<Checked> all;
    for (const auto& path : options.policies) {
        if (path != "-")
            if (const auto text = content_of(path, longest_text); !text) return refuse(text.error());
        if (!options.together) all.push_back(check_one(path, options));
    }
    if (options.together) {
        auto together = check_together(options);
        if (!together) return not_carried_out;
        all.push_back(std::move(*together));
    }
    std::vector<const Compilation*> editions;
    for (const auto& checked : all) editions.push_back(&checked.compilation);
    for (auto& [index, diagnostic] : analysis::check_editions(editions))
        all[index].compilation.diagnostics.push_back(std::move(diagnostic));
    // What counts most is read first.
    for (auto& checked : all) {
        auto& diagnostics = checked.compilation.diagnostics;
        std::stable_sort(diagnostics.begin(), diagnostics.end(),
                         [](const auto& a, const auto& b) { return weight(a) < weight(b); });
    }
    bool against = false;
    std::vector<SaidOfPolicy> said;
    std::vector<std::string> not_done;
    for (const auto& checked : all) {
        const Counts counts = count(checked.compilation.diagnostics);
        against = against || counts[0] + counts[1] + counts[2] > 0;
        said.push_back({&checked.compilation.sources, &checked.compilation.diagnostics});
        for (const auto& line : checked.not_done) not_done.push_back(checked.path + ": " + line);
    }
    if (options.format == "json")
        say(diagnostics_json(said, not_done));
    else if (options.format == "sarif")
        say(diagnostics_sarif(said, not_done));
    else
        for (const auto& checked : all) print_text(checked, options);
    return against ? findings : nothing_against;
}

}  // namespace

void add_check(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command =
        app.add_subcommand("check", "Errors, conflicts, gaps and lint of policies, with witnesses");
    command->add_option("policy", options->policies, "Policies; `-` is standard input")->required();
    command->add_option("--format", options->format, "text, json or sarif")
        ->check(CLI::IsMember({"text", "json", "sarif"}));
    add_accept(*command, options->accept);
    command->add_option("--against", options->against,
                        "A policy that this one must be at least as strict as");
    command->add_option("--today", options->today, "The day that it is (default: the clock's)")
        ->check([](const std::string& text) {
            return runtime::read_date(text) ? std::string() : "a day is written as 2026-03-01";
        });
    command->add_flag("--together", options->together, "Check several policies as one");
    command->add_flag("--read-back", options->read_back,
                      "Say each clause in plain words, as the machine has it");
    command->add_flag("--answers", options->answers, "Show every question's answers, situation by situation");
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
