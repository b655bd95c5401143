// What changed since another edition: every line that is written otherwise, before and now side by side, and
// the questions that are answered otherwise, with which answer asks for more.
#include "compiler/document/markdown.hpp"
#include "compiler/document/sections.hpp"
#include "compiler/trial.hpp"

namespace linelaw::compiler::document {

using namespace runtime;

namespace {

using Rows = std::vector<std::vector<std::string>>;

std::string place(const Policy& now, const Rewritten& written) {
    if (written.kind == "clause")
        for (const auto& clause : now.clauses)
            if (clause.id == written.item) return "clause " + clause_link(clause);
    return with_names(place_in_words(written));
}

std::string in_words(analysis::Weighed weighed) {
    static constexpr std::string_view words[] = {"not looked at", "in part below", "told below"};
    return std::string(words[static_cast<std::size_t>(weighed)]);
}

Rows rows_of(const Policy& now, const std::vector<analysis::Change>& changes) {
    Rows rows;
    for (const analysis::Change& change : changes) {
        const Rewritten& written = change.written;
        rows.push_back({place(now, written), written.before.empty() ? "(new)" : escaped(written.before),
                        written.now.empty() ? "(left out)" : escaped(written.now), in_words(change.weighed)});
    }
    return rows;
}

std::string in_words(analysis::Difference::Kind kind) {
    static constexpr std::string_view words[] = {"same",          "stricter",
                                                 "looser",        "neither stricter nor looser",
                                                 "asked for now", "not asked for any more"};
    return std::string(words[static_cast<std::size_t>(kind)]);
}

}  // namespace

std::string day(const CivilDate& date) {
    static constexpr std::string_view months[] = {"January",   "February", "March",    "April",
                                                  "May",       "June",     "July",     "August",
                                                  "September", "October",  "November", "December"};
    return std::to_string(date.day) + ' ' + std::string(months[(date.month - 1) % 12]) + ' ' +
           std::to_string(date.year);
}

std::string changes(const Compilation& before, const Compilation& after) {
    const Policy& old = before.compiled->policy;
    const Policy& now = after.compiled->policy;
    std::string out = "Against edition " + escaped(old.edition) + " (" + escaped(old.title) + ").\n\n";
    const analysis::Comparison comparison = compared(before, after);
    const Rows rows = rows_of(now, comparison.changes);
    out += rows.empty() ? "No line of the policy was changed, added or left out.\n\n"
                        : "What is written otherwise:\n\n" +
                              table({"where", "before", "now", "stricter or looser"}, rows);
    Rows answers;
    for (const auto& difference : comparison.differences) {
        if (difference.kind == analysis::Difference::Kind::same) continue;
        std::vector<std::string> situation;
        for (const auto& [what, value] : difference.situation) situation.push_back(what + ": " + value);
        std::vector<std::string> ids;
        for (const auto& id :
             difference.clauses_after.empty() ? difference.clauses_before : difference.clauses_after)
            ids.push_back(code(id));
        if (difference.by_trial) {
            const auto counted = [](const std::optional<grammar::Witness>& broken) {
                return broken ? escaped(joined(broken->outcomes, ", ")) : "nothing against it";
            };
            answers.push_back({joined(ids, ", "), "as a small episode shows",
                               counted(difference.breaks_before), counted(difference.breaks_after),
                               in_words(difference.kind)});
            continue;
        }
        answers.push_back({difference.question.empty() ? joined(ids, ", ") : code(difference.question),
                           (difference.instance ? "for instance " : "") + escaped(joined(situation, "; ")),
                           escaped(difference.before),
                           difference.before == difference.after
                               ? "the same words; what they stand for is changed above"
                               : escaped(difference.after),
                           in_words(difference.kind)});
    }
    if (!answers.empty())
        out += "Where more, less or something else is asked for:\n\n" +
               table({"question or clause", "where", "before", "now", "is"}, answers);
    for (const auto& line : comparison.not_done) out += "Not compared: " + with_names(line) + "\n\n";
    return out;
}

}  // namespace linelaw::compiler::document
