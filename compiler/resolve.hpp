// What a name means where it stands (language.md §3, §4.8): the attribute of the event at hand, else a state,
// else an attribute of the part, the line, the patient, else a term; `event.` and its like say which. Knows
// names and shapes; makes no compiled condition.
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "compiler/names.hpp"
#include "compiler/types.hpp"

namespace linelaw::compiler {

// Where a name stands.
struct Context {
    std::vector<runtime::EventKindId> at_hand;  // the event at hand is one of these; empty: none is
    bool bare_sees_event = true;                // else only `event.` does
    runtime::PartKindId part = runtime::none;   // the part at hand, and the parts that it is of
    bool governs = false;                       // `facility` and `care_unit` may stand
    std::string where;                          // "a `while` line", for messages
};

Context outside_events(std::string where, runtime::PartKindId part = runtime::none);
// At one of these events; the part at hand is theirs where they agree, else the one of `outer`.
Context at_events(const Work& work, std::vector<runtime::EventKindId> events, std::string where,
                  const Context& outer);

struct ResolvedValue {
    runtime::Expression node;
    Shape shape;
};
struct ResolvedTerm {
    const grammar::TermItem* term = nullptr;
};
struct ResolvedColumn {
    runtime::TableId table = runtime::none;
    std::uint32_t column = 0;
};
struct Unresolved {};  // a diagnostic says why, or an earlier one did
using Resolved = std::variant<Unresolved, ResolvedValue, ResolvedTerm, ResolvedColumn>;

Resolved resolve(Work& work, const grammar::Name& name, const Context& context);

// What a name by itself can mean there.
std::vector<std::string> names_in_reach(const Work& work, const Context& context);

// The attribute that all events at hand record under this name, for `document`, `change in` and `sum of`.
// `name` may begin with `event.`. None, and a diagnostic, where there is none.
struct Field {
    runtime::FieldId field = runtime::none;
    Shape shape;
};
Field resolve_field(Work& work, const grammar::Name& name, const Context& context);

}  // namespace linelaw::compiler
