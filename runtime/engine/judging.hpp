// Judging one episode's history up to a horizon: for every clause its opportunities, then the ladders that
// they started and the bundles that they are in. A pure function of the history; storage is kept from episode
// to episode. One file a form: stretches, at_events, responses, ladders, bundles; and
// editions, for what carries on from one edition to the next.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "runtime/engine.hpp"
#include "runtime/engine/history.hpp"
#include "runtime/engine/walk.hpp"
#include "runtime/outcome.hpp"

namespace linelaw::runtime::engine {

// What was asked for by when. Past the limit: after it, or at it where days or periods are counted.
struct Limit {
    Instant due = 0;
    Instant limit = 0;
    bool exclusive = false;
    bool past(Instant t) const { return exclusive ? t >= limit : t > limit; }
};

// Matching events of one instant: one answer.
struct Hit {
    Instant at = 0;
    std::uint32_t first = none;  // the first of them
    std::uint32_t event = none;  // the first certain one, else the first
    Truth truth = Truth::yes;
    std::uint32_t certain = none;  // of hits_: the first certain one from this one on
    void add(std::uint32_t one, Truth match) {
        if (first == none) first = one;
        if (event == none || (truth != Truth::yes && match == Truth::yes)) event = one;
        truth = truth | match;
    }
};

struct TruthStretch {  // a stretch over which a condition keeps its truth
    Instant begin = 0;
    Instant end = 0;
    Truth truth = Truth::yes;  // yes, or why it is unknown at its begin
    bool running = false;      // at the horizon
    bool over_at_end = false;  // ended by a clock, before the events at its end's instant
    Truth next = Truth::no;    // what it turns into
    bool from_start = false;   // of the subject's life
    bool reaches(Instant t) const { return t < end || (t == end && !over_at_end); }
};

// Where something that a clause speaks of begins and ends: the line, or a `for each` part.
struct Life {
    Place start;
    Instant end = 0;                  // of the line or part, or the horizon
    bool running = false;             // at the horizon
    bool from_start = true;           // the line's, or of what is in view
    std::uint32_t first_event = 0;    // events from this one …
    std::uint32_t last_event = none;  // … to this one may be judged
    bool reaches(std::uint32_t event) const { return event >= first_event && event <= last_event; }
};

// One call of a ladder's run.
struct Call {
    Instant start = 0;
    Limit limit;
    std::uint32_t certain = none;    // notifications of its roles: the first certain one
    std::uint32_t uncertain = none;  // and the first uncertain one before it
};

// Until when a clause is asked about: its edition's end, or, for what is open there and carried on, as though
// the edition had none.
enum class Terms : std::uint8_t { in_force, carried_on };

struct Judged {
    Opportunity opportunity;
    std::uint32_t rank = 0;  // clauses in the policy's order, each followed by its ladders; then bundles
    bool open = false;       // at the horizon
    bool of_period = false;  // opened and due are a period's begin and end
};

class Judging {
  public:
    Judging(const Plan& plan, EngineOptions options);

    // `history` has taken in all events up to the horizon.
    void judge(const History& history, Instant horizon);
    // Calls visit(judged) for all of them, by opening, then in the policy's order, then by part.
    template <typename Visit>
    void for_judged(Visit visit) const {
        for (const Turn& turn : turns_) visit(judged_[turn.place]);
    }
    void answer(Judgement& out);  // the same, as the engine gives them
    const std::vector<Stretch>& stretches() const { return stretches_; }
    const std::vector<Governed>& governed() const { return governed_; }

  private:
    struct Subject {  // a clause, and the part that it is judged for
        ClauseId id = none;
        const ClauseBrief* brief = nullptr;
        const ClausePlan* plan = nullptr;
        const Clause* clause = nullptr;
        const Demand* demand = nullptr;
        PartIndex part = none;
        const Life& life;
    };
    struct LadderStart {
        LadderId ladder = none;
        Instant at = 0;
        ClauseId clause = none;
        PartIndex part = none;
        std::uint32_t event = none;
        bool unknown = false;
        Truth doubt = Truth::no;
        std::uint32_t place = 0;  // in the order in which they were noted
    };

