#include "compiler/analysis/narrator.hpp"

#include <algorithm>
#include <map>

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;

namespace {

constexpr std::int64_t day_length = 24 * runtime::microseconds_per_hour;

// A number of the range that people would write: a whole one, a tenth, or the end that the range has.
std::int64_t plain_number(std::int64_t low, std::int64_t high, const runtime::Type& type) {
    const runtime::Unit* unit = type.unit.empty() ? nullptr : runtime::find_unit(type.unit);
    const std::int64_t whole = unit != nullptr ? unit->grains_per_unit : 1;
    const std::int64_t offset = unit != nullptr ? unit->offset_in_grains : 0;
    if (low == lowest) return high == highest ? offset : high;
    for (const std::int64_t step : {whole, whole / 2, whole / 10, whole / 100, whole / 1000}) {
        if (step <= 0) continue;
        const std::int64_t from = low - offset;
        const std::int64_t rounded = (from >= 0 ? (from + step - 1) / step : from / step) * step + offset;
        if (rounded >= low && rounded <= high) return rounded;
    }
    return low;
}

class Narrator {
  public:
    Narrator(Workspace& work, const std::vector<ClauseId>& clauses, const Box& box, const Story& story)
        : work_(work), variables_(work.situations.variables()), clauses_(clauses), story_(story) {
        start_ = story.start;
        needed_.assign(variables_.size(), false);
        for (const Constraint& constraint : box) needed_[constraint.variable] = true;
        for (const ClauseId c : clauses) need_clause(c);
    }

    std::optional<DraftEpisode> tell(const Telling& telling) {
        episode_ = {};
        numbers_.clear();
        part_names_.clear();
        set_up_ = false;
        choose_day(telling.until);
        DraftEvent insertion;
        insertion.at = start_;
        insertion.kind = work_.policy.insertion;
        episode_.events.push_back(insertion);
        if (!set_up_line_and_patient()) return std::nullopt;
        set_up_parts();
        set_up_states();
        for (std::size_t i = 0; i < telling.events; ++i) add(story_.events[i]);
        if (telling.with_last && story_.last) add(*story_.last);
        std::stable_sort(episode_.events.begin() + 1, episode_.events.end(),
                         [](const DraftEvent& a, const DraftEvent& b) { return a.at < b.at; });
        episode_.until = on_the_wall(telling.until) + (set_up_ ? runtime::microseconds_per_minute : 0);
        for (const DraftEvent& event : episode_.events) episode_.until = std::max(episode_.until, event.at);
        return episode_;
    }

  private:
    Workspace& work_;
    const std::vector<Variable>& variables_;
    const std::vector<ClauseId>& clauses_;
    const Story& story_;
    std::vector<bool> needed_;
    DraftEpisode episode_;
    std::map<std::uint32_t, std::int64_t> numbers_;
    std::map<runtime::PartKindId, std::string> part_names_;
    bool set_up_ = false;     // by events beside the insertion
    std::int64_t start_ = 0;  // of the insertion, on the wall clock

    void need(Node node) {
        const std::vector<bool>& support = work_.diagrams.support(node);
        for (std::uint32_t v = 0; v < support.size(); ++v) {
            if (!support[v]) continue;
            needed_[v] = true;
            if (variables_[v].kind != VariableKind::relation) continue;
            needed_[variables_[v].left] = true;
            needed_[variables_[v].right] = true;
        }
    }

    // A condition with what its clocks run from.
    void need_with_clocks(Node node) {
        need(node);
        const std::vector<bool> support = work_.diagrams.support(node);
        for (std::uint32_t v = 0; v < support.size(); ++v)
            if (support[v] && variables_[v].kind == VariableKind::newest)
                for (const EventKindId kind : kinds_in(variables_[v].events))
                    need(work_.situations.matches(variables_[v].events, kind).yes);
    }

    void need_clause(ClauseId c) {
        const runtime::Clause& clause = work_.clause(c);
        need_with_clocks(work_.applies(c).yes);
        for (const EventKindId kind : kinds_in(clause.trigger.events)) {
            need_with_clocks(work_.applies(c, kind).yes);
            if (const auto* holds = std::get_if<runtime::Holds>(&clause.demand))
                need(work_.situations.meaning(holds->condition, kind).yes);
        }
        for (const EventKindId kind : kinds_in(demanded_events(clause.demand)))
            need(work_.situations.matches(demanded_events(clause.demand), kind).yes);
        for (const runtime::Exception& e : clause.exceptions)
            for (const EventKindId kind : hands_of_exceptions(clause))
                need(work_.situations.meaning(e.condition, kind).yes);
    }

