#include "runtime/policy_check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <string_view>
#include <unordered_set>

#include "runtime/overloaded.hpp"
#include "runtime/policy_values.hpp"

namespace linelaw::runtime {
namespace {

// Every expression that another one evaluates.
class Children {
  public:
    static std::vector<ExpressionId> of(const Expression& expression) {
        Children children;
        std::visit(children, expression);
        return std::move(children.ids_);
    }

    void operator()(const TimeSince& x) { add(x.events); }
    void operator()(const CountOf& x) { add(x.events), add(x.window.since); }
    void operator()(const SumOf& x) { add(x.window.since); }
    void operator()(const DifferenceOf& x) { add(x.left), add(x.right); }
    void operator()(const Change& x) { add(x.since_last); }
    void operator()(const Multiple& x) { add(x.operand); }
    void operator()(const TableValue& x) { add(x.inputs); }
    void operator()(const And& x) { add(x.operands); }
    void operator()(const Or& x) { add(x.operands); }
    void operator()(const Not& x) { add(x.operand); }
    void operator()(const Compare& x) { add(x.left), add(x.right); }
    void operator()(const OneOf& x) { add(x.operand), add(x.values); }
    void operator()(const Documented& x) { add(x.attribute); }
    void operator()(const Occurred& x) { add(x.events), add(x.window.since); }
    void operator()(const SomePart& x) { add(x.where); }
    template <class Leaf>
    void operator()(const Leaf&) {}

  private:
    void add(ExpressionId id) {
        if (id != none) ids_.push_back(id);
    }
    void add(const std::vector<ExpressionId>& ids) {
        for (ExpressionId id : ids) add(id);
    }
    void add(const Events& events) {
        for (const Pattern& pattern : events) add(pattern.where);
    }
    std::vector<ExpressionId> ids_;
};

template <class... Kinds>
bool is_one_of(const Expression& x) {
    return (std::holds_alternative<Kinds>(x) || ...);
}
bool is_constant(const Expression& x) {
    return is_one_of<Constant, TextConstant, SpanConstant, AgeConstant>(x);
}
bool is_only_truth(const Expression& x) {
    return is_one_of<And, Or, Not, Compare, OneOf, Documented, Occurred, SomePart, Always>(x);
}
bool is_attribute(const Expression& x) {
    return is_one_of<EventAttribute, PartAttribute, LineAttribute, PatientAttribute, StateValue>(x);
}

// Walks a graph of `size` nodes depth first without recursion; nothing if it has a circle or is deeper than
// `deepest`, else true.
template <class Edges>
bool is_acyclic(std::size_t size, std::uint32_t deepest, const Edges& edges_of) {
    enum : std::uint8_t { fresh, open, done };
    std::vector<std::uint8_t> colour(size, fresh);
    std::vector<std::uint32_t> height(size, 1);
    struct Frame {
        std::uint32_t node;
        std::vector<std::uint32_t> edges;
        std::size_t next;
    };
    std::vector<Frame> stack;
    for (std::uint32_t root = 0; root < size; ++root) {
        if (colour[root] != fresh) continue;
        colour[root] = open;
        stack.push_back({root, edges_of(root), 0});
        while (!stack.empty()) {
            Frame& top = stack.back();
            if (top.next < top.edges.size()) {
                const std::uint32_t to = top.edges[top.next++];
                if (colour[to] == open) return false;
                if (colour[to] == fresh) {
                    colour[to] = open;
                    stack.push_back({to, edges_of(to), 0});
                }
                continue;
            }
            for (std::uint32_t to : top.edges) height[top.node] = std::max(height[top.node], height[to] + 1);
            if (height[top.node] > deepest) return false;
            colour[top.node] = done;
            stack.pop_back();
        }
    }
    return true;
}

class Checker {
  public:
    explicit Checker(const Policy& policy) : p_(policy) {}

    std::optional<PolicyFault> run() {
        vocabulary();
        // Nothing below may follow an expression into a circle, or a slot out of its table.
        if (!fault_ && !is_acyclic(p_.expressions.size(), deepest_expression,
                                   [this](std::uint32_t id) { return Children::of(p_.expressions[id]); }))
            fault("/expressions",
                  fmt::format("must not nest in a circle or deeper than {}", deepest_expression));
        if (!fault_) expressions();
        if (!fault_) tables();
        if (!fault_) fault_ = value_fault_of(p_);
        if (!fault_) clauses();
        if (!fault_) ladders_and_bundles();
        return std::move(fault_);
    }

