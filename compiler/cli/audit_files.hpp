// The files of an audit in its folder, written the same by `audit` and by `merge`.
#pragma once

#include <functional>

#include "compiler/cli/output_folder.hpp"
#include "runtime/audit.hpp"
#include "runtime/summary.hpp"

namespace linelaw::compiler::cli {

// Judges into findings.ndjson (or .csv), quarantine.ndjson and set_aside.ndjson. Nothing is in its place
// before the folder is committed. An error where there is no record.
runtime::Result<runtime::Tally> audit_into(OutputFolder& folder, const runtime::Policy& policy,
                                           const runtime::AuditOptions& options,
                                           const std::function<void(const runtime::Progress&)>& progress);

// summary.json, partial.json and report.html.
runtime::Result<void> put_summaries(OutputFolder& folder, const runtime::Audited& audited,
                                    const runtime::Tally& tally);

}  // namespace linelaw::compiler::cli
