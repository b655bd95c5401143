// A policy and its vocabulary as the literal evaluator reads them: the two syntax trees, and their names in
// tables. Nothing is lowered; conditions are evaluated from the tree itself.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "grammar/tree.hpp"
#include "tests/differential/civil.hpp"
#include "tests/differential/exact.hpp"

namespace linelaw::literal {

struct EventKind {
    std::string name;
    std::string of;      // a part
    std::string begins;  // a part
    std::string ends;    // a part
    bool after_removal = false;
    std::vector<const grammar::Attribute*> attributes;  // its own, then those of the part that it begins
    std::vector<std::string> steps;
    int slot(std::string_view attribute) const;  // index into attributes, or -1
};

struct PartKind {
    std::string name;
    std::string of;
    std::string count;  // the line's attribute; empty where it lives between events
    std::vector<const grammar::Attribute*> attributes;
};

struct State {
    const grammar::StateItem* item = nullptr;
    std::string of;                                            // kept for each such part
    std::vector<std::pair<std::string, std::string>> sources;  // event, attribute
    const grammar::Type* type = nullptr;                       // null: a flag between events
};

// The lines of a clause, sorted out.
struct Clause {
    const grammar::ClauseItem* item = nullptr;
    std::string id;
    std::vector<const grammar::Expression*> conditions;  // `for` and `while`
    const grammar::ForEachLine* each = nullptr;
    bool even_after_removal = false;
    enum class Trigger { stretch, at, after, before, once } trigger = Trigger::stretch;
    const grammar::Events* events = nullptr;
    const grammar::Expression* once = nullptr;
    const grammar::Demand* demand = nullptr;
    std::optional<grammar::Expression> must_not;  // `must not NAME` of a flag or term, as the condition it is
    std::vector<const grammar::Expression*> exceptions;
    std::string otherwise_escalate;
    std::string then_escalate;
    std::vector<int> overridden_by;  // clauses
    bool missing_counts = false;     // undocumented counts as not met
    std::vector<Span> spans;  // every duration that a condition of it, or of an overriding one, mentions
    bool judged_at_events() const { return trigger != Trigger::stretch && trigger != Trigger::once; }
};

struct Book {
    grammar::Tree policy;
    grammar::Tree vocabulary;
    Zone zone{"UTC"};
    std::vector<const grammar::Attribute*> patient;
    std::vector<const grammar::Attribute*> line;
    std::unordered_map<std::string, EventKind> kinds;
    std::unordered_map<std::string, PartKind> parts;
    std::unordered_map<std::string, State> states;
    std::unordered_map<std::string, const grammar::Expression*> terms;
    std::unordered_map<std::string, const grammar::TableItem*> tables;
    std::vector<const grammar::ShiftItem*> shifts;
    std::vector<Clause> clauses;
    std::vector<const grammar::EscalationItem*> ladders;
    std::vector<const grammar::BundleItem*> bundles;
    grammar::Attribute role;  // the type of `notified` and `acknowledged_by`
    grammar::Attribute acknowledged_by;
    grammar::Attribute charting_delay;

    Book() = default;
    Book(const Book&) = delete;
    Book& operator=(const Book&) = delete;
};

// The vocabulary's tree must be whole; `extends` and `builds on` are not followed.
std::unique_ptr<Book> open_book(grammar::Tree policy, grammar::Tree vocabulary);

const grammar::Attribute* find_attribute(const std::vector<const grammar::Attribute*>& list,
                                         std::string_view name);

// Quantities of the tree.
Span span_of(const grammar::Quantity& quantity);
bool is_civil(const grammar::Quantity& quantity);    // days or longer
Ratio number_of(const grammar::Quantity& quantity);  // in base units; `s min h` are seconds

}  // namespace linelaw::literal
