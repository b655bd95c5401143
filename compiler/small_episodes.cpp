#include "compiler/small_episodes.hpp"

#include <algorithm>
#include <set>
#include <tuple>

namespace linelaw::compiler {

using analysis::DraftEpisode;
using analysis::DraftEvent;
using analysis::DraftValue;
using runtime::Opportunity;
using runtime::Policy;

namespace {

constexpr std::int64_t minute = runtime::microseconds_per_minute;
constexpr std::int64_t day = 24 * runtime::microseconds_per_hour;
constexpr std::int64_t insertion_at = 8 * runtime::microseconds_per_hour;
constexpr std::size_t most_events = 8;

auto key_of(const Verdict& v) {
    return std::tuple(v.origin, v.item, v.step, v.outcome);
}

// The same numbers on every machine.
class Dice {
  public:
    std::size_t below(std::size_t n) {
        state_ += 0x9E37'79B9'7F4A'7C15U;
        std::uint64_t z = state_;
        z = (z ^ (z >> 30U)) * 0xBF58'476D'1CE4'E5B9U;
        z = (z ^ (z >> 27U)) * 0x94D0'49BB'1331'11EBU;
        return static_cast<std::size_t>((z ^ (z >> 31U)) % n);
    }
    bool one_in(std::size_t n) { return below(n) == 0; }
    template <typename T>
    const T& of(const std::vector<T>& all) {
        return all[below(all.size())];
    }

  private:
    std::uint64_t state_ = 1;
};

DraftValue value_of(const Choice& choice, std::int64_t number) {
    DraftValue value{choice.type, number, ""};
    if (choice.type.kind == runtime::TypeKind::text || choice.type.kind == runtime::TypeKind::key)
        value.text = number == 0 ? "a" : "b";
    return value;
}

using Values = std::vector<std::pair<std::string, DraftValue>>;

// The value for that name; nothing takes it away.
void give(Values& values, const std::string& name, std::optional<DraftValue> value) {
    const auto at =
        std::find_if(values.begin(), values.end(), [&](const auto& v) { return v.first == name; });
    if (at != values.end()) values.erase(at);
    if (value) values.emplace_back(name, std::move(*value));
}

class Maker {
  public:
    Maker(DraftJudge& judge, const std::vector<runtime::ClauseId>& clauses)
        : judge_(judge),
          policy_(judge.policy()),
          matter_(matter_of(policy_, clauses)),
          focus_(clauses.begin(), clauses.end()),
          zone_(runtime::Zone::of(policy_.time_zone)) {
        matter_.kinds[policy_.insertion];
        for (const auto& [kind, matter] : matter_.kinds)
            if (kind != policy_.insertion) kinds_.push_back(kind);
    }

    std::vector<std::unique_ptr<SmallEpisode>> make(const std::vector<std::string>& seeds,
                                                    std::size_t count) {
        for (const auto& seed : seeds) plant(seed);
        for (std::size_t i = 0; i < std::min<std::size_t>(24, count); ++i) keep(from_nothing());
        for (std::size_t tries = 0; made_.size() < count && tries < 2 * count; ++tries) {
            if (grown_.empty()) {
                keep(from_nothing());
                continue;
            }
            // The newest that showed something new is looked at more often than the others.
            const std::size_t n = grown_.size();
            const std::size_t i =
                dice_.one_in(2) ? n - 1 - dice_.below(std::min<std::size_t>(n, 8)) : dice_.below(n);
            Grown parent = grown_[i];
            const std::size_t changes = 1 + dice_.below(3);
            for (std::size_t c = 0; c < changes; ++c) change(parent);
            keep(std::move(parent.draft));
        }
        return std::move(made_);
    }

  private:
    // A draft with the instants around which its answers may change, on its own wall clock.
    struct Grown {
        DraftEpisode draft;
        std::vector<std::int64_t> bounds;
    };

    // ---- beginnings

    DraftEpisode from_nothing() {
        DraftEpisode draft;
        draft.day_zero = policy_.in_force_from.value_or(runtime::CivilDate{2026, 3, 1});
        if (!matter_.ages.empty()) draft.age = dice_.of(matter_.ages);
        for (const auto& choice : matter_.patient) give_any(draft.patient, choice);
        for (const auto& choice : matter_.line) give_any(draft.line, choice);
        draft.events.push_back(event(policy_.insertion, insertion_at));
        for (std::size_t n = dice_.below(3); n > 0; --n) add_event(draft, any_time({draft, {}}));
        draft.until = latest(draft) + (dice_.one_in(2) ? 0 : any_span());
        return draft;
    }

