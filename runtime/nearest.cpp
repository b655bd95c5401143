#include "runtime/nearest.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/findings_words.hpp"
#include "runtime/nearest_edits.hpp"
#include "runtime/overloaded.hpp"

namespace linelaw::runtime {
namespace {

constexpr Instant minute = microseconds_per_minute;  // charts are kept to the minute

class Search {
  public:
    Search(const Policy& policy, Engine& engine, const Words& words, std::optional<Instant> as_of,
           const Episode& episode, const Opportunity& opportunity)
        : policy_(policy),
          engine_(engine),
          words_(words),
          as_of_(as_of),
          episode_(episode),
          o_(opportunity) {}

    std::optional<Nearest> find() {
        const bool asked = counts_against(o_.outcome) || o_.outcome == Outcome::pending ||
                           o_.outcome == Outcome::not_assessable;
        if (!asked) return std::nullopt;
        if (o_.origin == OriginKind::ladder) return ladder();
        if (o_.origin == OriginKind::bundle) return bundle();
        return std::visit(
            overloaded{
                [&](const AtLeastEvery& d) { return over_time(d); },
                [&](const NoMoreOftenThan& d) { return later(add(o_.opened, d.shortest, words_.zone())); },
                [&](const EachPeriod& d) { return period(d); },
                [&](const Within& d) { return by_limit(d.events); },
                [&](const WithinEitherSide& d) { return either_side(d); },
                [&](const HaveHad& d) { return had(d); },
                [&](const Holds& d) { return holds(d.condition); },
                [&](const Document& d) { return documented(d); },
                [&](const FollowSteps& d) { return steps(d); },
                [&](const Forbid& d) { return forbidden(d); },
                [&](const AtMostTimes& d) { return fewer(d); },
                [&](const auto&) { return std::optional<Nearest>(); },
            },
            policy_.clauses[o_.item].demand);
    }

    // The record under which the change that was found meets it.
    const Episode& changed() const { return changed_; }

  private:
    // ---- the replay

    // The occasion as the engine judges it in another record; `opened` where the change moves it.
    const Opportunity* judged(Episode& episode, Instant known_until, Instant opened) {
        if (o_.outcome == Outcome::pending && episode.observed_until)
            episode.observed_until = std::max(*episode.observed_until, known_until);
        const auto as_of = o_.outcome == Outcome::pending
                               ? std::optional<Instant>(std::max(known_until, horizon_of(episode_, as_of_)))
                               : std::optional<Instant>(horizon_of(episode_, as_of_));
        for (const Opportunity& o : engine_.judge(episode, as_of)) {
            if (o.origin == o_.origin && o.item == o_.item && o.step == o_.step &&
                o.part_kind == o_.part_kind && o.part == o_.part && o.opened == opened && o.nth == o_.nth)
                return &o;
        }
        return nullptr;
    }
    bool met(std::optional<Episode> episode, Instant known_until = 0, std::optional<Instant> opened = {}) {
        if (!episode) return false;
        const Opportunity* o = judged(*episode, known_until, opened.value_or(o_.opened));
        if (o == nullptr || !counts_for(o->outcome)) return false;
        changed_ = std::move(*episode);
        return true;
    }
    bool gone(Episode episode) {
        const Opportunity* o = judged(episode, 0, o_.opened);
        if (o != nullptr && counts_against(o->outcome)) return false;
        changed_ = std::move(episode);
        return true;
    }

    std::string would(std::string_view what) const {
        return fmt::format("{} {} it", what, o_.outcome == Outcome::pending ? "will meet" : "would have met");
    }

    // ---- events in time

