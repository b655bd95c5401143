// A policy's parts in plain words for people: names without underscores, instants on the zone's wall clock,
// quantities in the unit that the vocabulary declares. Only words; what happened is for findings_said.cpp.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/policy.hpp"
#include "runtime/time.hpp"

namespace linelaw::runtime {

// What whoever may act on a finding or a worklist is asked to do before.
constexpr std::string_view before_acting =
    "read the chart, and defer to the facility’s approved policy, local regulation, the product’s "
    "instructions "
    "for use and licensed clinical judgement";

class Words {
  public:
    explicit Words(const Policy& policy);

    const Policy& policy() const { return *policy_; }
    const Zone& zone() const { return zone_; }

    static std::string name(std::string_view identifier);     // dry_time → dry time
    static std::string date(CivilDate date);                  // 9 March 2026
    static std::string lasted(std::int64_t microseconds);     // 5 h, 3 days 4 h, 45 s
    static std::string span(const Span& span);                // 7 days, 2 calendar days, 1 h 30 min
    static std::string a(const std::string& noun);            // a dressing change, an insertion
    static std::string sentence_case(std::string text);       // first letter upper
    std::string when(Instant t) const;                        // 9 March 2026 08:30
    std::string when_beside(Instant t, Instant other) const;  // 13:30 where `other` bears the same date
    std::string on(Instant t) const;                          // on 9 March 2026 at 08:30
    std::string at(Instant t, Instant other) const;           // at 13:30, likewise
    std::string end(Instant limit, bool calendar) const;  // "the end of 9 March 2026" for a calendar limit
    const std::string& event(EventKindId kind) const;     // dressing change
    std::string events(const Events& events) const;       // dressing change or removal
    // dry time at least 30 s. Kept once made, so one Words is for one thread.
    const std::string& condition(ExpressionId id) const;
    std::string part(PartKindId kind, std::uint32_t part, const Episode& episode) const;  // infusion i2
    // The number alone, exact, in the type's unit: 12.5. Of physical and plain numbers only.
    static std::string number(const Type& type, std::int64_t grains);
    // 12.5 cm; yes; chg alcohol; 07:30
    std::string quantity(const Type& type, std::int64_t value) const;
    // The type of what an expression reads, or nullptr where it is not an attribute's or a state's.
    const Type* type_of(ExpressionId id) const;
    const Attribute* attribute_of_field(FieldId field) const;

  private:
    std::string time_of_day(Instant t) const;
    std::string expression(ExpressionId id, const Type* beside, int depth) const;
    std::string negated(ExpressionId id, int depth) const;  // what it says is not so
    std::string joined(const std::vector<ExpressionId>& operands, std::string_view word, int depth) const;
    std::string window(const Window& window) const;
    std::string list(const OneOf& e, std::string_view last) const;

    const Policy* policy_;
    Zone zone_;
    std::vector<std::string> events_;              // by kind
    mutable std::vector<std::string> conditions_;  // by expression; empty until asked for
};

}  // namespace linelaw::runtime
