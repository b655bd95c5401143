// One expression, one id: two that are written alike are evaluated and reasoned about once.
#include "compiler/lower.hpp"

namespace linelaw::compiler {

using namespace runtime;

Work::Work(Layers& l, const grammar::Sources& s, Report& r) : layers(l), sources(s), report(r) {}
Work::~Work() = default;

namespace {

// A text that is the same for the same expression and for no other.
class Key {
  public:
    explicit Key(std::size_t kind) { number(static_cast<std::int64_t>(kind)); }
    std::string take() { return std::move(key_); }

    Key& number(std::int64_t n) {
        key_ += std::to_string(n);
        key_ += ' ';
        return *this;
    }
    Key& text(const std::string& t) {
        number(static_cast<std::int64_t>(t.size()));
        key_ += t;
        return *this;
    }
    Key& ids(const std::vector<ExpressionId>& all) {
        number(static_cast<std::int64_t>(all.size()));
        for (const auto id : all) number(id);
        return *this;
    }
    Key& span(const Span& s) {
        return number(s.months).number(s.days).number(s.calendar ? 1 : 0).number(s.elapsed);
    }
    Key& events(const Events& all) {
        number(static_cast<std::int64_t>(all.size()));
        for (const auto& pattern : all) number(pattern.event).number(pattern.where);
        return *this;
    }
    Key& window(const Window& w) {
        number(w.in_last ? 1 : 0);
        if (w.in_last) span(*w.in_last);
        return events(w.since);
    }

  private:
    std::string key_;
};

struct WriteKey {
    Key& k;
    void operator()(const Constant& e) { k.number(e.value); }
    void operator()(const TextConstant& e) { k.text(e.text); }
    void operator()(const SpanConstant& e) { k.span(e.span); }
    void operator()(const AgeConstant& e) { k.number(e.count).number(static_cast<std::int64_t>(e.unit)); }
    void operator()(const Unset& /*e*/) {}
    void operator()(const EventAttribute& e) { k.number(e.field); }
    void operator()(const PartAttribute& e) { k.number(e.part).number(e.slot); }
    void operator()(const LineAttribute& e) { k.number(e.slot); }
    void operator()(const PatientAttribute& e) { k.number(e.slot); }
    void operator()(const StateValue& e) { k.number(e.state); }
    void operator()(const Facility& /*e*/) {}
    void operator()(const CareUnit& /*e*/) {}
    void operator()(const Dwell& /*e*/) {}
    void operator()(const TimeSince& e) { k.events(e.events); }
    void operator()(const CountOf& e) { k.events(e.events).window(e.window); }
    void operator()(const SumOf& e) { k.number(e.event).number(e.field).window(e.window); }
    void operator()(const DifferenceOf& e) { k.number(e.left).number(e.right); }
    void operator()(const Change& e) {
        k.number(static_cast<std::int64_t>(e.kind)).number(e.field).events(e.since_last).number(e.line_slot);
    }
    void operator()(const StepTime& e) { k.text(e.from).text(e.to); }
    void operator()(const StepIn& e) { k.text(e.step); }
    void operator()(const Multiple& e) { k.number(e.numerator).number(e.denominator).number(e.operand); }
    void operator()(const TableValue& e) { k.number(e.table).number(e.column).ids(e.inputs); }
    void operator()(const And& e) { k.ids(e.operands); }
    void operator()(const Or& e) { k.ids(e.operands); }
    void operator()(const Not& e) { k.number(e.operand); }
    void operator()(const Compare& e) {
        k.number(static_cast<std::int64_t>(e.comparator)).number(e.left).number(e.right);
    }
    void operator()(const OneOf& e) { k.number(e.operand).ids(e.values); }
    void operator()(const Documented& e) { k.number(e.attribute); }
    void operator()(const Occurred& e) { k.events(e.events).window(e.window).number(e.negated ? 1 : 0); }
    void operator()(const SomePart& e) { k.number(e.part).number(e.where); }
    void operator()(const Always& e) { k.number(e.value ? 1 : 0); }
};

}  // namespace

ExpressionId intern(Work& work, const Expression& expression, grammar::Place place) {
    Key key(expression.index());
    std::visit(WriteKey{key}, expression);
    const auto id = static_cast<ExpressionId>(work.policy().expressions.size());
    const auto [entry, fresh] = work.interned.emplace(key.take(), id);
    if (fresh) {
        work.policy().expressions.push_back(expression);
        work.out.expression_places.push_back(place);
    }
    return entry->second;
}

}  // namespace linelaw::compiler
