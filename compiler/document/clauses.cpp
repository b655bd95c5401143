// The clauses themselves: the sentence, what the machine will do with it, and what the committee said beside
// it.
#include <fmt/format.h>

#include "compiler/document/markdown.hpp"
#include "compiler/document/sections.hpp"
#include "compiler/quantities.hpp"
#include "compiler/read_back.hpp"

namespace linelaw::compiler::document {

using namespace runtime;

namespace {

// The read-back's lines after its first, which is the heading.
std::string read_back_list(const Policy& policy, const Clause& clause) {
    const std::string text = read_back(policy, clause);
    std::string out;
    for (std::size_t at = text.find('\n') + 1; at < text.size();) {
        const auto end = text.find('\n', at);
        const auto first = text.find_first_not_of(' ', at);
        out += "- " + with_names(std::string_view(text).substr(first, end - first)) + '\n';
        at = end + 1;
    }
    return out;
}

std::string one_source(const Policy& policy, const SourceRef& ref) {
    std::string out = escaped(ref.source);
    for (const auto& source : policy.sources)
        if (source.name == ref.source)
            out = escaped(source.by + (source.year.empty() ? "" : " " + source.year));
    if (!ref.where.empty()) out += ", " + escaped(ref.where);
    if (!ref.category.empty()) out += ", category " + escaped(ref.category);
    return out;
}

// The policy's reason for leaving a question to judgement, which only its text knows.
std::string why_left(const grammar::ClauseItem& item) {
    for (const auto& line : item.lines)
        if (const auto* demand = std::get_if<grammar::Demand>(&line.node))
            if (const auto* leaves = std::get_if<grammar::LeavesToJudgement>(&demand->node))
                return leaves->because ? leaves->because->text : "";
    return "";
}

std::string one_clause(const Compiled& compiled, ClauseId id) {
    const Policy& policy = compiled.policy;
    const Clause& clause = policy.clauses[id];
    std::string out = "#### " + clause_heading(clause) + "\n\n";
    out += "> **" + escaped(clause.sentence) + "**\n\n";
    out += "What will be judged:\n\n" + read_back_list(policy, clause) + '\n';
    std::vector<std::string> beside;
    for (const auto& exception : clause.exceptions)
        if (!exception.because.empty()) beside.push_back("Excused because: " + escaped(exception.because));
    if (!clause.advice.empty()) beside.push_back("Advice: " + escaped(clause.advice));
    if (!clause.reason.empty()) beside.push_back("Reason: " + escaped(clause.reason));
    for (const auto& ref : clause.sources) beside.push_back("Source: " + one_source(policy, ref));
    for (const auto& departure : clause.departures)
        beside.push_back("Departs from " + escaped(departure.source) + ": " + escaped(departure.because));
    if (const auto* leaves = std::get_if<LeavesToJudgement>(&clause.demand)) {
        const std::string because = why_left(compiled.clauses[id]);
        beside.push_back("Left to judgement: " + code(leaves->question) +
                         (because.empty() ? "" : ", because: " + escaped(because)));
    }
    if (!beside.empty()) out += "What stands beside it:\n\n";
    for (const auto& line : beside) out += "- " + line + '\n';
    return out + '\n';
}

}  // namespace

std::string clause_heading(const Clause& clause) {
    return code(clause.id) + " (" + std::string(priority_name(clause.priority)) + ')';
}

std::string clause_link(const Clause& clause) {
    return link(code(clause.id), anchor_of(clause_heading(clause)));
}

std::string clause_links(const Compiled& compiled, const std::vector<std::string>& ids) {
    std::vector<std::string> links;
    for (const auto& id : ids)
        for (const auto& clause : compiled.policy.clauses)
            if (clause.id == id) links.push_back(clause_link(clause));
    return joined(links, ", ");
}

std::string clauses(const Compiled& compiled, const std::vector<Phase>& phases) {
    std::string out;
    for (const auto& phase : phases) {
        out += "### " + escaped(phase.title) + "\n\n";
        for (const ClauseId c : phase.clauses) out += one_clause(compiled, c);
    }
    return out;
}

std::string pace(const Demand& demand) {
    if (const auto* d = std::get_if<AtLeastEvery>(&demand)) {
        std::string out = "at least every " + in_words(d->every);
        if (d->shortest) out += ", no more often than every " + in_words(*d->shortest);
        if (!(d->grace == Span{})) out += "; late " + in_words(d->grace) + " after that";
        return out;
    }
    if (const auto* d = std::get_if<NoMoreOftenThan>(&demand))
        return "no more often than every " + in_words(d->shortest);
    if (const auto* d = std::get_if<EachPeriod>(&demand)) {
        const std::string often = d->times == 1 ? "" : "at least " + std::to_string(d->times) + " times ";
        return often + (d->period == Period::shift ? "each shift" : "each calendar day");
    }
    if (const auto* d = std::get_if<Within>(&demand)) {
        static constexpr std::string_view ends[] = {"within the same shift", "within the next shift",
                                                    "within the same calendar day"};
        const auto* span = std::get_if<Span>(&d->within);
        std::string out = span != nullptr
                              ? "within " + in_words(*span)
                              : std::string(ends[static_cast<std::size_t>(std::get<Until>(d->within))]);
        if (!(d->grace == Span{})) out += "; late " + in_words(d->grace) + " after that";
        return out;
    }
    if (const auto* d = std::get_if<WithinEitherSide>(&demand))
        return "within " + in_words(d->within) + " before or after";
    if (const auto* d = std::get_if<AtMostTimes>(&demand))
        return fmt::format("at most {} times in {}", d->times, in_words(d->in));
    return "";
}

}  // namespace linelaw::compiler::document
