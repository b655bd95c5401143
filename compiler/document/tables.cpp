// The parts of the document that are tables: ladders, look-up tables, bundles, questions, sources,
// departures, and which clause rests on which source and is shown by which example.
#include <fmt/format.h>

#include "compiler/document/markdown.hpp"
#include "compiler/document/sections.hpp"
#include "compiler/quantities.hpp"
#include "compiler/words.hpp"

namespace linelaw::compiler::document {

using namespace runtime;

namespace {

using Rows = std::vector<std::vector<std::string>>;

std::string roles_of(const Policy& policy, const LadderStep& step) {
    std::vector<std::string> names;
    for (const RoleId role : step.roles) names.push_back(code(policy.roles[role]));
    return joined(names, " or ");
}

std::string folded(std::string_view text) {
    std::string out;
    for (const char c : text) {
        const bool space = c == ' ' || c == '\n' || c == '\t' || c == '\r';
        if (!space)
            out += c;
        else if (!out.empty() && out.back() != ' ')
            out += ' ';
    }
    return out;
}

// The examples that expect something of the clause or of the ladder that it starts, by their numbers in the
// list.
std::string examples_of(const Compiled& compiled, ClauseId clause) {
    const Clause& c = compiled.policy.clauses[clause];
    const auto shows = [&](const Expected& expected) {
        if (expected.origin == OriginKind::clause) return expected.item == clause;
        return expected.origin == OriginKind::ladder && expected.item != none &&
               (expected.item == c.then_escalate || expected.item == c.otherwise_escalate);
    };
    std::vector<std::string> numbers;
    for (std::size_t e = 0; e < compiled.examples.size(); ++e)
        for (const auto& expected : compiled.examples[e].expected)
            if (shows(expected)) {
                numbers.push_back(std::to_string(e + 1));
                break;
            }
    return joined(numbers, ", ");
}

std::string_view each_word(const Policy& policy, const Bundle& bundle, std::string& events) {
    switch (bundle.each) {
        case BundleEach::calendar_day:
            return "each calendar day";
        case BundleEach::shift:
            return "each shift";
        case BundleEach::line:
            return "each line";
        case BundleEach::event:
            break;
    }
    events = "each " + events_in_words(policy, bundle.events);
    return events;
}

}  // namespace

std::string escalations(const Policy& policy) {
    std::string out;
    for (const auto& ladder : policy.ladders) {
        out += "### " + code(ladder.id) + "\n\n" + escaped(ladder.sentence) + "\n\n";
        Rows rows;
        for (const auto& step : ladder.steps)
            rows.push_back(
                {std::to_string(rows.size() + 1), roles_of(policy, step), "within " + in_words(step.within),
                 rows.empty()
                     ? std::string("at once")
                     : "if nobody acknowledged within " + in_words(step.if_not_acknowledged_within)});
        out += table({"call", "who", "by when", "when it starts"}, rows);
        for (const auto& hold : ladder.holds)
            out += "Until " + with_names(events_in_words(policy, hold.until)) + ": no new " +
                   with_names(events_in_words(policy, hold.events)) + ".\n\n";
    }
    return out;
}

std::string look_up_table(const Compilation& compilation, const grammar::TableItem& item) {
    const auto words = [&](grammar::Place place) {
        return escaped(folded(compilation.sources.slice(place)));
    };
    std::vector<std::string> headings;
    for (const auto& name : item.given) headings.push_back(code(name.text));
    for (const auto& name : item.gives) headings.push_back("**gives** " + code(name.text));
    Rows rows;
    for (const auto& row : item.rows) {
        std::vector<std::string> cells;
        for (const auto& cell : row.given) cells.push_back(words(cell.place));
        for (const auto& value : row.gives) cells.push_back(words(value.place));
        rows.push_back(std::move(cells));
    }
    return table(headings, rows) + (item.first_row_wins ? "The first row that fits wins.\n\n" : "");
}

std::string look_up_tables(const Compilation& compilation) {
    std::string out;
    for (const auto& item : compilation.compiled->tables)
        out += "### " + code(item.name.text) + "\n\n" + look_up_table(compilation, item);
    return out;
}

std::string bundles(const Compiled& compiled) {
    Rows rows;
    for (const auto& bundle : compiled.policy.bundles) {
        std::vector<std::string> of;
        for (const ClauseId c : bundle.of) of.push_back(clause_link(compiled.policy.clauses[c]));
        std::string events;
        rows.push_back({code(bundle.id), escaped(bundle.title),
                        with_names(each_word(compiled.policy, bundle, events)), joined(of, ", ")});
    }
    return table({"bundle", "title", "counted", "met where all of these are"}, rows);
}

std::string answers(const Compiled& compiled, const analysis::Analysis& analysis) {
    static constexpr std::string_view marks[] = {"", "set aside", "**no answer**", "**conflict**"};
    std::string out;
    for (const auto& question : analysis.questions) {
        out += "### " + code(question.id) + "\n\n" + escaped(question.title) + "\n\n";
        std::vector<std::string> headings;
        for (const auto& heading : question.headings) headings.push_back(escaped(heading));
        headings.insert(headings.end(), {"answer", "clause"});
        Rows rows;
        for (const auto& row : question.rows) {
            std::vector<std::string> cells;
            for (const auto& value : row.situation) cells.push_back(escaped(value));
            cells.resize(question.headings.size());
            const std::string mark(marks[static_cast<std::size_t>(row.mark)]);
            const std::string answer = escaped(row.answer);
            cells.push_back(mark.empty() ? answer : answer.empty() ? mark : answer + "; " + mark);
            cells.push_back(clause_links(compiled, row.clauses));
            rows.push_back(std::move(cells));
        }
        out += table(headings, rows);
        if (question.cut) out += "More situations are told apart than can be shown here.\n\n";
    }
    for (const auto& question : compiled.questions)
        for (const auto& [condition, because] : question.set_aside)
            out += "Set aside: " + code(question.id) +
                   (condition == none
                        ? std::string()
                        : ", where " + with_names(condition_in_words(compiled.policy, condition))) +
                   ": " + escaped(because) + "\n\n";
    return out;
}

std::string sources(const Policy& policy) {
    Rows rows;
    for (const auto& source : policy.sources) {
        std::vector<std::string> cited;
        for (const auto& clause : policy.clauses)
            for (const auto& ref : clause.sources)
                if (ref.source == source.name) {
                    cited.push_back(clause_link(clause));
                    break;
                }
        rows.push_back({code(source.name), escaped(source.title), escaped(source.by), escaped(source.year),
                        joined(cited, ", ")});
    }
    return table({"source", "title", "by", "year", "clauses that rest on it"}, rows);
}

std::string trace(const Compiled& compiled) {
    const Policy& policy = compiled.policy;
    Rows rows;
    for (ClauseId c = 0; c < policy.clauses.size(); ++c) {
        std::vector<std::string> from;
        for (const auto& ref : policy.clauses[c].sources)
            from.push_back(code(ref.source) +
                           (ref.category.empty() ? "" : " (" + escaped(ref.category) + ')'));
        rows.push_back({clause_link(policy.clauses[c]), from.empty() ? "none" : joined(from, ", "),
                        examples_of(compiled, c)});
        if (rows.back().back().empty()) rows.back().back() = "none";
    }
    std::string out = table({"clause", "source", "examples"}, rows);
    if (compiled.examples.empty()) return out;
    out += "The examples, which travel with the policy and are run with it:\n\n";
    for (std::size_t e = 0; e < compiled.examples.size(); ++e)
        out += std::to_string(e + 1) + ". " + escaped(compiled.examples[e].title) + '\n';
    return out + '\n';
}

std::string departures(const Compiled& compiled) {
    Rows rows;
    for (const auto& clause : compiled.policy.clauses)
        for (const auto& departure : clause.departures)
            rows.push_back({clause_link(clause), code(departure.source), escaped(departure.because)});
    std::string out = table({"clause", "departs from", "because"}, rows);
    if (rows.empty()) out = "No clause departs from a source.\n\n";
    Rows accepted;
    for (const auto& item : compiled.accepted) {
        std::vector<std::string> ids;
        for (const auto& id : item.ids) ids.push_back(code(id));
        accepted.push_back({code(item.code), joined(ids, ", "), escaped(item.because)});
    }
    if (!accepted.empty())
        out += "These findings are known and let stand:\n\n" +
               table({"finding", "speaks of", "let stand because"}, accepted);
    return out;
}

}  // namespace linelaw::compiler::document
