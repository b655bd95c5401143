// For the bedside, on one page: the steps of the dressing change with their times, what is done how often,
// what must not happen, and what to do when something is wrong. On another: what is done and charted at every
// other event. In plain words, made from the rules; each line points to its clause, and the clauses that have
// none stand at the end.
#include <algorithm>
#include <array>
#include <set>

#include "compiler/document/markdown.hpp"
#include "compiler/document/sections.hpp"
#include "compiler/quantities.hpp"
#include "compiler/words.hpp"
#include "runtime/ascii.hpp"

namespace linelaw::compiler::document {

using namespace runtime;

namespace {

using Rows = std::vector<std::vector<std::string>>;
constexpr std::string_view box = "\u2610";  // ☐

constexpr std::string_view caution =
    "A help to memory, made from the policy. The clauses say more; the facility's approved policy, the "
    "instructions for use of each product and your clinical judgement come first. Never push a catheter back "
    "in that has moved out. Ask about sensitivity to antiseptics and adhesives first; take special care of a "
    "neonate's skin.\n\n";

struct Checklist {
    const Compilation& compilation;
    const Compiled& compiled = *compilation.compiled;
    const Policy& policy = compiled.policy;
    std::set<std::string_view> shown = {};  // ids of clauses

    std::string link(const Clause& clause) {
        shown.insert(clause.id);
        return clause_link(clause);
    }

