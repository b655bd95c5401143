// The auditor's round in the summary: JSON, lines of the table, and the file of what is gone.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "runtime/summary.hpp"

namespace linelaw::runtime {

nlohmann::ordered_json review_summary(const Audited& audited,
                                      const Tally& tally);  // empty where nothing was asked
std::vector<std::string> review_lines(const Audited& audited, const Tally& tally);
std::string gone_ndjson(const Audited& audited, const Tally& tally);  // gone.ndjson

}  // namespace linelaw::runtime