    // A record, with what the clauses do not look at left out.
    void plant(const std::string& record) {
        runtime::Episode episode;
        std::vector<runtime::Spoiled> set_aside;
        if (judge_.reader().read(record, episode, set_aside) || !set_aside.empty()) return;
        if (!episode.inserted_at || episode.observed_from || episode.events.empty()) return;
        DraftEpisode draft;
        draft.day_zero = zone_.date_of(*episode.inserted_at);
        if (policy_.in_force_from) draft.day_zero = *policy_.in_force_from;
        if (*episode.inserted_at < zone_.begin_of(draft.day_zero))
            draft.day_zero = zone_.date_of(*episode.inserted_at);
        if (episode.age.given == runtime::Age::Given::completed && !matter_.ages.empty())
            draft.age = {episode.age.completed,
                         static_cast<runtime::AgeUnit>(static_cast<std::uint8_t>(episode.age.unit))};
        for (const auto& choice : matter_.patient)
            take(draft.patient, choice, policy_.patient, episode.patient, 0, episode);
        for (const auto& choice : matter_.line)
            take(draft.line, choice, policy_.line, episode.line, 0, episode);
        for (const auto& e : episode.events) {
            const auto matter = matter_.kinds.find(e.kind);
            if (matter == matter_.kinds.end()) continue;
            const auto& kind = policy_.event_kinds[e.kind];
            DraftEvent out;
            out.at = wall_clock(draft, e.at);
            out.kind = e.kind;
            for (const auto& choice : matter->second.attributes)
                take(out.attributes, choice, kind.attributes, episode.values, e.values, episode);
            const auto part = part_of(e.kind);
            if (part != runtime::none && e.part != runtime::none)
                out.parts.emplace_back(policy_.part_kinds[part].name, episode.texts[e.part]);
            for (std::uint32_t s = 0; s < e.step_count; ++s) {
                const auto step = episode.steps[e.steps + s].step;
                if (step != runtime::none && !matter->second.steps.empty())
                    out.steps.push_back(kind.steps[step]);
            }
            if (e.recorded_at && !matter->second.delays.empty()) out.recorded_after = *e.recorded_at - e.at;
            draft.events.push_back(std::move(out));
        }
        draft.until = wall_clock(draft, episode.observed_until.value_or(episode.events.back().at));
        draft.until = std::max(draft.until, latest(draft));
        keep(std::move(draft));
    }
    static void take(Values& out, const Choice& choice, const std::vector<runtime::Attribute>& attributes,
                     const std::vector<runtime::Value>& values, std::size_t first,
                     const runtime::Episode& episode) {
        for (std::size_t slot = 0; slot < attributes.size(); ++slot) {
            if (attributes[slot].name != choice.name) continue;
            const auto& value = values[first + slot];
            if (value.state != runtime::Known::known) return;
            DraftValue draft{choice.type, value.number, ""};
            if (choice.type.kind == runtime::TypeKind::text || choice.type.kind == runtime::TypeKind::key)
                draft.text = episode.texts[static_cast<std::size_t>(value.number)];
            out.emplace_back(choice.name, std::move(draft));
        }
    }

    // ---- changes