    // Where the clocks stand so long after insertion.
    std::int64_t on_the_wall(std::int64_t at) const {
        return start_ + at + (story_.change && at >= story_.change_at ? story_.change->shorter : 0);
    }

    const ValueCell& cell(std::uint32_t v) const { return variables_[v].cells[story_.point[v]]; }

    // The first day in force from which the clocks do not change while the story lasts, or the day that
    // brings it across their change.
    void choose_day(std::int64_t until) {
        if (story_.change) {
            const std::int64_t begin = story_.change->local - story_.change_at;
            episode_.day_zero = runtime::Zone::utc().date_of(begin);
            start_ = runtime::Zone::utc().time_of_day(begin);
            return;
        }
        const runtime::Zone zone = runtime::Zone::of(work_.policy.time_zone);
        runtime::CivilDate day = work_.policy.in_force_from.value_or(runtime::CivilDate{2026, 3, 1});
        for (int tries = 0; tries < 400; ++tries) {
            const runtime::Instant begin = zone.begin_of(day);
            const auto change = zone.next_change(begin);
            if (!change || *change > begin + story_.start + until + 2 * day_length) break;
            day = runtime::add_days(day, 1);
        }
        episode_.day_zero = day;
    }

    std::optional<DraftValue> value_of(std::uint32_t v, const ValueCell& c) {
        DraftValue value;
        value.type = variables_[v].type;
        switch (c.kind) {
            case ValueCell::Kind::value:
                value.number = c.low;
                return value;
            case ValueCell::Kind::text:
                value.text = c.text;
                return value;
            case ValueCell::Kind::other_text:
                value.text = "another";
                return value;
            case ValueCell::Kind::range:
                value.number = numbers_.count(v) != 0 ? numbers_[v] : plain_number(c.low, c.high, value.type);
                numbers_[v] = value.number;
                return value;
            default:
                return std::nullopt;
        }
    }

    bool set_up_line_and_patient() {
        for (std::uint32_t v = 0; v < variables_.size(); ++v) {
            if (!needed_[v]) continue;
            const Variable& variable = variables_[v];
            switch (variable.kind) {
                case VariableKind::facility:
                    episode_.facility = text_of(cell(v));
                    break;
                case VariableKind::care_unit:
                    episode_.care_unit = text_of(cell(v));
                    break;
                case VariableKind::line:
                    if (const auto value = value_of(v, cell(v)))
                        episode_.line.emplace_back(work_.policy.line[variable.slot].name, *value);
                    break;
                case VariableKind::patient:
                    if (const auto value = value_of(v, cell(v)))
                        episode_.patient.emplace_back(work_.policy.patient[variable.slot].name, *value);
                    break;
                case VariableKind::age:
                    if (!choose_age(v)) return false;
                    break;
                case VariableKind::other:
                    return false;
                default:
                    break;
            }
        }
        return true;
    }

    static std::string text_of(const ValueCell& c) {
        return c.kind == ValueCell::Kind::text         ? c.text
               : c.kind == ValueCell::Kind::other_text ? "another"
                                                       : "";
    }

    // A number of completed years, months or days that stays in the cell however the rest of the unit falls.
    bool choose_age(std::uint32_t v) {
        const Variable& variable = variables_[v];
        const ValueCell& c = cell(v);
        if (c.kind != ValueCell::Kind::age) return true;  // undocumented
        const auto fits = [&](std::int32_t fewest_days, std::int32_t most_days, std::int32_t months_low,
                              std::int32_t months_high) {
            const auto behind = [](const std::vector<std::int32_t>& bounds, std::int32_t value) {
                return static_cast<std::uint32_t>(std::upper_bound(bounds.begin(), bounds.end(), value) -
                                                  bounds.begin());
            };
            return behind(variable.days, fewest_days) == c.days_behind &&
                   behind(variable.days, most_days) == c.days_behind &&
                   behind(variable.months, months_low) == c.months_behind &&
                   behind(variable.months, months_high) == c.months_behind;
        };
        const auto weeks_ahead = static_cast<std::int32_t>(story_.until / day_length + 1);
        for (std::int32_t years : {50, 30, 10, 5, 70, 18, 17, 2, 1, 3, 20, 40, 60, 80, 100, 119})
            if (fits(years * 365, (years + 1) * 366 + weeks_ahead, years * 12, years * 12 + 12)) {
                episode_.age = {{years, runtime::AgeUnit::years}};
                return true;
            }
        for (std::int32_t months = 0; months < 1440; ++months)
            if (fits(months * 30 - 3, months * 31 + 31 + weeks_ahead, months, months + 1)) {
                episode_.age = {{months, runtime::AgeUnit::months}};
                return true;
            }
        // Ages near a bound: of this very birth date.
        for (std::int32_t days = 0; days < 45'000; ++days) {
            const runtime::CivilDate birth = runtime::add_days(episode_.day_zero, -days);
            std::int32_t months = 0;
            while (runtime::add_months(birth, months + 1) <= episode_.day_zero) ++months;
            if (fits(days, days, months, months)) {
                episode_.age = {{days, runtime::AgeUnit::days}};
                return true;
            }
        }
        return false;
    }