    std::string by(const std::string& what, Instant t) const {
        // Moved back by a minute: the limit's own instant is too late.
        const bool before = o_.limit && t < *o_.limit;
        return would(fmt::format("{} {} {}", what, before ? "before" : "by",
                                 words_.when_beside(before ? *o_.limit : t, o_.opened)));
    }
    std::optional<Nearest> by_limit(const Events& events) {
        if (!o_.limit) return std::nullopt;
        for (const Instant t : {*o_.limit, *o_.limit - minute}) {
            if (t < o_.opened) continue;
            if (o_.closed_by != none && o_.outcome == Outcome::late &&
                met(with_moved(policy_, episode_, o_.closed_by, t), t)) {
                const EventKindId kind = episode_.events[o_.closed_by].kind;
                return Nearest{
                    NearestKind::move, kind, o_.closed_by, t, 1, by(Words::a(words_.event(kind)), t)};
            }
            if (auto added = one_more(events, t, t, 1)) {
                added->said = by(Words::a(words_.event(added->event)) + with_, t);
                return added;
            }
        }
        return std::nullopt;
    }
    std::optional<Nearest> over_time(const AtLeastEvery& d) {
        if (o_.outcome == Outcome::early && d.shortest)
            return later(add(o_.opened, *d.shortest, words_.zone()));
        return by_limit(d.events);
    }
    // What came too early, moved to the first moment that is not.
    std::optional<Nearest> later(Instant t) {
        if (o_.closed_by == none || o_.outcome != Outcome::early) return std::nullopt;
        const EventKindId kind = episode_.events[o_.closed_by].kind;
        if (!met(with_moved(policy_, episode_, o_.closed_by, t), t)) return std::nullopt;
        return Nearest{NearestKind::move,
                       kind,
                       o_.closed_by,
                       t,
                       1,
                       would(fmt::format("the {} at {} or later", words_.event(kind),
                                         words_.when_beside(t, o_.opened)))};
    }
    std::optional<Nearest> period(const EachPeriod& d) {
        if (!o_.limit) return std::nullopt;
        constexpr std::uint32_t most = 24;  // each is tried, and of more nobody would say that they were near
        for (std::uint32_t times = 1; times <= std::min(d.times, most); ++times) {
            auto added = one_more(d.events, *o_.limit - minute, *o_.limit, times);
            if (!added) continue;
            const std::string noun = words_.event(added->event);
            added->said = would(
                fmt::format("{} before {}",
                            times == 1 ? d.times == 1 ? Words::a(noun) + with_ : "one more " + noun + with_
                                       : fmt::format("{} more of {}{}", times, noun, with_),
                            words_.when_beside(*o_.limit, o_.opened)));
            return added;
        }
        return std::nullopt;
    }
    std::optional<Nearest> either_side(const WithinEitherSide& d) {
        const Instant until = add(o_.opened, d.within, words_.zone());
        auto added = one_more(d.events, o_.opened, until, 1);
        if (!added) return std::nullopt;
        added->said = would(fmt::format("{}{} between {} and {}", Words::a(words_.event(added->event)), with_,
                                        words_.when(o_.opened - (until - o_.opened)),
                                        words_.when_beside(until, o_.opened)));
        return added;
    }
    std::optional<Nearest> had(const HaveHad& d) {
        for (const Instant t : {o_.opened, o_.opened - minute}) {
            auto added = one_more(d.events, t, o_.opened, 1);
            if (!added) continue;
            std::string when = fmt::format("by {}", words_.when(t));
            if (d.window.in_last)
                when += fmt::format(", in the {} before it", Words::span(*d.window.in_last));
            if (!d.window.since.empty())
                when += fmt::format(", since the last {}", words_.events(d.window.since));
            added->said = would(Words::a(words_.event(added->event)) + with_ + " " + when);
            return added;
        }
        return std::nullopt;
    }

