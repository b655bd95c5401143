// What every analysis shares: the policy, its situations, where each clause applies, and how a finding is
// said. One finding names every clause of its minimal set, at its place.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "compiler/analysis/analysis.hpp"
#include "compiler/analysis/situation.hpp"
#include "runtime/engine.hpp"

namespace linelaw::compiler::analysis {

// A finding before it is said. Its labels lie inside the items that it is about: `accept` goes by them.
struct Finding {
    std::string code;
    std::string message;
    std::vector<std::string> ids;
    std::vector<grammar::Label> labels;
    std::vector<std::string> notes;
    std::vector<std::string> helps;  // ways out, for the committee to choose from
    std::optional<grammar::Witness> witness;
    bool advisory = false;  // with a `should` in the set it is a note
};

class Workspace {
  public:
    Workspace(const Compilation& compilation, const Limits& limits, Analysis& result);

    const Compilation& compilation;
    const Compiled& compiled;
    const runtime::Policy& policy;
    const Limits& limits;
    Analysis& result;
    Situations situations;
    Diagrams& diagrams;
    // Of two policies as one: whether each has its own shifts. Then nothing is known of a shift of both.
    bool shifts_differ = false;
    // Whether one demand is as strict as another only where it is so in every hour: over a change of the
    // clocks, and as a stretch begins. Of two policies compared these are no matter.
    bool to_the_letter = true;

    // Where the clause applies: for, for each and while hold, and no clause that overrides it applies. For a
    // clause judged at events, `kind` is the event at hand and its `where` holds too. `.no` is where it
    // surely does not.
    Meaning applies(runtime::ClauseId clause, runtime::EventKindId kind = runtime::none);
    // The same, whatever overrides it.
    Meaning own(runtime::ClauseId clause, runtime::EventKindId kind);
    // Whether a condition, asked at such an event, looks at what was charted with it.
    bool reads_event(runtime::ExpressionId condition, runtime::EventKindId kind);
    // What is possible while the clause applies.
    Node possible(runtime::ClauseId clause);

    // The runtime that replays witnesses: planned once for all of them.
    runtime::Engine& engine() {
        if (!engine_) engine_.emplace(policy);
        return *engine_;
    }

    const runtime::Clause& clause(runtime::ClauseId id) const { return policy.clauses[id]; }
    bool at_events(runtime::ClauseId id) const;  // at, after or before
    // `dressing.gauze`, in back quotes.
    std::string quoted(runtime::ClauseId id) const;
    std::string quoted(const std::vector<runtime::ClauseId>& ids) const;
    grammar::Place place(runtime::ClauseId id) const;
    grammar::Place item_place(const std::string& id) const;  // of an event, a table …; else the policy's head
    grammar::Place policy_place() const;                     // the head of the policy's own text
    // The clause's demand line, or the clause, with what it asks as the label.
    grammar::Label label(runtime::ClauseId id) const;
    std::string demand_words(runtime::ClauseId id) const;

    void add(Finding finding);
    // Code and ids of everything added.
    const std::vector<std::pair<std::string, std::vector<std::string>>>& said() const { return said_; }
    bool full(const std::string& code) const;  // enough findings of this code
    void skipped(std::string line) { result.not_done.push_back(std::move(line)); }
    // Something about these clauses was not analysed to the end: they do not count as analysed exactly.
    void give_up(const std::vector<runtime::ClauseId>& clauses, const std::string& why) {
        for (const runtime::ClauseId c : clauses) given_up_.emplace(c, why);
    }
    // One part of the policy by itself, with its own allowance of work: where it outgrows that, only the
    // clauses that it is about were not analysed to the end.
    void apart(const std::string& what, const std::vector<runtime::ClauseId>& clauses,
               const std::function<void()>& find);
    void give_up_all(const std::string& why) {
        for (runtime::ClauseId c = 0; c < policy.clauses.size(); ++c) given_up_.emplace(c, why);
    }
    // Known once the timed rules are drafted: clauses for which it does not matter whose part an event is,
    // and whether anything could stand in the way of a ladder's calls.
    void forget_parts(runtime::ClauseId clause) { part_blind_.insert(clause); }
    bool parts_forgotten(runtime::ClauseId clause) const { return part_blind_.count(clause) != 0; }
    void say_calls_are_free() { calls_are_free_ = true; }
    bool calls_are_free() const { return calls_are_free_; }
    std::string given_up(runtime::ClauseId clause) const {
        const auto found = given_up_.find(clause);
        return found == given_up_.end() ? "" : found->second;
    }

  private:
    std::vector<std::vector<std::pair<runtime::EventKindId, Meaning>>> applies_;  // by clause: what is known
    std::vector<std::vector<runtime::ClauseId>> overriders_;
    std::optional<runtime::Engine> engine_;
    std::map<std::string, std::size_t> counts_;
    std::map<runtime::ClauseId, std::string> given_up_;
    std::set<runtime::ClauseId> part_blind_;
    bool calls_are_free_ = false;
    std::vector<std::pair<std::string, std::vector<std::string>>> said_;
};

// Where else a finding holds than in the situation shown: "the same where …; where …", or nothing.
std::string also_where(Workspace& work, Node where, const Box& shown);

std::vector<runtime::EventKindId> kinds_in(const runtime::Events& events);
bool shares_kind(const runtime::Events& events, const runtime::Events& others);
// The kinds of event that may be at hand where the clause is asked; `none` alone where no event triggers it.
std::vector<runtime::EventKindId> hands_of(const runtime::Clause& clause);
// Where an exception of it is asked: those, and what it demands, forbids or counts.
std::vector<runtime::EventKindId> hands_of_exceptions(const runtime::Clause& clause);

}  // namespace linelaw::compiler::analysis
