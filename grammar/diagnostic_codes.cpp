// The registry of everything that the program may say about a policy. A code's first word is its family; each
// code has a page docs/diagnostics/CODE.md.
#include <algorithm>
#include <cassert>
#include <utility>

#include "grammar/diagnostic.hpp"

namespace linelaw::grammar {

const std::vector<DiagnosticCode>& diagnostic_codes() {
    using S = Severity;
    static const std::vector<DiagnosticCode> codes = {
        // The text cannot be read.
        {"syntax.condition", S::error, "a condition is incomplete or cannot be read"},
        {"syntax.date", S::error, "a date, a time of day or a day of an example is missing or does not exist",
         "write a date as `2026-03-01`, a time of day as `08:00`"},
        {"syntax.demand", S::error, "what must be done cannot be read"},
        {"syntax.encoding", S::error, "the text is not valid UTF-8"},
        {"syntax.events", S::error, "an event is missing"},
        {"syntax.expected", S::error, "something is missing in a line"},
        {"syntax.header", S::error, "the text does not begin with one `policy` or one `vocabulary`",
         "begin the text with one `policy` and its title, or one `vocabulary` and its name; a second one "
         "belongs in a file of its own"},
        {"syntax.item", S::error, "a line begins no item",
         "begin the line with what it declares, such as `clause`, `term`, `table` or `source`; or move it in "
         "by two spaces where it belongs to the item above"},
        {"syntax.leftover", S::error, "words are left over after the end of a line",
         "write the word that joins it to what stands before it; take it out only if the line means the same "
         "without it"},
        {"syntax.line", S::error, "an item does not take this line",
         "begin it with the word that is meant; take the line out only if nothing is lost with it"},
        {"syntax.missing", S::error, "an item lacks a line that it needs", "write that line under it"},
        {"syntax.name", S::error, "a name is missing or is not written as names are"},
        {"syntax.nesting", S::error, "conditions are nested too deeply",
         "give the inner conditions a name of their own with `term`, and write that name here"},
        {"syntax.quantity", S::error, "a number lacks its unit, or the unit is not known"},
        {"syntax.repeated", S::error, "a line that may stand once stands again",
         "keep one of the two, or give the other a clause or an item of its own"},
        {"syntax.spelling", S::error, "a reserved word is misspelt"},
        {"syntax.string", S::error, "a quotation mark is missing"},
        {"syntax.table", S::error, "a row of a table does not fit its head",
         "give each row one cell for each column, divided by `|`; `any` stands where every value fits"},
        {"syntax.type", S::error, "the type of an attribute cannot be read"},
        {"syntax.wording", S::error, "the language has another word for this"},
        // Names, units, types and ranges.
        {"name.unknown", S::error, "a name that nothing declares"},
        {"name.kind", S::error, "a name that stands for another kind of thing",
         "write the name of what belongs here, or declare it"},
        {"name.duplicate", S::error, "a name that is declared twice",
         "keep one of the two, or give one of them another name"},
        {"name.ambiguous", S::error, "a name that could mean two things"},
        {"name.at_hand", S::error, "an attribute of an event or a part where none is at hand"},
        {"name.circle", S::error, "definitions that lead back to themselves",
         "explain one of them without the other"},
        {"name.dropped", S::error, "a clause that this policy drops",
         "take the name out here, or take the `drop` out"},
        {"name.file", S::error, "a file that is used and cannot be read",
         "mend the name, or put the file where it is looked for"},
        {"unit.mixed", S::error, "units of different dimensions together",
         "write a quantity of the same kind, in one of its own units"},
        {"unit.missing", S::error, "a bare number where a unit is needed"},
        {"unit.none", S::error, "a unit where only a number can stand",
         "if the number is right, write it without a unit"},
        {"unit.civil", S::error, "days of the calendar where elapsed time stands, or the reverse"},
        {"unit.precision", S::error, "a number finer, or longer, than is kept"},
        {"type.compare", S::error, "a comparison that makes no sense"},
        {"type.condition", S::error, "a value where a condition is wanted, or the reverse"},
        {"type.demand", S::error, "a clause whose demand and trigger do not fit"},
        {"type.change", S::error, "a change without a reading to compare"},
        {"type.overrides", S::error, "clauses that cannot override one another",
         "take one of the `overrides` out"},
        {"type.after_removal", S::error, "an event asked for when the line is out"},
        {"type.example", S::error, "an example that stands for no record"},
        {"type.declaration", S::error, "a declaration of the vocabulary that has no meaning",
         "change the declaration as the words above ask; `linelaw explain type.declaration` shows one that "
         "is right"},
        {"range.value", S::error, "a value outside its attribute's range or list"},
        {"range.order", S::error, "a range or an interval whose ends are the wrong way round",
         "write the smaller, or the earlier, end first"},
        {"range.zero", S::error, "an interval or a number of times that is nothing",
         "write the one that is meant, more than nothing"},
        {"range.grace", S::warning, "a grace longer than the time that it adds to"},
        // Conflicts.
        {"conflict.interval", S::against, "intervals, shortest intervals and chains that cannot all be kept"},
        {"conflict.response", S::against, "a response due while its event may not happen"},
        {"conflict.forbidden", S::against, "an event or value both demanded and forbidden"},
        {"conflict.values", S::against, "demands at one event that no value satisfies together"},
        {"conflict.order", S::against, "steps or times between steps that cannot all hold"},
        {"conflict.table", S::against, "overlapping rows with different answers"},
        {"conflict.edition", S::against, "two editions in force on one day"},
        {"corner.interval", S::warning, "intervals that can all be kept, but lead into a corner"},
        {"corner.response", S::warning, "a response that can be kept, but may be led into a corner"},
        // Gaps.
        {"gap.question", S::against, "a question without an answer in a situation"},
        {"gap.boundary", S::against, "a cell between two comparisons that no clause or row covers"},
        {"gap.table", S::against, "a combination with no row"},
        {"gap.response", S::against, "a complication with no clause after it"},
        {"gap.documentation", S::against, "a clause rests on something that no clause asks to be documented"},
        {"gap.blank", S::against, "words that are still to be written"},
        {"gap.edition", S::against, "days without an edition in force"},
        {"gap.shift", S::against, "hours in no shift"},
        // Strictness, difference, dead weight and hygiene.
        {"loose.baseline", S::against, "looser than the policy that it is measured against"},
        {"diverging.answer", S::warning, "different, compatible answers to one question in one situation"},
        {"dead.clause", S::warning, "a clause that can never apply"},
        {"dead.row", S::warning, "a row that can never win"},
        {"dead.exception", S::warning, "an exception that can never excuse"},
        {"dead.override", S::warning, "an `overrides` that never takes anything away"},
        {"redundant.clause", S::warning, "a clause that another implies"},
        {"unclear.where", S::warning, "a `where` that may have been meant for more events than the last"},
        {"drift.sentence", S::warning, "a number in the sentence that the rule does not say, or the reverse",
         "decide which of the two is meant, and let sentence and rule say the same"},
        {"unused.attribute", S::note, "an attribute of the policy's own that no clause asks about",
         "write the clause that asks about it, or take it out"},
        {"unused.term", S::warning, "a term that nothing uses", "use it, or take it out"},
        {"unused.table", S::warning, "a table that nothing uses", "use it, or take it out"},
        {"unused.source", S::warning, "a source that nothing uses",
         "name it in the clause that rests on it, or take it out"},
        {"unused.escalation", S::warning, "an escalation that nothing starts",
         "let a clause `otherwise escalate` to it, or take it out"},
        {"unused.shift", S::warning, "shifts that nothing uses", "use it, or take it out"},
        {"unused.accept", S::warning, "an accepted finding that does not occur",
         "take the line out: there is nothing left to accept"},
        {"missing.sentence", S::error, "a clause without its sentence"},
        {"missing.vocabulary", S::error, "a policy that uses no vocabulary"},
        {"missing.zone", S::warning, "a policy without a time zone"},
        {"missing.source", S::warning, "a clause without a source or a reason"},
        {"missing.review", S::warning, "a policy without a day of review"},
        {"missing.undocumented", S::warning, "a policy that does not say how the undocumented counts"},
        {"past.review", S::warning, "a policy past its day of review"},
        {"example.missing", S::note, "a change to the policy that no example would notice",
         "paste the example into the policy where it says what the committee means"},
        {"internal.witness", S::warning, "a finding of the program that its own runtime does not confirm"},
        {"analysis.skipped", S::note, "something that was not analysed, and why"},
    };
    return codes;
}

const DiagnosticCode* find_diagnostic_code(std::string_view code) {
    const auto& codes = diagnostic_codes();
    const auto found =
        std::find_if(codes.begin(), codes.end(), [code](const DiagnosticCode& c) { return c.code == code; });
    return found == codes.end() ? nullptr : &*found;
}

std::vector<Mend> ways_out(const Diagnostic& diagnostic) {
    const DiagnosticCode* known = find_diagnostic_code(diagnostic.code);
    if (!diagnostic.mends.empty() || known == nullptr || known->way_out.empty()) return diagnostic.mends;
    return {{std::string(known->way_out), {}, "", false}};
}

Diagnostic make_diagnostic(std::string_view code, std::string message, Place place, std::string label) {
    const DiagnosticCode* known = find_diagnostic_code(code);
    assert(known != nullptr && "every code is registered");
    Diagnostic diagnostic;
    diagnostic.code = std::string(code);
    diagnostic.severity = known != nullptr ? known->severity : Severity::error;
    diagnostic.message = std::move(message);
    diagnostic.labels.push_back({place, std::move(label)});
    return diagnostic;
}

}  // namespace linelaw::grammar
