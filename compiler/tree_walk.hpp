// A walk through a condition of the tree: every expression in it, outermost first, the `where` of its events
// among them; and what a clause overrides. Knows only the tree.
#pragma once

#include <functional>
#include <string>

#include "grammar/tree.hpp"

namespace linelaw::compiler {

struct TreeVisitor {
    std::function<void(const grammar::Expression&)> expression;
    std::function<void(const grammar::EventPattern&)> pattern;
    std::function<void(const grammar::Window&)> window;
};

void walk(const grammar::Expression& expression, const TreeVisitor& visitor);
void walk(const grammar::Events& events, const TreeVisitor& visitor);
// Every condition, event and window of a clause's lines or of another item.
void walk(const grammar::ClauseLine& line, const TreeVisitor& visitor);
void walk(const grammar::Demand& demand, const TreeVisitor& visitor);

// Where the clause says that it overrides that one; nullptr where it does not.
const grammar::Name* overridden_name(const grammar::ClauseItem& item, const std::string& id);

}  // namespace linelaw::compiler
