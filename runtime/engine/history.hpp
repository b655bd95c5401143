// What has happened in one episode: its events in instants, the matches of every pattern, the states and the
// parts. Grows by whole instants; everything that it holds is a log in order of event, so that any question
// about any moment, past or present, is a look-up. Storage is kept from episode to episode. Knows nothing of
// clauses.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "runtime/engine/plan.hpp"
#include "runtime/episode.hpp"

namespace linelaw::runtime::engine {

using PartIndex = std::uint32_t;                  // History::parts
constexpr std::uint32_t ambiguous = 0xFFFF'FFFE;  // a part's event that could be several parts'

// Why a number is not to be had, or that a state is unset.
enum class Standing : std::uint8_t { known, unset, undocumented, unknown };

struct Reading {
    std::int64_t number = 0;
    Standing standing = Standing::undocumented;
};
inline Reading reading_of(const Value& v) {
    return {v.number, v.state == Known::known          ? Standing::known
                      : v.state == Known::undocumented ? Standing::undocumented
                                                       : Standing::unknown};
}

struct Match {
    std::uint32_t event = none;
    Truth truth = Truth::yes;
};

struct StateChange {  // holds after the instant of its event
    std::uint32_t event = none;
    PartIndex part = none;
    Reading value;
};

// Events of one instant. Insertion and removal are instants of their own.
struct Group {
    Instant at = 0;
    std::uint32_t first = 0;
    std::uint32_t last = 0;  // one past
};

struct Part {
    PartKindId kind = none;
    std::uint32_t name = none;  // into Episode::texts; none where the record gave none
    std::uint32_t number = 0;   // of counted parts, from 1
    PartIndex parent = none;
    std::uint32_t begun_by = none;          // event; none for counted parts
    std::uint32_t ended_by = none;          // event that ended it, or its parent
    std::uint32_t perhaps_ended_by = none;  // an event without a name, where several could have ended
};

class History {
  public:
    explicit History(const Plan& plan);

    void begin(const Episode& episode);
    // Takes in the events with `at` up to `until`, in whole instants only; they must all be there.
    void take(Instant until);

    const Plan& plan() const { return plan_; }
    const Episode& episode() const { return *episode_; }
    std::uint32_t size() const { return size_; }  // events taken in
    const std::vector<Group>& groups() const { return groups_; }
    const Group& group_of(std::uint32_t event) const { return groups_[group_of_[event]]; }
    std::uint32_t group_index(std::uint32_t event) const { return group_of_[event]; }
    const std::vector<EventKindId>& kinds() const { return touched_kinds_; }  // of the events in view
    const std::vector<std::uint32_t>& events_of(EventKindId kind) const { return of_kind_[kind]; }
    const std::vector<Part>& parts() const { return parts_; }
    PartIndex part_of(std::uint32_t event) const { return part_of_[event]; }
    // Whether the event could be several parts', this one among them.
    bool may_be_of(std::uint32_t event, PartIndex part) const;
    // Of counted parts, where the count is not known.
    bool count_known(PartKindId kind) const;
    Truth count_unknown_because(PartKindId kind) const;

    // The left edge, where there is one: what came before it is not in view, insertion apart.
    const std::optional<Instant>& edge() const { return edge_; }
    bool insertion_known() const { return episode_->inserted_at.has_value(); }
    Instant insertion() const { return *episode_->inserted_at; }
    // From where judging goes: insertion, or the left edge.
    Instant start() const { return start_; }
    std::uint32_t start_index() const { return start_index_; }  // events before the start's own place
    // The removal's event, none while the line is in.
    std::uint32_t removal() const { return removal_; }
    // The number of events before instant t, and up to it.
    std::uint32_t before(Instant t) const;
    std::uint32_t up_to(Instant t) const;