  private:
    // Keeps the first.
    void fault(std::string pointer, std::string what) {
        if (!fault_) fault_ = PolicyFault{std::move(pointer), std::move(what)};
    }
    void require(bool holds, const std::string& pointer, std::string_view what) {
        if (!holds) fault(pointer, std::string(what));
    }

    template <class List, class Name>
    void names_differ(const char* table, const List& list, const Name& name_of) {
        std::unordered_set<std::string_view> seen;
        for (std::size_t i = 0; i < list.size(); ++i)
            require(seen.insert(std::invoke(name_of, list[i])).second, fmt::format("/{}/{}", table, i),
                    "bears a name that came before");
    }

    // ---- vocabulary

    void vocabulary() {
        require(Zone::find(p_.time_zone).has_value(), "/time_zone",
                "names no time zone that this machine's zone database knows");
        const auto self = [](const std::string& s) -> std::string_view { return s; };
        names_differ("symbols", p_.symbols, self);
        names_differ("fields", p_.fields, self);
        names_differ("roles", p_.roles, self);
        names_differ("patient", p_.patient, &Attribute::name);
        names_differ("line", p_.line, &Attribute::name);
        names_differ("event_kinds", p_.event_kinds, &EventKind::name);
        names_differ("part_kinds", p_.part_kinds, &PartKind::name);
        names_differ("clauses", p_.clauses, &Clause::id);
        attributes("/patient", p_.patient);
        attributes("/line", p_.line);
        for (std::size_t i = 0; i < p_.event_kinds.size(); ++i) event_kind(i);
        for (std::size_t i = 0; i < p_.part_kinds.size(); ++i) part_kind(i);
        require(is_acyclic(p_.part_kinds.size(), deepest_expression,
                           [this](std::uint32_t id) {
                               const PartKindId of = p_.part_kinds[id].of;
                               return of == none ? std::vector<std::uint32_t>{} : std::vector{of};
                           }),
                "/part_kinds", "must not be parts of each other in a circle");
        for (std::size_t i = 0; i < p_.states.size(); ++i) state(i);
        for (std::size_t i = 0; i < p_.shifts.size(); ++i) {
            const Shift& shift = p_.shifts[i];
            require(shift.from >= 0 && shift.from < microseconds_per_day && shift.to >= 0 &&
                        shift.to <= microseconds_per_day,
                    fmt::format("/shifts/{}", i), "must begin and end on the clock of one day");
        }
        require(p_.insertion != p_.removal && p_.insertion != p_.notification &&
                    p_.removal != p_.notification && p_.acknowledgement != p_.insertion &&
                    p_.acknowledgement != p_.removal && p_.acknowledgement != p_.notification,
                "/insertion", "must differ from the other built-in events");
        require(has_field(p_.notification, p_.notified), "/notified", "must be a field of the notification");
        require(has_field(p_.acknowledgement, p_.acknowledged_by), "/acknowledged_by",
                "must be a field of the acknowledgement");
    }

    bool has_field(EventKindId kind, FieldId field) const {
        const auto& attributes = p_.event_kinds[kind].attributes;
        return std::any_of(attributes.begin(), attributes.end(),
                           [field](const Attribute& a) { return a.field == field; });
    }

    void attributes(const std::string& pointer, const std::vector<Attribute>& list) {
        for (std::size_t i = 0; i < list.size(); ++i)
            type(fmt::format("{}/{}/type", pointer, i), list[i].type);
    }

    void type(const std::string& pointer, const Type& t) {
        const Dimension dimension = dimension_of(t.kind);
        if (t.kind == TypeKind::one_of) require(!t.values.empty(), pointer, "must list its values");
        require(t.low <= t.high, pointer, "must have a low end that is not above its high end");
        require(-widest_range <= t.low && t.high <= widest_range, pointer,
                "must have ends within 4,000,000,000,000,000 of its grains");
        if (t.kind == TypeKind::percent) {
            require(t.unit.empty() || t.unit == "%", pointer, "must be in %");
        } else if (dimension == Dimension::none) {
            require(t.unit.empty(), pointer, "must have no unit");
        } else {
            const Unit* unit = find_unit(t.unit);
            require(unit && unit->dimension == dimension, pointer, "must be in a unit of its own dimension");
        }
    }

