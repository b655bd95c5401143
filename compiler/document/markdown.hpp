// Markdown (GitHub's dialect) from texts that may hold anything: what a policy contains is always shown as it
// is written, never taken for markup. Knows no policies.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace linelaw::compiler::document {

// A policy's text in the middle of a line; line ends become spaces.
std::string escaped(std::string_view text);
// The program's own words in which names stand in `…`: those become code, all else is escaped.
std::string with_names(std::string_view words);
std::string code(std::string_view name);
// "[shown](#anchor)"; `shown` is Markdown already.
std::string link(std::string_view shown, std::string_view anchor);

// Cells are Markdown already. Empty where there are no rows.
std::string table(const std::vector<std::string>& headings,
                  const std::vector<std::vector<std::string>>& rows);

// The anchor that a heading gets, as GitHub makes it.
std::string anchor_of(std::string_view heading);

// "dressing_change" → "dressing change"; backticks are dropped: for those who do not read the policy's text.
std::string plain(std::string_view words);

std::string joined(const std::vector<std::string>& parts, std::string_view between);

}  // namespace linelaw::compiler::document
