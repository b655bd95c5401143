// Values on their way through an expression. Shared by the files of the conditions only.
#pragma once

#include "tests/differential/conditions.hpp"

namespace linelaw::literal {

inline Value known(Ratio number) {
    Value v;
    v.kind = Value::Kind::number;
    v.number = number;
    return v;
}
inline Value word(std::string_view text) {
    Value v;
    v.kind = Value::Kind::word;
    v.word = text;
    return v;
}
inline Value unknown_value(Truth why) {
    Value v;
    v.kind = why == Truth::missing ? Value::Kind::missing : Value::Kind::hidden;
    return v;
}
inline bool is_unknown(const Value& v) {
    return v.kind == Value::Kind::missing || v.kind == Value::Kind::hidden;
}
inline Truth why_unknown(const Value& v) {
    return v.kind == Value::Kind::missing ? Truth::missing : Truth::unknown;
}

// What a name stands for at the place of use (§3): the event at hand, a state, then part, line, patient.
struct Named {
    enum class What { nothing, event, state, part, line, patient, term, table } what = What::nothing;
    const grammar::Type* type = nullptr;  // none for a flag between events, a term, a table
    std::size_t slot = 0;
    const State* state = nullptr;
    const grammar::Expression* term = nullptr;
    const grammar::TableItem* table = nullptr;
    std::size_t column = 0;
};
Named resolve(const std::string& full, const Ask& ask);
Value named_value(const std::string& full, const Ask& ask);
Value table_value(const Named& named, const Ask& ask);
bool same_value(const Value& a, const Value& b);
Truth compare_expressions(const grammar::Expression& left, grammar::Comparator c,
                          const grammar::Expression& right, const Ask& ask);

}  // namespace linelaw::literal
