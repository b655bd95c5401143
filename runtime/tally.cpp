#include "runtime/tally.hpp"

#include <fmt/format.h>
#include <xxhash.h>

#include <algorithm>
#include <tuple>
#include <utility>

#include "runtime/joined.hpp"

namespace linelaw::runtime {
namespace {

template <typename Key>
void add_counts(std::map<Key, std::uint64_t>& into, const std::map<Key, std::uint64_t>& from) {
    for (const auto& [key, count] : from) into[key] += count;
}
template <typename Key>
void add_groups(std::map<Key, Group>& into, const std::map<Key, Group>& from) {
    for (const auto& [key, group] : from) into[key].add(group);
}

// "/events/17/dry_time" as "/events/*/dry_time", so that the same fault in many places is one line.
std::string without_indexes(const std::string& pointer) {
    std::string out;
    for (std::size_t i = 0; i < pointer.size();) {
        out += pointer[i++];
        if (out.back() != '/') continue;
        std::size_t end = i;
        while (end < pointer.size() && pointer[end] >= '0' && pointer[end] <= '9') ++end;
        if (end > i && (end == pointer.size() || pointer[end] == '/')) {
            out += '*';
            i = end;
        }
    }
    return out;
}

std::size_t lateness_bin(std::int64_t microseconds) {
    // A second is not over until it is: 300.5 s is more than 300 s.
    const std::int64_t seconds = (microseconds + microseconds_per_second - 1) / microseconds_per_second;
    const auto* const bound = std::lower_bound(lateness_bounds_s.begin(), lateness_bounds_s.end(), seconds);
    return static_cast<std::size_t>(bound - lateness_bounds_s.begin());
}

std::uint64_t whole_seconds(std::int64_t microseconds) {
    return microseconds <= 0 ? 0 : static_cast<std::uint64_t>(microseconds / microseconds_per_second);
}

}  // namespace

Items::Items(const Policy& policy) {
    for (std::uint32_t i = 0; i < policy.clauses.size(); ++i) items_.push_back({OriginKind::clause, i, none});
    for (std::uint32_t i = 0; i < policy.ladders.size(); ++i) {
        first_of_ladder_.push_back(items_.size());
        const std::size_t steps = policy.ladders[i].steps.size() + policy.ladders[i].holds.size();
        for (std::uint32_t step = 0; step < steps; ++step) items_.push_back({OriginKind::ladder, i, step});
    }
    first_bundle_ = items_.size();
    for (std::uint32_t i = 0; i < policy.bundles.size(); ++i) items_.push_back({OriginKind::bundle, i, none});
}

std::size_t Items::of(const Opportunity& o) const {
    switch (o.origin) {
        case OriginKind::ladder:
            return first_of_ladder_[o.item] + o.step;
        case OriginKind::bundle:
            return first_bundle_ + o.item;
        case OriginKind::clause:
            break;
    }
    return o.item;
}

namespace {

template <typename T>
std::string name_of(const Policy& policy, const std::vector<T>& items, std::uint32_t id) {
    const T& item = items[id];
    const bool alone = std::none_of(items.begin(), items.end(), [&](const T& other) {
        return other.id == item.id && other.edition != item.edition;
    });
    return alone ? item.id : fmt::format("{} ({})", item.id, edition_words(policy, item.edition));
}

}  // namespace

std::string item_name(const Policy& policy, const Item& item) {
    if (item.origin == OriginKind::clause) return name_of(policy, policy.clauses, item.item);
    if (item.origin == OriginKind::bundle) return name_of(policy, policy.bundles, item.item);
    const Ladder& ladder = policy.ladders[item.item];
    return fmt::format("{} step {}{}", name_of(policy, policy.ladders, item.item), item.step + 1,
                       item.step < ladder.steps.size() ? "" : " (hold)");
}

void Coverage::add(const Coverage& other) {
    const auto put = [](Covered& into, const Covered& from) {
        into.episodes += from.episodes;
        into.line_days += from.line_days;
    };
    editions.resize(std::max(editions.size(), other.editions.size()));
    for (std::size_t e = 0; e < other.editions.size(); ++e) put(editions[e], other.editions[e]);
    put(no_edition, other.no_edition);
    put(not_governed, other.not_governed);
    put(several, other.several);
}

void Counts::add(const Counts& other) {
    for (std::size_t i = 0; i < outcomes.size(); ++i) outcomes[i] += other.outcomes[i];
    for (std::size_t i = 0; i < lateness.size(); ++i) lateness[i] += other.lateness[i];
    applied_s += other.applied_s;
    overdue_s += other.overdue_s;
    lines += other.lines;
    met_squared += other.met_squared;
    met_counted += other.met_counted;
    counted_squared += other.counted_squared;
}

void Group::add(const Group& other) {
    if (counts.size() < other.counts.size()) counts.resize(other.counts.size());
    for (std::size_t i = 0; i < other.counts.size(); ++i) counts[i].add(other.counts[i]);
    episodes += other.episodes;
    line_days += other.line_days;
}

std::vector<Bar> bars_of(const Policy& policy, const Items& items, const Episode& episode,
                         const std::vector<Opportunity>& opportunities) {
    std::vector<Bar> bars;
    for (const Opportunity& o : opportunities) {
        if (o.origin == OriginKind::bundle) continue;
        Bar bar;
        bar.item = static_cast<std::uint32_t>(items.of(o));
        bar.part = part_words(policy, episode, o);
        bar.outcome = o.outcome;
        bar.opened = o.opened;
        bar.due = o.due;
        bar.limit = o.limit;
        bar.closed = o.closed;
        bars.push_back(std::move(bar));
    }
    return bars;
}

bool worse(const WorstFinding& a, const WorstFinding& b) {
    return std::tie(a.priority, b.lateness, a.episode, a.id) <
           std::tie(b.priority, a.lateness, b.episode, b.id);
}

namespace {

bool fits(const std::vector<WorstFinding>& kept, std::size_t most, const WorstFinding& finding) {
    return kept.size() < most || worse(finding, kept.back());
}

}  // namespace

void put_worst(std::vector<WorstFinding>& kept, std::size_t most, const WorstFinding& finding) {
    if (!fits(kept, most, finding)) return;
    kept.insert(std::upper_bound(kept.begin(), kept.end(), finding, worse), finding);
    if (kept.size() > most) kept.pop_back();
}

bool Tally::would_keep(const WorstFinding& finding) const {
    const auto of_item = worst_of.find(finding.item);
    return fits(worst, worst_kept, finding) || of_item == worst_of.end() ||
           fits(of_item->second, worst_kept_each, finding);
}

void Tally::keep(const WorstFinding& finding) {
    put_worst(worst, worst_kept, finding);
    put_worst(worst_of[finding.item], worst_kept_each, finding);
}

void Tally::add(const Tally& other) {
    coverage.add(other.coverage);
    read += other.read;
    judged += other.judged;
    quarantined += other.quarantined;
    without_patient_key += other.without_patient_key;
    add_counts(quarantined_by, other.quarantined_by);
    add_counts(set_aside_by, other.set_aside_by);
    seen.add(other.seen);
    if (other.first) first = first ? std::min(*first, *other.first) : *other.first;
    if (other.last) last = last ? std::max(*last, *other.last) : *other.last;
    all.add(other.all);
    add_groups(by_care_unit, other.by_care_unit);
    add_groups(by_month, other.by_month);
    for (const auto& [attribute, groups] : other.by) add_groups(by[attribute], groups);
    for (const auto& [unit, days] : other.patient_days) patient_days[unit].add(days);
    episodes.add(other.episodes);
    for (const WorstFinding& finding : other.worst) put_worst(worst, worst_kept, finding);
    for (const auto& [item, findings] : other.worst_of) {
        for (const WorstFinding& finding : findings) put_worst(worst_of[item], worst_kept_each, finding);
    }
    review.add(other.review);
}

void Tally::put_in_order() {
    for (auto& [unit, days] : patient_days) days.put_in_order();
    episodes.put_in_order();
}

Result<Grouping> grouping(const Policy& policy, const std::string& attribute) {
    const auto found = [&](const std::vector<Attribute>& attributes, const std::string& name,
                           Grouping::Owner owner) -> std::optional<Result<Grouping>> {
        for (std::uint32_t slot = 0; slot < attributes.size(); ++slot) {
            if (attributes[slot].name != name) continue;
            const TypeKind kind = attributes[slot].type.kind;
            if (kind == TypeKind::flag || kind == TypeKind::one_of || kind == TypeKind::count) {
                return Grouping{owner, slot, attribute};
            }
            return tl::unexpected(
                Error{"by.type", fmt::format("--by takes an attribute with a list of values, a flag "
                                             "or a count; `{}` is none",
                                             attribute)});
        }
        return std::nullopt;
    };
    if (attribute == "facility") return Grouping{Grouping::Owner::facility, none, attribute};
    const bool of_patient = attribute.rfind("patient.", 0) == 0;
    const bool of_line = attribute.rfind("line.", 0) == 0;
    if (!of_line) {
        if (auto g = found(policy.patient, of_patient ? attribute.substr(8) : attribute,
                           Grouping::Owner::patient)) {
            return *g;
        }
    }
    if (!of_patient) {
        if (auto g = found(policy.line, of_line ? attribute.substr(5) : attribute, Grouping::Owner::line))
            return *g;
    }
    return tl::unexpected(Error{
        "by.name",
        fmt::format("--by takes `facility` or an attribute of the patient or the line (`line.kind`); the "
                    "policy's vocabulary has no `{}` there",
                    attribute)});
}

std::string group_value(const Policy& policy, const Grouping& grouping, const Episode& episode) {
    if (grouping.owner == Grouping::Owner::facility) return episode.facility;
    const bool of_line = grouping.owner == Grouping::Owner::line;
    const Value& value = of_line ? episode.line[grouping.slot] : episode.patient[grouping.slot];
    if (value.state != Known::known) return "";
    const Type& type = (of_line ? policy.line : policy.patient)[grouping.slot].type;
    if (type.kind == TypeKind::one_of) return policy.symbols[static_cast<std::size_t>(value.number)];
    if (type.kind == TypeKind::flag) return value.number != 0 ? "yes" : "no";
    return std::to_string(value.number);
}

// ---- adding episodes

Tallier::Tallier(const Policy& policy, const Items& items, TallyOptions options,
                 std::vector<Grouping> groupings)
    : policy_(policy),
      items_(items),
      options_(std::move(options)),
      groupings_(std::move(groupings)),
      zone_(Zone::of(policy.time_zone)),
      writer_(policy, options_.as_of) {
    if (options_.nearest) nearest_.emplace(policy, options_.as_of);
    tally_ = fresh();
    of_line_.resize(items_.size());
}

Tally Tallier::fresh() const {
    Tally tally;
    ready(tally.all);
    tally.coverage.editions.resize(policy_.editions.size());
    for (const Grouping& grouping : groupings_) tally.by[grouping.name];
    return tally;
}

Tally Tallier::take() {
    month_ = {};
    return std::exchange(tally_, fresh());
}

Group& Tallier::ready(Group& group) const {
    group.counts.resize(items_.size());
    return group;
}

// Most instants lie in the month that was asked for before.
const Tallier::Month& Tallier::month_at(Instant t) {
    if (month_.group == nullptr || t < month_.begin || t >= month_.end) {
        const CivilDate date = zone_.date_of(t);
        month_ = {zone_.begin_of({date.year, date.month, 1}), zone_.begin_of(next_month(date)),
                  &ready(tally_.by_month[date.year * 12 + date.month - 1])};
    }
    return month_;
}

std::vector<Group*> Tallier::groups_of(const Episode& episode) {
    std::vector<Group*> groups = {&tally_.all, &ready(tally_.by_care_unit[episode.care_unit])};
    for (const Grouping& grouping : groupings_) {
        groups.push_back(&ready(tally_.by[grouping.name][group_value(policy_, grouping, episode)]));
    }
    return groups;
}

void Tallier::judged(const Episode& episode, const Judgement& judgement,
                     const std::vector<Stretch>& stretches, const std::vector<Governed>& governed) {
    ++tally_.read;
    ++tally_.judged;
    const std::vector<Group*> groups = groups_of(episode);
    for (Group* group : groups) ++group->episodes;
    const Instant horizon = horizon_of(episode, options_.as_of);
    const Instant inserted = episode.inserted_at.value_or(episode.observed_from.value_or(horizon));
    const Instant from = std::max(inserted, episode.observed_from.value_or(inserted));
    const Instant until = std::min(episode.removed_at.value_or(horizon), horizon);
    tally_.episodes.add(hash_of_key("of " + episode.facility + '\0' + episode.key));
    if (horizon < from) return;  // as of a moment before it came in: nothing is known of it
    tally_.first = tally_.first ? std::min(*tally_.first, from) : from;
    tally_.last = tally_.last ? std::max(*tally_.last, horizon) : horizon;
    add_opportunities(judgement, groups);
    add_lines(groups);
    add_times(stretches, groups);
    if (until >= from) {  // not out before what is in view
        add_days(episode, groups, from, until);
        add_coverage(governed, from, until);
    }
    add_worst(episode, judgement, from, std::max(until, horizon));
}

// Whether it is due at the end of a day or shift, which belongs to the next one already.
bool Tallier::due_as_a_period_ends(const Opportunity& o) const {
    if (o.origin != OriginKind::clause) return false;
    const Demand& demand = policy_.clauses[o.item].demand;
    if (const auto* every = std::get_if<AtLeastEvery>(&demand)) return every->every.calendar;
    if (const auto* within = std::get_if<Within>(&demand)) {
        const auto* span = std::get_if<Span>(&within->within);
        return span == nullptr || span->calendar;
    }
    return std::holds_alternative<EachPeriod>(demand);
}

void Tallier::add_opportunities(const Judgement& judgement, const std::vector<Group*>& groups) {
    for (const Opportunity& o : judgement) {
        const std::size_t item = items_.of(o);
        const auto outcome = static_cast<std::size_t>(o.outcome);
        const auto late = o.outcome == Outcome::late ? lateness(o) : std::nullopt;
        // Of a clause that speaks of stretches: how long it was past its limit.
        const bool over_time = o.origin == OriginKind::clause &&
                               std::holds_alternative<AtLeastEvery>(policy_.clauses[o.item].demand);
        const std::uint64_t overdue =
            over_time && counts_against(o.outcome) ? whole_seconds(lateness(o).value_or(0)) : 0;
        Instant when = o.due.value_or(o.opened);
        if (o.due && due_as_a_period_ends(o)) --when;  // of that period, not of the next
        if (o.closed) when = std::min(when, *o.closed);
        const auto count = [&](Group& group) {
            Counts& counts = group.counts[item];
            ++counts.outcomes[outcome];
            if (late) ++counts.lateness[lateness_bin(*late)];
        };
        for (Group* group : groups) {
            count(*group);
            group->counts[item].overdue_s += overdue;
        }
        if (o.outcome == Outcome::met || counts_against(o.outcome)) {
            OfLine& of_line = of_line_[item];
            if (of_line.counted++ == 0) counted_items_.push_back(item);
            if (o.outcome == Outcome::met) ++of_line.met;
        }
        count(*month_at(when).group);
        if (overdue == 0) continue;
        for_each_month(*o.limit, *o.closed, [&](Group& month, Instant from, Instant until) {
            month.counts[item].overdue_s += whole_seconds(until - from);
        });
    }
}

void Tallier::add_lines(const std::vector<Group*>& groups) {
    for (const std::size_t item : counted_items_) {
        const auto [met, counted] = std::exchange(of_line_[item], {});
        for (Group* group : groups) {
            Counts& counts = group->counts[item];
            ++counts.lines;
            counts.met_squared += met * met;
            counts.met_counted += met * counted;
            counts.counted_squared += counted * counted;
        }
    }
    counted_items_.clear();
}

void Tallier::add_times(const std::vector<Stretch>& stretches, const std::vector<Group*>& groups) {
    for (const Stretch& stretch : stretches) {
        if (!std::holds_alternative<AtLeastEvery>(policy_.clauses[stretch.clause].demand)) continue;
        for (Group* group : groups) {
            group->counts[stretch.clause].applied_s += whole_seconds(stretch.end - stretch.begin);
        }
        for_each_month(stretch.begin, stretch.end, [&](Group& month, Instant from, Instant until) {
            month.counts[stretch.clause].applied_s += whole_seconds(until - from);
        });
    }
}

// A time that reaches over the turn of a month is of both, each with its piece.
template <typename F>
void Tallier::for_each_month(Instant from, Instant until, F&& piece) {
    while (from < until) {
        const Month& month = month_at(from);
        // No month ends after the last that a date can name.
        const Instant end = month.end > from ? std::min(until, month.end) : until;
        piece(*month.group, from, end);
        from = end;
    }
}

void Tallier::add_days(const Episode& episode, const std::vector<Group*>& groups, Instant from,
                       Instant until) {
    const Days days = calendar_days(from, until, zone_);
    for (Group* group : groups) group->line_days += static_cast<std::uint64_t>(days.last - days.first + 1);
    for (DayNumber day = days.first; day <= days.last;) {
        const CivilDate date = date_of_day(day);
        const DayNumber end = std::min(day_number(next_month(date)), days.last + 1);
        ready(tally_.by_month[date.year * 12 + date.month - 1]).line_days +=
            static_cast<std::uint64_t>(end - day);
        day = end;
    }
    const std::string& key = episode.patient_key.empty() ? episode.key : episode.patient_key;
    if (episode.patient_key.empty()) ++tally_.without_patient_key;
    // An episode's key is no patient's.
    const std::uint64_t patient = hash_of_key((episode.patient_key.empty() ? "episode " : "patient ") + key);
    tally_.patient_days[episode.care_unit].add(patient, days_at(from, until, options_.count_at, zone_));
}

// Without a secret the hash is for this run's memory and is never written.
std::uint64_t Tallier::hash_of_key(const std::string& text) const {
    return options_.patient_key ? keyed_hash(*options_.patient_key, text)
                                : XXH3_64bits(text.data(), text.size());
}

// The calendar days of each line on which each edition judged, and those on which nobody did.
void Tallier::add_coverage(const std::vector<Governed>& governed, Instant from, Instant until) {
    struct Touched {
        Covered* judged = nullptr;
        DayNumber last = -1;
    };
    std::vector<Touched> touched;
    const auto add = [&](Covered& judged, Days days) {
        auto one = std::find_if(touched.begin(), touched.end(),
                                [&](const Touched& t) { return t.judged == &judged; });
        if (one == touched.end()) {
            ++judged.episodes;
            one = touched.insert(touched.end(), {&judged, days.first - 1});
        }
        days.first = std::max(days.first, one->last + 1);
        if (days.empty()) return;
        judged.line_days += static_cast<std::uint64_t>(days.last - days.first + 1);
        one->last = days.last;
    };
    Coverage& coverage = tally_.coverage;
    for (const Governed& g : governed) {
        const Instant end = std::min(g.end, until);
        if (g.begin >= end && governed.size() > 1) continue;
        const Days days = calendar_days(std::max(g.begin, from), end, zone_);
        if (g.edition != none)
            add(coverage.editions[g.edition], days);
        else
            add(g.no_edition ? coverage.no_edition : coverage.not_governed, days);
        if (g.several) add(coverage.several, days);
    }
}

void Tallier::add_worst(const Episode& episode, const Judgement& judgement, Instant from, Instant until) {
    for (const Opportunity& o : judgement) {
        if (!counts_against(o.outcome) || o.origin == OriginKind::bundle) continue;
        WorstFinding finding;
        finding.item = static_cast<std::uint32_t>(items_.of(o));
        finding.priority = priority_of(policy_, o);
        finding.lateness = lateness(o).value_or(0);
        finding.episode = episode.key;
        if (!tally_.would_keep(finding)) continue;  // with no identity it comes before any that has one
        finding.id = finding_id(policy_, episode, o);
        if (!tally_.would_keep(finding)) continue;
        finding.care_unit = episode.care_unit;
        finding.outcome = o.outcome;
        finding.opened = o.opened;
        finding.said = writer_.said(episode, o, judgement);
        if (nearest_) {
            if (const auto nearest = nearest_->find(episode, o)) finding.nearest = nearest->said;
        }
        finding.begin = from;
        finding.end = until;
        finding.bars = bars_of(policy_, items_, episode, judgement.opportunities);
        tally_.keep(finding);
    }
}

void Tallier::quarantined(const Spoiled& spoiled) {
    ++tally_.read;
    ++tally_.quarantined;
    ++tally_.quarantined_by[spoiled.code + " " + without_indexes(spoiled.pointer)];
}

void Tallier::set_aside(const Spoiled& spoiled) {
    ++tally_.set_aside_by[spoiled.code + " " + without_indexes(spoiled.pointer)];
}

}  // namespace linelaw::runtime
