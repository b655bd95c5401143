// How the parts of a tree that hold many others are made, copied and destroyed; tree.hpp says why here.
#include "grammar/tree.hpp"

#include <utility>

namespace linelaw::grammar {

Expression::Expression(Node is, Place at) : node(std::move(is)), place(at) {}
Expression::Expression() = default;
Expression::Expression(const Expression&) = default;
Expression::Expression(Expression&&) noexcept = default;
Expression& Expression::operator=(const Expression&) = default;
Expression& Expression::operator=(Expression&&) noexcept = default;
Expression::~Expression() = default;

ClauseItem::ClauseItem() = default;
ClauseItem::ClauseItem(const ClauseItem&) = default;
ClauseItem::ClauseItem(ClauseItem&&) noexcept = default;
ClauseItem& ClauseItem::operator=(const ClauseItem&) = default;
ClauseItem& ClauseItem::operator=(ClauseItem&&) noexcept = default;
ClauseItem::~ClauseItem() = default;

}  // namespace linelaw::grammar