    // As a nurse would say it: each of several conditions by itself, without what the place makes plain.
    std::string words(ExpressionId condition) const {
        const auto* all = std::get_if<And>(&policy.expressions[condition]);
        if (all == nullptr) return escaped(one(condition));
        std::vector<std::string> parts;
        for (const ExpressionId operand : all->operands) parts.push_back(words(operand));
        return joined(parts, "; ");
    }
    std::string one(ExpressionId condition) const {
        using Pairs = std::array<std::pair<std::string_view, std::string_view>, 5>;
        static constexpr Pairs shorter = {{{"`kind` of the line is ", "line is "},
                                           {" of the patient", ""},
                                           {" of the line", ""},
                                           {"the newest ", ""},
                                           {"its ", ""}}};
        const Expression& e = policy.expressions[condition];
        std::string said = condition_in_words(policy, condition);
        for (const auto& [from, to] : shorter)
            for (std::size_t at = said.find(from); at != std::string::npos; at = said.find(from, at))
                said.replace(at, from.size(), to);
        const auto* compare = std::get_if<Compare>(&e);
        if (compare != nullptr && std::holds_alternative<TableValue>(policy.expressions[compare->right]))
            said = said.substr(0, said.find("what the table ")) + "what the table below says";
        // A value that denies something itself: "dressing is not no dressing".
        said = plain(said);
        static constexpr std::string_view twice = " is not no ";
        if (const auto at = said.find(twice); at != std::string::npos)
            said.replace(at, twice.size(), " is other than no ");
        return without_yes(said);
    }
    // Of a flag its name says it all: "sedated", "not sedated", "no emergency insertion".
    static std::string without_yes(const std::string& said) {
        using Pairs = std::array<std::pair<std::string_view, std::string_view>, 3>;
        static constexpr Pairs endings = {{{" is not yes", "not "}, {" is no", "no "}, {" is yes", ""}}};
        for (const auto& [end, before] : endings) {
            const bool ends =
                said.size() > end.size() && said.compare(said.size() - end.size(), end.size(), end) == 0;
            if (ends) return std::string(before) + said.substr(0, said.size() - end.size());
        }
        return said;
    }
    void tables_of(ExpressionId id, std::set<TableId>& tables) const {
        const Expression& e = policy.expressions[id];
        if (const auto* value = std::get_if<TableValue>(&e)) tables.insert(value->table);
        if (const auto* compare = std::get_if<Compare>(&e)) {
            tables_of(compare->left, tables);
            tables_of(compare->right, tables);
        }
        if (const auto* all = std::get_if<And>(&e))
            for (const ExpressionId operand : all->operands) tables_of(operand, tables);
        if (const auto* any = std::get_if<Or>(&e))
            for (const ExpressionId operand : any->operands) tables_of(operand, tables);
    }
    std::string event_words(const Events& events) const {
        std::vector<std::string> names;
        for (std::size_t i = 0; i < events.size(); ++i) {
            const Pattern& pattern = events[i];
            names.push_back(escaped(policy.event_kinds[pattern.event].title));
            if (pattern.where != none) names.back() += " (" + words(pattern.where) + ')';
            if (is_every_one(events, i)) names.back() += " (any)";
        }
        return joined(names, "; ");
    }
    // "start of an infusion", where it does not begin.
    std::string in_a_sentence(const Events& events) const {
        std::string out = event_words(events);
        if (out.size() > 1 && runtime::ascii::is_upper(out[0]) && !runtime::ascii::is_upper(out[1]))
            out[0] = runtime::ascii::lower(out[0]);
        return out;
    }
    // Of which of these events it speaks: "where hub antiseptic is chg alcohol"; empty: of all.
    std::string which(const Clause& clause, EventKindId kind) const {
        std::vector<std::string> parts;
        for (const Pattern& pattern : clause.trigger.events) {
            if (pattern.event != kind) continue;
            if (pattern.where == none) return "";
            parts.push_back("where " + words(pattern.where));
        }
        return joined(parts, " or ");
    }
    // Who and when: the clause's conditions, in its order.
    std::string whom(const Clause& clause, EventKindId at_the = none) const {
        std::vector<std::string> parts;
        if (std::string some = at_the == none ? "" : which(clause, at_the); !some.empty())
            parts.push_back(std::move(some));
        if (clause.for_each != none) {
            const std::string part = escaped(plain(policy.part_kinds[clause.for_each].name));
            std::string which = clause.for_each_where == none ? "" : ": " + words(clause.for_each_where);
            const std::string of = " of the " + part;
            for (std::size_t at = 0; (at = which.find(of, at)) != std::string::npos;)
                which.erase(at, of.size());
            parts.push_back("each " + part + which);
        }
        for (const ExpressionId condition : {clause.applies_for, clause.applies_while})
            if (condition != none) parts.push_back(words(condition));
        if (parts.empty()) parts.emplace_back("all");
        for (const auto& exception : clause.exceptions)
            parts.push_back("not where " + words(exception.condition));
        return joined(parts, "; ");
    }
    std::string how_often(const Demand& demand) const {
        const auto unless = [&](ExpressionId id) { return id == none ? "" : ", unless " + words(id); };
        if (const auto* d = std::get_if<NoMoreOftenThan>(&demand))
            return escaped(pace(demand)) + unless(d->unless);
        const auto* every = std::get_if<AtLeastEvery>(&demand);
        if (every == nullptr || !every->shortest) return escaped(pace(demand));
        AtLeastEvery at_latest = *every;
        at_latest.shortest.reset();
        return escaped(pace(at_latest)) + "; no more often than every " + in_words(*every->shortest) +
               unless(every->unless);
    }

