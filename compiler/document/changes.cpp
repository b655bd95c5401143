// What changed since another edition, in words: clauses that came, went or were changed, and questions that
// are answered otherwise, with which answer asks for more.
#include <algorithm>

#include "compiler/document/markdown.hpp"
#include "compiler/document/sections.hpp"
#include "compiler/read_back.hpp"

namespace linelaw::compiler::document {

using namespace runtime;

namespace {

using Rows = std::vector<std::vector<std::string>>;

const Clause* find(const Policy& policy, const std::string& id) {
    for (const auto& clause : policy.clauses)
        if (clause.id == id) return &clause;
    return nullptr;
}

std::vector<std::string> lines(const std::string& text) {
    std::vector<std::string> out;
    for (std::size_t at = 0; at < text.size();) {
        const auto end = std::min(text.find('\n', at), text.size());
        const auto first = text.find_first_not_of(' ', at);
        if (first < end) out.push_back(text.substr(first, end - first));
        at = end + 1;
    }
    return out;
}

// What the older read-back says that the newer does not.
std::vector<std::string> gone(const Policy& before, const Clause& old, const Policy& after,
                              const Clause& now) {
    const auto then = lines(read_back(before, old));
    const auto today = lines(read_back(after, now));
    std::vector<std::string> out;
    for (const auto& line : then)
        if (std::find(today.begin(), today.end(), line) == today.end()) out.push_back(with_names(line));
    return out;
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
    Rows rows;
    for (const auto& clause : now.clauses) {
        const Clause* was = find(old, clause.id);
        if (was == nullptr) {
            rows.push_back({clause_link(clause), "new", "It says: " + escaped(clause.sentence)});
            continue;
        }
        std::vector<std::string> said;
        if (was->sentence != clause.sentence) said.push_back("It said: " + escaped(was->sentence));
        for (const auto& line : gone(old, *was, now, clause)) said.push_back("It was judged: " + line);
        for (const auto& departure : clause.departures)
            if (std::none_of(was->departures.begin(), was->departures.end(),
                             [&](const Departure& d) { return d.source == departure.source; }))
                said.push_back("It did not say that it departs from " + code(departure.source) + ".");
        if (!said.empty()) rows.push_back({clause_link(clause), "changed", joined(said, " ")});
    }
    for (const auto& clause : old.clauses)
        if (find(now, clause.id) == nullptr)
            rows.push_back({code(clause.id), "dropped", "It said: " + escaped(clause.sentence)});
    out += rows.empty() ? "No clause was changed, added or dropped.\n\n"
                        : table({"clause", "change", "in words"}, rows);
    Rows answers;
    const auto comparison = analysis::compare(before, after);
    for (const auto& difference : comparison.differences) {
        if (difference.kind == analysis::Difference::Kind::same) continue;
        std::vector<std::string> situation;
        for (const auto& [what, value] : difference.situation) situation.push_back(what + ": " + value);
        std::vector<std::string> ids;
        for (const auto& id :
             difference.clauses_after.empty() ? difference.clauses_before : difference.clauses_after)
            ids.push_back(code(id));
        answers.push_back({difference.question.empty() ? joined(ids, ", ") : code(difference.question),
                           escaped(joined(situation, "; ")), escaped(difference.before),
                           escaped(difference.after), in_words(difference.kind)});
    }
    if (!answers.empty())
        out += "Where more, less or something else is asked for:\n\n" +
               table({"question or clause", "where", "before", "now", "is"}, answers);
    for (const auto& line : comparison.not_done) out += "Not compared: " + with_names(line) + "\n\n";
    return out;
}

}  // namespace linelaw::compiler::document
