#include "compiler/cli/audit_files.hpp"

#include <fmt/format.h>

#include <chrono>
#include <filesystem>

#include "runtime/findings.hpp"
#include "runtime/report.hpp"
#include "runtime/sample_form.hpp"
#include "runtime/summary_review.hpp"

namespace linelaw::compiler::cli {
namespace {

// When the next checkpoint is due.
class Pause {
  public:
    explicit Pause(std::optional<double> every_s) : every_s_(every_s) {}
    bool over() const { return seconds(Clock::now() - ended_) >= wanted_; }
    void begin() { begun_ = Clock::now(); }  // of a checkpoint
    void end() {
        ended_ = Clock::now();
        constexpr double share = 50;
        wanted_ = every_s_.value_or(std::max(usual_s, share * seconds(ended_ - begun_)));
    }

  private:
    using Clock = std::chrono::steady_clock;
    static constexpr double usual_s = 10;
    static double seconds(Clock::duration d) { return std::chrono::duration<double>(d).count(); }
    std::optional<double> every_s_;
    double wanted_ = every_s_.value_or(usual_s);
    Clock::time_point begun_;
    Clock::time_point ended_ = Clock::now();
};

void add_checkpoints(runtime::AuditSinks& sinks, OutputFolder& folder, const runtime::AuditOptions& options,
                     const Checkpoints& checkpoints) {
    if (!checkpoints.made_with) return;
    const auto pause = std::make_shared<Pause>(checkpoints.every_s);
    sinks.checkpoint_due = [pause] {
        if (!pause->over()) return false;
        pause->begin();
        return true;
    };
    sinks.checkpoint = [&, pause](runtime::Checkpoint& checkpoint) -> runtime::Result<void> {
        auto files = folder.sync();
        if (!files) return tl::unexpected(files.error());
        Halfway halfway{std::move(checkpoint), std::move(*files),
                        options.review.earlier != nullptr ? options.review.earlier->noted() : ""};
        auto noted = folder.note(write_note(*checkpoints.made_with, halfway));
        checkpoint = std::move(halfway.checkpoint);
        pause->end();
        return noted;
    };
}

// The files that are written while judging goes on, begun or gone on with, each as the sink it belongs to.
runtime::Result<void> open_files(runtime::AuditSinks& sinks, OutputFolder& folder,
                                 const runtime::AuditOptions& options, runtime::Packing packing,
                                 const std::optional<Halfway>& from) {
    std::vector<std::pair<const char*, runtime::Sink*>> wanted;
    if (options.findings != runtime::FindingsWanted::nothing)
        wanted.emplace_back(options.csv ? "findings.csv" : "findings.ndjson", &sinks.findings);
    wanted.emplace_back("quarantine.ndjson", &sinks.quarantine);
    wanted.emplace_back("set_aside.ndjson", &sinks.set_aside);
    for (std::size_t i = 0; i < wanted.size(); ++i) {
        const auto& [name, sink] = wanted[i];
        const auto file = from ? folder.go_on(from->files.at(i), packing) : folder.create(name, packing);
        if (!file) return tl::unexpected(file.error());
        *sink = [&folder, number = *file](std::string_view text) { return folder.write(number, text); };
    }
    if (options.csv && sinks.findings && !from) return sinks.findings(runtime::csv_header());
    return {};
}

}  // namespace

runtime::Result<runtime::Tally> audit_into(OutputFolder& folder, const runtime::Policy& policy,
                                           const runtime::AuditOptions& options, runtime::Packing packing,
                                           const Checkpoints& checkpoints, runtime::AuditSinks sinks) {
    const std::optional<Halfway>& from = checkpoints.from;
    add_checkpoints(sinks, folder, options, checkpoints);
    if (auto opened = open_files(sinks, folder, options, packing, from); !opened)
        return tl::unexpected(opened.error());
    auto tally = runtime::audit(policy, options, sinks, from ? &from->checkpoint : nullptr);
    if (tally && tally->read == 0 && options.shard.whole()) {
        return tl::unexpected(runtime::Error{"records.none", "there is no record in what was given"});
    }
    return tally;
}

std::string difference(const runtime::Audited& a, const runtime::Audited& b) {
    if (a.content_hash != b.content_hash) return "it was judged by another policy, or another edition of it";
    if (a.as_of != b.as_of) return "it was judged as of another moment (--as-of)";
    if (a.by != b.by) return "it is grouped by other attributes (--by)";
    if (a.count_at != b.count_at) return "its patients were counted at another time of day (--count-at)";
    if (a.charts != b.charts) return "its charts follow other rules (--chart-rules, --control-chart)";
    if (a.patients != b.patients) return "its patients are hashed under another secret (--partial-key)";
    if (a.settled != b.settled) return "it took other settlements in (--settled)";
    if (a.earlier != b.earlier) return "it was held against another earlier run (--since)";
    if (a.sample != b.sample || a.seed != b.seed) return "its sample was drawn otherwise (--sample, --seed)";
    if (a.strict != b.strict) return "one of the two was judged --strict";
    return "it was made by another version of the program";
}

runtime::Result<void> see_to_sheet(const std::string& out, const std::string& reviewed) {
    const std::filesystem::path sheet = std::filesystem::path(out) / sample_sheet;
    std::error_code none;
    if (!std::filesystem::exists(sheet, none)) return {};
    if (!reviewed.empty() && std::filesystem::equivalent(sheet, reviewed, none)) return {};
    return tl::unexpected(runtime::Error{
        "file.exists",
        fmt::format("{} is there already, and somebody may have written answers into it: move it "
                    "elsewhere, give it to `audit` as `--reviewed`, or write into another folder",
                    sheet.string())});
}

runtime::Result<void> put_summaries(OutputFolder& folder, const runtime::Audited& audited,
                                    const runtime::Tally& tally, const runtime::Cut& cut) {
    if (auto written = folder.put("summary.json", runtime::summary_json(audited, tally)); !written)
        return written;
    // Only where a secret keys the patients' hashes: without one, anybody could try keys until one fits.
    if (!audited.patients.empty()) {
        if (auto written = folder.put("partial.json", runtime::partial_json(audited, tally, cut)); !written)
            return written;
    }
    if (tally.review.since) {
        if (auto written = folder.put("gone.ndjson", runtime::gone_ndjson(audited, tally)); !written)
            return written;
    }
    if (audited.sample != 0) {
        for (const auto& [name, text] :
             {std::pair{std::string("sample.html"), runtime::sample_html(audited, tally)},
              std::pair{std::string(sample_sheet), runtime::sample_csv(audited, tally)},
              std::pair{std::string("sample_key.ndjson"), runtime::sample_key(audited, tally)}}) {
            // A sheet that is there was given as `--reviewed`, and people have written into it.
            if (name == sample_sheet && std::filesystem::exists(folder.path_of(name))) continue;
            if (auto written = folder.put(name, text); !written) return written;
        }
    }
    return folder.put("report.html", runtime::report_html(audited, tally));
}

}  // namespace linelaw::compiler::cli