    // ---- parts and states

    void set_up_parts() {
        for (const ClauseId c : clauses_)
            for (runtime::PartKindId p = work_.clause(c).for_each; p != none;
                 p = work_.policy.part_kinds[p].of)
                part_name(p);
        for (std::uint32_t v = 0; v < variables_.size(); ++v)
            if (variables_[v].kind == VariableKind::some_part && needed_[v] && cell(v).low != 0)
                part_name(variables_[v].part);
    }

    std::string part_name(runtime::PartKindId part) {
        if (const auto found = part_names_.find(part); found != part_names_.end()) return found->second;
        const runtime::PartKind& kind = work_.policy.part_kinds[part];
        std::string name = kind.count_slot != none ? "1" : kind.name.substr(0, 1) + "1";
        part_names_.emplace(part, name);
        if (kind.count_slot != none) {
            const std::string& count = work_.policy.line[kind.count_slot].name;
            const bool said = std::any_of(episode_.line.begin(), episode_.line.end(),
                                          [&](const auto& entry) { return entry.first == count; });
            if (!said)
                episode_.line.emplace_back(count, DraftValue{work_.policy.line[kind.count_slot].type, 1, ""});
            return name;
        }
        if (kind.from.empty()) return name;
        DraftEvent begin;
        begin.at = start_;
        begin.kind = kind.from[0];
        begin.parts.emplace_back(kind.name, name);
        if (kind.of != none)
            begin.parts.emplace_back(work_.policy.part_kinds[kind.of].name, part_name(kind.of));
        for (std::uint32_t v = 0; v < variables_.size(); ++v)
            if (variables_[v].kind == VariableKind::part && variables_[v].part == part && needed_[v])
                if (const auto value = value_of(v, cell(v)))
                    begin.attributes.emplace_back(kind.attributes[variables_[v].slot].name, *value);
        episode_.events.push_back(std::move(begin));
        return name;
    }

    void put(DraftEvent& event, const std::string& name, const DraftValue& value) {
        for (auto& [known, old] : event.attributes)
            if (known == name) {
                old = value;
                return;
            }
        event.attributes.emplace_back(name, value);
    }

    // At the instant of insertion; what the story lets happen then comes a minute later, to see them.
    void set_up_states() {
        const auto event_after = [&](EventKindId kind) -> DraftEvent& {
            set_up_ = true;
            DraftEvent event;
            event.at = start_;
            event.kind = kind;
            name_part(event);
            episode_.events.push_back(std::move(event));
            return episode_.events.back();
        };
        for (std::uint32_t v = 0; v < variables_.size(); ++v) {
            if (!needed_[v]) continue;
            const Variable& variable = variables_[v];
            if (variable.kind == VariableKind::baseline) {
                const auto value = value_of(v, cell(v));
                if (!value) continue;
                DraftEvent& event =
                    variable.events.empty() ? episode_.events.front() : event_after(variable.events[0].event);
                put(event, work_.policy.fields[variable.field], *value);
            }
            if (variable.kind != VariableKind::state) continue;
            const runtime::State& state = work_.policy.states[variable.state];
            if (!state.from.empty()) {
                if (cell(v).low != 0) event_after(state.from[0].event);
                continue;
            }
            const auto value = value_of(v, cell(v));
            if (!value) continue;
            if (state.initially == runtime::Initially::patient ||
                state.initially == runtime::Initially::line) {
                const bool of_patient = state.initially == runtime::Initially::patient;
                auto& owner = of_patient ? episode_.patient : episode_.line;
                const std::string& name =
                    (of_patient ? work_.policy.patient : work_.policy.line)[state.initial_slot].name;
                const auto said =
                    std::find_if(owner.begin(), owner.end(), [&](const auto& e) { return e.first == name; });
                if (said == owner.end()) {
                    owner.emplace_back(name, *value);
                    continue;
                }
                if (said->second.number == value->number) continue;
            }
            const auto at_insertion =
                std::find_if(state.sources.begin(), state.sources.end(),
                             [&](const auto& s) { return s.event == work_.policy.insertion; });
            if (at_insertion != state.sources.end())
                put(episode_.events.front(), work_.policy.fields[at_insertion->field], *value);
            else if (!state.sources.empty())
                put(event_after(state.sources[0].event), work_.policy.fields[state.sources[0].field], *value);
        }
    }