    struct Turn {  // of judged_[place] in the answer
        Instant opened = 0;
        std::uint32_t rank = 0;
        std::uint32_t part = 0;
        std::uint32_t place = 0;
    };

    void judge_clauses();
    bool reached(const Audience& audience) const;
    void judge_clause(ClauseId id);
    // The next opportunity, in its place from the start: copied right after it was made, it would be slow to
    // read. The one before is dropped unless it was put.
    Opportunity& next_opportunity() {
        static const Judged fresh;  // sooner copied than made
        if (judged_.size() > noted_.size()) judged_.pop_back();
        judged_.push_back(fresh);
        return judged_.back().opportunity;
    }
    void put(std::uint32_t rank, bool open, bool of_period) {
        Judged& judged = judged_.back();
        judged.rank = rank;
        judged.open = open;
        judged.of_period = of_period;
        Turn& turn = noted_.emplace_back();
        turn.opened = judged.opportunity.opened;
        turn.rank = rank;
        turn.part = judged.opportunity.part;
        turn.place = static_cast<std::uint32_t>(judged_.size() - 1);
    }
    void put_in_order();
    void order_slot(std::span<Turn> turns);
    void number(std::span<const Turn> before, Opportunity& o);
    void judge_subject(const Subject& subject);
    void count_of_parts_unknown(ClauseId id);
    Subject subject_of(ClauseId id, PartIndex part, const Life& life) const {
        return {
            id,  &plan_.briefs[id], &plan_.clauses[id], &plan_.policy.clauses[id], &plan_.demands[id], part,
            life};
    }
    const Life& line_life(bool even_after_removal) const { return line_lives_[even_after_removal ? 1 : 0]; }
    Life find_life(PartIndex part, bool even_after_removal) const;

    // Conditions of a clause.
    Answer applies(ClauseId id, const Place& place, std::uint32_t event,
                   Terms terms = Terms::in_force) const {
        if (plan_.briefs[id].applies_always && place.scope == none) return {Truth::yes, never};
        return find_applies(id, place, event, terms);
    }
    Answer find_applies(ClauseId id, const Place& place, std::uint32_t event, Terms terms) const;
    Truth static_truth(NodeId node) const;
    Truth overrides(ClauseId over, ClauseId under, const Place& place, std::uint32_t event, Terms terms,
                    Moment& wake) const;
    Answer ask(NodeId node, const Place& place) const;
    std::span<const TruthStretch> stretches_of(const Subject& subject);
    void find_stretches(const Subject& subject);
    // editions.cpp
    bool has_day_in_view(EditionId edition) const;
    bool has_day(EditionId edition, const Place& place, Terms terms, Moment& wake) const;
    bool claims(EditionId edition, const Place& place, Moment& wake) const;
    bool governs(EditionId edition, const Place& place, Terms terms, Moment& wake) const;
    Governed governed_at(const Place& place, Moment& wake) const;
    void note_governed();
    std::optional<Instant> speaks_from(const Subject& subject) const;
    std::optional<Instant> dropped_at(const Subject& subject) const;
    Instant handed_over(const Subject& subject) const;
    std::span<const TruthStretch> of_its_edition(const Subject& subject, std::span<const TruthStretch> found);
    void hand_over(const Subject& subject, Instant at);
    Instant edition_end(const Subject& subject) const;
    Place at_instant(Instant t, PartIndex part) const;
    Truth held_between(const Rests& rests, NodeId condition, PartIndex part, Instant from, Instant to,
                       bool exclusive) const;