    void change(Grown& grown) {
        DraftEpisode& draft = grown.draft;
        switch (dice_.below(10)) {
            case 0:
            case 1:
                if (draft.events.size() < most_events) add_event(draft, any_time(grown));
                break;
            case 2:
            case 3:
                if (draft.events.size() > 1) {
                    draft.events[1 + dice_.below(draft.events.size() - 1)].at = any_time(grown);
                    in_order(draft);
                }
                break;
            case 4:
            case 5:
                change_event(draft.events[dice_.below(draft.events.size())]);
                break;
            case 6:
                change_around(draft);
                break;
            case 7:
                if (draft.events.size() > 1)
                    draft.events.erase(draft.events.begin() + 1 +
                                       static_cast<std::ptrdiff_t>(dice_.below(draft.events.size() - 1)));
                break;
            default:
                draft.until = any_time(grown);
                break;
        }
        draft.until = std::max(draft.until, latest(draft));
    }
    void change_around(DraftEpisode& draft) {
        const std::size_t ages = matter_.ages.empty() ? 0 : 1;
        const std::size_t n = matter_.patient.size() + matter_.line.size() + ages;
        if (n == 0) return;
        const std::size_t i = dice_.below(n);
        if (i < matter_.patient.size())
            give_any(draft.patient, matter_.patient[i]);
        else if (i < matter_.patient.size() + matter_.line.size())
            give_any(draft.line, matter_.line[i - matter_.patient.size()]);
        else if (dice_.one_in(8))
            draft.age.reset();
        else
            draft.age = dice_.of(matter_.ages);
    }
    void change_event(DraftEvent& event) {
        const auto& matter = matter_.kinds[event.kind];
        const std::size_t n = matter.attributes.size();
        const std::size_t i = dice_.below(n + 3);
        if (i < n)
            give_any(event.attributes, matter.attributes[i]);
        else if (i == n && !matter.steps.empty())
            change_steps(event, dice_.of(matter.steps));
        else if (i == n + 1 && !matter.delays.empty())
            event.recorded_after = dice_.of(matter.delays);
        else if (i == n + 2)
            name_part(event);
    }
    // All of them, one left out, or two the wrong way round.
    void change_steps(DraftEvent& event, const std::vector<std::string>& asked) {
        event.steps = asked;
        const auto i = static_cast<std::ptrdiff_t>(dice_.below(asked.size()));
        if (dice_.one_in(2)) return;
        if (dice_.one_in(2) || asked.size() < 2)
            event.steps.erase(event.steps.begin() + i);
        else
            std::swap(event.steps[static_cast<std::size_t>(i)],
                      event.steps[(static_cast<std::size_t>(i) + 1) % asked.size()]);
    }

    // ---- events

    DraftEvent event(runtime::EventKindId kind, std::int64_t at) {
        DraftEvent out;
        out.at = at;
        out.kind = kind;
        const auto& matter = matter_.kinds[kind];
        for (const auto& choice : matter.attributes) give_any(out.attributes, choice);
        if (!matter.steps.empty()) change_steps(out, dice_.of(matter.steps));
        if (!matter.delays.empty() && dice_.one_in(2)) out.recorded_after = dice_.of(matter.delays);
        name_part(out);
        return out;
    }
    void add_event(DraftEpisode& draft, std::int64_t at) {
        if (kinds_.empty()) return;
        draft.events.push_back(event(dice_.of(kinds_), at));
        in_order(draft);
    }
    void give_any(Values& values, const Choice& choice) {
        if (dice_.one_in(10))
            give(values, choice.name, std::nullopt);
        else
            give(values, choice.name, value_of(choice, dice_.of(choice.values)));
    }
    // The part that an event of this kind is of, or that it begins or ends.
    runtime::PartKindId part_of(runtime::EventKindId kind) const {
        if (policy_.event_kinds[kind].of != runtime::none) return policy_.event_kinds[kind].of;
        for (runtime::PartKindId p = 0; p < policy_.part_kinds.size(); ++p)
            for (const auto* events : {&policy_.part_kinds[p].from, &policy_.part_kinds[p].until})
                if (std::find(events->begin(), events->end(), kind) != events->end()) return p;
        return runtime::none;
    }
    void name_part(DraftEvent& event) {
        const auto part = part_of(event.kind);
        event.parts.clear();
        if (part == runtime::none || dice_.one_in(8)) return;
        const auto& kind = policy_.part_kinds[part];
        const std::string number = dice_.one_in(3) ? "2" : "1";
        event.parts.emplace_back(kind.name,
                                 kind.count_slot != runtime::none ? number : kind.name.substr(0, 1) + number);
    }
    // By instant; insertion stays first and a removal goes last.
    void in_order(DraftEpisode& draft) const {
        std::stable_sort(draft.events.begin() + 1, draft.events.end(),
                         [](const DraftEvent& a, const DraftEvent& b) { return a.at < b.at; });
    }

    // ---- times

