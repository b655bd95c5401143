#include "compiler/trial.hpp"

#include <algorithm>
#include <map>
#include <set>

#include "compiler/analysis/situation.hpp"
#include "compiler/small_episodes.hpp"
#include "compiler/smaller_draft.hpp"
#include "runtime/summary.hpp"

namespace linelaw::compiler {

using analysis::Difference;
using analysis::DraftEpisode;
using runtime::none;
using runtime::OriginKind;
using Kind = Difference::Kind;

namespace {

// Clauses and ladders, by their ids.
using Item = std::pair<OriginKind, std::string>;
using Items = std::set<Item>;

// What a clause or ladder asks for, by names: an event, or a field of one.
using Matter = std::set<std::pair<std::string, std::string>>;

Matter matter_of(const runtime::Policy& policy, const runtime::Clause& clause) {
    Matter matter;
    for (const runtime::Pattern& p : analysis::demanded_events(clause.demand))
        matter.emplace(policy.event_kinds[p.event].name, "");
    for (const runtime::Pattern& at : clause.trigger.events) {
        const std::string& event = policy.event_kinds[at.event].name;
        if (const auto* holds = std::get_if<runtime::Holds>(&clause.demand))
            analysis::walk(policy, holds->condition, at.event, [&](runtime::ExpressionId id, auto) {
                const runtime::Expression& e = policy.expressions[id];
                if (const auto* attribute = std::get_if<runtime::EventAttribute>(&e))
                    matter.emplace(event, policy.fields[attribute->field]);
                if (const auto* change = std::get_if<runtime::Change>(&e))
                    matter.emplace(event, policy.fields[change->field]);
            });
        if (const auto* document = std::get_if<runtime::Document>(&clause.demand))
            for (const runtime::FieldId field : document->fields) matter.emplace(event, policy.fields[field]);
        if (std::holds_alternative<runtime::FollowSteps>(clause.demand)) matter.emplace(event, "steps");
    }
    return matter;
}
Matter matter_of(const runtime::Policy& policy, const runtime::Ladder& ladder) {
    Matter matter;
    if (policy.notification != none) matter.emplace(policy.event_kinds[policy.notification].name, "");
    for (const runtime::LadderHold& hold : ladder.holds)
        for (const runtime::Pattern& p : hold.events) matter.emplace(policy.event_kinds[p.event].name, "");
    return matter;
}

// What one edition says of an episode.
struct Counted {
    Items against;
    Items not_assessable;
};

// What the vocabulary says can never be, as clauses that are met where it is.
runtime::Policy what_never_is(const Compiled& compiled) {
    runtime::Policy policy = compiled.policy;
    policy.clauses.clear();
    policy.bundles.clear();
    for (const Never& never : compiled.nevers) {
        runtime::Clause clause;
        clause.id = "never." + std::to_string(policy.clauses.size());
        clause.trigger = {runtime::TriggerKind::at, {{policy.insertion, none}}, none};
        clause.demand = runtime::Holds{never.condition};
        policy.clauses.push_back(std::move(clause));
    }
    return policy;
}

// One edition, as a judge.
class Edition {
  public:
    explicit Edition(const Compilation& compilation)
        : compiled_(*compilation.compiled),
          policy_(compiled_.policy),
          drafts_(policy_),
          reader_(policy_),
          engine_(policy_),
          never_(what_never_is(compiled_)),
          never_engine_(never_),
          zone_(runtime::Zone::of(policy_.time_zone)) {
        for (runtime::ClauseId c = 0; c < policy_.clauses.size(); ++c) clauses_[policy_.clauses[c].id] = c;
        for (const Example& example : compiled_.examples) seeds_.push_back(example.record);
        for (const runtime::Clause& clause : policy_.clauses)
            matter_[{OriginKind::clause, clause.id}] = matter_of(policy_, clause);
        for (const runtime::Ladder& ladder : policy_.ladders)
            matter_[{OriginKind::ladder, ladder.id}] = matter_of(policy_, ladder);
    }