    // `in_view`: without an insertion before the left edge.
    void collect(Run events, PartIndex part, bool in_view = true);
    void find_hits(Run events, PartIndex part, bool in_view, std::vector<Hit>& hits) const;
    // The first of hits_ at an instant or after it.
    std::span<const Hit>::iterator hits_from(Instant t) const;
    // Calls visit(event, truth of the match) for the events of an instant that match or may match.
    template <typename Visit>
    void for_matches_at(Instant t, Run events, PartIndex part, Visit visit) const;
    bool may_be_before_view(const Subject& subject) const;
    bool before_view(const Subject& subject, Instant t, const Span& span) const;
    Hit without(const Hit& hit, Run events, PartIndex part, std::uint32_t event) const;
    Limit limit_of(Instant from, const Span& span, const Span& grace) const;
    Truth unless(const Subject& subject, const Hit& hit) const;

    // Concluding. `doubt` says why an outcome is not assessable.
    Opportunity& opportunity(const Subject& subject, Outcome outcome) {
        Opportunity& o = next_opportunity();
        o.item = subject.id;
        o.outcome = outcome;
        name_part(o, subject.part);
        return o;
    }
    void conclude(const Subject& subject, Opportunity& o, Truth doubt = Truth::no,
                  const Limit* limit = nullptr, bool open = false, bool of_period = false);
    void except(const Subject& subject, Opportunity& o, const Limit* limit, bool of_period);
    void start_ladder(const Subject& subject, LadderId ladder, Instant at, std::uint32_t event, Truth sure);
    void name_part(Opportunity& o, PartIndex index) const {
        if (index == none) return;
        const Part& part = history_->parts()[index];
        o.part_kind = part.kind;
        o.part = part.number != 0 ? part.number : part.name;
    }