    std::int64_t any_span() { return matter_.spans.empty() ? day : dice_.of(matter_.spans); }
    std::int64_t any_time(const Grown& grown) {
        static const std::vector<std::int64_t> beside = {0, 0, minute, -minute};
        std::int64_t at = 0;
        if (!grown.bounds.empty() && dice_.one_in(2)) {
            at = dice_.of(grown.bounds);
            if (dice_.one_in(3)) at += dice_.one_in(3) ? any_span() : -any_span();
        } else {
            at = dice_.of(grown.draft.events).at;
            if (!dice_.one_in(4)) at += any_span();
            if (dice_.one_in(4)) at += any_span();
            if (dice_.one_in(6)) at -= any_span();
        }
        at += dice_.of(beside);
        at = at / minute * minute;
        return std::clamp(at, insertion_at, 400 * day);
    }
    std::int64_t wall_clock(const DraftEpisode& draft, runtime::Instant t) const {
        return runtime::days_between(draft.day_zero, zone_.date_of(t)) * day + zone_.time_of_day(t);
    }

    // ---- keeping

    bool in_focus(const Opportunity& o) const {
        switch (o.origin) {
            case runtime::OriginKind::clause:
                return focus_.count(o.item) != 0;
            case runtime::OriginKind::ladder:
                return focus_.count(o.started_by) != 0;
            case runtime::OriginKind::bundle:
                break;
        }
        return false;
    }
    void keep(DraftEpisode draft) {
        auto made = judge_.judge(draft);
        if (!made) return;
        Grown grown{std::move(draft), {}};
        std::set<std::tuple<std::uint32_t, std::uint32_t, runtime::Outcome, bool, bool>> shown;
        for (const auto& o : judge_.last()) {
            if (!in_focus(o)) continue;
            for (const auto& t : {std::optional(o.opened), o.due, o.limit, o.closed})
                if (t) grown.bounds.push_back(wall_clock(grown.draft, *t));
            const bool at_limit = o.closed && o.limit && *o.closed == *o.limit;
            const bool at_due = o.closed && o.due && *o.closed == *o.due;
            shown.emplace(o.origin == runtime::OriginKind::ladder ? o.step : runtime::none, o.exception,
                          o.outcome, at_limit, at_due);
        }
        if (seen_.insert(shown).second) grown_.push_back(std::move(grown));
        made_.push_back(std::move(made));
    }

    DraftJudge& judge_;
    const Policy& policy_;
    Matter matter_;
    std::set<runtime::ClauseId> focus_;
    runtime::Zone zone_;
    Dice dice_;
    std::vector<runtime::EventKindId> kinds_;  // all but the insertion
    std::vector<Grown> grown_;                 // those that showed something new
    std::set<std::set<std::tuple<std::uint32_t, std::uint32_t, runtime::Outcome, bool, bool>>> seen_;
    std::vector<std::unique_ptr<SmallEpisode>> made_;
};

}  // namespace

Verdicts verdicts_of(const runtime::Judgement& judgement) {
    Verdicts all;
    all.reserve(judgement.size());
    for (const auto& o : judgement) all.push_back({o.origin, o.item, o.step, o.outcome, 1});
    std::sort(all.begin(), all.end(),
              [](const Verdict& a, const Verdict& b) { return key_of(a) < key_of(b); });
    Verdicts counted;
    for (const auto& v : all) {
        if (!counted.empty() && key_of(counted.back()) == key_of(v))
            ++counted.back().times;
        else
            counted.push_back(v);
    }
    return counted;
}

std::uint32_t times_of(const Verdicts& verdicts, const Verdict& which) {
    for (const auto& v : verdicts)
        if (key_of(v) == key_of(which)) return v.times;
    return 0;
}

DraftJudge::DraftJudge(const Policy& policy)
    : policy_(policy), reader_(policy), engine_(policy), zone_(runtime::Zone::of(policy.time_zone)) {}

std::unique_ptr<SmallEpisode> DraftJudge::judge(const DraftEpisode& draft) {
    auto made = std::make_unique<SmallEpisode>();
    if (reader_.read(analysis::as_record(draft, policy_, zone_), made->episode, set_aside_) ||
        !set_aside_.empty())
        return nullptr;
    judgement_ = &engine_.judge(made->episode);
    made->verdicts = verdicts_of(*judgement_);
    made->draft = draft;
    return made;
}

std::vector<std::unique_ptr<SmallEpisode>> small_episodes(DraftJudge& judge,
                                                          const std::vector<runtime::ClauseId>& clauses,
                                                          const std::vector<std::string>& seeds,
                                                          std::size_t count) {
    return Maker(judge, clauses).make(seeds, count);
}

}  // namespace linelaw::compiler
