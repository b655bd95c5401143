// Situations: the vocabulary's variables that a policy looks at, its conditions as decision diagrams over
// them, and which combinations are possible at all (language.md §5). Conditions keep Kleene's three values as
// two diagrams. Knows nothing of demands.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "compiler/analysis/diagram.hpp"
#include "compiler/analysis/variables.hpp"
#include "compiler/compile.hpp"
#include "runtime/policy.hpp"

namespace linelaw::compiler::analysis {

struct Limits;

// Where a condition is true and where it is false; unknown elsewhere.
struct Meaning {
    Node yes = never;
    Node no = never;
};

using WordedSituation = std::vector<std::pair<std::string, std::string>>;

class Situations {
  public:
    // Scans every condition of the compiled policy first, because cells are cut at all constants together.
    // `compiled` must outlive it. Throws DiagramsExhausted, as every method that makes nodes does.
    Situations(const Compiled& compiled, const Limits& limits);

    Diagrams& diagrams() { return diagrams_; }
    const std::vector<Variable>& variables() const { return variables_; }
    const runtime::Policy& policy() const { return policy_; }

    // The condition, true everywhere where it is none. `at_hand` is the kind of the event at hand.
    Meaning meaning(runtime::ExpressionId condition, runtime::EventKindId at_hand = runtime::none);
    // Any of the patterns that are of this kind, with their `where`.
    Meaning matches(const runtime::Events& events, runtime::EventKindId kind);

    // Where the row fits, its inputs read with this event at hand.
    Meaning fits_row(const runtime::TableValue& table, const runtime::Row& row, runtime::EventKindId at_hand);
    // The rows as boxes, a set of cells an input; nothing where some input is no plain attribute or state.
    std::optional<std::vector<std::vector<CellSet>>> row_boxes(const runtime::TableValue& table,
                                                               runtime::EventKindId at_hand);
    // Whether the table is so large that conditions which read it are not looked into: its rows times the
    // cells of its inputs. Its rows are looked at all the same.
    bool too_large(const runtime::TableValue& table, runtime::EventKindId at_hand);

    // What the vocabulary's nevers, the numbers' ranges and the clocks' order allow.
    Node possible() const { return possible_; }
    // The same for a situation in which a part of this kind is at hand: then some such part is there.
    Node possible_with(runtime::PartKindId part);

    // The variable of an attribute (with the kind at hand) or a state; none where no condition looks at it.
    std::uint32_t variable_of(runtime::ExpressionId what, runtime::EventKindId at_hand = runtime::none) const;
    // Of a condition outside the fragment, which is true or false as it likes.
    std::uint32_t other_of(runtime::ExpressionId condition, runtime::EventKindId at_hand) const;
    std::uint32_t attribute_variable(runtime::EventKindId kind, runtime::FieldId field) const;
    // Where none of these variables (by index; a node's support, say) is undocumented / unset.
    Node documented(const std::vector<bool>& which);
    Node set(const std::vector<bool>& which);
    Node documented(Node node) { return documented(diagrams_.support(node)); }
    Node set(Node node) { return set(diagrams_.support(node)); }

    // Whether the condition leaves the fragment that is analysed exactly, and how; empty where it does not.
    std::string outside(runtime::ExpressionId condition, runtime::EventKindId at_hand = runtime::none);

    // Names the part of the work that a limit or a tangle of numbers kept from being exact; empty mostly.
    const std::vector<std::string>& inexact() const { return inexact_; }

    // The smallest box of situations around one of `bad` (not empty within possible), as wide as it goes;
    // deterministic. Attributes of events and clocks are dropped first.
    Box smallest(Node bad) { return smallest_within(bad, always); }
    // The same inside a scope that goes without saying.
    Box smallest_within(Node bad, Node scope);
    // Every situation of `bad` in few wide boxes; at most `limit`, `cut` says whether there were more.
    std::vector<Box> boxes(Node bad, std::size_t limit, bool& cut);
    std::vector<Box> boxes_within(Node bad, Node scope, std::size_t limit, bool& cut);
    WordedSituation worded(const Box& box) const;
    // "line.kind is picc and dressing is gauze"; "any situation" for the empty box.
    std::string sentence(const Box& box) const;
    std::string where_sentence(const Box& box) const;  // " where …", or nothing for the empty box