    runtime::ClauseId find(const std::string& id) const {
        const auto found = clauses_.find(id);
        return found == clauses_.end() ? none : found->second;
    }
    bool is_should(const std::string& id) const { return policy_.clauses[find(id)].should; }
    bool is_left_to_judgement(const std::string& id) const {
        const runtime::ClauseId c = find(id);
        return c != none && std::holds_alternative<runtime::LeavesToJudgement>(policy_.clauses[c].demand);
    }
    std::size_t size() const { return policy_.clauses.size(); }
    // The clause, and the ladders that it starts.
    void add_items(const std::string& id, Items& to) const {
        const runtime::ClauseId c = find(id);
        if (c == none) return;
        to.emplace(OriginKind::clause, id);
        for (const runtime::LadderId ladder :
             {policy_.clauses[c].then_escalate, policy_.clauses[c].otherwise_escalate})
            if (ladder != none) to.emplace(OriginKind::ladder, policy_.ladders[ladder].id);
    }
    std::vector<std::unique_ptr<SmallEpisode>> episodes_about(const std::string& id, std::size_t count) {
        return small_episodes(drafts_, {find(id)}, seeds_, count);
    }
    std::string record_of(const DraftEpisode& draft) const {
        return analysis::as_record(draft, policy_, zone_);
    }
    // Nothing where the record cannot be read, or not all of it, or where no patient and line can be so.
    std::optional<Counted> judge(const std::string& record) {
        if (reader_.read(record, episode_, set_aside_) || !set_aside_.empty() || never_is())
            return std::nullopt;
        Counted counted;
        for (const runtime::Opportunity& o : engine_.judge(episode_)) {
            const bool open = o.outcome == runtime::Outcome::not_assessable;
            if (o.origin == OriginKind::bundle || (!open && !runtime::counts_against(o.outcome))) continue;
            Items& items = open ? counted.not_assessable : counted.against;
            items.emplace(o.origin, o.origin == OriginKind::clause ? policy_.clauses[o.item].id
                                                                   : policy_.ladders[o.item].id);
        }
        return counted;
    }
    // As `expect` lines say them.
    std::vector<std::string> expectations(const std::string& record, const Items& of) {
        std::vector<std::string> out;
        if (reader_.read(record, episode_, set_aside_)) return out;
        for (const runtime::Opportunity& o : engine_.judge(episode_)) {
            if (o.origin == OriginKind::bundle || !runtime::counts_against(o.outcome)) continue;
            const bool ladder = o.origin == OriginKind::ladder;
            const std::string& id = ladder ? policy_.ladders[o.item].id : policy_.clauses[o.item].id;
            if (of.count({o.origin, id}) == 0) continue;
            std::string words = ladder ? id + " step " + std::to_string(o.step + 1) : id;
            words.append(" ").append(runtime::outcome_words(o.outcome));
            if (std::find(out.begin(), out.end(), words) == out.end()) out.push_back(std::move(words));
        }
        return out;
    }
    bool never_is() {
        const runtime::Judgement& all = never_engine_.judge(episode_);
        return std::any_of(all.begin(), all.end(),
                           [](const runtime::Opportunity& o) { return o.outcome == runtime::Outcome::met; });
    }
    const runtime::Policy& policy() const { return policy_; }
    const Matter& matter(const Item& item) const { return matter_.at(item); }

  private:
    const Compiled& compiled_;
    const runtime::Policy& policy_;
    std::map<std::string, runtime::ClauseId> clauses_;
    std::vector<std::string> seeds_;
    std::map<Item, Matter> matter_;
    DraftJudge drafts_;
    runtime::RecordReader reader_;
    runtime::Engine engine_;
    runtime::Policy never_;
    runtime::Engine never_engine_;
    runtime::Zone zone_;
    runtime::Episode episode_;
    std::vector<runtime::Spoiled> set_aside_;
};

// Whether the edition that keeps it counts something against that asks for the same as the item: then the
// same neglect is told by another clause.
bool told_otherwise(const Edition& breaks, const Item& item, const Edition& keeps, const Counted& kept) {
    const Matter& matter = breaks.matter(item);
    return std::any_of(kept.against.begin(), kept.against.end(), [&](const Item& other) {
        const Matter& asked = keeps.matter(other);
        return std::any_of(asked.begin(), asked.end(),
                           [&](const auto& what) { return matter.count(what) != 0; });
    });
}

// Whether the one edition counts one of these against, and the other neither does nor anything that it does
// not. What the other cannot judge it does not count; of what is asked anew that shows little.
bool shows(const Edition& breaks, const Counted& broken, const Edition& keeps, const Counted& kept,
           const Items& of, bool judged) {
    return std::includes(broken.against.begin(), broken.against.end(), kept.against.begin(),
                         kept.against.end()) &&
           std::any_of(of.begin(), of.end(), [&](const Item& item) {
               return broken.against.count(item) != 0 && kept.against.count(item) == 0 &&
                      !(judged && kept.not_assessable.count(item) != 0) &&
                      !told_otherwise(breaks, item, keeps, kept);
           });
}

// An episode that breaks the one edition and keeps the other, as far as they differ; the fewer events, and
// the less the other counts against besides, the better.
struct Shown {
    DraftEpisode draft;
    Edition* drawn_by = nullptr;  // whose words the draft uses
    std::pair<std::size_t, std::size_t> rank;
};

class Trial {
  public:
    Trial(const Compilation& before, const Compilation& after, analysis::Comparison& comparison)
        : before_(before), after_(after), comparison_(comparison) {}

