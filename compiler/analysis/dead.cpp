// Dead weight: clauses that never apply, exceptions that never excuse, overrides that take nothing away,
// clauses that another implies, and clauses that answer one question differently.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "compiler/analysis/gaps.hpp"
#include "compiler/analysis/strictness.hpp"
#include "compiler/tree_walk.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using runtime::TriggerKind;

namespace {

// Where the clause can be asked anything at all, the event at hand among the situation.
Node reach(Workspace& work, ClauseId c, EventKindId kind) {
    Node node = work.diagrams.both(work.applies(c, kind).yes, work.possible(c));
    if (work.clause(c).trigger.kind == TriggerKind::once)
        node = work.diagrams.both(node, work.situations.meaning(work.clause(c).trigger.once).yes);
    return node;
}

Node reach_at_any(Workspace& work, ClauseId c) {
    Node any = never;
    for (const EventKindId kind : hands_of(work.clause(c)))
        any = work.diagrams.either(any, reach(work, c, kind));
    return any;
}

Node own_reach(Workspace& work, ClauseId c) {
    const runtime::Clause& clause = work.clause(c);
    std::vector<Node> parts{work.possible(c)};
    for (const runtime::ExpressionId condition :
         {clause.for_each_where, clause.applies_for, clause.applies_while, clause.trigger.once})
        parts.push_back(work.situations.meaning(condition).yes);
    Node any = never;
    for (const EventKindId kind : hands_of(clause))
        any = work.diagrams.either(
            any, kind == none ? always : work.situations.matches(clause.trigger.events, kind).yes);
    parts.push_back(any);
    return work.diagrams.all_of(std::move(parts));
}

// The clause's lines that say when it applies.
std::vector<grammar::Label> conditions_of(const Workspace& work, ClauseId c) {
    if (c >= work.compiled.clauses.size()) return {};
    std::vector<grammar::Label> lines;
    for (const grammar::ClauseLine& line : work.compiled.clauses[c].lines) {
        const bool condition = std::visit(
            [](const auto& node) {
                using Line = std::decay_t<decltype(node)>;
                return std::is_same_v<Line, grammar::ForLine> || std::is_same_v<Line, grammar::ForEachLine> ||
                       std::is_same_v<Line, grammar::WhileLine> || std::is_same_v<Line, grammar::OnceLine> ||
                       std::is_same_v<Line, grammar::AtLine> || std::is_same_v<Line, grammar::AfterLine> ||
                       std::is_same_v<Line, grammar::BeforeLine>;
            },
            line.node);
        if (condition) lines.push_back({line.place, lines.empty() ? "this" : "and this"});
    }
    if (lines.empty()) return lines;
    lines.back().text += lines.size() == 1 ? " can never hold" : " can never hold together";
    return lines;
}

bool find_dead_clause(Workspace& work, ClauseId c) {
    const std::vector<EventKindId> hands = hands_of(work.clause(c));
    if (std::any_of(hands.begin(), hands.end(), [&](EventKindId k) { return reach(work, c, k) != never; }))
        return false;
    Finding finding;
    finding.code = "dead.clause";
    finding.ids = {work.clause(c).id};
    const bool overridden = own_reach(work, c) != never;
    finding.message =
        overridden ? fmt::format("{} never applies: another clause overrides it everywhere", work.quoted(c))
                   : fmt::format("{} never applies: no situation that can be fits it", work.quoted(c));
    if (!overridden) finding.labels = conditions_of(work, c);
    if (finding.labels.empty()) finding.labels.push_back({work.place(c), "never applies"});
    if (overridden)
        for (ClauseId o = 0; o < work.policy.clauses.size(); ++o) {
            const std::vector<ClauseId>& overrides = work.clause(o).overrides;
            if (std::find(overrides.begin(), overrides.end(), c) != overrides.end())
                finding.labels.push_back({work.place(o), "overrides it"});
        }
    if (overridden)
        finding.helps = {
            "take the clause out",
            "or, where it is to hold, take the `overrides` out of the other, and say here that this "
            "one overrides it"};
    else
        finding.helps = {"take the clause out, or mend its conditions"};
    work.add(std::move(finding));
    return true;
}

grammar::Place exception_place(const Workspace& work, ClauseId c, std::size_t i) {
    std::size_t nth = 0;
    for (const grammar::ClauseLine& line : work.compiled.clauses[c].lines)
        if (std::holds_alternative<grammar::ExceptLine>(line.node) && nth++ == i) return line.place;
    return work.place(c);
}

// What may be another when the answer comes than it was when the clause began to ask.
std::vector<bool> passing(const Workspace& work) {
    std::vector<bool> passing(work.situations.variables().size(), false);
    for (std::uint32_t v = 0; v < passing.size(); ++v) {
        const VariableKind kind = work.situations.variables()[v].kind;
        passing[v] = kind == VariableKind::state || kind == VariableKind::some_part ||
                     kind == VariableKind::part || kind == VariableKind::age || kind >= VariableKind::other;
    }
    return passing;
}

// Answers of responses come in other states than their trigger's; only what stays with line and patient
// counts.
void find_idle_exceptions(Workspace& work, ClauseId c) {
    const runtime::Clause& clause = work.clause(c);
    const bool later = std::holds_alternative<runtime::Within>(clause.demand) ||
                       std::holds_alternative<runtime::WithinEitherSide>(clause.demand);
    const auto staying = [&](Node node) { return later ? work.diagrams.forget(node, passing(work)) : node; };
    const std::vector<EventKindId> triggers = kinds_in(clause.trigger.events);
    const std::vector<EventKindId> hands = hands_of_exceptions(clause);
    for (std::size_t i = 0; i < clause.exceptions.size(); ++i) {
        bool alive = false;
        bool always_holds = true;
        for (const EventKindId kind : hands) {
            const bool trigger = std::find(triggers.begin(), triggers.end(), kind) != triggers.end();
            const Node applies = staying(reach(work, c, trigger ? kind : none));
            const Node held = work.situations.meaning(clause.exceptions[i].condition, kind).yes;
            const Node may_hold = staying(work.diagrams.both(held, work.situations.possible()));
            const Node may_not = staying(work.diagrams.without(work.situations.possible(), held));
            alive = alive || work.diagrams.both(may_hold, applies) != never;
            always_holds = always_holds && work.diagrams.both(may_not, applies) == never;
        }
        if (alive && !always_holds) continue;
        Finding finding;
        finding.code = alive ? "dead.clause" : "dead.exception";
        finding.ids = {clause.id};
        finding.message =
            alive
                ? fmt::format("{} never asks for anything: wherever it applies, this exception excuses it",
                              work.quoted(c))
                : fmt::format("an exception of {} can never excuse: where the clause applies it never holds",
                              work.quoted(c));
        finding.labels.push_back(
            {exception_place(work, c, i), alive ? "always holds here" : "never holds here"});
        finding.helps = {alive ? "narrow the exception, or take the clause out"
                               : "take the exception out, or mend its condition"};
        work.add(std::move(finding));
    }
}

// Whether one overrides the other somewhere. It is asked where the overridden one is: one that is judged at
// events overrides at those very events.
bool overrides_anywhere(Workspace& work, ClauseId over, ClauseId under) {
    const Node possible = work.diagrams.both(work.possible(over), work.possible(under));
    for (const EventKindId kind : hands_of(work.clause(under))) {
        const Node over_there = work.applies(over, work.at_events(over) ? kind : none).yes;
        const Node under_there = work.own(under, kind).yes;
        if (work.diagrams.all_of({possible, over_there, under_there}) != never) return true;
    }
    return false;
}

void find_idle_overrides(Workspace& work, ClauseId over) {
    for (const ClauseId under : work.clause(over).overrides) {
        const bool events = work.at_events(over) &&
                            !shares_kind(work.clause(over).trigger.events, work.clause(under).trigger.events);
        // Of two parts at once a situation knows one: `for each` overrides others wherever some part is so.
        const bool alike = work.clause(over).for_each == work.clause(under).for_each;
        if (!events && (!alike || overrides_anywhere(work, over, under))) continue;
        if (own_reach(work, under) == never) continue;  // dead by itself, and said to be
        Finding finding;
        finding.code = "dead.override";
        finding.ids = {work.clause(over).id, work.clause(under).id};
        finding.message =
            fmt::format("{} never overrides {}: {}", work.quoted(over), work.quoted(under),
                        events ? "it does so only at the events that it is judged at, and they share none"
                               : "no situation that can be fits both");
        const grammar::Name* written = overridden_name(work.compiled.clauses[over], work.clause(under).id);
        finding.labels = {{written != nullptr ? written->place : work.place(over), "overrides nothing here"},
                          work.label(under)};
        finding.helps = {fmt::format("take {} out of this line, or {}", work.quoted(under),
                                     events ? "let the two be judged at the same events"
                                            : "mend the conditions of the two"),
                         fmt::format("where {} is to be free of something, say so there with `except when`",
                                     work.quoted(under))};
        work.add(std::move(finding));
    }
}

bool same_exceptions(Workspace& work, const runtime::Clause& a, const runtime::Clause& b) {
    const auto keys = [&](const runtime::Clause& clause) {
        std::set<std::string> result;
        for (const runtime::Exception& e : clause.exceptions)
            result.insert(work.situations.key(e.condition, none));
        return result;
    };
    return keys(a) == keys(b);
}

// Whoever keeps `by` keeps `c`: it applies wherever c does, at least as strictly, and excuses no more.
bool implied(Workspace& work, ClauseId c, ClauseId by) {
    const runtime::Clause& weak = work.clause(c);
    const runtime::Clause& strong = work.clause(by);
    if (strong.should && !weak.should) return false;
    if (weak.trigger.kind != strong.trigger.kind || weak.for_each != strong.for_each) return false;
    if (weak.even_after_removal && !strong.even_after_removal) return false;
    if (weak.undocumented == runtime::UndocumentedCounts::not_met && strong.undocumented != weak.undocumented)
        return false;
    if (weak.then_escalate != none || weak.otherwise_escalate != none)
        return false;  // it starts something besides
    if (std::holds_alternative<runtime::LeavesToJudgement>(weak.demand) ||
        weak.trigger.kind == TriggerKind::once)
        return false;
    if (!strong.exceptions.empty() && !same_exceptions(work, weak, strong)) return false;
    for (const EventKindId kind : hands_of(weak)) {
        const Node here = reach(work, c, kind);
        if (!work.diagrams.implies(here, reach(work, by, kind))) return false;
        const Strictness s = compare_demands(work, by, c, kind);
        if (s != Strictness::same && s != Strictness::stricter) return false;
    }
    return true;
}

bool overrides(const Workspace& work, ClauseId a, ClauseId b) {
    const std::vector<ClauseId>& of = work.clause(a).overrides;
    return std::find(of.begin(), of.end(), b) != of.end();
}

// Clauses that could imply each other at all: the same form of trigger and demand.
std::string form_of(const runtime::Clause& clause) {
    std::string form = fmt::format("{} {} {}", static_cast<int>(clause.trigger.kind), clause.demand.index(),
                                   clause.for_each);
    std::set<EventKindId> kinds;
    for (const runtime::Pattern& p : demanded_events(clause.demand)) kinds.insert(p.event);
    for (const EventKindId kind : kinds) form += fmt::format(" d{}", kind);
    return form;
}

std::string first_calls(const Workspace& work, runtime::LadderId id) {
    const runtime::Ladder& ladder = work.policy.ladders[id];
    if (ladder.steps.empty()) return "";
    std::vector<runtime::RoleId> roles = ladder.steps[0].roles;
    std::sort(roles.begin(), roles.end());
    std::string text;
    for (const runtime::RoleId role : roles) text += work.policy.roles[role] + " ";
    return text + std::to_string(longest(ladder.steps[0].within));
}

// `stricter` is one of the two, or none where neither is.
void say_diverging(Workspace& work, ClauseId a, ClauseId b, Node where, const std::string& what,
                   ClauseId stricter = none) {
    Finding finding;
    finding.code = "diverging.answer";
    finding.ids = {work.clause(a).id, work.clause(b).id};
    if (work.full(finding.code)) return work.add(std::move(finding));  // it is counted, and not shown
    const Box box = work.situations.smallest(where);
    finding.message = fmt::format("{} and {} {}{}", work.quoted(a), work.quoted(b), what,
                                  work.situations.where_sentence(box));
    finding.labels = {work.label(a), work.label(b)};
    finding.witness.emplace();
    finding.witness->situation = work.situations.worded(box);
    const std::string which = stricter == none
                                  ? ""
                                  : fmt::format(" ({}, the stricter, says `overrides {}` if it is)",
                                                work.quoted(stricter), work.clause(stricter == a ? b : a).id);
    finding.helps = {"let the one that is to hold there say `overrides` the other" + which,
                     "or narrow the `for` of the one that is not to hold there"};
    work.add(std::move(finding));
}

// Clauses that may answer it at this event.
std::vector<ClauseId> answering(Workspace& work, const Question& question, EventKindId kind) {
    std::vector<ClauseId> result;
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c)
        if (answers(work, c, question, kind).yes != never) result.push_back(c);
    return result;
}