    // A condition's text, canonical: equal for equal conditions. For keys, not for people.
    std::string key(runtime::ExpressionId condition, runtime::EventKindId at_hand) const;
    std::string key(const runtime::Events& events) const;
    std::string event_words(const runtime::Events& events) const;  // "infusion_start or set_change"

  private:
    struct Operand;
    struct OperandReader;
    static constexpr std::size_t rows_looked_into = 100;  // of a table, however many cells they have

    std::uint32_t variable(const std::string& key) const;
    std::uint32_t declare(const std::string& key, Variable variable);
    std::uint32_t declare_attribute(runtime::EventKindId kind, runtime::FieldId field);
    Operand operand(runtime::ExpressionId id, runtime::EventKindId at_hand);
    void scan_policy();
    void scan_clause(const runtime::Clause& clause);
    void scan(runtime::ExpressionId id, runtime::EventKindId at_hand);
    void scan_events(const runtime::Events& events);
    bool expressible(const Operand& left, const Operand& right) const;
    void scan_compare(runtime::Comparator comparator, const Operand& left, const Operand& right);
    std::uint32_t declare_order(std::uint32_t left, std::uint32_t right);
    std::uint32_t declare_newest(const runtime::Events& events);
    std::uint32_t declare_dwell();
    std::uint32_t declare_other(runtime::ExpressionId id, runtime::EventKindId at_hand,
                                const char* why = "other ");
    void scan_cell(const Operand& input, const runtime::Cell& cell);
    void order_variables();
    void derive_cuts();
    void constrain();
    Node feasible_numbers();
    Node feasible_group(const std::vector<std::uint32_t>& group);
    Node feasible_steps();
    Node feasible_steps(const std::vector<std::uint32_t>& times);
    Node feasible_parts();

    Meaning compare(runtime::Comparator comparator, const Operand& left, const Operand& right,
                    runtime::EventKindId at_hand);
    Meaning compare_variables(runtime::Comparator comparator, const Operand& left, const Operand& right);
    std::optional<CellSet> picked(const Variable& variable, const runtime::Cell& cell);
    const runtime::TableValue* table_read(runtime::ExpressionId condition) const;  // by it itself, or none
    bool reads_too_large(runtime::ExpressionId condition, runtime::EventKindId at_hand);
    Meaning compare_table(runtime::Comparator comparator, const Operand& table, const Operand& other,
                          runtime::EventKindId at_hand);
    Meaning fits(const Operand& input, const runtime::Cell& cell, runtime::EventKindId at_hand);
    Meaning truth_of(std::uint32_t variable, const std::function<bool(const ValueCell&)>& holds);
    Meaning other(runtime::ExpressionId id, runtime::EventKindId at_hand, const char* why = "other ");
    Meaning compute(runtime::ExpressionId id, runtime::EventKindId at_hand);
    Meaning compute_occurred(const runtime::Occurred& occurred);
    Meaning kleene_and(const std::vector<Meaning>& parts);
    Meaning kleene_or(const std::vector<Meaning>& parts);
    Node none_is(ValueCell::Kind kind, const std::vector<bool>& which);
    Node ordered_clocks(std::uint32_t smaller, std::uint32_t larger);
    bool all_among(std::uint32_t clock, const std::vector<std::uint32_t>& others);
    Node one_is_as_new(std::uint32_t clock, const std::vector<std::uint32_t>& all);

    const Compiled& compiled_;
    const runtime::Policy& policy_;
    Diagrams diagrams_;
    std::vector<Variable> variables_;
    std::map<std::string, std::uint32_t> by_key_;
    bool scanning_ = true;
    std::map<std::pair<runtime::ExpressionId, runtime::EventKindId>, Meaning> memo_;
    std::vector<std::uint32_t> drop_order_;
    std::vector<std::string> inexact_;
    Node possible_ = always;
};

// The events that a demand speaks of, whatever it says of them.
runtime::Events demanded_events(const runtime::Demand& demand);

// Visits an expression and everything under it, `where`s of events with their kind at hand.
void walk(const runtime::Policy& policy, runtime::ExpressionId id, runtime::EventKindId at_hand,
          const std::function<void(runtime::ExpressionId, runtime::EventKindId)>& visit);

}  // namespace linelaw::compiler::analysis