    void run(const TrialOptions& options) {
        std::vector<std::string> ids;  // in the order of the text
        std::set<std::string> known;
        for (const analysis::Change& change : comparison_.changes)
            for (const std::string& id : change.clauses)
                if (known.insert(id).second) ids.push_back(id);
        for (Difference& d : comparison_.differences) check_examples(d);
        if (ids.empty()) return;
        const std::size_t all = std::min(options.all, options.judged / (before_.size() + after_.size() + 1));
        const std::size_t count = std::min(options.episodes, all / ids.size() + 1);
        for (const std::string& id : ids) look_at(id, count);
        note_told();
        for (Difference& d : comparison_.differences) mark(d);
        for (const std::string& id : ids) add(id);
        for (analysis::Change& change : comparison_.changes)
            if (change.weighed == analysis::Weighed::no && !change.clauses.empty())
                change.weighed = analysis::Weighed::in_part;
    }

  private:
    struct Found {
        std::optional<grammar::Witness> breaks_before;
        std::optional<grammar::Witness> breaks_after;
    };

    Items items_of(const std::vector<std::string>& ids) const {
        Items items;
        for (const std::string& id : ids) before_.add_items(id, items), after_.add_items(id, items);
        return items;
    }

    // ---- what was told before

    void check_examples(Difference& d) {
        const auto check = [&](std::optional<grammar::Witness>& witness, Edition& broken, Edition& kept,
                               const std::vector<std::string>& clauses) {
            if (!witness) return;
            const auto a = broken.judge(witness->episode);
            const auto b = kept.judge(witness->episode);
            if (!a || !b || !shows(broken, *a, kept, *b, items_of(clauses), false)) witness.reset();
        };
        check(d.breaks_before, before_, after_, d.clauses_before);
        check(d.breaks_after, after_, before_, d.clauses_after);
    }

    // ---- what the episodes show

    void look_at(const std::string& id, std::size_t count) {
        const Items of = items_of({id});
        std::optional<Shown> given_up;
        std::optional<Shown> asked_anew;
        for (Edition* drawn_by : {&before_, &after_}) {
            if (drawn_by->find(id) == none) continue;
            for (const auto& small : drawn_by->episodes_about(id, count)) {
                ++comparison_.tried;
                const std::string record = drawn_by->record_of(small->draft);
                const auto a = before_.judge(record);
                const auto b = after_.judge(record);
                if (!a || !b) continue;
                if (shows(before_, *a, after_, *b, of, false)) consider(given_up, *b, small->draft, drawn_by);
                if (shows(after_, *b, before_, *a, of, true))
                    consider(asked_anew, *a, small->draft, drawn_by);
            }
        }
        Found& found = found_[id];
        if (given_up) found.breaks_before = witness_of(id, *given_up, before_, after_, of, false);
        if (asked_anew) found.breaks_after = witness_of(id, *asked_anew, after_, before_, of, true);
    }
    static void consider(std::optional<Shown>& best, const Counted& kept, const DraftEpisode& draft,
                         Edition* drawn_by) {
        const std::pair rank{kept.against.size() + kept.not_assessable.size(), draft.events.size()};
        if (!best || rank < best->rank) best = Shown{draft, drawn_by, rank};
    }
    static grammar::Witness witness_of(const std::string& id, const Shown& shown, Edition& broken,
                                       Edition& kept, const Items& of, bool judged) {
        const DraftEpisode draft = smaller_draft(shown.draft, [&](const DraftEpisode& less) {
            const std::string record = shown.drawn_by->record_of(less);
            const auto a = broken.judge(record);
            const auto b = kept.judge(record);
            return a && b && shows(broken, *a, kept, *b, of, judged) &&
                   b->against.size() + b->not_assessable.size() <= shown.rank.first;
        });
        grammar::Witness witness;
        witness.episode = shown.drawn_by->record_of(draft);
        witness.outcomes = broken.expectations(witness.episode, of);
        witness.example = analysis::as_example(draft, shown.drawn_by->policy(), "where " + id + " is broken",
                                               witness.outcomes);
        return witness;
    }

