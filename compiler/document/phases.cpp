#include "compiler/document/phases.hpp"

#include <algorithm>

#include "runtime/ascii.hpp"

namespace linelaw::compiler::document {

using namespace runtime;

namespace {

bool speaks_of(const Events& events, EventKindId kind) {
    return std::any_of(events.begin(), events.end(), [&](const Pattern& p) { return p.event == kind; });
}

// Whether the event, or a value of it, is marked as a complication.
bool complicates(const EventKind& kind) {
    return kind.complication ||
           std::any_of(kind.attributes.begin(), kind.attributes.end(),
                       [](const Attribute& a) { return a.complication || !a.complications.empty(); });
}

const Question* answered_by(const Compiled& compiled, const Clause& clause) {
    const auto* leaves = std::get_if<LeavesToJudgement>(&clause.demand);
    if (leaves == nullptr) return nullptr;
    for (const auto& question : compiled.questions)
        if (question.id == leaves->question) return &question;
    return nullptr;
}

// What the clause is about: the first event other than the insertion that it asks for, answers about or is
// judged at.
EventKindId subject(const Compiled& compiled, const Clause& clause) {
    const Policy& policy = compiled.policy;
    const bool after_insertion = clause.trigger.kind == TriggerKind::after &&
                                 std::all_of(clause.trigger.events.begin(), clause.trigger.events.end(),
                                             [&](const Pattern& p) { return p.event == policy.insertion; });
    if (after_insertion) return policy.insertion;
    std::vector<Events> said{
        clause.trigger.kind == TriggerKind::before ? clause.trigger.events : demanded(clause),
        clause.trigger.events};
    if (const Question* question = answered_by(compiled, clause)) said.push_back(question->events);
    for (const auto& events : said)
        for (const auto& pattern : events)
            if (pattern.event != policy.insertion) return pattern.event;
    return policy.insertion;
}

std::string lower_first(std::string text) {
    if (!text.empty()) text[0] = ascii::lower(text[0]);
    return text;
}

}  // namespace

Events demanded(const Clause& clause) {
    if (const auto* d = std::get_if<AtLeastEvery>(&clause.demand)) return d->events;
    if (const auto* d = std::get_if<NoMoreOftenThan>(&clause.demand)) return d->events;
    if (const auto* d = std::get_if<EachPeriod>(&clause.demand)) return d->events;
    if (const auto* d = std::get_if<Within>(&clause.demand)) return d->events;
    if (const auto* d = std::get_if<WithinEitherSide>(&clause.demand)) return d->events;
    if (const auto* d = std::get_if<HaveHad>(&clause.demand)) return d->events;
    if (const auto* d = std::get_if<Forbid>(&clause.demand)) return d->events;
    if (const auto* d = std::get_if<AtMostTimes>(&clause.demand)) return d->events;
    return {};
}

bool only_charts(const Policy& policy, const Clause& clause) {
    if (std::holds_alternative<Document>(clause.demand)) return true;
    const auto* holds = std::get_if<Holds>(&clause.demand);
    if (holds == nullptr) return false;
    const auto* compare = std::get_if<Compare>(&policy.expressions[holds->condition]);
    if (compare == nullptr) return false;
    const auto* left = std::get_if<EventAttribute>(&policy.expressions[compare->left]);
    return left != nullptr && policy.fields[left->field] == "charting_delay";
}

bool responds(const Policy& policy, const Clause& clause) {
    if (clause.then_escalate != none) return true;
    if (clause.trigger.kind != TriggerKind::after) return false;
    return std::any_of(clause.trigger.events.begin(), clause.trigger.events.end(), [&](const Pattern& p) {
        const EventKind& kind = policy.event_kinds[p.event];
        return kind.complication || (p.where != none && complicates(kind));
    });
}

std::vector<Phase> phases(const Compiled& compiled) {
    const Policy& policy = compiled.policy;
    Phase insertion{"Insertion", {}};
    Phase wrong{"When something is wrong", {}};
    Phase removal{"Removal", {}};
    Phase charted{"What is charted", {}};
    std::vector<Phase> routine;
    for (const auto& kind : policy.event_kinds)
        routine.push_back({"Routine care: " + lower_first(kind.title), {}});
    for (ClauseId c = 0; c < policy.clauses.size(); ++c) {
        const Clause& clause = policy.clauses[c];
        if (only_charts(policy, clause))
            charted.clauses.push_back(c);
        else if (responds(policy, clause))
            wrong.clauses.push_back(c);
        else if (speaks_of(demanded(clause), policy.removal) ||
                 speaks_of(clause.trigger.events, policy.removal))
            removal.clauses.push_back(c);
        else if (const EventKindId about = subject(compiled, clause); about == policy.insertion)
            insertion.clauses.push_back(c);
        else
            routine[about].clauses.push_back(c);
    }
    std::vector<Phase> out{std::move(insertion)};
    for (auto& phase : routine) out.push_back(std::move(phase));
    for (Phase* last : {&wrong, &removal, &charted}) out.push_back(std::move(*last));
    out.erase(std::remove_if(out.begin(), out.end(), [](const Phase& p) { return p.clauses.empty(); }),
              out.end());
    return out;
}

}  // namespace linelaw::compiler::document