    // stretches.cpp
    void note_stretches(const Subject& subject, std::span<const TruthStretch> stretches, Instant until);
    void unknown_stretch(const Subject& subject, const TruthStretch& stretch);
    void at_least_every(const Subject& subject, const AtLeastEvery& demand);
    // Answers when what was open as the edition ended is no longer.
    Instant over_stretch(const Subject& subject, const AtLeastEvery& demand, const TruthStretch& stretch,
                         std::size_t next);
    bool opened_unseen(const Subject& subject, const AtLeastEvery& demand, const TruthStretch& stretch,
                       std::size_t next) const;
    bool close_from_edge(const Subject& subject, const TruthStretch& stretch, std::size_t next);
    Outcome answered(const Subject& subject, const AtLeastEvery& demand, const Hit* opener,
                     const Limit& limit, const Hit& hit, Truth& doubt) const;
    bool passed_over(const Subject& subject, const AtLeastEvery& demand, const TruthStretch& stretch,
                     const Hit* opener, const Limit& limit, std::size_t index) const;
    Instant end_open(const Subject& subject, Opportunity& o, const TruthStretch& stretch, const Limit& limit);
    void each_period(const Subject& subject, const EachPeriod& demand);
    void over_period(const Subject& subject, const EachPeriod& demand, const TruthStretch& stretch,
                     Instant begin, Instant end);
    template <typename Visit>
    void for_periods(Period period, EditionId edition, Instant from, Instant to, Visit visit);
    const std::vector<std::pair<Instant, Instant>>& periods(Period period, EditionId edition);
    std::vector<std::pair<Instant, Instant>> find_periods(Period period, EditionId edition, CivilDate first,
                                                          CivilDate last) const;
    std::pair<Instant, Instant> shift_on(const Shift& shift, CivilDate date) const;
    // at_events.cpp
    template <typename Visit>
    void for_events(Run patterns, const Subject& subject, bool all_of_kind, Visit visit);
    bool of_subject(EventKindId kind, std::uint32_t event, const Subject& subject) const;
    void at_trigger_events(const Subject& subject);
    void at_this_event(const Subject& subject, std::uint32_t event, Outcome outcome, Truth doubt);
    void at_this_event(const Subject& subject, std::uint32_t event, Truth held);
    void judge_at(const Subject& subject, std::uint32_t event);
    Truth documents(const Document& demand, std::uint32_t event) const;
    Truth follows_steps(const Subject& subject, const FollowSteps& demand, std::uint32_t event);
    void either_side(const Subject& subject, const WithinEitherSide& demand, std::uint32_t event);
    Truth applies_before(const Subject& subject, const Hit& hit, Terms terms = Terms::in_force) const;
    void forbid(const Subject& subject);
    void at_most_times(const Subject& subject, const AtMostTimes& demand);
    struct Tally {  // of hits, by their truth
        std::uint32_t certain = 0;
        std::uint32_t undocumented = 0;
        std::uint32_t unknown = 0;
        std::uint32_t& of(Truth truth) {
            return truth == Truth::yes ? certain : truth == Truth::undocumented ? undocumented : unknown;
        }
    };
    void judge_times(const Subject& subject, const AtMostTimes& demand, const Hit& hit, Truth asked,
                     const Tally& before);
    void no_more_often(const Subject& subject, const NoMoreOftenThan& demand);
    // responses.cpp
    void then_escalate(const Subject& subject, Instant t, std::uint32_t event, Truth asked);
    void responses(const Subject& subject);
    void once(const Subject& subject);
    std::optional<Limit> response_limit(const Subject& subject, Instant t) const;
    Hit answer_at_once(const Subject& subject, Instant t, std::uint32_t event, const Hit& hit) const;
    std::optional<Hit> first_answer(const Subject& subject, Instant t, std::uint32_t event,
                                    const Limit& limit) const;
    std::optional<Instant> response_end(const Subject& subject) const;
    void respond(const Subject& subject, Instant t, std::uint32_t event);
    void respond_from_edge(const Subject& subject, std::uint32_t event);
    // ladders.cpp
    void run_ladders();
    Opportunity& ladder_opportunity(const LadderStart& start, std::uint32_t step, Instant opened);
    void conclude_ladder(const LadderStart& start, Opportunity& o, Truth doubt, bool open);
    Truth notifies(const Ladder& ladder, std::size_t step, Instant begin, std::uint32_t event) const;
    std::uint32_t acknowledgement(Instant from, bool after) const;
    void find_notifications(const Ladder& ladder, std::size_t step, Instant from, Call& call) const;
    Instant run_ladder(const LadderStart& start);
    void conclude_call(const LadderStart& start, std::uint32_t step, Instant open_until);
    Instant run_hold(const LadderStart& start, std::uint32_t hold);
    // bundles.cpp
    struct Bundled {
        Instant opened = 0;
        Instant closed = 0;
        std::uint32_t event = none;
        Outcome outcome = Outcome::met;
        std::uint32_t place = 0;  // of judged_
    };
    struct Member {  // places in judged_
        std::uint32_t bundle = 0;
        std::uint32_t clause = 0;
    };
    void judge_bundles();
    Instant counted_at(const Judged& judged) const;
    void judge_bundle(std::uint32_t id, std::size_t clauses_end);
    void put_in_bundle(std::uint32_t id, std::uint32_t place);
    void conclude_bundle(std::uint32_t id, std::size_t from, std::size_t to);
    void put_members(Judgement& out);

