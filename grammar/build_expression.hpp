// From flat constructs to the parts that every item is made of: names, texts, quantities, events,
// expressions. Internal to grammar/; build.cpp makes the items.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "grammar/diagnostic.hpp"
#include "grammar/nodes.hpp"
#include "grammar/tree.hpp"

namespace linelaw::grammar {

using NodeId = std::uint32_t;
inline constexpr NodeId no_node = UINT32_MAX;

class PartBuilder {
  public:
    PartBuilder(std::string_view content, std::uint32_t text, const Scan& scan,
                std::vector<Diagnostic>& diagnostics)
        : content_(content), text_(text), nodes_(scan.nodes), diagnostics_(diagnostics) {}

    std::uint32_t text_number() const { return text_; }
    const Node& node(NodeId id) const { return nodes_[id]; }
    Place place(NodeId id) const {
        return id == no_node ? Place{text_, 0, 0} : Place{text_, nodes_[id].begin, nodes_[id].end};
    }
    // What the construct covers, runs of blanks as one.
    std::string words(NodeId id) const;

    // Of an item with a fault some parts are not there: their ids are no_node, and what is made of them is
    // empty. The parts of `of`: the first, the one after, the first of a kind (no_node where there is none),
    // all of a kind.
    NodeId first(NodeId of) const;
    NodeId after(NodeId of, NodeId part) const;
    NodeId part(NodeId of, Kind kind) const;
    std::vector<NodeId> parts(NodeId of, Kind kind) const;
    bool has(NodeId of, Kind kind) const { return part(of, kind) != no_node; }

    Name name(NodeId id) const { return {words(id), place(id)}; }
    std::vector<Name> names(NodeId of) const;
    Name name_in(NodeId of) const { return name(part(of, Kind::name)); }
    Text text(NodeId id) const;
    Text text_in(NodeId of) const { return text(part(of, Kind::string)); }
    Number number(NodeId id) const { return {words(id), place(id)}; }
    Quantity quantity(NodeId id) const;
    Quantity quantity_in(NodeId of) const { return quantity(part(of, Kind::quantity)); }
    Date date(NodeId id);
    TimeOfDay time_of_day(NodeId id);
    Range range(NodeId id);

    Events events(NodeId id);
    Events events_in(NodeId of) { return events(part(of, Kind::events)); }
    Window window(NodeId id);
    Expression expression(NodeId id);
    // The condition among the parts of `of`: its only part that is an expression.
    Expression condition_in(NodeId of) { return expression(part(of, Kind::any_of)); }
    std::vector<Expression> expressions(NodeId of);
    Comparator comparator(NodeId id) const;

    void say(std::string_view code, std::string message, NodeId id, std::string label = "");

  private:
    Expression leaf(NodeId id);
    Expression comparison(NodeId id);
    Expression compared(Expression left, NodeId tail, Place place);
    Expression no_event(NodeId id);
    EventPattern event_pattern(NodeId id);
    Expression change(NodeId id);
    Expression sum_of(NodeId id);
    Expression joined(NodeId id);

    std::string_view content_;
    std::uint32_t text_;
    const std::vector<Node>& nodes_;
    std::vector<Diagnostic>& diagnostics_;
};

}  // namespace linelaw::grammar
