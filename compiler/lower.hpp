// The tree's conditions, values and items to those of the compiled policy. Each expression is written once
// (equal ones share an id), terms are expanded where they stand, and comparisons have their constant on the
// right. What has an error is said once and answered with nothing.
#pragma once

#include <optional>

#include "compiler/names.hpp"
#include "compiler/resolve.hpp"
#include "compiler/types.hpp"

namespace linelaw::compiler {

struct TableShape {
    const grammar::TableItem* item = nullptr;
    std::vector<Shape> inputs;
    std::vector<Shape> columns;
};

struct Lowered {
    runtime::ExpressionId id = runtime::none;
    Shape shape;  // broken where there is no id
};

// intern.cpp
runtime::ExpressionId intern(Work& work, const runtime::Expression& expression, grammar::Place place);

// lower_conditions.cpp
// One level deeper for as long as it lives. Where that is too deep, a diagnostic says so.
class Deeper {
  public:
    Deeper(Work& work, grammar::Place place);
    ~Deeper();
    Deeper(const Deeper&) = delete;
    Deeper& operator=(const Deeper&) = delete;
    bool fits() const { return fits_; }

  private:
    Work& work_;
    bool fits_ = true;
};
std::optional<runtime::ExpressionId> lower_condition(Work& work, const grammar::Expression& expression,
                                                     const Context& context);
// The term's condition, read where the term stands: its bare names mean what they mean there. Read once for
// all the uses where they mean the same.
std::optional<runtime::ExpressionId> lower_term(Work& work, const grammar::TermItem& term, grammar::Place use,
                                                const Context& context);
std::optional<runtime::Pattern> lower_pattern(Work& work, const grammar::EventPattern& pattern,
                                              const Context& outer);
std::optional<runtime::Events> lower_events(Work& work, const grammar::Events& events, const Context& outer);
std::optional<runtime::Window> lower_window(Work& work, const grammar::Window& window, const Context& outer);

// lower_values.cpp
Lowered lower_value(Work& work, const grammar::Expression& expression, const Context& context);
// Whether every event at hand has the step; else it is said.
bool have_step(Work& work, const grammar::Name& step, const Context& context);
// A value beside another one: a literal, or a name of its list, is read as it needs.
Lowered lower_beside(Work& work, const grammar::Expression& expression, const Shape& shape,
                     grammar::Place beside, const Context& context);

// Whether nothing lies between two constants, since the greater one stands first. Ages of different units
// only where it is so however long the months are.
bool ends_before_it_begins(const Work& work, runtime::ExpressionId low, runtime::ExpressionId high);

// lower_tables.cpp
void declare_tables(Work& work);  // shapes, before any use
void lower_tables(Work& work);    // rows
Lowered lower_column(Work& work, const ResolvedColumn& column, const grammar::Name& name,
                     const Context& context);

// lower_vocabulary.cpp
void link_states(Work& work);
void lower_vocabulary(Work& work);

// lower_items.cpp: sources, shifts, ladders, bundles, questions, what is accepted, the header.
void lower_items(Work& work);

// lower_examples.cpp, after everything that an example may name
void lower_examples(Work& work);

// lower_clauses.cpp
void lower_clauses(Work& work);

// lower_demands.cpp. `trigger` is of the same clause; `context` is of its demand: events at hand, part at
// hand.
std::optional<runtime::Demand> lower_demand(Work& work, const grammar::Demand& demand,
                                            const runtime::Trigger& trigger, const Context& context);
// The events that a demand waits for or speaks of; empty where it is none of events.
const runtime::Events* demanded_events(const runtime::Demand& demand);

std::vector<runtime::EventKindId> kinds_of(const runtime::Events& events);
runtime::TextPlace text_place(const Work& work, grammar::Place place);
std::string number_text(const std::optional<grammar::Number>& number);

}  // namespace linelaw::compiler
