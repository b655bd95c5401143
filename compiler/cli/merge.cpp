// `linelaw merge`: partial summaries of one policy added up, to the bytes of one run over all; of shards that
// `audit --shard` cut, the findings and the other lines put one after another as well.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <filesystem>
#include <limits>
#include <map>
#include <memory>
#include <set>

#include "compiler/cli/audit_files.hpp"
#include "compiler/cli/commands.hpp"
#include "compiler/cli/judging.hpp"
#include "compiler/compile.hpp"
#include "runtime/findings.hpp"
#include "runtime/input.hpp"

namespace linelaw::compiler::cli {
namespace {

struct Options {
    std::vector<std::string> partials;
    std::string out;
    std::string summary = "table";
    Manner manner;
};

tl::unexpected<runtime::Error> refused(const char* code, std::string message) {
    return tl::unexpected(runtime::Error{code, std::move(message)});
}

bool is_folder(const std::string& path) {
    std::error_code ignored;
    return std::filesystem::is_directory(path, ignored);
}
std::string within(const std::string& folder, const std::string& name) {
    return (std::filesystem::path(folder) / name).string();
}

runtime::Result<runtime::Partial> read_one(const std::string& given) {
    const std::string path = is_folder(given) ? within(given, "partial.json") : given;
    const auto text = content_of(path);
    if (!text && OutputFolder::is_unfinished(given)) {
        return refused("file.read", fmt::format("{}: the audit here is not finished; give its command again "
                                                "with --resume, and merge then",
                                                given));
    }
    std::error_code ignored;
    if (!text && is_folder(given) && !std::filesystem::exists(path, ignored)) {
        return refused("file.read",
                       fmt::format("{} has no partial.json: audit with `--partial-key FILE`, which "
                                   "writes it, and merge then",
                                   given));
    }
    if (!text) return tl::unexpected(text.error());
    auto partial = runtime::read_partial(*text);
    if (!partial) return refused("partial.content", fmt::format("{}: {}", path, partial.error().message));
    return partial;
}

// What was added up, and from where.
struct Sum {
    runtime::Audited audited;
    runtime::Tally tally;
    std::string first;                      // the part given first
    runtime::Cut cut;                       // its
    std::map<unsigned, std::string> parts;  // shards, by number
    std::map<unsigned, std::vector<runtime::StoredFile>> files;
};

runtime::Result<void> add(Sum& sum, const std::string& given, const runtime::Partial& partial) {
    const auto does_not_fit = [&](const std::string& why) {
        return refused("partial.differs", fmt::format("{} does not fit with {}: {}", given, sum.first, why));
    };
    if (sum.first.empty()) {
        sum.audited = partial.audited;
        sum.first = given;
        sum.cut = partial.cut;
    } else if (partial.audited != sum.audited) {
        return does_not_fit(difference(sum.audited, partial.audited));
    } else if (partial.cut.shard.of != sum.cut.shard.of) {
        return does_not_fit("it is of another number of shards (--shard)");
    } else if (partial.cut.from != sum.cut.from) {
        return does_not_fit(
            fmt::format("it is a shard of other records ({}, not {}); the records have "
                        "changed between the two, so audit all shards again",
                        partial.cut.from, sum.cut.from));
    }
    if (partial.cut.findings != sum.cut.findings)
        return does_not_fit(fmt::format("it has other findings (--findings {}, not {})", partial.cut.findings,
                                        sum.cut.findings));
    const unsigned number = partial.cut.shard.number;
    sum.files[number] = partial.cut.files;
    if (!sum.cut.shard.whole() && !sum.parts.emplace(number, given).second)
        return does_not_fit(fmt::format("both are shard {}; give each once", number));
    sum.tally.add(partial.tally);
    return {};
}

runtime::Result<Sum> add_up(const std::vector<std::string>& partials) {
    Sum sum;
    std::set<std::filesystem::path> seen;
    for (const std::string& given : partials) {
        const auto partial = read_one(given);
        if (!partial) return tl::unexpected(partial.error());
        if (auto added = add(sum, given, *partial); !added) return tl::unexpected(added.error());
        std::error_code ignored;
        const std::string file = is_folder(given) ? within(given, "partial.json") : given;
        if (!seen.insert(std::filesystem::weakly_canonical(file, ignored)).second)
            return refused("partial.differs", fmt::format("{} is given twice; give each part once", given));
    }
    sum.tally.put_in_order();
    const unsigned of = sum.cut.shard.of;
    for (unsigned number = 1; number <= of && of > 1; ++number) {
        if (sum.parts.count(number) != 0) continue;
        return refused("partial.missing",
                       fmt::format("shard {}/{} is missing: without it the sum is not that of all records; "
                                   "run its audit to the end and give its folder too",
                                   number, of));
    }
    return sum;
}

// The lines of one kind of file of every shard, in the order of the shards.
runtime::Result<void> put_lines(OutputFolder& folder, const Sum& sum, const std::string& name,
                                runtime::Packing packing) {
    const std::string stored = name + std::string(runtime::packing_ending(packing));
    std::error_code ignored;
    if (!std::filesystem::exists(within(sum.first, stored), ignored)) return {};
    const auto file = folder.create(name, packing);
    if (!file) return tl::unexpected(file.error());
    for (const auto& [number, part] : sum.parts) {
        constexpr std::size_t chunk_size = 1U << 20U;
        runtime::ChunkReader reader(std::vector<std::string>{within(part, stored)}, chunk_size,
                                    std::numeric_limits<std::size_t>::max() - 1);
        runtime::Chunk chunk;
        for (;;) {
            const auto more = reader.next(chunk);
            if (!more) return tl::unexpected(more.error());
            if (!*more) break;
            std::string_view text = chunk.text();
            const std::string_view header = runtime::csv_header();
            if (number > 1 && chunk.offset == 0 && text.substr(0, header.size()) == header)
                text.remove_prefix(header.size());
            if (auto written = folder.write(*file, text); !written) return written;
        }
    }
    return {};
}

// That every shard's lines are those that its audit wrote.
runtime::Result<void> see_to_files(const Sum& sum) {
    for (const auto& [number, part] : sum.parts)
        for (const runtime::StoredFile& file : sum.files.at(number)) {
            const auto stored = runtime::stored_file(within(part, file.name));
            if (!stored) return tl::unexpected(stored.error());
            if (*stored == file) continue;
            return refused("partial.lines",
                           fmt::format("{} is not as its audit wrote it; run shard {}/{} again",
                                       within(part, file.name), number, sum.cut.shard.of));
        }
    return {};
}

runtime::Result<void> put_all_lines(OutputFolder& folder, const Sum& sum) {
    for (const auto& [number, part] : sum.parts) {
        if (!is_folder(part)) return {};  // only a partial.json was given
    }
    if (sum.parts.empty()) return {};
    if (auto whole = see_to_files(sum); !whole) return whole;
    for (const auto packing : {runtime::Packing::plain, runtime::Packing::gzip, runtime::Packing::zstd}) {
        for (const char* name :
             {"findings.ndjson", "findings.csv", "quarantine.ndjson", "set_aside.ndjson"}) {
            if (auto put = put_lines(folder, sum, name, packing); !put) return put;
        }
    }
    return {};
}

// The sum takes the place of an earlier run's files, and must not take that of what it is the sum of.
runtime::Result<void> see_to_out(const Options& options) {
    for (const std::string& given : options.partials) {
        std::error_code ignored;
        const std::filesystem::path part = std::filesystem::weakly_canonical(given, ignored);
        const std::filesystem::path of = is_folder(given) ? part : part.parent_path();
        if (options.out.empty() || !std::filesystem::equivalent(of, options.out, ignored)) continue;
        return refused("option.out",
                       fmt::format("{} is the folder of one of the parts, whose files the sum would "
                                   "replace; give another folder",
                                   options.out));
    }
    return {};
}

runtime::Result<void> write_folder(const std::string& out, const Sum& sum) {
    if (sum.audited.sample != 0)
        if (auto free = see_to_sheet(out); !free) return free;
    auto folder = OutputFolder::open(out);
    if (!folder) return tl::unexpected(folder.error());
    folder->begin_anew();
    if (auto written = put_all_lines(*folder, sum); !written) return written;
    if (auto written = put_summaries(*folder, sum.audited, sum.tally); !written) return written;
    return folder->commit();
}

int run(const Options& options) {
    if (auto seen = see_to_out(options); !seen) return refuse(seen.error());
    const auto sum = add_up(options.partials);
    if (!sum) return refuse(sum.error());
    if (sum->tally.read == 0) return refuse({"records.none", "there is no record in what was given"});
    std::string text = options.summary == "json" ? runtime::summary_json(sum->audited, sum->tally)
                       : options.summary == "csv"
                           ? runtime::summary_csv(sum->audited, sum->tally)
                           : runtime::summary_table(sum->audited, sum->tally,
                                                    {colored(options.manner, Stream::output), 100});
    if (!options.out.empty()) {
        if (auto written = write_folder(options.out, *sum); !written) return refuse(written.error());
        if (options.summary == "table")
            text += fmt::format("\nreport: {}\n", within(options.out, "report.html"));
    }
    if (options.out.empty() || !options.manner.quiet) {
        if (auto written = write_out(text); !written) return refuse(written.error());
    }
    return runtime::against_after_review(sum->audited, sum->tally) + sum->tally.quarantined > 0
               ? findings
               : nothing_against;
}

}  // namespace

void add_merge(CLI::App& app, Chosen& chosen) {
    auto options = std::make_shared<Options>();
    auto* command = app.add_subcommand("merge", "Add up partial summaries, to the bytes of one run over all");
    command->add_option("partials", options->partials, "The partial.json of each audit, or its folder")
        ->required();
    command->add_option("--out", options->out,
                        "The folder to write summary.json, partial.json and report.html into, and of shards "
                        "their findings and other lines");
    command->add_option("--summary", options->summary, "Of the summary that is shown: table, json or csv")
        ->check(CLI::IsMember({"table", "json", "csv"}));
    add_manner(*command, options->manner);
    command->callback([options, &chosen] { chosen = [options] { return run(*options); }; });
}

}  // namespace linelaw::compiler::cli