using Pairs = std::set<std::pair<ClauseId, ClauseId>>;

void find_diverging_answers(Workspace& work, const Question& question, const Scope& scope,
                            const std::vector<ClauseId>& clauses, const Pairs& redundant, Pairs& said) {
    std::vector<Node> places;
    for (const ClauseId c : clauses)
        places.push_back(work.diagrams.both(answers(work, c, question, scope.kind).yes, scope.covered));
    for (const auto& [i, j] : work.diagrams.may_meet(places)) {
        const ClauseId a = clauses[i];
        const ClauseId b = clauses[j];
        if (overrides(work, a, b) || overrides(work, b, a) || said.count({a, b}) != 0 ||
            redundant.count({a, b}) != 0 || redundant.count({b, a}) != 0)
            continue;
        const Node both = work.diagrams.both(places[i], places[j]);
        if (both == never) continue;
        const bool judgement = std::holds_alternative<runtime::LeavesToJudgement>(work.clause(a).demand) !=
                               std::holds_alternative<runtime::LeavesToJudgement>(work.clause(b).demand);
        // What is left to judgement may be said of some answers at an event; an interval is whole.
        if (judgement && question.about != Question::About::how_often) continue;
        const Strictness s = judgement ? Strictness::looser : compare_demands(work, a, b, scope.kind);
        if (s != Strictness::stricter && s != Strictness::looser &&
            !(s == Strictness::incomparable && question.about == Question::About::how_often))
            continue;
        said.emplace(a, b);
        const ClauseId stricter = judgement                   ? none
                                  : s == Strictness::stricter ? a
                                  : s == Strictness::looser   ? b
                                                              : none;
        say_diverging(work, a, b, both, fmt::format("answer `{}` differently", question.id), stricter);
    }
}