    const Plan& plan_;
    EngineOptions options_;
    const History* history_ = nullptr;
    Instant horizon_ = 0;
    std::array<Life, 2> line_lives_;  // the second: even after removal
    std::vector<Judged> judged_;
    std::vector<Turn> noted_;                  // as they were judged
    std::vector<Turn> turns_;                  // in the answer's order
    std::vector<std::uint32_t> turns_before_;  // by slot of time
    struct Periods {                           // of whole years
        std::int32_t first_year = 0;
        std::int32_t last_year = -1;
        std::vector<std::pair<Instant, Instant>> list;
    };
    // Calendar days, then the shifts of each edition; kept from episode to episode.
    std::vector<Periods> periods_;
    struct HandedOver {  // an older edition's clause to the one that carries it on
        ClauseId clause = none;
        PartIndex part = none;
        Instant at = 0;
    };
    std::vector<HandedOver> handed_over_;
    std::vector<TruthStretch> edition_stretches_;
    std::vector<Governed> governed_;
    std::vector<Stretch> stretches_;
    std::vector<TruthStretch> truth_stretches_;  // of all clauses of the episode
    struct KeptStretches {                       // in truth_stretches_
        std::uint64_t episode = 0;
        std::size_t first = 0;
        std::size_t count = 0;
    };
    std::vector<KeptStretches> kept_stretches_;  // by ClauseBrief::stretches
    std::vector<ClauseId> opened_;               // by the episode's events
    std::vector<std::uint64_t> opened_in_;       // by clause: the last episode, where several kinds open it
    std::span<const Hit> hits_;                  // that answer what is being judged
    struct KeptHits {
        std::uint64_t episode = 0;
        std::vector<Hit> hits;
    };
    std::vector<KeptHits> kept_hits_;  // of the line, by Run::first
    KeptHits own_hits_;                // of a part
    std::vector<LadderStart> starts_;
    std::vector<Call> calls_;
    std::vector<Bundled> bundled_;
    std::vector<Member> members_;               // bundle after bundle
    std::vector<std::uint32_t> turn_of_place_;  // where judged_[place] stands in the answer
    std::vector<std::uint32_t> wanted_;         // steps, as listed
    std::vector<std::uint32_t> placed_;         // of each of them, its mark
    struct KeptTruth {
        std::uint64_t episode = 0;
        Truth truth = Truth::no;
    };
    mutable std::vector<KeptTruth> static_truths_;
    std::uint64_t episodes_ = 0;
};

// Calls visit(event, truth of the match) for every event of the run's kinds that the subject's life reaches
// and that matches or may match; `all_of_kind`: also for those that do not, where they are the subject's.
template <typename Visit>
void Judging::for_events(Run patterns, const Subject& subject, bool all_of_kind, Visit visit) {
    const History& h = *history_;
    if (patterns.count == 1 && !all_of_kind) {
        const PatternId only = *plan_.begin(patterns);
        for (const Match& match : h.log(only)) {
            if (!subject.life.reaches(match.event)) continue;
            const Truth truth = h.in_scope(only, match, subject.part);
            if (truth != Truth::no) visit(match.event, truth);
        }
        return;
    }
    for (std::uint32_t i = 0; i < patterns.count; ++i) {
        const auto kind_of = [&](std::uint32_t n) {
            return plan_.patterns[plan_.pattern_lists[patterns.first + n]].kind;
        };
        bool visited = false;
        for (std::uint32_t j = 0; j < i; ++j) visited = visited || kind_of(j) == kind_of(i);
        if (visited) continue;
        for (std::uint32_t event : h.events_of(kind_of(i))) {
            if (!subject.life.reaches(event)) continue;
            const Truth match = h.matches_any(patterns, event, subject.part);
            if (match != Truth::no || (all_of_kind && of_subject(kind_of(i), event, subject)))
                visit(event, match);
        }
    }
}

template <typename Visit>
void Judging::for_matches_at(Instant t, Run events, PartIndex part, Visit visit) const {
    const std::uint32_t last = history_->up_to(t);
    for (std::uint32_t e = history_->before(t); e < last; ++e) {
        const Truth truth = history_->matches_any(events, e, part);
        if (truth != Truth::no) visit(e, truth);
    }
}

// Calls visit(begin, end) for every period that touches the instants from `from` to `to`, in order.
template <typename Visit>
void Judging::for_periods(Period period, EditionId edition, Instant from, Instant to, Visit visit) {
    constexpr Instant longest_period = 50 * microseconds_per_hour;  // a date, or two, with its clock changes
    const auto& list = periods(period, edition);
    auto next = std::lower_bound(list.begin(), list.end(), std::pair{from - longest_period, Instant{0}});
    for (; next != list.end() && next->first <= to; ++next)
        if (next->second > from) visit(next->first, next->second);
}

}  // namespace linelaw::runtime::engine