    // Whether the event matches the pattern, inside `scope` (a `for each` part) where there is one.
    Truth matches(PatternId pattern, std::uint32_t event, PartIndex scope) const;
    Truth matches_any(Run patterns, std::uint32_t event, PartIndex scope) const;
    // The log of a pattern; entries that certainly do not match may be missing. Their truth is that outside
    // any scope: ask `in_scope` for another.
    const std::vector<Match>& log(PatternId pattern) const { return logs_[pattern]; }
    Truth in_scope(PatternId pattern, const Match& match, PartIndex scope) const {
        return scope == none ? match.truth : in_part(pattern, match, scope);
    }

    // The value of a state before event `before`; `part` for states of parts.
    Reading state(StateId state, PartIndex part, std::uint32_t before) const;
    // Whether the part is there before event `before`.
    Truth alive(PartIndex part, std::uint32_t before) const;
    // Up the chain of `of` from `part` to one of `kind`, or none.
    PartIndex ancestor(PartIndex part, PartKindId kind) const;

    // The dates between which the patient was born, where anything is known of the age. Found where a policy
    // asks.
    struct Births {
        bool known = false;
        CivilDate earliest;
        CivilDate latest;
        bool any_time_before = false;  // earliest is not known
    };
    const Births& births() const {
        if (births_of_ != episodes_) find_births();
        return births_;
    }
    // The first instants at which the patient may be, and certainly is, that old (an age constant's node, and
    // one unit more). Kept from one question to the next.
    struct AgeBounds {
        Moment may_reach = 0;
        Moment reaches = 0;
        Moment may_pass = 0;
        Moment passes = 0;
    };
    const AgeBounds& age_bounds(NodeId age_constant) const;

  private:
    void find_births() const;
    void take_group(Group group);
    void place_part(std::uint32_t event);
    PartIndex find_part(PartKindId kind, std::uint32_t name, std::uint32_t event) const;
    std::size_t place_of_name(PartKindId kind, std::string_view name) const;
    void remember_name(PartIndex part);
    PartIndex only_alive(PartKindId kind, std::uint32_t event) const;
    bool begins_or_ends_part(EventKindId kind) const;
    bool there_at(PartIndex part, std::uint32_t event) const;
    bool named_by(PartIndex part, std::uint32_t event) const;
    bool alive_now(PartIndex part) const;
    void end_part(PartIndex part, std::uint32_t event);
    void match_group(const Group& group);
    void set_states(const Group& group);
    void set_state(StateId state, std::uint32_t event, Reading value);
    void begin_counted_parts();
    Truth in_part(PatternId pattern, const Match& match, PartIndex scope) const;
    Truth ask_where(PatternId pattern, std::uint32_t event, PartIndex scope) const;

    const Plan& plan_;
    const Episode* episode_ = nullptr;
    std::uint32_t size_ = 0;
    std::vector<Group> groups_;
    std::vector<std::uint32_t> group_of_;
    std::vector<std::vector<std::uint32_t>> of_kind_;
    std::vector<PartIndex> part_of_;
    std::vector<Part> parts_;
    // The newest part of each kind and name, at its place by hash or the next free one; half are free.
    std::vector<PartIndex> newest_named_;
    std::size_t names_ = 0;
    std::vector<std::vector<Match>> logs_;
    std::vector<std::vector<StateChange>> states_;
    std::vector<PatternId> touched_patterns_;
    std::vector<EventKindId> touched_kinds_;
    std::vector<StateId> touched_states_;
    struct Pending {
        PatternId pattern;
        std::uint32_t event;
    };
    std::vector<Pending> pending_;
    std::optional<Instant> edge_;
    Instant start_ = 0;
    std::uint32_t start_index_ = 0;
    std::uint32_t removal_ = none;
    mutable Births births_;
    mutable std::uint64_t births_of_ = 0;  // the episode, counted
    struct KeptBounds {
        std::uint64_t episode = 0;
        AgeBounds bounds;
    };
    mutable std::vector<KeptBounds> age_bounds_;
    std::uint64_t episodes_ = 0;
};

}  // namespace linelaw::runtime::engine