    // So many events of one of these kinds, a minute apart, the last at `at`, with values that their `where`
    // asks for.
    std::optional<Nearest> one_more(const Events& events, Instant at, Instant known_until,
                                    std::uint32_t times) {
        for (const Pattern& pattern : events) {
            for (const auto& values : fitting(pattern)) {
                std::optional<Episode> episode = episode_;
                for (std::uint32_t i = 0; i < times && episode; ++i)
                    episode = with_added(policy_, *episode, pattern.event, at - i * minute, o_.part_kind,
                                         o_.part, values);
                if (!met(std::move(episode), known_until)) continue;
                with_ = described(pattern.event, values);
                return Nearest{NearestKind::add, pattern.event, none, at, times, {}};
            }
        }
        return std::nullopt;
    }
    // Values for an event that is to match: none where no `where` is asked, else one attribute after another.
    std::vector<std::vector<FieldValue>> fitting(const Pattern& pattern) const {
        std::vector<std::vector<FieldValue>> out = {{}};
        if (pattern.where == none) return out;
        for (const FieldId field : fields_read(policy_, pattern.where)) {
            const Attribute* attribute = attribute_of(pattern.event, field);
            if (attribute == nullptr) continue;
            std::vector<std::vector<FieldValue>> more;
            for (const auto& values : out) {
                for (const Value& value :
                     values_to_try(policy_, episode_, {pattern.where}, field, attribute->type, {})) {
                    more.push_back(values);
                    more.back().emplace_back(field, value);
                }
            }
            constexpr std::size_t most = 64;
            if (!more.empty() && more.size() <= most) out = std::move(more);
        }
        return out;
    }
    const Attribute* attribute_of(EventKindId kind, FieldId field) const {
        const EventKind& k = policy_.event_kinds[kind];
        const std::uint32_t slot = field < k.slot_of_field.size() ? k.slot_of_field[field] : none;
        return slot == none ? nullptr : &k.attributes[slot];
    }
    // " with dry time 30 s and antiseptic chg alcohol"
    std::string described(EventKindId kind, const std::vector<FieldValue>& values) const {
        std::string out;
        for (const auto& [field, value] : values) {
            const Attribute* attribute = attribute_of(kind, field);
            if (attribute == nullptr) continue;
            out += fmt::format("{} {} {}", out.empty() ? " with" : " and", Words::name(attribute->name),
                               words_.quantity(attribute->type, value.number));
        }
        return out;
    }

    // ---- values, steps

    std::optional<Nearest> holds(ExpressionId condition) {
        const std::uint32_t event = o_.opened_by;
        if (event == none) return std::nullopt;
        const EventKindId kind = episode_.events[event].kind;
        for (const FieldId field : fields_read(policy_, condition)) {
            const Attribute* attribute = attribute_of(kind, field);
            if (attribute == nullptr) continue;
            const Value present =
                episode_.value(episode_.events[event], policy_.event_kinds[kind].slot_of_field[field]);
            for (const Value& value :
                 values_to_try(policy_, episode_, {condition}, field, attribute->type, present)) {
                const std::vector<FieldValue> values = {{field, value}};
                if (!met(with_values(policy_, episode_, event, values))) continue;
                return Nearest{NearestKind::record,
                               kind,
                               event,
                               o_.opened,
                               1,
                               would(fmt::format("the {}{}", words_.event(kind), described(kind, values)))};
            }
        }
        return std::nullopt;
    }
    std::optional<Nearest> documented(const Document& d) {
        const std::uint32_t event = o_.opened_by;
        if (event == none) return std::nullopt;
        const EventKindId kind = episode_.events[event].kind;
        std::vector<FieldValue> values;
        std::vector<std::string> texts;  // of those that are texts: any will do
        std::string names;
        for (const FieldId field : d.fields) {
            const Attribute* attribute = attribute_of(kind, field);
            if (attribute == nullptr) continue;
            const std::uint32_t slot = policy_.event_kinds[kind].slot_of_field[field];
            if (episode_.value(episode_.events[event], slot).state == Known::known) continue;
            std::int64_t any = attribute->type.low;
            if (attribute->type.kind == TypeKind::one_of) any = attribute->type.values.front();
            if (attribute->type.kind == TypeKind::text || attribute->type.kind == TypeKind::key) {
                any = static_cast<std::int64_t>(episode_.texts.size() + texts.size());
                texts.push_back(attribute->name);
            }
            values.emplace_back(field, Value{any, Known::known});
            names += (names.empty() ? "" : " and ") + Words::name(attribute->name);
        }
        if (values.empty()) return std::nullopt;
        Episode recorded = with_values(policy_, episode_, event, values);
        for (const std::string& text : texts) recorded.texts.push_back(text);
        if (!met(std::move(recorded))) return std::nullopt;
        return Nearest{NearestKind::record,
                       kind,
                       event,
                       o_.opened,
                       1,
                       would(fmt::format("the {} with its {} recorded", words_.event(kind), names))};
    }
    std::optional<Nearest> steps(const FollowSteps& d) {
        const std::uint32_t event = o_.opened_by;
        if (event == none) return std::nullopt;
        const EventKindId kind = episode_.events[event].kind;
        const auto& names = policy_.event_kinds[kind].steps;
        std::vector<std::uint32_t> marks;
        std::string listed;
        for (const std::string& step : d.steps) {
            marks.push_back(
                static_cast<std::uint32_t>(std::find(names.begin(), names.end(), step) - names.begin()));
            const Event& e = episode_.events[event];
            const bool there =
                std::any_of(episode_.steps.begin() + e.steps, episode_.steps.begin() + e.steps + e.step_count,
                            [&](const StepMark& mark) { return mark.step == marks.back(); });
            if (!there) listed += (listed.empty() ? "" : ", ") + Words::name(step);
        }
        if (!met(with_steps(episode_, event, marks))) return std::nullopt;
        const std::string what =
            listed.empty() ? "its steps in the order of the clause" : listed + " recorded too";
        return Nearest{
            NearestKind::record, kind, event,
            o_.opened,           1,    would(fmt::format("the {} with {}", words_.event(kind), what))};
    }

