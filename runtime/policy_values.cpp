#include "runtime/policy_values.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>
#include <unordered_map>
#include <unordered_set>

#include "runtime/overloaded.hpp"

namespace linelaw::runtime {
namespace {

// What an expression yields. What a constant or a table's answer is, only what stands beside it says.
struct Value {
    enum class Is : std::uint8_t { of_kind, amount, constant, answer } is = Is::of_kind;
    TypeKind kind = TypeKind::flag;                         // of_kind; an `amount` is a number of any kind
    const std::unordered_set<SymbolId>* symbols = nullptr;  // of one_of; null: any
    std::vector<ExpressionId> fixed;                        // the constant, or all of the answers
};

bool is_fixed(const Value& value) {
    return value.is == Value::Is::constant || value.is == Value::Is::answer;
}

bool is_amount(TypeKind kind) {
    return kind == TypeKind::count || kind == TypeKind::number || dimension_of(kind) != Dimension::none;
}
bool is_words(TypeKind kind) {
    return kind == TypeKind::text || kind == TypeKind::key;
}
bool is_constant(const Expression& x) {
    return std::holds_alternative<Constant>(x) || std::holds_alternative<TextConstant>(x) ||
           std::holds_alternative<SpanConstant>(x) || std::holds_alternative<AgeConstant>(x) ||
           std::holds_alternative<Unset>(x);
}

class Checker {
  public:
    explicit Checker(const Policy& policy) : p_(policy) {}

    std::optional<PolicyFault> run() {
        fields();
        for (std::size_t i = 0; i < p_.part_kinds.size() && !fault_; ++i) part_kind(i);
        for (std::size_t i = 0; i < p_.states.size() && !fault_; ++i) state(i);
        yields_.resize(p_.expressions.size());
        known_.resize(p_.expressions.size());
        for (ExpressionId id = 0; id < p_.expressions.size() && !fault_; ++id) expression(id);
        return std::move(fault_);
    }

  private:
    void require(bool holds, const std::string& pointer, std::string_view what) {
        if (!holds && !fault_) fault_ = PolicyFault{pointer, std::string(what)};
    }

    // ---- vocabulary

    static void add_symbols(std::unordered_set<SymbolId>& to, const Type& type) {
        to.insert(type.values.begin(), type.values.end());
    }

    void fields() {
        field_kinds_.assign(p_.fields.size(), std::nullopt);
        field_symbols_.resize(p_.fields.size());
        field_kinds_[p_.charting_delay] = TypeKind::duration;
        for (std::size_t e = 0; e < p_.event_kinds.size(); ++e) {
            const auto& attributes = p_.event_kinds[e].attributes;
            for (std::size_t a = 0; a < attributes.size(); ++a) {
                const Type& type = attributes[a].type;
                std::optional<TypeKind>& kind = field_kinds_[attributes[a].field];
                if (!kind) kind = type.kind;
                require(*kind == type.kind, fmt::format("/event_kinds/{}/attributes/{}/type", e, a),
                        "must be of one kind wherever its field stands");
                add_symbols(field_symbols_[attributes[a].field], type);
            }
        }
    }

    // What a part bears is read at the event that began it.
    void part_kind(std::size_t i) {
        const PartKind& part = p_.part_kinds[i];
        for (std::size_t a = 0; a < part.attributes.size(); ++a) {
            const Attribute& attribute = part.attributes[a];
            const std::string here = fmt::format("/part_kinds/{}/attributes/{}", i, a);
            require(attribute.field != none, here, "must name its field");
            if (fault_) return;
            const auto& kind = field_kinds_[attribute.field];
            require(!kind || *kind == attribute.type.kind, here + "/type", "must be of its field's kind");
        }
    }

    void state(std::size_t i) {
        const State& s = p_.states[i];
        const std::string here = fmt::format("/states/{}/type", i);
        for (const StateSource& source : s.sources)
            require(field_kinds_[source.field] == s.type.kind, here, "must be of its sources' kind");
        if (s.initially == Initially::unset) return;
        const auto& owner = s.initially == Initially::line ? p_.line : p_.patient;
        require(owner[s.initial_slot].type.kind == s.type.kind, here,
                "must be of the kind that it starts from");
    }

    // ---- what an expression yields

