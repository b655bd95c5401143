// What the compiler owes (language.md §5): every conflict, corner and gap of a compiled policy, each with the
// smallest situation that shows it, and an honest account of what was not analysed. The one entrance for
// `check`, `compare` and the tests.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "compiler/compile.hpp"
#include "compiler/written_otherwise.hpp"
#include "grammar/diagnostic.hpp"
#include "runtime/policy.hpp"

namespace linelaw::compiler::analysis {

// Work is bounded by counting, never by the clock, so that one policy always gets one answer.
struct Limits {
    std::size_t diagram_room = 24'000'000;     // children of the decision diagrams' nodes, all together
    std::uint64_t diagram_work = 100'000'000;  // of one analysis, in children looked at
    std::size_t timed_states = 1'000'000;      // of one timed problem
    std::size_t findings = 1000;               // of one code
};

struct NotExact {
    runtime::ClauseId clause = runtime::none;
    std::string why;  // "it counts events in a condition"
};

// One question's situations by answer: what `check` shows as a table.
struct QuestionRow {
    std::vector<std::string> situation;  // one a heading: "picc, midline", "from 2 cm to under 4 cm", "any"
    std::string answer;                  // "at least every 7 days grace 12 h", "left to judgement", or empty
    std::vector<std::string> clauses;    // ids that answer
    enum class Mark { answered, set_aside, gap, conflict } mark = Mark::answered;
};
struct QuestionTable {
    std::string id;
    std::string title;
    std::vector<std::string> headings;  // the attributes and states that decide
    std::vector<QuestionRow> rows;
    bool cut = false;  // more rows than are worth showing
};

struct Analysis {
    std::vector<grammar::Diagnostic> diagnostics;
    std::vector<runtime::ClauseId> exact;  // clauses analysed exactly
    std::vector<NotExact> not_exact;       // the others, each with why
    std::vector<std::string> not_done;     // analyses that were not done, one line each: "not analysed: …"
    std::vector<QuestionTable> questions;
};

// `compilation.compiled` must be there. Deterministic. Every conflict and corner shown was replayed through
// the runtime first; one whose replay does not show it is reported as `internal.witness`.
Analysis analyse(const Compilation& compilation, const Limits& limits = {});

// What the new policy changes against the old one, question by question and situation by situation, as
// diagnostics of code `loose.baseline` where it is looser without `departs from`.
struct Work {             // of one kind, at the least
    std::string what;     // "dressing_change", "notification"
    double per_1000 = 0;  // a 1,000 line-days in the situation
};
struct Difference {
    std::string question;  // empty: of clauses that answer none
    enum class Kind { same, stricter, looser, incomparable, added, dropped } kind = Kind::same;
    bool touched = false;  // by a change of the text that was not weighed: then it is not `same` to anyone
    std::vector<std::pair<std::string, std::string>> situation;
    bool instance = false;  // the situation is one of those in which it is so, not all of them
    std::string before;     // the answer in the old policy, or empty
    std::string after;
    std::vector<std::string> clauses_before;
    std::vector<std::string> clauses_after;
    // What keeping the other policy does not keep here; of `before`, what is given up, of `after`, what is
    // new.
    std::vector<std::string> only_before;
    std::vector<std::string> only_after;
    // What the routine (at least every, each day, each shift) asks for; responses depend on their triggers.
    std::vector<Work> work_before;
    std::vector<Work> work_after;
    // Histories that the runtime finds to keep the one policy here and to break the other, where there are
    // any.
    std::optional<grammar::Witness> breaks_before;
    std::optional<grammar::Witness> breaks_after;
    // By a trial (compiler/trial.hpp): it alone found this difference; or it found nothing that shows all of
    // it.
    bool by_trial = false;
    bool unshown = false;
};
// A change of the text, and whether it shows among the differences: all of it, as far as a question asks or
// some clause that rests on it shows, or not at all.
enum class Weighed { no, in_part, yes };
struct Change {
    Rewritten written;
    Weighed weighed = Weighed::no;
    std::vector<std::string> clauses;  // whose outcomes it may change; none where it changes words alone
};
struct Comparison {
    std::vector<Difference> differences;
    std::vector<Change> changes;
    std::vector<std::string> not_done;
    std::size_t tried = 0;  // small episodes of the trial, if there was one
};
Comparison compare(const Compilation& before, const Compilation& after, const Limits& limits = {});
// `loose.baseline` for every difference that is looser and has no `departs from`.
std::vector<grammar::Diagnostic> measure_against(const Compilation& policy, const Compilation& baseline,
                                                 const Limits& limits = {});

// Editions of one policy (the same title) given together: days on which two are in force, and days between
// two on which none is. Each finding with the index of the text it stands in, the later edition's.
std::vector<std::pair<std::size_t, grammar::Diagnostic>> check_editions(
    const std::vector<const Compilation*>& editions);

// Several policies as one: the clauses of all, each id with its policy's file name before it, and what could
// not be taken along. The first one's vocabulary, zone and dates count. All must compile.
struct Together {
    Compilation compilation;
    std::vector<std::string> left_out;
};
Together together(const std::vector<const Compilation*>& policies);

// The table as text, column-aligned, gaps and conflicts marked.
std::string render_question_table(const QuestionTable& table, std::size_t width = 100);

}  // namespace linelaw::compiler::analysis
