#include "compiler/tree_walk.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

class Walker {
  public:
    explicit Walker(const TreeVisitor& visitor) : visitor_(visitor) {}

    void expression(const Expression& e) {
        visitor_.expression(e);
        std::visit([&](const auto& node) { inside(node); }, e.node);
    }
    void events(const Events& all) {
        for (const auto& pattern : all) {
            visitor_.pattern(pattern);
            if (pattern.where) expression(**pattern.where);
        }
    }
    void window(const Window& w) {
        visitor_.window(w);
        if (w.since) events(*w.since);
    }

    void line(const ForLine& l) { expression(l.condition); }
    void line(const WhileLine& l) { expression(l.condition); }
    void line(const OnceLine& l) { expression(l.condition); }
    void line(const ExceptLine& l) { expression(l.condition); }
    void line(const ForEachLine& l) {
        if (l.where) expression(*l.where);
    }
    void line(const AtLine& l) { events(l.events); }
    void line(const AfterLine& l) { events(l.events); }
    void line(const BeforeLine& l) { events(l.events); }
    void line(const Demand& l) {
        std::visit([&](const auto& node) { demand(node); }, l.node);
    }
    template <typename Line>
    void line(const Line& /*has no condition*/) {}

  private:
    void each(const std::vector<Expression>& all) {
        for (const auto& e : all) expression(e);
    }
    void inside(const And& e) { each(e.operands); }
    void inside(const Or& e) { each(e.operands); }
    void inside(const Not& e) { expression(*e.operand); }
    void inside(const Comparison& e) {
        expression(*e.left);
        expression(*e.right);
    }
    void inside(const OneOf& e) {
        expression(*e.left);
        each(e.values);
    }
    void inside(const Between& e) {
        expression(*e.left);
        expression(*e.low);
        expression(*e.high);
    }
    void inside(const Occurred& e) {
        events(e.events);
        window(e.window);
    }
    void inside(const SomePart& e) {
        if (e.where) expression(**e.where);
    }
    void inside(const TimeSince& e) { events(e.events); }
    void inside(const CountOf& e) {
        events(e.events);
        window(e.window);
    }
    void inside(const SumOf& e) { window(e.window); }
    void inside(const DifferenceOf& e) {
        expression(*e.left);
        expression(*e.right);
    }
    void inside(const Change& e) {
        if (e.since_last) events(*e.since_last);
    }
    void inside(const Multiple& e) { expression(*e.operand); }
    template <typename Leaf>
    void inside(const Leaf& /*holds no expression*/) {}

    void unless(const std::optional<Box<Expression>>& condition) {
        if (condition) expression(**condition);
    }
    void demand(const AtLeastEvery& d) {
        events(d.events);
        unless(d.unless);
    }
    void demand(const NoMoreOftenThan& d) {
        events(d.events);
        unless(d.unless);
    }
    void demand(const EachPeriod& d) { events(d.events); }
    void demand(const Within& d) { events(d.events); }
    void demand(const WithinEitherSide& d) { events(d.events); }
    void demand(const HaveHad& d) {
        events(d.events);
        if (d.window) window(*d.window);
    }
    void demand(const Holds& d) { expression(d.condition); }
    void demand(const Forbid& d) { events(d.events); }
    void demand(const AtMostTimes& d) { events(d.events); }
    void demand(const Document& /*d*/) {}
    void demand(const FollowSteps& /*d*/) {}
    void demand(const LeavesToJudgement& /*d*/) {}

    const TreeVisitor& visitor_;
};

}  // namespace

void walk(const Expression& expression, const TreeVisitor& visitor) {
    Walker(visitor).expression(expression);
}
void walk(const Events& events, const TreeVisitor& visitor) {
    Walker(visitor).events(events);
}
void walk(const Demand& demand, const TreeVisitor& visitor) {
    Walker(visitor).line(demand);
}
void walk(const ClauseLine& line, const TreeVisitor& visitor) {
    std::visit([&](const auto& node) { Walker(visitor).line(node); }, line.node);
}

const grammar::Name* overridden_name(const grammar::ClauseItem& item, const std::string& id) {
    for (const auto& line : item.lines)
        if (const auto* overrides = std::get_if<grammar::OverridesLine>(&line.node))
            for (const auto& name : overrides->clauses)
                if (name.text == id) return &name;
    return nullptr;
}

}  // namespace linelaw::compiler