    Value of_type(const Type& type) {
        Value value;
        value.kind = type.kind;
        if (type.kind == TypeKind::one_of) {
            auto [known, fresh] = symbols_of_type_.try_emplace(&type);
            if (fresh) add_symbols(known->second, type);
            value.symbols = &known->second;
        }
        return value;
    }
    static Value of_kind(TypeKind kind) {
        Value value;
        value.kind = kind;
        return value;
    }
    Value of_field(FieldId field) {
        if (!field_kinds_[field]) return of_kind(TypeKind::flag);  // of no event: never recorded
        Value value = of_kind(*field_kinds_[field]);
        if (value.kind == TypeKind::one_of) value.symbols = &field_symbols_[field];
        return value;
    }
    // Of what is computed from operands that are amounts.
    Value of_operand(ExpressionId id) {
        const Value& value = yield(id);
        return is_fixed(value) ? Value{Value::Is::amount, TypeKind::number, nullptr, {}} : value;
    }

    const Value& yield(ExpressionId id) {
        if (known_[id] == 0) {
            Value value = read(id);
            known_[id] = 1;
            yields_[id] = std::move(value);
        }
        return yields_[id];
    }
    Value read(ExpressionId id) {
        const Expression& x = p_.expressions[id];
        if (is_constant(x)) return {Value::Is::constant, TypeKind::flag, nullptr, {id}};
        return std::visit(overloaded{
                              [&](const EventAttribute& e) { return of_field(e.field); },
                              [&](const PartAttribute& e) {
                                  return of_type(p_.part_kinds[e.part].attributes[e.slot].type);
                              },
                              [&](const LineAttribute& e) { return of_type(p_.line[e.slot].type); },
                              [&](const PatientAttribute& e) { return of_type(p_.patient[e.slot].type); },
                              [&](const StateValue& e) { return of_type(p_.states[e.state].type); },
                              [&](const Facility&) { return of_kind(TypeKind::text); },
                              [&](const CareUnit&) { return of_kind(TypeKind::text); },
                              [&](const Dwell&) { return of_kind(TypeKind::duration); },
                              [&](const TimeSince&) { return of_kind(TypeKind::duration); },
                              [&](const StepTime&) { return of_kind(TypeKind::duration); },
                              [&](const StepIn&) { return of_kind(TypeKind::duration); },
                              [&](const CountOf&) { return of_kind(TypeKind::count); },
                              [&](const SumOf& e) { return of_field(e.field); },
                              [&](const Change& e) { return of_field(e.field); },
                              [&](const DifferenceOf& e) {
                                  const Value left = of_operand(e.left);
                                  return left.is == Value::Is::of_kind ? left : of_operand(e.right);
                              },
                              [&](const Multiple& e) { return of_operand(e.operand); },
                              [&](const TableValue& e) {
                                  Value value;
                                  value.is = Value::Is::answer;
                                  for (const Row& row : p_.tables[e.table].rows)
                                      value.fixed.push_back(row.gives[e.column]);
                                  return value;
                              },
                              [&](const auto&) { return of_kind(TypeKind::flag); },  // a condition
                          },
                          x);
    }

    // ---- what stands beside what

    void expression(ExpressionId id) {
        const std::string here = fmt::format("/expressions/{}", id);
        std::visit(overloaded{
                       [&](const SumOf& e) { amount(here + "/field", of_field(e.field)); },
                       [&](const Change& e) {
                           amount(here + "/field", of_field(e.field));
                           if (e.line_slot != none)
                               beside(here + "/line", of_field(e.field), of_type(p_.line[e.line_slot].type));
                       },
                       [&](const DifferenceOf& e) {
                           still(here + "/left", e.left);
                           still(here + "/right", e.right);
                           amount(here + "/left", yield(e.left));
                           amount(here + "/right", yield(e.right));
                           beside(here, yield(e.left), yield(e.right));
                       },
                       [&](const Multiple& e) {
                           still(here + "/operand", e.operand);
                           amount(here + "/operand", yield(e.operand));
                       },
                       [&](const TableValue& e) { table_inputs(here, e); },
                       [&](const Compare& e) {
                           if (is_clock(e.left) && !is_fixed(yield(e.right))) still(here + "/left", e.left);
                           if (is_clock(e.right) && !is_fixed(yield(e.left))) still(here + "/right", e.right);
                           beside(here, yield(e.left), yield(e.right));
                       },
                       [&](const OneOf& e) {
                           for (const ExpressionId value : e.values)
                               beside(here + "/values", yield(e.operand), yield(value));
                       },
                       [&](const AgeConstant& e) {
                           require(e.count >= 0 && e.count <= most_units(e.unit), here + "/count",
                                   "must be an age of at most a thousand years");
                       },
                       [](const auto&) {},
                   },
                   p_.expressions[id]);
    }
    static std::int32_t most_units(AgeUnit unit) {
        switch (unit) {
            case AgeUnit::days:
                return 365'243;
            case AgeUnit::weeks:
                return 52'177;
            case AgeUnit::months:
                return 12'000;
            case AgeUnit::years:
                break;
        }
        return 1000;
    }