    void event_kind(std::size_t i) {
        const EventKind& kind = p_.event_kinds[i];
        const std::string pointer = fmt::format("/event_kinds/{}/attributes", i);
        attributes(pointer, kind.attributes);
        std::unordered_set<FieldId> seen;
        for (std::size_t a = 0; a < kind.attributes.size(); ++a) {
            const Attribute& attribute = kind.attributes[a];
            const std::string here = fmt::format("{}/{}", pointer, a);
            if (attribute.field == none) return fault(here, "must name its field");
            require(p_.fields[attribute.field] == attribute.name, here, "must bear the name of its field");
            require(seen.insert(attribute.field).second, here, "must not name a field twice");
            require(attribute.comparable_by == none ||
                        has_field(static_cast<EventKindId>(i), attribute.comparable_by),
                    here, "must be comparable by a field of the same event");
        }
    }

    void part_kind(std::size_t i) {
        const PartKind& kind = p_.part_kinds[i];
        const std::string pointer = fmt::format("/part_kinds/{}", i);
        attributes(pointer + "/attributes", kind.attributes);
        if (kind.count_slot != none)
            require(p_.line[kind.count_slot].type.kind == TypeKind::count &&
                        p_.line[kind.count_slot].type.high <= most_parts_counted,
                    pointer + "/count", "must be a count of the line, of not too many");
        require((kind.count_slot == none) != kind.from.empty(), pointer,
                "must be either counted or begun by events");
    }

    void state(std::size_t i) {
        const State& s = p_.states[i];
        const std::string pointer = fmt::format("/states/{}", i);
        type(pointer + "/type", s.type);
        for (std::size_t k = 0; k < s.sources.size(); ++k)
            require(has_field(s.sources[k].event, s.sources[k].field),
                    fmt::format("{}/sources/{}", pointer, k), "must name a field of its event");
        require(s.sources.empty() || s.from.empty(), pointer, "must be set by values or by events, not both");
        if (!s.from.empty())
            require(s.type.kind == TypeKind::flag, pointer + "/type", "must be a flag where events set it");
    }

    // ---- expressions

    void expressions() {
        for (std::size_t i = 0; i < p_.expressions.size(); ++i) {
            const std::string pointer = fmt::format("/expressions/{}", i);
            std::visit(overloaded{
                           [&](const PartAttribute& x) {
                               require(x.slot < p_.part_kinds[x.part].attributes.size(), pointer + "/slot",
                                       "must be an attribute of that part");
                           },
                           [&](const TimeSince& x) { events(pointer + "/events", x.events, 1); },
                           [&](const CountOf& x) {
                               events(pointer + "/events", x.events, 1), window(pointer, x.window);
                           },
                           [&](const SumOf& x) {
                               require(has_field(x.event, x.field), pointer + "/field",
                                       "must be a field of that event");
                               window(pointer, x.window);
                           },
                           [&](const DifferenceOf& x) { value(pointer, x.left), value(pointer, x.right); },
                           [&](const Change& x) { events(pointer + "/since_last", x.since_last, 0); },
                           [&](const Multiple& x) { value(pointer, x.operand), factor(pointer, x); },
                           [&](const TableValue& x) {
                               const Table& table = p_.tables[x.table];
                               require(x.column < table.columns.size(), pointer + "/column",
                                       "must be one of that table");
                               require(x.inputs.size() == table.inputs.size(), pointer + "/inputs",
                                       "must be as many as that table's");
                               for (ExpressionId input : x.inputs) value(pointer, input);
                           },
                           [&](const And& x) { truths(pointer, x.operands); },
                           [&](const Or& x) { truths(pointer, x.operands); },
                           [&](const Not& x) { truth(pointer, x.operand); },
                           [&](const Compare& x) { value(pointer, x.left), value(pointer, x.right); },
                           [&](const OneOf& x) { value(pointer, x.operand), constants(pointer, x.values); },
                           [&](const Documented& x) {
                               require(is_attribute(p_.expressions[x.attribute]), pointer + "/attribute",
                                       "must be an attribute or a state");
                           },
                           [&](const Occurred& x) {
                               events(pointer + "/events", x.events, 1), window(pointer, x.window);
                           },
                           [&](const SomePart& x) { truth(pointer, x.where); },
                           [](const auto&) {},
                       },
                       p_.expressions[i]);
        }
    }

