// What must hold of the engine by itself, whatever the policy.
#pragma once

#include <optional>

#include "tests/differential/compare.hpp"

namespace linelaw::literal {

// Whether the policy asks what is documented, or counts it against: then documenting may turn a verdict.
bool asks_what_is_documented(const PolicyDraft& draft);

// Each answers with what is broken, or nothing.
std::optional<std::string> event_by_event(Pair& pair, const nlohmann::json& record,
                                          const std::vector<Row>& whole);
std::optional<std::string> any_order(Pair& turned, const nlohmann::json& record,
                                     const std::vector<Row>& whole);
// Cut into two editions of one text, in which every clause carries on, it says what it says uncut; bundles
// apart, which each edition has of its own.
std::optional<std::string> cut_into_editions(Pair& pair, const nlohmann::json& record,
                                             const std::vector<Row>& whole, int days_in);
// At some moment of the record: what is due then is what finishing there leaves open.
std::optional<std::string> due_is_open(Pair& pair, const nlohmann::json& record, std::size_t after_events);
// `documented` says whether the record had a value to document.
std::optional<std::string> documenting(Dice& dice, const PolicyDraft& draft, Pair& pair,
                                       const nlohmann::json& record, const std::vector<Row>& before,
                                       bool& documented);

}  // namespace linelaw::literal