    // A cell may list symbols of another attribute with the input's name, which this use never has.
    void table_inputs(const std::string& here, const TableValue& e) {
        const Table& table = p_.tables[e.table];
        for (std::size_t i = 0; i < e.inputs.size(); ++i) {
            Value input = yield(e.inputs[i]);
            input.symbols = nullptr;
            for (const Row& row : table.rows)
                for (const ExpressionId value : row.given[i].values)
                    beside(here + "/inputs", input, yield(value));
        }
    }

    bool is_clock(ExpressionId id) const {
        return std::holds_alternative<Dwell>(p_.expressions[id]) ||
               std::holds_alternative<TimeSince>(p_.expressions[id]);
    }
    // When a clock reaches what is fixed is known beforehand, and judged at that moment; of what is reckoned
    // with a clock it is not.
    void still(const std::string& here, ExpressionId id) {
        require(!is_clock(id), here, "must not reckon with a clock, nor compare it with what is not fixed");
    }

    void amount(const std::string& here, const Value& value) {
        bool fits = value.is != Value::Is::of_kind || is_amount(value.kind);
        for (const ExpressionId id : value.fixed)
            fits = fits && std::holds_alternative<Constant>(p_.expressions[id]);
        require(fits, here, "must be a number");
    }

    void beside(const std::string& here, const Value& left, const Value& right) {
        require(is_like(left, right), here, "must set a value beside one of its own kind");
    }
    bool is_like(const Value& left, const Value& right) const {
        using Is = Value::Is;
        if (is_fixed(right))
            return std::all_of(right.fixed.begin(), right.fixed.end(),
                               [&](ExpressionId id) { return may_be(left, p_.expressions[id], right); });
        if (is_fixed(left)) return is_like(right, left);
        if (left.is == Is::amount) return right.is == Is::amount || is_amount(right.kind);
        if (right.is == Is::amount) return is_amount(left.kind);
        return left.kind == right.kind || (is_words(left.kind) && is_words(right.kind));
    }
    // Whether a value may be the constant.
    bool may_be(const Value& value, const Expression& constant, const Value& from) const {
        if (std::holds_alternative<Unset>(constant)) return true;
        if (value.is == Value::Is::amount) return std::holds_alternative<Constant>(constant);
        if (is_fixed(value))
            return std::all_of(value.fixed.begin(), value.fixed.end(), [&](ExpressionId id) {
                const Expression& other = p_.expressions[id];
                return std::holds_alternative<Unset>(other) || other.index() == constant.index();
            });
        return std::visit(overloaded{
                              [&](const Constant& c) {
                                  // A table's column may give symbols that this list lacks; a condition names
                                  // its own.
                                  const bool any_symbol =
                                      value.symbols == nullptr || from.is == Value::Is::answer;
                                  return number_may_be(value, c.value, any_symbol);
                              },
                              [&](const TextConstant&) { return is_words(value.kind); },
                              [&](const SpanConstant&) { return value.kind == TypeKind::duration; },
                              [&](const AgeConstant&) { return value.kind == TypeKind::age; },
                              [](const auto&) { return true; },
                          },
                          constant);
    }
    bool number_may_be(const Value& value, std::int64_t number, bool any_symbol) const {
        constexpr std::int64_t longest = 365'243 * microseconds_per_day;  // a thousand years, as any span
        switch (value.kind) {
            case TypeKind::flag:
                return number == 0 || number == 1;
            case TypeKind::one_of:
                return number >= 0 && static_cast<std::uint64_t>(number) < p_.symbols.size() &&
                       (any_symbol || value.symbols->count(static_cast<SymbolId>(number)) != 0);
            case TypeKind::duration:
                return number >= -longest && number <= longest;
            case TypeKind::time_of_day:
                return number >= 0 && number < microseconds_per_day;
            case TypeKind::text:
            case TypeKind::key:
            case TypeKind::age:
                return false;
            default:
                return true;
        }
    }

    const Policy& p_;
    std::optional<PolicyFault> fault_;
    std::vector<std::optional<TypeKind>> field_kinds_;
    std::vector<std::unordered_set<SymbolId>> field_symbols_;
    std::unordered_map<const Type*, std::unordered_set<SymbolId>> symbols_of_type_;
    std::vector<Value> yields_;  // by ExpressionId
    std::vector<std::uint8_t> known_;
};

}  // namespace

std::optional<PolicyFault> value_fault_of(const Policy& policy) {
    return Checker(policy).run();
}

}  // namespace linelaw::runtime