    // ---- both together

    static std::set<std::string> clauses_of(const Difference& d) {
        std::set<std::string> ids(d.clauses_before.begin(), d.clauses_before.end());
        ids.insert(d.clauses_after.begin(), d.clauses_after.end());
        return ids;
    }
    static bool says_given_up(const Difference& d) {
        return d.kind == Kind::looser || d.kind == Kind::dropped || d.kind == Kind::incomparable;
    }
    static bool says_asked_anew(const Difference& d) {
        return d.kind == Kind::stricter || d.kind == Kind::added || d.kind == Kind::incomparable;
    }

    void note_told() {
        for (const Difference& d : comparison_.differences) {
            if (d.kind == Kind::same) continue;
            for (const std::string& id : clauses_of(d)) {
                if (says_given_up(d)) ++told_[id].given_up;
                if (says_asked_anew(d)) ++told_[id].asked_anew;
            }
        }
    }

    // An example stands where it is, or, found by the trial, where no other difference says the same of its
    // clause.
    void mark(Difference& d) {
        if (!says_given_up(d)) d.breaks_before.reset();
        if (!says_asked_anew(d)) d.breaks_after.reset();
        if (d.kind == Kind::same) return;
        bool given_up = d.breaks_before.has_value();
        bool asked_anew = d.breaks_after.has_value();
        for (const std::string& id : clauses_of(d)) {
            const auto of_id = found_.find(id);
            if (of_id == found_.end()) continue;
            const Found& found = of_id->second;
            given_up = given_up || found.breaks_before;
            asked_anew = asked_anew || found.breaks_after;
            if (says_given_up(d) && !d.breaks_before && told_[id].given_up == 1)
                d.breaks_before = found.breaks_before;
            if (says_asked_anew(d) && !d.breaks_after && told_[id].asked_anew == 1)
                d.breaks_after = found.breaks_after;
        }
        d.unshown =
            !no_outcome_tells(d) && ((says_given_up(d) && !given_up) || (says_asked_anew(d) && !asked_anew));
    }
    // `must` and `should` are judged alike, and what is left to judgement is not judged at all.
    bool no_outcome_tells(const Difference& d) const {
        const auto either_way = [&](const std::string& id) {
            return before_.is_left_to_judgement(id) || after_.is_left_to_judgement(id) ||
                   (before_.find(id) != none && after_.find(id) != none &&
                    before_.is_should(id) != after_.is_should(id));
        };
        const std::set<std::string> ids = clauses_of(d);
        return std::any_of(ids.begin(), ids.end(), either_way);
    }
    void add(const std::string& id) {
        const Found& found = found_[id];
        Difference d;
        d.by_trial = true;
        if (before_.find(id) != none) d.clauses_before = {id};
        if (after_.find(id) != none) d.clauses_after = {id};
        if (found.breaks_after && told_[id].asked_anew == 0) {
            d.kind = before_.find(id) == none ? Kind::added : Kind::stricter;
            d.breaks_after = found.breaks_after;
            comparison_.differences.push_back(d);
            d.breaks_after.reset();
        }
        if (found.breaks_before && told_[id].given_up == 0) {
            d.kind = after_.find(id) == none ? Kind::dropped : Kind::looser;
            d.breaks_before = found.breaks_before;
            comparison_.differences.push_back(d);
        }
    }

    Edition before_;
    Edition after_;
    analysis::Comparison& comparison_;
    std::map<std::string, Found> found_;
    struct Told {  // in how many differences
        std::size_t given_up = 0;
        std::size_t asked_anew = 0;
    };
    std::map<std::string, Told> told_;
};

}  // namespace

void try_out(const Compilation& before, const Compilation& after, analysis::Comparison& comparison,
             const TrialOptions& options) {
    Trial(before, after, comparison).run(options);
}

analysis::Comparison compared(const Compilation& before, const Compilation& after) {
    analysis::Comparison comparison = analysis::compare(before, after);
    try_out(before, after, comparison);
    return comparison;
}

}  // namespace linelaw::compiler