    // The event with the book's steps that a clause speaks of, the insertion and the removal left out.
    EventKindId procedure() const {
        for (const auto& clause : policy.clauses) {
            if (!std::holds_alternative<FollowSteps>(clause.demand)) continue;
            for (const auto& pattern : clause.trigger.events)
                if (pattern.event != policy.insertion && pattern.event != policy.removal)
                    return pattern.event;
        }
        for (EventKindId e = 0; e < policy.event_kinds.size(); ++e)
            if (policy.event_kinds[e].name == "dressing_change") return e;
        return none;
    }
    static bool names(const Events& events, EventKindId kind) {
        return std::any_of(events.begin(), events.end(), [&](const Pattern& p) { return p.event == kind; });
    }
    // Whether it is for whoever does this: judged at it, asks for something before it, or leaves to judgement
    // what a question about it asks.
    bool is_for(const Clause& clause, EventKindId kind) const {
        if (const Question* question = left_to_judgement(clause))
            return question->about == Question::About::attribute_at && names(question->events, kind);
        const bool here =
            clause.trigger.kind == TriggerKind::at ||
            (clause.trigger.kind == TriggerKind::before && std::holds_alternative<HaveHad>(clause.demand));
        return here && names(clause.trigger.events, kind);
    }
    const Question* left_to_judgement(const Clause& clause) const {
        const auto* leaves = std::get_if<LeavesToJudgement>(&clause.demand);
        if (leaves == nullptr) return nullptr;
        const auto question = std::find_if(compiled.questions.begin(), compiled.questions.end(),
                                           [&](const Question& q) { return q.id == leaves->question; });
        return question == compiled.questions.end() ? nullptr : &*question;
    }
    // "First: confirmation of the tip's position", "First: dressing change in the 24 h before".
    std::string first(const HaveHad& demand) const {
        std::string out = "First: " + event_words(demand.events);
        if (!demand.anywhen) out += ' ' + escaped(window_in_words(policy, demand.window));
        return out;
    }

    std::string at_the(EventKindId kind) {
        std::string steps;
        std::set<TableId> tables;
        Rows rows;
        const auto add = [&](const Clause& clause, std::string what) {
            rows.push_back({std::string(box), std::move(what) + ' ' + link(clause), whom(clause, kind)});
        };
        for (const auto& clause : policy.clauses) {
            if (!is_for(clause, kind)) continue;
            if (const Question* question = left_to_judgement(clause)) {
                add(clause, "Your judgement: " + escaped(question->title));
            } else if (const auto* had = std::get_if<HaveHad>(&clause.demand)) {
                add(clause, first(*had));
            } else if (const auto* d = std::get_if<FollowSteps>(&clause.demand)) {
                std::vector<std::string> marks;
                for (const auto& step : d->steps)
                    marks.push_back(std::string(box) + ' ' + escaped(plain(step)));
                steps += joined(marks, d->in_order ? " \u2192 " : ", ") + " (for " + whom(clause, kind) +
                         ": " + link(clause) + ")\n\n";
            } else if (const auto* holds = std::get_if<Holds>(&clause.demand)) {
                add(clause, words(holds->condition));
                tables_of(holds->condition, tables);
            } else if (const auto* document = std::get_if<runtime::Document>(&clause.demand)) {
                std::vector<std::string> names;
                for (const FieldId field : document->fields)
                    names.push_back(escaped(plain(policy.fields[field])));
                add(clause, "Chart: " + joined(names, ", "));
            }
        }
        if (rows.empty() && steps.empty()) return "";
        std::string out = "### At the event: " + escaped(policy.event_kinds[kind].title) + "\n\n" + steps +
                          table({"", "what", "for whom"}, rows);
        for (TableId t = 0; t < compiled.tables.size(); ++t)
            if (tables.count(t) > 0) out += look_up_table(compilation, compiled.tables[t]);
        return out;
    }

