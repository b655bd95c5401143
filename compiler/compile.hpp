// Text to compiled policy: parse, read what it uses and builds on, resolve names, check types, lower. The one
// entrance for the command line, the tests and the analysis.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/read_file.hpp"
#include "grammar/diagnostic.hpp"
#include "grammar/source.hpp"
#include "grammar/tree.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"

namespace linelaw::compiler {

// What the vocabulary and the policy say that only the analysis and the document need. Expression ids are of
// `policy.expressions`.
struct QuestionAxis {
    runtime::ExpressionId what = runtime::none;  // an attribute or a state
    bool or_unset = false;
};
struct Question {
    std::string id;
    std::string title;
    enum class About { how_often, attribute_at, response_to, escalation } about = About::how_often;
    runtime::Events events;                    // how_often, response_to; of attribute_at: the one event
    runtime::Events by;                        // of response_to: what answers it; none: whatever does
    runtime::FieldId field = runtime::none;    // attribute_at
    runtime::LadderId ladder = runtime::none;  // escalation
    std::vector<QuestionAxis> every;
    runtime::ExpressionId applies_for = runtime::none;
    std::vector<std::pair<runtime::ExpressionId, std::string>> set_aside;  // for COND (none: always), because
    grammar::Place place;
};
struct Never {
    runtime::ExpressionId condition = runtime::none;
    std::string because;
    grammar::Place place;
};
struct Accepted {
    std::string code;
    std::vector<std::string> ids;
    std::string because;
    grammar::Place place;
};

// `expect ID outcome [N times]`. Without a number: at least once.
struct Expected {
    runtime::OriginKind origin = runtime::OriginKind::clause;
    std::uint32_t item = runtime::none;  // clause, ladder or bundle
    std::uint32_t step = runtime::none;  // of a ladder, from 0; none: any of its steps
    runtime::Outcome outcome = runtime::Outcome::met;
    std::optional<std::uint32_t> times;
    grammar::Place place;
};
// An `example` as the record that it stands for.
struct Example {
    std::string title;
    std::string record;  // one episode, JSON as of docs/records.md
    std::vector<Expected> expected;
    grammar::Place place;  // of its title
};

// Like Compilation, made, copied and destroyed in one .cpp, as tree.hpp says of Expression.
struct Compiled {
    Compiled();
    Compiled(const Compiled&);
    Compiled(Compiled&&) noexcept;
    Compiled& operator=(const Compiled&);
    Compiled& operator=(Compiled&&) noexcept;
    ~Compiled();

    runtime::Policy policy;  // sealed
    std::vector<Question> questions;
    std::vector<Never> nevers;
    std::vector<Accepted> accepted;
    std::vector<grammar::Place> expression_places;  // by ExpressionId, of its first writing
    // By ClauseId: the clause as it stands after layers, for messages, read-back and the document.
    std::vector<grammar::ClauseItem> clauses;
    std::vector<grammar::Place> table_places;   // by TableId
    std::vector<grammar::TableItem> tables;     // by TableId: the table as it stands after layers
    std::vector<grammar::Place> ladder_places;  // by LadderId
    std::vector<Example> examples;
    std::optional<grammar::Place> review_place;  // of `review by`
    // Every item that has an id or a name, with the whole of its text: what a place belongs to.
    std::vector<std::pair<std::string, grammar::Place>> items;
    std::vector<std::string> measured_against;  // files, as the reader finds them
};

struct Layers;

struct Compilation {
    Compilation();
    Compilation(const Compilation&);
    Compilation(Compilation&&) noexcept;
    Compilation& operator=(const Compilation&);
    Compilation& operator=(Compilation&&) noexcept;
    ~Compilation();

    grammar::Sources sources;
    std::vector<grammar::Diagnostic> diagnostics;  // in the order of the text, texts in the order read
    std::optional<Compiled> compiled;              // only where nothing has severity error
    std::shared_ptr<const Layers> layers;  // what it was compiled from; none where policies were merged
};

// `path` names the policy; what it uses and builds on is read relative to it through `reader`.
Compilation compile(const std::string& path, const FileReader& reader = read_file);

}  // namespace linelaw::compiler
