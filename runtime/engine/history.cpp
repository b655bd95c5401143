// What has happened in one episode. See history.hpp.
#include "runtime/engine/history.hpp"

#include <algorithm>
#include <charconv>
#include <functional>
#include <limits>

#include "runtime/engine/truth.hpp"

namespace linelaw::runtime::engine {

History::History(const Plan& plan)
    : plan_(plan),
      of_kind_(plan.policy.event_kinds.size()),
      logs_(plan.patterns.size()),
      states_(plan.policy.states.size()),
      age_bounds_(plan.nodes.size()) {}

void History::begin(const Episode& episode) {
    episode_ = &episode;
    ++episodes_;
    size_ = 0;
    groups_.clear();
    group_of_.clear();
    part_of_.clear();
    parts_.clear();
    if (names_ > 0) newest_named_.assign(std::min<std::size_t>(newest_named_.size(), 256), none);
    names_ = 0;
    for (PatternId p : touched_patterns_) logs_[p].clear();
    for (EventKindId k : touched_kinds_) of_kind_[k].clear();
    for (StateId s : touched_states_) states_[s].clear();
    touched_patterns_.clear();
    touched_kinds_.clear();
    touched_states_.clear();
    removal_ = none;
    edge_.reset();
    if (episode.observed_from && (!episode.inserted_at || *episode.observed_from > *episode.inserted_at))
        edge_ = episode.observed_from;
    else if (!episode.inserted_at)  // the readers give one or the other; without both, the first event
        edge_ = episode.events.empty() ? 0 : episode.events.front().at;
    start_ = edge_ ? *edge_ : *episode.inserted_at;
    start_index_ = 0;
    begin_counted_parts();
}

void History::begin_counted_parts() {
    for (PartKindId kind = 0; kind < plan_.policy.part_kinds.size(); ++kind) {
        const std::uint32_t slot = plan_.policy.part_kinds[kind].count_slot;
        if (slot == none || episode_->line[slot].state != Known::known) continue;
        const auto count = static_cast<std::uint32_t>(std::max<std::int64_t>(episode_->line[slot].number, 0));
        for (std::uint32_t number = 1; number <= count; ++number) {
            Part part;
            part.kind = kind;
            part.number = number;
            parts_.push_back(part);
        }
    }
}

bool History::count_known(PartKindId kind) const {
    const std::uint32_t slot = plan_.policy.part_kinds[kind].count_slot;
    return slot == none || episode_->line[slot].state == Known::known;
}

Truth History::count_unknown_because(PartKindId kind) const {
    const Value& count = episode_->line[plan_.policy.part_kinds[kind].count_slot];
    return count.state == Known::undocumented ? Truth::undocumented : Truth::unknown;
}

void History::take(Instant until) {
    const auto& events = episode_->events;
    const auto is_alone = [&](const Event& e) {
        return e.kind == plan_.policy.insertion || e.kind == plan_.policy.removal;
    };
    while (size_ < events.size() && events[size_].at <= until) {
        Group group{events[size_].at, size_, size_ + 1};
        if (!is_alone(events[size_]))
            while (group.last < events.size() && events[group.last].at == group.at &&
                   !is_alone(events[group.last]))
                ++group.last;
        take_group(group);
    }
}

void History::take_group(Group group) {
    const auto& events = episode_->events;
    const auto index = static_cast<std::uint32_t>(groups_.size());
    groups_.push_back(group);
    size_ = group.last;
    group_of_.resize(group.last, index);
    part_of_.resize(group.last, none);
    const EventKindId first_kind = events[group.first].kind;
    if (edge_ ? group.at < *edge_ : first_kind == plan_.policy.insertion) start_index_ = group.last;
    if (edge_ && group.at < *edge_ && first_kind != plan_.policy.insertion) return;  // not in view
    for (std::uint32_t e = group.first; e < group.last; ++e) {
        const EventKindId kind = events[e].kind;
        __builtin_prefetch(episode_->values.data() + events[e].values);  // judging reads them later
        if (of_kind_[kind].empty()) touched_kinds_.push_back(kind);
        of_kind_[kind].push_back(e);
        if (begins_or_ends_part(kind)) place_part(e);
    }
    // The rest name parts of the instant, whatever the record's order.
    for (std::uint32_t e = group.first; e < group.last; ++e) {
        const EventKindId kind = events[e].kind;
        if (plan_.part_of_kind[kind] != none && !begins_or_ends_part(kind)) place_part(e);
    }
    match_group(group);
    set_states(group);
    if (first_kind == plan_.policy.removal) {
        removal_ = group.first;
        for (PartIndex p = 0; p < parts_.size(); ++p)
            if (alive_now(p)) parts_[p].ended_by = group.first;
    }
}

// ---- parts

bool History::begins_or_ends_part(EventKindId kind) const {
    return plan_.begins_part[kind] != 0 || plan_.ends_part[kind] != 0;
}

bool History::alive_now(PartIndex part) const {
    return parts_[part].ended_by == none;
}

// In the instant of an event: what ends there is still there for it.
bool History::named_by(PartIndex part, std::uint32_t event) const {
    if (begins_or_ends_part(episode_->events[event].kind)) return alive_now(part);
    return parts_[part].ended_by == none || parts_[part].ended_by >= groups_.back().first;
}

PartIndex History::find_part(PartKindId kind, std::uint32_t name, std::uint32_t event) const {
    const std::string_view text = episode_->texts[name];
    if (plan_.policy.part_kinds[kind].count_slot == none) {
        // A name that is given again ends the part that bore it: only the newest can still be there.
        const PartIndex newest = names_ == 0 ? none : newest_named_[place_of_name(kind, text)];
        return newest != none && named_by(newest, event) ? newest : none;
    }
    std::uint32_t number = 0;
    const auto parsed = std::from_chars(text.data(), text.data() + text.size(), number);
    const bool is_number =
        parsed.ec == std::errc{} && parsed.ptr == text.data() + text.size() && text[0] != '0';
    for (PartIndex p = 0; p < parts_.size() && is_number; ++p)
        if (parts_[p].kind == kind && parts_[p].number == number) return named_by(p, event) ? p : none;
    return none;
}

std::size_t History::place_of_name(PartKindId kind, std::string_view name) const {
    const std::size_t mask = newest_named_.size() - 1;
    std::size_t place = (std::hash<std::string_view>{}(name) + kind) & mask;
    const auto other = [&](const Part& part) {
        return part.kind != kind || episode_->texts[part.name] != name;
    };
    while (newest_named_[place] != none && other(parts_[newest_named_[place]])) place = (place + 1) & mask;
    return place;
}

void History::remember_name(PartIndex part) {
    if (2 * names_ >= newest_named_.size()) {
        std::vector<PartIndex> smaller(std::max<std::size_t>(16, 2 * newest_named_.size()), none);
        newest_named_.swap(smaller);
        for (const PartIndex p : smaller)
            if (p != none) newest_named_[place_of_name(parts_[p].kind, episode_->texts[parts_[p].name])] = p;
    }
    PartIndex& newest = newest_named_[place_of_name(parts_[part].kind, episode_->texts[parts_[part].name])];
    if (newest == none) ++names_;
    newest = part;
}

PartIndex History::only_alive(PartKindId kind, std::uint32_t event) const {
    PartIndex found = none;
    for (PartIndex p = 0; p < parts_.size(); ++p) {
        if (parts_[p].kind != kind || !named_by(p, event)) continue;
        if (found != none) return ambiguous;
        found = p;
    }
    return found;
}

void History::end_part(PartIndex part, std::uint32_t event) {
    parts_[part].ended_by = event;
    for (PartIndex p = part + 1; p < parts_.size(); ++p)  // a part begins after the one that it is of
        if (parts_[p].parent == part && alive_now(p)) end_part(p, event);
}

void History::place_part(std::uint32_t e) {
    const Event& event = episode_->events[e];
    const PartKindId kind = plan_.part_of_kind[event.kind];
    const PartKindId parent_kind = plan_.policy.part_kinds[kind].of;
    const PartIndex there = event.part != none ? find_part(kind, event.part, e) : only_alive(kind, e);
    if (plan_.begins_part[event.kind] != 0) {
        if (there < ambiguous && (event.part != none || plan_.ends_part[event.kind] != 0)) end_part(there, e);
        Part part;
        part.kind = kind;
        part.name = event.part;
        part.begun_by = e;
        if (parent_kind != none) {
            part.parent =
                event.parent != none ? find_part(parent_kind, event.parent, e) : only_alive(parent_kind, e);
            if (part.parent == ambiguous) part.parent = none;
        }
        part_of_[e] = static_cast<PartIndex>(parts_.size());
        parts_.push_back(part);
        if (part.name != none) remember_name(part_of_[e]);
        return;
    }
    part_of_[e] = there;
    if (plan_.ends_part[event.kind] == 0) return;
    if (there < ambiguous) end_part(there, e);
    if (there == ambiguous)
        for (PartIndex p = 0; p < parts_.size(); ++p)
            if (parts_[p].kind == kind && alive_now(p) && parts_[p].perhaps_ended_by == none)
                parts_[p].perhaps_ended_by = e;
}

Truth History::alive(PartIndex index, std::uint32_t before) const {
    const Part& part = parts_[index];
    if (part.begun_by == none ? before < start_index_ : part.begun_by >= before) return Truth::no;
    if (part.ended_by < before) return Truth::no;
    return part.perhaps_ended_by < before ? Truth::unknown : Truth::yes;
}

// Whether the part's life touches the instant of an event; for one that begins or ends parts the record's
// order decides within the instant.
bool History::there_at(PartIndex index, std::uint32_t event) const {
    const Part& part = parts_[index];
    if (begins_or_ends_part(episode_->events[event].kind))
        return (part.begun_by == none || part.begun_by < event) && part.ended_by > event;
    const std::uint32_t group = group_of_[event];
    return (part.begun_by == none || group_of_[part.begun_by] <= group) &&
           (part.ended_by == none || group_of_[part.ended_by] >= group);
}

bool History::may_be_of(std::uint32_t event, PartIndex part) const {
    return part_of_[event] == ambiguous && there_at(part, event);
}

PartIndex History::ancestor(PartIndex part, PartKindId kind) const {
    while (part < ambiguous && parts_[part].kind != kind) part = parts_[part].parent;
    return part < ambiguous ? part : none;
}

// ---- matches

Truth History::ask_where(PatternId pattern, std::uint32_t event, PartIndex scope) const {
    return Asking(*this, at_event(*this, event, scope)).truth(plan_.patterns[pattern].where);
}

void History::match_group(const Group& group) {
    const auto match = [&](PatternId p, std::uint32_t event) {
        const PatternPlan& pattern = plan_.patterns[p];
        const Truth truth = pattern.where == none ? Truth::yes : ask_where(p, event, none);
        if (truth == Truth::no && !pattern.depends_on_scope) return;
        if (logs_[p].empty()) touched_patterns_.push_back(p);
        logs_[p].push_back({event, truth});
    };
    if (group.last - group.first == 1) {
        for (PatternId p : plan_.patterns_of_kind[episode_->events[group.first].kind]) match(p, group.first);
        return;
    }
    pending_.clear();
    for (std::uint32_t e = group.first; e < group.last; ++e)
        for (PatternId p : plan_.patterns_of_kind[episode_->events[e].kind]) pending_.push_back({p, e});
    // What a `where` rests on, in all events of the instant, first.
    std::sort(pending_.begin(), pending_.end(), [](const Pending& a, const Pending& b) {
        return a.pattern != b.pattern ? a.pattern < b.pattern : a.event < b.event;
    });
    for (const Pending& p : pending_) match(p.pattern, p.event);
}

Truth History::in_part(PatternId id, const Match& match, PartIndex scope) const {
    const PatternPlan& pattern = plan_.patterns[id];
    const auto truth = [&] {
        return pattern.depends_on_scope ? ask_where(id, match.event, scope) : match.truth;
    };
    if (plan_.part_of_kind[pattern.kind] != parts_[scope].kind) return truth();
    const PartIndex part = part_of_[match.event];
    if (part == scope) return truth();
    if (!may_be_of(match.event, scope)) return Truth::no;
    // If it is this part's, then what its `where` asks of the part is asked of this one.
    return (pattern.where == none ? match.truth : ask_where(id, match.event, scope)) & Truth::unknown;
}

Truth History::matches(PatternId id, std::uint32_t event, PartIndex scope) const {
    const PatternPlan& pattern = plan_.patterns[id];
    if (episode_->events[event].kind != pattern.kind) return Truth::no;
    const bool in_view = !edge_ || event >= start_index_;
    if (pattern.where == none && in_view) return in_scope(id, {event, Truth::yes}, scope);
    const std::vector<Match>& log = logs_[id];
    const auto found = std::lower_bound(log.begin(), log.end(), event,
                                        [](const Match& m, std::uint32_t e) { return m.event < e; });
    if (found == log.end() || found->event != event) return Truth::no;
    return in_scope(id, *found, scope);
}

Truth History::matches_any(Run patterns, std::uint32_t event, PartIndex scope) const {
    Truth truth = Truth::no;
    for (const PatternId* p = plan_.begin(patterns); p != plan_.end(patterns) && truth != Truth::yes; ++p)
        truth = truth | matches(*p, event, scope);
    return truth;
}

// ---- states

void History::set_states(const Group& group) {
    for (std::uint32_t e = group.first; e < group.last; ++e) {
        const Event& event = episode_->events[e];
        for (const Plan::Setting& setting : plan_.settings_of_kind[event.kind]) {
            if (setting.how == Plan::Setting::How::value) {
                const Reading value =
                    setting.slot == none ? Reading{} : reading_of(episode_->value(event, setting.slot));
                set_state(setting.state, e, value);
                continue;
            }
            const Truth match = matches(setting.pattern, e, none);
            if (match == Truth::no) continue;
            const std::int64_t on = setting.how == Plan::Setting::How::on ? 1 : 0;
            set_state(setting.state, e,
                      match == Truth::yes            ? Reading{on, Standing::known}
                      : match == Truth::undocumented ? Reading{on, Standing::undocumented}
                                                     : Reading{on, Standing::unknown});
        }
    }
}

// An uncertain switch (its number says to what) leaves a flag that already stands so as it is.
void History::set_state(StateId state, std::uint32_t event, Reading value) {
    const PartKindId of = plan_.policy.states[state].of;
    const bool is_switch = !plan_.policy.states[state].from.empty();
    const auto set = [&](PartIndex part, Reading to) {
        if (is_switch && to.standing != Standing::known) {
            const Reading now = this->state(state, part, event + 1);
            if (now.standing == Standing::known && now.number == to.number) return;
            if (now.standing == Standing::unknown) to.standing = Standing::unknown;
        }
        if (states_[state].empty()) touched_states_.push_back(state);
        states_[state].push_back({event, part, to});
    };
    if (of == none) return set(none, value);
    // Where no such part is at hand the bare state is the line's: the newest value that any of these events
    // set, of whatever part it was.
    const PartIndex part = part_of_[event];
    set(none, value);
    if (part == ambiguous) {
        for (PartIndex p = 0; p < parts_.size(); ++p)
            if (parts_[p].kind == of && alive(p, event) != Truth::no)
                set(p, {value.number, Standing::unknown});
        return;
    }
    const PartIndex owner = ancestor(part, of);
    if (owner != none) set(owner, value);
}

Reading History::state(StateId id, PartIndex part, std::uint32_t before) const {
    const std::vector<StateChange>& log = states_[id];
    auto change = std::lower_bound(log.begin(), log.end(), before,
                                   [](const StateChange& c, std::uint32_t e) { return c.event < e; });
    while (change != log.begin() && std::prev(change)->part != part) --change;
    const bool in_view = change != log.begin() && !(edge_ && std::prev(change)->event < start_index_);
    if (edge_ && before >= start_index_ && !in_view) return {0, Standing::unknown};
    if (change != log.begin()) return std::prev(change)->value;
    const State& state = plan_.policy.states[id];
    if (!state.from.empty()) return {0, Standing::known};
    switch (state.initially) {
        case Initially::patient:
            return reading_of(episode_->patient[state.initial_slot]);
        case Initially::line:
            return reading_of(episode_->line[state.initial_slot]);
        case Initially::unset:
            break;
    }
    return {0, Standing::unset};
}

// ---- time and age

std::uint32_t History::before(Instant t) const {
    const auto begin = episode_->events.begin();
    return static_cast<std::uint32_t>(
        std::lower_bound(begin, begin + size_, t, [](const Event& e, Instant i) { return e.at < i; }) -
        begin);
}

std::uint32_t History::up_to(Instant t) const {
    const auto begin = episode_->events.begin();
    return static_cast<std::uint32_t>(
        std::upper_bound(begin, begin + size_, t, [](Instant i, const Event& e) { return i < e.at; }) -
        begin);
}

namespace {

// The latest date of birth from which `count` units were complete on `day`.
CivilDate latest_birth(CivilDate day, AgeUnit unit, std::int32_t count) {
    CivilDate birth = add_days(older_by(day, unit, -count), 4);  // months are clipped by up to three days
    // The calendar begins with the year 0: nobody was born before it.
    while (birth.year > 0 && older_by(birth, unit, count) > day) birth = add_days(birth, -1);
    return birth;
}

}  // namespace

void History::find_births() const {
    births_of_ = episodes_;
    const Age& age = episode_->age;
    births_ = {};
    births_.known = age.given == Age::Given::birth_date || age.given == Age::Given::completed;
    if (age.given == Age::Given::birth_date) births_.earliest = births_.latest = age.birth;
    if (age.given != Age::Given::completed) return;
    const CivilDate day = plan_.zone.date_of(episode_->inserted_at ? *episode_->inserted_at : start_);
    births_.latest = latest_birth(day, age.unit, age.completed);
    births_.earliest = add_days(latest_birth(day, age.unit, age.completed + 1), 1);
    births_.any_time_before = !episode_->inserted_at;  // and growing since
}

const History::AgeBounds& History::age_bounds(NodeId id) const {
    KeptBounds& kept = age_bounds_[id];
    if (kept.episode == episodes_) return kept.bounds;
    kept.episode = episodes_;
    const Node& constant = plan_.nodes[id];
    const Births& born = births();
    const auto unit = static_cast<AgeUnit>(constant.a);
    const auto count = static_cast<std::int32_t>(constant.value);
    const auto day = [&](CivilDate birth, std::int32_t n) {
        return at(plan_.zone.begin_of(older_by(birth, unit, n)));
    };
    const Moment long_ago = std::numeric_limits<Moment>::min();
    if (born.any_time_before) {
        kept.bounds = {long_ago, day(born.latest, count), long_ago, day(born.latest, count + 1)};
        return kept.bounds;
    }
    kept.bounds = {day(born.earliest, count), day(born.latest, count), day(born.earliest, count + 1),
                   day(born.latest, count + 1)};
    return kept.bounds;
}

}  // namespace linelaw::runtime::engine