void find_diverging_ladders(Workspace& work) {
    std::vector<ClauseId> escalating;
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c)
        if (work.clause(c).then_escalate != none) escalating.push_back(c);
    std::vector<Node> reached;
    for (const ClauseId c : escalating) reached.push_back(reach_at_any(work, c));
    for (const auto& [i, j] : work.diagrams.may_meet(reached)) {
        const ClauseId a = escalating[i];
        const ClauseId b = escalating[j];
        const runtime::Clause& x = work.clause(a);
        const runtime::Clause& y = work.clause(b);
        if (x.then_escalate == y.then_escalate) continue;
        if (overrides(work, a, b) || overrides(work, b, a)) continue;
        if (first_calls(work, x.then_escalate) == first_calls(work, y.then_escalate)) continue;
        for (const EventKindId kind : kinds_in(x.trigger.events)) {
            const std::vector<EventKindId> others = kinds_in(y.trigger.events);
            if (std::find(others.begin(), others.end(), kind) == others.end()) continue;
            const Node both = work.diagrams.both(reach(work, a, kind), reach(work, b, kind));
            if (both == never) continue;
            say_diverging(work, a, b, both,
                          fmt::format("start ladders with different first calls after one `{}`",
                                      work.policy.event_kinds[kind].name));
            break;
        }
    }
}

