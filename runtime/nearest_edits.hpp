// Records changed by one event, for nearest.cpp. Each gives a whole episode of its own.
#pragma once

#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/policy.hpp"

namespace linelaw::runtime {

using FieldValue = std::pair<FieldId, Value>;

// Nothing where the event could not stand there: before the insertion, or after a removal that it may not
// follow.
std::optional<Episode> with_moved(const Policy& policy, const Episode& episode, std::uint32_t event,
                                  Instant to);
// Of the part numbered or named as in an opportunity (`part_kind` none: of none), with these values.
std::optional<Episode> with_added(const Policy& policy, const Episode& episode, EventKindId kind, Instant at,
                                  PartKindId part_kind, std::uint32_t part,
                                  const std::vector<FieldValue>& values);
Episode without(const Episode& episode, std::uint32_t event);
Episode with_values(const Policy& policy, const Episode& episode, std::uint32_t event,
                    const std::vector<FieldValue>& values);
Episode with_steps(const Episode& episode, std::uint32_t event, const std::vector<std::uint32_t>& steps);

// Values of this field that are worth trying: the constants that the expressions compare with and their
// neighbours, every word of a list, both of a flag, and sums of them with what the record has elsewhere.
// Nearest to `present` first.
std::vector<Value> values_to_try(const Policy& policy, const Episode& episode,
                                 const std::vector<ExpressionId>& from, FieldId field, const Type& type,
                                 const Value& present);
// The fields of the event at hand that an expression reads.
std::vector<FieldId> fields_read(const Policy& policy, ExpressionId expression);

}  // namespace linelaw::runtime
