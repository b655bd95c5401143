// A slow reader of records over a whole document in memory, written from docs/records.md on nlohmann/json:
// what the record reader must accept and refuse alike. Shares nothing with it but the reading of an instant.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "runtime/policy.hpp"

namespace slow {

// The document, or nothing where the text is no JSON; `twice` where a key stands twice in an object.
std::optional<nlohmann::json> parse(const std::string& text, bool& twice);

// Whether the rules let the record stand. The policy must outlive the call.
bool accepts(const linelaw::runtime::Policy& policy, const nlohmann::json& record);

}  // namespace slow
