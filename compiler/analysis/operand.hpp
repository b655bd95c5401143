// One side of a comparison, and the small arithmetic of comparing; shared by the two passes of Situations and
// by nobody else.
#pragma once

#include <algorithm>

#include "compiler/analysis/situation.hpp"

namespace linelaw::compiler::analysis {

using runtime::AgeConstant;
using runtime::AgeUnit;
using runtime::ChangeKind;
using runtime::Comparator;
using runtime::EventKindId;
using runtime::ExpressionId;
using runtime::none;

struct Situations::Operand {
    enum class Kind : std::uint8_t {
        constant,
        text,
        span,
        age,
        unset,
        variable,
        change,
        time_since,
        table,
        outside
    } kind = Kind::outside;
    std::int64_t value = 0;
    std::string text;
    runtime::Span span;
    AgeConstant age_constant;
    std::uint32_t variable = none;  // of variable, change (the relation), time_since (the newest)
    std::uint32_t dwell = none;     // of time_since
    ChangeKind change = ChangeKind::change;
    bool swapped = false;  // of change: the relation is the other way round
    const runtime::TableValue* table = nullptr;
};

// A number that stands for its cell: every condition treats the cell's numbers alike.
inline std::int64_t standing_for(const ValueCell& cell) {
    if (cell.low == lowest) return cell.high == highest ? 0 : cell.high;
    return cell.low;
}

inline std::int64_t change_of(ChangeKind kind, std::int64_t difference) {
    switch (kind) {
        case ChangeKind::change:
            return difference < 0 ? -difference : difference;
        case ChangeKind::rise:
            return std::max<std::int64_t>(0, difference);
        case ChangeKind::fall:
            return std::max<std::int64_t>(0, -difference);
    }
    return 0;
}

inline bool in_months(const AgeConstant& age) {
    return age.unit == AgeUnit::months || age.unit == AgeUnit::years;
}
// The bound after `more` further completed units, in days or in months.
inline std::int32_t age_bound(const AgeConstant& age, std::int32_t more) {
    const std::int32_t each = age.unit == AgeUnit::weeks ? 7 : age.unit == AgeUnit::years ? 12 : 1;
    return (age.count + more) * each;
}

inline const runtime::Attribute* attribute_of(const runtime::Policy& policy, EventKindId kind,
                                              runtime::FieldId field) {
    const runtime::EventKind& event = policy.event_kinds[kind];
    if (field >= event.slot_of_field.size()) return nullptr;
    const std::uint32_t slot = event.slot_of_field[field];
    return slot == none ? nullptr : &event.attributes[slot];
}

inline std::vector<EventKindId> kinds_of(const runtime::Events& events) {
    std::vector<EventKindId> kinds;
    for (const runtime::Pattern& pattern : events)
        if (std::find(kinds.begin(), kinds.end(), pattern.event) == kinds.end())
            kinds.push_back(pattern.event);
    return kinds;
}

inline runtime::Type microseconds() {
    runtime::Type type;
    type.kind = runtime::TypeKind::duration;
    return type;
}

inline int rank(VariableKind kind) {
    return static_cast<int>(kind);
}

}  // namespace linelaw::compiler::analysis
