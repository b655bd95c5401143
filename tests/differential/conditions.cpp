#include "tests/differential/conditions.hpp"

#include <stdexcept>

#include "tests/differential/values.hpp"
#include "tests/differential/windows.hpp"

namespace linelaw::literal {

using namespace grammar;
using Kind = Value::Kind;

namespace {

Truth test(const And& x, const Ask& ask) {
    Truth out = Truth::yes;
    for (const Expression& o : x.operands) out = both(out, holds(o, ask));
    return out;
}
Truth test(const Or& x, const Ask& ask) {
    Truth out = Truth::no;
    for (const Expression& o : x.operands) out = either(out, holds(o, ask));
    return out;
}
Truth test(const Not& x, const Ask& ask) {
    return negate(holds(*x.operand, ask));
}
Truth test(const Comparison& x, const Ask& ask) {
    return compare_expressions(*x.left, x.comparator, *x.right, ask);
}
Truth test(const OneOf& x, const Ask& ask) {
    Truth out = Truth::no;
    for (const Expression& v : x.values)
        out = either(out, compare_expressions(*x.left, Comparator::is, v, ask));
    return x.negated ? negate(out) : out;
}
Truth test(const Between& x, const Ask& ask) {
    return both(compare_expressions(*x.left, Comparator::at_least, *x.low, ask),
                compare_expressions(*x.left, Comparator::at_most, *x.high, ask));
}
Truth test(const Documented& x, const Ask& ask) {
    const Value v = named_value(x.attribute.text, ask);
    const Truth out = v.kind == Kind::missing  ? Truth::no
                      : v.kind == Kind::hidden ? Truth::unknown
                                               : Truth::yes;
    return x.negated ? negate(out) : out;
}
Truth test(const Occurred& x, const Ask& ask) {
    const Truth out = occurred(x.events, x.window, ask);
    return x.negated ? both(negate(out), in_for(x.events, x.window, ask)) : out;
}
Truth test(const SomePart& x, const Ask& ask) {
    Truth out = Truth::no;
    for (const Life& life : ask.record->lives) {
        if (life.kind->name != x.part.text) continue;
        Ask inside = ask;
        inside.part = &life;
        const Truth alive = lives(life, ask.position);
        if (alive == Truth::no) continue;
        out = either(out, x.where ? both(alive, holds(**x.where, inside)) : alive);
    }
    for (const auto& [part, why] : ask.record->uncounted)
        if (part->name == x.part.text) out = either(out, why);
    // One that began before the left edge may still be there.
    if (ask.record->left_edge && ask.book->parts.at(x.part.text).count.empty())
        out = either(out, Truth::unknown);
    return x.negated ? negate(out) : out;
}
Truth test(const Reference& x, const Ask& ask) {
    const Named named = resolve(x.name.text, ask);
    if (named.what == Named::What::term) return holds(*named.term, ask);
    const Value v = named_value(x.name.text, ask);
    if (is_unknown(v)) return why_unknown(v);
    return truth(v.word == "yes");
}
template <typename Other>
Truth test(const Other&, const Ask&) {
    throw std::runtime_error("not a condition");
}

}  // namespace

Truth holds(const Expression& condition, const Ask& ask) {
    return std::visit([&ask](const auto& node) { return test(node, ask); }, condition.node);
}

}  // namespace linelaw::literal