    void truth(const std::string& pointer, ExpressionId id) {
        if (id == none) return;
        const Expression& x = p_.expressions[id];
        bool flag = is_only_truth(x) || is_one_of<EventAttribute, TableValue>(x);
        if (const auto* line = std::get_if<LineAttribute>(&x)) flag = is_flag(p_.line[line->slot].type);
        if (const auto* patient = std::get_if<PatientAttribute>(&x))
            flag = is_flag(p_.patient[patient->slot].type);
        if (const auto* state = std::get_if<StateValue>(&x)) flag = is_flag(p_.states[state->state].type);
        if (const auto* part = std::get_if<PartAttribute>(&x)) {
            const auto& slots = p_.part_kinds[part->part].attributes;
            flag = part->slot < slots.size() && is_flag(slots[part->slot].type);
        }
        require(flag, pointer, "must rest on conditions and flags");
    }
    static bool is_flag(const Type& type) { return type.kind == TypeKind::flag; }
    void truths(const std::string& pointer, const std::vector<ExpressionId>& ids) {
        for (ExpressionId id : ids) truth(pointer, id);
    }
    void value(const std::string& pointer, ExpressionId id) {
        require(!is_only_truth(p_.expressions[id]), pointer, "must rest on values");
    }
    // Multiples of multiples are worked out together, without rounding between.
    void factor(const std::string& pointer, const Multiple& whole) {
        std::int64_t numerator = 1;
        std::int64_t denominator = 1;
        for (const Multiple* x = &whole; x != nullptr;
             x = std::get_if<Multiple>(&p_.expressions[x->operand])) {
            const bool fits = x->numerator > 0 && x->denominator > 0 &&
                              x->numerator <= largest_factor / numerator &&
                              x->denominator <= largest_factor / denominator;
            require(fits, pointer, "must multiply by a number above nothing, of at most 9 digits");
            if (!fits) return;
            numerator *= x->numerator;
            denominator *= x->denominator;
        }
    }
    void constants(const std::string& pointer, const std::vector<ExpressionId>& ids) {
        for (ExpressionId id : ids) require(is_constant(p_.expressions[id]), pointer, "must list constants");
    }
    void events(const std::string& pointer, const Events& list, std::size_t at_least) {
        require(list.size() >= at_least, pointer, "must name an event");
        for (const Pattern& pattern : list) truth(pointer, pattern.where);
    }
    void window(const std::string& pointer, const Window& w) {
        require(w.in_last.has_value() || !w.since.empty(), pointer + "/window",
                "must say how far it reaches");
        events(pointer + "/window/since", w.since, 0);
    }

    // ---- tables

    void tables() {
        for (std::size_t t = 0; t < p_.tables.size(); ++t)
            for (std::size_t r = 0; r < p_.tables[t].rows.size(); ++r)
                row(fmt::format("/tables/{}/rows/{}", t, r), p_.tables[t], p_.tables[t].rows[r]);
    }
    void row(const std::string& pointer, const Table& table, const Row& row) {
        require(row.given.size() == table.inputs.size(), pointer, "must have a cell for each input");
        require(row.gives.size() == table.columns.size(), pointer, "must have an answer for each column");
        constants(pointer, row.gives);
        for (const Cell& cell : row.given) {
            constants(pointer, cell.values);
            const std::size_t size = cell.values.size();
            const bool fits = cell.kind == Cell::Kind::any       ? size == 0
                              : cell.kind == Cell::Kind::compare ? size == 1
                              : cell.kind == Cell::Kind::range   ? size == 2
                                                                 : size >= 1;
            require(fits, pointer, "has a cell with too many or too few values");
        }
    }

    // ---- clauses

    void clauses() {
        truth("/governs", p_.governs);
        for (std::size_t i = 0; i < p_.clauses.size(); ++i)
            clause(fmt::format("/clauses/{}", i), p_.clauses[i]);
        require(is_acyclic(p_.clauses.size(), none,
                           [this](std::uint32_t id) { return p_.clauses[id].overrides; }),
                "/clauses", "must not override each other in a circle");
    }

