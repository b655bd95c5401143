// Every name that a policy declares, by kind, with its place and whether anything uses it. Bare names and ids
// are looked up here; what a bare name means in a context is for resolve.hpp.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/compile.hpp"
#include "compiler/layers.hpp"
#include "compiler/report.hpp"

namespace linelaw::compiler {

struct Declared {
    std::uint32_t id = 0;
    grammar::Place place;
    bool used = false;
    bool broken = false;  // its declaration has an error: its uses are not spoken of
};

// The names of one kind, in the order declared.
class Index {
  public:
    // False, and nothing is changed, where the name is there already.
    bool add(const std::string& name, std::uint32_t id, grammar::Place place);
    // Nullptr where there is none. A look-up counts as a use.
    const Declared* use(std::string_view name);
    const Declared* find(std::string_view name) const;
    void mark_broken(const std::string& name) { entries_.at(name).broken = true; }
    const std::vector<std::string>& names() const { return order_; }

  private:
    std::map<std::string, Declared, std::less<>> entries_;
    std::vector<std::string> order_;
};

// Whose attribute it is, and where among them.
enum class Owner { patient, line, part, event };
struct AttributeId {
    Owner owner = Owner::patient;
    std::uint32_t kind = runtime::none;  // part or event kind
    std::uint32_t slot = 0;
    auto operator<=>(const AttributeId&) const = default;
};

struct Names {
    Index events, parts, states, roles, terms, tables, shifts, sources, clauses, escalations, bundles,
        questions, symbols, fields;
    std::map<AttributeId, Declared> attributes;
    std::vector<const grammar::TermItem*> term_items;  // by the id of `terms`
};

// What a table takes and gives, once its item has been read. By TableId.
struct TableShape;

// A term's condition where it was read: what it came to, nothing where it has an error, how many levels it
// nests, and how many parts it has, the terms in it written out.
struct ReadTerm {
    std::optional<runtime::ExpressionId> condition;
    std::uint32_t levels = 0;
    std::uint32_t parts = 0;
};

// All that the stages of one compilation share.
struct Work {
    Layers& layers;
    const grammar::Sources& sources;
    Report& report;
    Compiled out;
    Names names;
    std::vector<TableShape> tables;
    std::map<std::string, runtime::ExpressionId> interned;
    std::vector<const grammar::TermItem*> expanding;  // terms that are being read, to notice circles
    std::map<std::string, ReadTerm> terms_read;       // by the term and what its names mean there
    std::uint32_t depth = 0;                          // of what is being lowered, through terms
    std::uint32_t deepest = 0;                        // of what has been lowered
    std::uint32_t parts = 0;  // of the condition that is being lowered, terms written out

    Work(Layers& l, const grammar::Sources& s, Report& r);
    ~Work();
    Work(const Work&) = delete;
    Work& operator=(const Work&) = delete;

    runtime::Policy& policy() { return out.policy; }
    const runtime::Policy& policy() const { return out.policy; }
};

std::uint32_t intern_symbol(Work& work, const std::string& name);
std::uint32_t intern_field(Work& work, const std::string& name);
const runtime::Attribute& attribute(const runtime::Policy& policy, AttributeId id);
const runtime::Attribute* find_attribute(const std::vector<runtime::Attribute>& attributes,
                                         std::string_view name);

// What a name is, whatever was wanted: "an event", "a role", "an attribute of `dressing_change`"; empty where
// it is nothing.
std::string what_is(const Work& work, std::string_view name);

// Whether an item that bears this name may have been left out for a syntax error. Then nothing is said of the
// name: the syntax error was.
bool perhaps_lost(const Work& work, std::string_view name);

// "there is no event `dresing_change`", with a near name of that kind, or what the name is instead.
void unknown_name(Work& work, std::string_view kind, const grammar::Name& name,
                  const std::vector<std::string>& candidates);

// The id of the name in the index; none, and a diagnostic, where it is not there.
std::uint32_t use_name(Work& work, Index& index, std::string_view kind, const grammar::Name& name);

}  // namespace linelaw::compiler
