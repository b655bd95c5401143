// Strong Kleene truth with its reason for not knowing (language.md §4.2): `missing` where every unknown that
// it hangs on is a value nobody wrote down, `unknown` where another reason is among them.
#pragma once

namespace linelaw::literal {

enum class Truth { no, yes, missing, unknown };

inline bool is_known(Truth t) {
    return t == Truth::no || t == Truth::yes;
}
inline Truth truth(bool b) {
    return b ? Truth::yes : Truth::no;
}
// Of two, at least one not known.
inline Truth worse(Truth a, Truth b) {
    return a == Truth::unknown || b == Truth::unknown ? Truth::unknown : Truth::missing;
}
inline Truth negate(Truth t) {
    return t == Truth::no ? Truth::yes : t == Truth::yes ? Truth::no : t;
}
inline Truth both(Truth a, Truth b) {
    if (a == Truth::no || b == Truth::no) return Truth::no;
    if (a == Truth::yes && b == Truth::yes) return Truth::yes;
    return worse(a, b);
}
inline Truth either(Truth a, Truth b) {
    return negate(both(negate(a), negate(b)));
}

}  // namespace linelaw::literal