    void name_part(DraftEvent& event) {
        const runtime::PartKindId part = work_.policy.event_kinds[event.kind].of;
        if (part != none) event.parts.emplace_back(work_.policy.part_kinds[part].name, part_name(part));
    }

    // ---- the events

    void add(const StoryEvent& told) {
        DraftEvent event;
        const bool waits = set_up_ && told.at == 0 && told.kind != work_.policy.insertion;
        event.at = waits ? start_ + runtime::microseconds_per_minute : on_the_wall(told.at);
        event.kind = told.kind;
        name_part(event);
        const std::vector<std::uint32_t> cells = work_.diagrams.assignment(told.attributes);
        const std::vector<bool>& matters = work_.diagrams.support(told.attributes);
        std::vector<bool> said(variables_.size(), false);
        const auto bounds = [&](std::uint32_t v) {  // of a number, from its cell and from its changes
            std::int64_t low = variables_[v].cells[cells[v]].low;
            std::int64_t high = variables_[v].cells[cells[v]].high;
            for (std::uint32_t r = 0; r < variables_.size(); ++r) {
                const Variable& relation = variables_[r];
                if (relation.kind != VariableKind::relation || !matters[r]) continue;
                const ValueCell& c = relation.cells[cells[r]];
                const bool is_left = relation.left == v;
                const std::uint32_t base = is_left ? relation.right : relation.left;
                if ((!is_left && relation.right != v) || numbers_.count(base) == 0 ||
                    c.kind != ValueCell::Kind::range)
                    continue;
                const std::int64_t from = is_left ? numbers_[base] + c.low : numbers_[base] - c.high;
                const std::int64_t to = is_left ? numbers_[base] + c.high : numbers_[base] - c.low;
                low = std::max(low, from);
                high = std::min(high, to);
            }
            return std::make_pair(low, high);
        };
        for (std::uint32_t v = 0; v < variables_.size(); ++v) {
            const Variable& variable = variables_[v];
            if (variable.kind != VariableKind::event || variable.event != told.kind ||
                !(matters[v] || needed_[v]))
                continue;
            const ValueCell& c = variable.cells[cells[v]];
            if (c.kind == ValueCell::Kind::range) {
                const auto [low, high] = bounds(v);
                numbers_[v] = plain_number(low, high, variable.type);
            }
            const auto value = value_of(v, c);
            if (!value) continue;
            if (variable.field == work_.policy.charting_delay)
                event.recorded_after = value->number;
            else
                put(event, work_.policy.fields[variable.field], *value);
        }
        stay_in_state(event);
        follow_first_order(event);
        if (told.kind == work_.policy.insertion) {
            for (const auto& [name, value] : event.attributes) put(episode_.events.front(), name, value);
            episode_.events.front().steps = event.steps;
        } else {
            episode_.events.push_back(std::move(event));
        }
    }

    // What the event sets stays as it is, where a state matters that no condition on the event speaks of.
    void stay_in_state(DraftEvent& event) {
        for (std::uint32_t v = 0; v < variables_.size(); ++v) {
            if (!needed_[v] || variables_[v].kind != VariableKind::state) continue;
            for (const runtime::StateSource& source : work_.policy.states[variables_[v].state].sources) {
                if (source.event != event.kind) continue;
                const std::string& name = work_.policy.fields[source.field];
                const bool said = std::any_of(event.attributes.begin(), event.attributes.end(),
                                              [&](const auto& a) { return a.first == name; });
                if (said) continue;
                if (const auto value = value_of(v, cell(v))) put(event, name, *value);
            }
        }
    }

    void follow_first_order(DraftEvent& event) const {
        for (const ClauseId c : clauses_) {
            const auto* follow = std::get_if<runtime::FollowSteps>(&work_.clause(c).demand);
            const std::vector<EventKindId> kinds = kinds_in(work_.clause(c).trigger.events);
            if (follow == nullptr || std::find(kinds.begin(), kinds.end(), event.kind) == kinds.end())
                continue;
            if (event.steps.empty()) event.steps = follow->steps;
            for (const std::string& step : follow->steps)
                if (std::find(event.steps.begin(), event.steps.end(), step) == event.steps.end())
                    event.steps.push_back(step);
        }
    }
};

}  // namespace

std::optional<DraftEpisode> told(Workspace& work, const std::vector<ClauseId>& clauses, const Box& box,
                                 const Story& story, const Telling& telling) {
    return Narrator(work, clauses, box, story).tell(telling);
}

}  // namespace linelaw::compiler::analysis
