#include "compiler/cli/audit_files.hpp"

#include "runtime/findings.hpp"
#include "runtime/report.hpp"
#include "runtime/sample_form.hpp"
#include "runtime/summary_review.hpp"

namespace linelaw::compiler::cli {

runtime::Result<runtime::Tally> audit_into(OutputFolder& folder, const runtime::Policy& policy,
                                           const runtime::AuditOptions& options,
                                           const std::function<void(const runtime::Progress&)>& progress) {
    runtime::AuditSinks sinks;
    sinks.progress = progress;
    const auto into = [&](const char* name, runtime::Sink& sink) -> runtime::Result<std::size_t> {
        auto file = folder.create(name);
        if (file)
            sink = [&folder, number = *file](std::string_view text) { return folder.write(number, text); };
        return file;
    };
    if (options.findings != runtime::FindingsWanted::nothing) {
        const auto file = into(options.csv ? "findings.csv" : "findings.ndjson", sinks.findings);
        if (!file) return tl::unexpected(file.error());
        if (options.csv) {
            if (auto written = folder.write(*file, runtime::csv_header()); !written) {
                return tl::unexpected(written.error());
            }
        }
    }
    if (auto file = into("quarantine.ndjson", sinks.quarantine); !file) return tl::unexpected(file.error());
    if (auto file = into("set_aside.ndjson", sinks.set_aside); !file) return tl::unexpected(file.error());
    auto tally = runtime::audit(policy, options, sinks);
    if (tally && tally->read == 0) {
        return tl::unexpected(runtime::Error{"records.none", "there is no record in what was given"});
    }
    return tally;
}

runtime::Result<void> put_summaries(OutputFolder& folder, const runtime::Audited& audited,
                                    const runtime::Tally& tally) {
    if (auto written = folder.put("summary.json", runtime::summary_json(audited, tally)); !written)
        return written;
    // Only where a secret keys the patients' hashes: without one, anybody could try keys until one fits.
    if (!audited.patients.empty()) {
        if (auto written = folder.put("partial.json", runtime::partial_json(audited, tally)); !written)
            return written;
    }
    if (tally.review.since) {
        if (auto written = folder.put("gone.ndjson", runtime::gone_ndjson(audited, tally)); !written)
            return written;
    }
    if (audited.sample != 0) {
        for (const auto& [name, text] :
             {std::pair{"sample.html", runtime::sample_html(audited, tally)},
              std::pair{"sample.csv", runtime::sample_csv(audited, tally)},
              std::pair{"sample_key.ndjson", runtime::sample_key(audited, tally)}}) {
            if (auto written = folder.put(name, text); !written) return written;
        }
    }
    return folder.put("report.html", runtime::report_html(audited, tally));
}

}  // namespace linelaw::compiler::cli