    // ---- what should not have been, or not so often

    std::optional<Nearest> left_out(std::uint32_t event) {
        if (event == none || o_.outcome == Outcome::pending || !gone(without(episode_, event)))
            return std::nullopt;
        const EventKindId kind = episode_.events[event].kind;
        return Nearest{
            NearestKind::leave_out,
            kind,
            event,
            o_.opened,
            1,
            fmt::format("without this {} nothing would have counted against it", words_.event(kind))};
    }
    std::uint32_t offending() const { return o_.closed_by != none ? o_.closed_by : o_.opened_by; }
    std::optional<Nearest> forbidden(const Forbid& d) {
        const std::uint32_t event = offending();
        if (event == none) return std::nullopt;
        const EventKindId kind = episode_.events[event].kind;
        for (const Pattern& pattern : d.events) {
            if (pattern.event != kind || pattern.where == none) continue;
            for (const FieldId field : fields_read(policy_, pattern.where)) {
                const Attribute* attribute = attribute_of(kind, field);
                if (attribute == nullptr) continue;
                const Value present =
                    episode_.value(episode_.events[event], policy_.event_kinds[kind].slot_of_field[field]);
                for (const Value& value :
                     values_to_try(policy_, episode_, {pattern.where}, field, attribute->type, present)) {
                    const std::vector<FieldValue> values = {{field, value}};
                    if (!met(with_values(policy_, episode_, event, values))) continue;
                    return Nearest{
                        NearestKind::record,
                        kind,
                        event,
                        o_.opened,
                        1,
                        would(fmt::format("the {}{}", words_.event(kind), described(kind, values)))};
                }
            }
        }
        return left_out(event);
    }
    std::optional<Nearest> fewer(const AtMostTimes& d) {
        const std::uint32_t event = offending();
        if (event == none) return std::nullopt;
        const EventKindId kind = episode_.events[event].kind;
        // It is the first that no longer has N others in the window up to it: a minute past the end of some
        // window.
        std::vector<Instant> moments;
        for (const Event& other : episode_.events) {
            const Instant t = add(other.at, d.in, words_.zone()) + minute;
            if (other.at < o_.opened && t > o_.opened) moments.push_back(t);
        }
        std::sort(moments.begin(), moments.end());
        for (const Instant t : moments) {
            if (!met(with_moved(policy_, episode_, event, t), t, t)) continue;
            return Nearest{NearestKind::move,
                           kind,
                           event,
                           t,
                           1,
                           would(fmt::format("the {} at {} or later", words_.event(kind),
                                             words_.when_beside(t, o_.opened)))};
        }
        return left_out(event);
    }