// Of clauses of one form.
void find_redundant_among(Workspace& work, const std::vector<ClauseId>& clauses, Pairs& redundant) {
    std::vector<Node> reached;
    for (const ClauseId c : clauses) reached.push_back(reach_at_any(work, c));
    std::map<ClauseId, std::vector<ClauseId>> beside;  // rising
    for (const auto& [i, j] : work.diagrams.may_meet(reached)) {
        beside[clauses[i]].push_back(clauses[j]);
        beside[clauses[j]].push_back(clauses[i]);
    }
    for (auto& entry : beside) {
        const ClauseId c = entry.first;
        std::vector<ClauseId>& others = entry.second;
        std::sort(others.begin(), others.end());
        const auto by = std::find_if(others.begin(), others.end(), [&](ClauseId o) {
            // Of two that say the same, the later one is too many.
            return redundant.count({o, c}) == 0 && implied(work, c, o) && !(o > c && implied(work, o, c));
        });
        if (by == others.end()) continue;
        redundant.emplace(c, *by);
        Finding finding;
        finding.code = "redundant.clause";
        finding.ids = {work.clause(c).id};
        finding.message = fmt::format("{} is implied by {}: whoever keeps that keeps this", work.quoted(c),
                                      work.quoted(*by));
        finding.labels = {work.label(c), work.label(*by)};
        finding.helps = {"take it out, or say what it asks for besides"};
        work.add(std::move(finding));
    }
}

}  // namespace

void find_dead(Workspace& work) {
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c) {
        if (find_dead_clause(work, c)) continue;
        find_idle_exceptions(work, c);
        find_idle_overrides(work, c);
    }
}

void find_redundant(Workspace& work) {
    std::map<std::string, std::vector<ClauseId>> forms;
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c) forms[form_of(work.clause(c))].push_back(c);
    Pairs redundant;
    for (const auto& entry : forms)
        work.apart("redundant clauses", entry.second,
                   [&] { find_redundant_among(work, entry.second, redundant); });
    Pairs said;
    for (const Question& question : work.compiled.questions)
        for (const Scope& scope : scopes_of(work, question)) {
            const std::vector<ClauseId> clauses = answering(work, question, scope.kind);
            work.apart("diverging answers to `" + question.id + "`", clauses,
                       [&] { find_diverging_answers(work, question, scope, clauses, redundant, said); });
        }
    find_diverging_ladders(work);
}

}  // namespace linelaw::compiler::analysis