    void clause(const std::string& pointer, const Clause& c) {
        truth(pointer + "/for", c.applies_for);
        truth(pointer + "/while", c.applies_while);
        truth(pointer + "/for_each_where", c.for_each_where);
        for (const Exception& exception : c.exceptions) truth(pointer + "/except_when", exception.condition);
        const Trigger& trigger = c.trigger;
        events(pointer + "/trigger/events", trigger.events, at_events(trigger.kind) ? 1 : 0);
        truth(pointer + "/trigger/once", trigger.once);
        if (trigger.kind == TriggerKind::once)
            require(trigger.once != none, pointer + "/trigger", "must say what becomes true");
        demand(pointer + "/demand", c);
    }

    void demand(const std::string& pointer, const Clause& c) {
        const TriggerKind kind = c.trigger.kind;
        const auto needs = [&](bool holds, std::string_view trigger) {
            require(holds, pointer, fmt::format("must have a trigger `{}`", trigger));
        };
        const auto stretch = [&] { needs(kind == TriggerKind::stretch, "stretch"); };
        const auto at_event = [&] { needs(kind == TriggerKind::at, "at"); };
        const auto list = [&](const Events& e) { events(pointer + "/events", e, 1); };
        const auto long_enough = [&](const Span& span) {
            require(span.civil() || span.elapsed > 0, pointer, "must have an interval longer than nothing");
        };
        std::visit(overloaded{
                       [&](const NoDemand&) {
                           require(kind != TriggerKind::stretch && c.then_escalate != none, pointer,
                                   "may be missing only where a moment starts a ladder");
                       },
                       [&](const AtLeastEvery& x) {
                           stretch(), list(x.events), long_enough(x.every), truth(pointer, x.unless);
                       },
                       [&](const NoMoreOftenThan& x) {
                           stretch(), list(x.events), long_enough(x.shortest), truth(pointer, x.unless);
                       },
                       [&](const EachPeriod& x) {
                           stretch(), list(x.events);
                           require(x.times >= 1, pointer + "/times", "must be at least 1");
                           if (x.period == Period::shift) has_shifts(pointer);
                       },
                       [&](const Within& x) {
                           needs(kind == TriggerKind::after || kind == TriggerKind::once, "after or once");
                           list(x.events);
                           const auto* until = std::get_if<Until>(&x.within);
                           if (until && *until != Until::same_calendar_day) has_shifts(pointer);
                       },
                       [&](const WithinEitherSide& x) { at_event(), list(x.events); },
                       [&](const HaveHad& x) {
                           needs(kind == TriggerKind::before, "before"), list(x.events);
                           if (!x.anywhen) window(pointer, x.window);
                       },
                       [&](const Holds& x) { at_event(), truth(pointer + "/condition", x.condition); },
                       [&](const Document& x) {
                           at_event();
                           require(!x.fields.empty(), pointer + "/fields", "must name a field");
                       },
                       [&](const FollowSteps& x) {
                           at_event();
                           require(!x.steps.empty(), pointer + "/steps", "must name a step");
                       },
                       [&](const Forbid& x) { stretch(), list(x.events); },
                       [&](const AtMostTimes& x) { stretch(), list(x.events), long_enough(x.in); },
                       [](const LeavesToJudgement&) {},
                   },
                   c.demand);
    }
    void has_shifts(const std::string& pointer) {
        require(!p_.shifts.empty(), pointer, "speaks of shifts, of which the policy has none");
    }

    void ladders_and_bundles() {
        for (std::size_t i = 0; i < p_.ladders.size(); ++i) {
            const std::string pointer = fmt::format("/ladders/{}", i);
            require(!p_.ladders[i].steps.empty(), pointer + "/steps", "must have a step");
            for (const LadderStep& step : p_.ladders[i].steps)
                require(!step.roles.empty(), pointer + "/steps", "must each name a role");
            for (const LadderHold& hold : p_.ladders[i].holds)
                events(pointer + "/holds", hold.events, 1), events(pointer + "/holds", hold.until, 1);
        }
        for (std::size_t i = 0; i < p_.bundles.size(); ++i) {
            const Bundle& bundle = p_.bundles[i];
            const std::string pointer = fmt::format("/bundles/{}", i);
            require(!bundle.of.empty(), pointer + "/of", "must name a clause");
            events(pointer + "/events", bundle.events, bundle.each == BundleEach::event ? 1 : 0);
            if (bundle.each == BundleEach::shift) has_shifts(pointer);
        }
    }

    const Policy& p_;
    std::optional<PolicyFault> fault_;
};

}  // namespace

std::optional<PolicyFault> fault_of(const Policy& policy) {
    return Checker(policy).run();
}

}  // namespace linelaw::runtime