    // How long until it is due, to put the hurried first; periods count as what they last at least.
    static std::int64_t length(const Demand& demand) {
        const auto of = [](const Span& span) {
            return span.elapsed + (span.days + 30LL * span.months) * microseconds_per_day;
        };
        if (const auto* d = std::get_if<AtLeastEvery>(&demand)) return of(d->every);
        if (const auto* d = std::get_if<NoMoreOftenThan>(&demand)) return of(d->shortest);
        if (const auto* d = std::get_if<AtMostTimes>(&demand))
            return of(d->in) / std::max<std::int64_t>(1, d->times);
        if (const auto* d = std::get_if<EachPeriod>(&demand))
            return (d->period == Period::shift ? 8 : 24) * microseconds_per_hour / d->times;
        return 0;
    }
    std::string routine() {
        std::vector<const Clause*> found;
        for (const auto& clause : policy.clauses)
            if (length(clause.demand) > 0) found.push_back(&clause);
        std::stable_sort(found.begin(), found.end(), [](const Clause* a, const Clause* b) {
            return length(a->demand) < length(b->demand);
        });
        Rows rows;
        for (const Clause* clause : found)
            rows.push_back({std::string(box), event_words(demanded(*clause)) + ' ' + link(*clause),
                            how_often(clause->demand), whom(*clause)});
        if (rows.empty()) return "";
        return "### Every day, and at longer intervals\n\n" +
               table({"", "what", "how often", "for whom"}, rows);
    }
    std::string never() {
        Rows rows;
        for (const auto& clause : policy.clauses)
            if (std::holds_alternative<Forbid>(clause.demand))
                rows.push_back({event_words(demanded(clause)) + ' ' + link(clause), whom(clause)});
        if (rows.empty()) return "";
        return "### Not to be done\n\n" + table({"what", "for whom"}, rows);
    }

    std::string calls(LadderId id) const {
        std::string out;
        for (const auto& step : policy.ladders[id].steps) {
            std::vector<std::string> who;
            for (const RoleId role : step.roles) who.push_back(escaped(plain(policy.roles[role])));
            if (!out.empty())
                out += ", if nobody answers within " + in_words(step.if_not_acknowledged_within) + ' ';
            out += "call " + joined(who, " or ") + " within " + in_words(step.within);
        }
        for (const auto& hold : policy.ladders[id].holds)
            out += (out.empty() ? "no new " : "; no new ") + in_a_sentence(hold.events) + " until " +
                   in_a_sentence(hold.until);
        return out;
    }
    std::string wrong() {
        Rows rows;
        for (const auto& clause : policy.clauses) {
            if (!responds(policy, clause)) continue;
            std::vector<std::string> then;
            if (!demanded(clause).empty())
                then.push_back(event_words(demanded(clause)) + ' ' + escaped(pace(clause.demand)));
            if (clause.then_escalate != none) then.push_back(calls(clause.then_escalate));
            if (clause.otherwise_escalate != none)
                then.push_back("where that is not done: " + calls(clause.otherwise_escalate));
            if (!clause.advice.empty()) then.push_back("**" + escaped(clause.advice) + "**");
            const std::string found = clause.trigger.kind == TriggerKind::once
                                          ? words(clause.trigger.once)
                                          : event_words(clause.trigger.events);
            rows.push_back({found + ' ' + link(clause), joined(then, "; "), whom(clause)});
        }
        if (rows.empty()) return "";
        return "### When you find\n\n" + table({"found", "do", "for whom"}, rows);
    }
    std::string left_out() const {
        std::vector<std::string> sentences;
        for (const auto& clause : policy.clauses)
            if (shown.count(clause.id) == 0)
                sentences.push_back(escaped(clause.sentence) + " (" + clause_link(clause) + ')');
        return sentences.empty()
                   ? ""
                   : "### On neither list, and to be kept as well\n\n" + joined(sentences, " ") + "\n\n";
    }
};

}  // namespace

Checklists checklists(const Compilation& compilation) {
    Checklist list{compilation};
    const EventKindId kind = list.procedure();
    Checklists out;
    if (kind != none) out.bedside = list.at_the(kind);
    out.bedside += list.routine();
    out.bedside += list.never();
    out.bedside += list.wrong();
    for (EventKindId other = 0; other < compilation.compiled->policy.event_kinds.size(); ++other)
        if (other != kind) out.other_events += list.at_the(other);
    if (!out.bedside.empty()) out.other_events += list.left_out();
    for (std::string* one : {&out.bedside, &out.other_events})
        if (!one->empty()) one->insert(0, caution);
    return out;
}

}  // namespace linelaw::compiler::document