    // ---- ladders

    std::optional<Nearest> ladder() {
        const Ladder& ladder = policy_.ladders[o_.item];
        if (o_.step >= ladder.steps.size()) return left_out(offending());
        if (!o_.limit) return std::nullopt;
        for (const RoleId role : ladder.steps[o_.step].roles) {
            const auto symbol =
                std::find(policy_.symbols.begin(), policy_.symbols.end(), policy_.roles[role]);
            if (symbol == policy_.symbols.end()) continue;
            const std::vector<FieldValue> values = {
                {policy_.notified, {symbol - policy_.symbols.begin(), Known::known}}};
            for (const Instant t : {*o_.limit, *o_.limit - minute}) {
                if (!met(with_added(policy_, episode_, policy_.notification, t, none, none, values), t))
                    continue;
                return Nearest{
                    NearestKind::add,
                    policy_.notification,
                    none,
                    t,
                    1,
                    by(fmt::format("a notification of the {}", Words::name(policy_.roles[role])), t)};
            }
        }
        return std::nullopt;
    }

    // ---- bundles

    // Its clauses that were not kept, one after another, each in the record as the change before left it;
    // told only where the bundle then is met.
    std::optional<Nearest> bundle() {
        if (o_.outcome == Outcome::pending) return std::nullopt;
        constexpr int most = 12;
        std::optional<Nearest> first;
        std::string said;
        Episode record = episode_;
        for (int changes = 0; changes < most; ++changes) {
            const std::optional<Opportunity> wanting = wanting_in(record);
            if (!wanting) break;
            Search one(policy_, engine_, words_, as_of_, record, *wanting);
            const auto nearest = one.find();
            if (!nearest) return std::nullopt;
            said += fmt::format("{}{}: {}", said.empty() ? "" : "; and ", policy_.clauses[wanting->item].id,
                                nearest->said);
            if (!first) first = nearest;
            Episode next = one.changed();
            record = std::move(next);
        }
        if (!first || !met(record)) return std::nullopt;
        first->said = std::move(said);
        return first;
    }
    std::optional<Opportunity> wanting_in(const Episode& record) {
        const Judgement& all = engine_.judge(record, horizon_of(episode_, as_of_));
        for (const Judgement::Member& member : all.members_of(o_)) {
            const Opportunity& clause = all[member.member];
            if (counts_against(clause.outcome) || clause.outcome == Outcome::not_assessable) return clause;
        }
        return std::nullopt;
    }

    const Policy& policy_;
    Engine& engine_;
    const Words& words_;
    std::optional<Instant> as_of_;
    const Episode& episode_;
    const Opportunity& o_;
    Episode changed_;
    std::string with_;  // of the event that one_more added last
};

}  // namespace

struct NearestFinder::Implementation {
    Implementation(const Policy& p, std::optional<Instant> t) : policy(p), engine(p), words(p), as_of(t) {}
    const Policy& policy;
    Engine engine;
    Words words;
    std::optional<Instant> as_of;
};

NearestFinder::NearestFinder(const Policy& policy, std::optional<Instant> as_of)
    : implementation_(std::make_unique<Implementation>(policy, as_of)) {}
NearestFinder::~NearestFinder() = default;
NearestFinder::NearestFinder(NearestFinder&&) noexcept = default;
NearestFinder& NearestFinder::operator=(NearestFinder&&) noexcept = default;

std::optional<Nearest> NearestFinder::find(const Episode& episode, const Opportunity& opportunity) {
    const Opportunity asked = opportunity;  // the engine's own answers may go when it judges again
    return Search(implementation_->policy, implementation_->engine, implementation_->words,
                  implementation_->as_of, episode, asked)
        .find();
}

}  // namespace linelaw::runtime
