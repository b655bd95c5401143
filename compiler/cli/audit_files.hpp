// The files of an audit in its folder, written the same by `audit` and by `merge`.
#pragma once

#include "compiler/cli/checkpoint.hpp"
#include "compiler/cli/output_folder.hpp"
#include "runtime/audit.hpp"
#include "runtime/summary.hpp"

namespace linelaw::compiler::cli {

// How an audit can go on when it is stopped.
struct Checkpoints {
    std::optional<MadeWith> made_with;  // none: no checkpoints are made
    std::optional<Halfway> from;        // none: from the first record
    // Seconds between two; if not given, ten, and as many more as keep their cost to a fiftieth of the time.
    std::optional<double> every_s;
};

// Judges into findings.ndjson (or .csv), quarantine.ndjson and set_aside.ndjson. Nothing is in its place
// before the folder is committed. What the sinks hold already, such as progress, is called as well. An error
// where there is no record, unless it is a shard.
runtime::Result<runtime::Tally> audit_into(OutputFolder& folder, const runtime::Policy& policy,
                                           const runtime::AuditOptions& options, runtime::Packing packing,
                                           const Checkpoints& checkpoints, runtime::AuditSinks sinks);

// What people have written into the sheet of an earlier sample is theirs: refuses a folder where one lies,
// unless it is the one that they gave as filled in.
runtime::Result<void> see_to_sheet(const std::string& out, const std::string& reviewed = {});

// summary.json, partial.json and report.html.
runtime::Result<void> put_summaries(OutputFolder& folder, const runtime::Audited& audited,
                                    const runtime::Tally& tally, const runtime::Cut& cut = {});

// Why what was audited as `b` does not fit with `a`, in the words of what a reader can change.
std::string difference(const runtime::Audited& a, const runtime::Audited& b);

}  // namespace linelaw::compiler::cli
