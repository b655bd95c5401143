// The sample for review by hand: a form to print, a sheet for the answers, and the tool's own answers apart,
// so that reviewers judge without having seen them.
#pragma once

#include <string>

#include "runtime/summary.hpp"

namespace linelaw::runtime {

std::string sample_html(const Audited& audited, const Tally& tally);  // sample.html: the form
std::string sample_csv(const Audited& audited, const Tally& tally);   // sample.csv: the sheet for the answers
std::string sample_key(const Audited& audited, const Tally& tally);  // sample_key.ndjson: what the tool found

}  // namespace linelaw::runtime
