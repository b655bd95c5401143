#include "runtime/records_finish.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

namespace linelaw::runtime::records {
namespace {

// A bit a kind; kinds beyond the word's end share the last, and are then told apart less sharply.
std::uint64_t bit_of(PartKindId part) {
    return std::uint64_t{1} << std::min<PartKindId>(part, 63);
}

// "2" as 2; nothing where the text is no plain number from 1.
std::optional<std::int64_t> number_named(std::string_view text) {
    if (text.empty() || text.size() > 9 || text.front() == '0') return std::nullopt;
    std::int64_t number = 0;
    for (const char c : text) {
        if (c < '0' || c > '9') return std::nullopt;
        number = number * 10 + (c - '0');
    }
    return number;
}

CivilDate add_span(CivilDate date, const Span& span) {
    return add_days(add_months(date, span.months), span.days);
}

// The first date on which somebody born on `birth` is older than `high`, counted in its own coarsest unit:
// "up to 120 years" ends with the 121st birthday.
CivilDate end_of_range(CivilDate birth, const Span& high) {
    Span over = high;
    if (high.days != 0 || high.months == 0)
        over.days += 1;
    else
        over.months += high.months % 12 == 0 ? 12 : 1;
    return add_span(birth, over);
}

}  // namespace

bool Finish::run(const Loose& loose, Episode& episode) {
    loose_ = &loose;
    episode_ = &episode;
    const Policy& policy = plan_.policy;
    instant_of_event(policy.insertion, episode.inserted_at);
    instant_of_event(policy.removal, episode.removed_at);
    if (!head() || !bounds()) return false;
    if (!own_events(policy.insertion, episode.inserted_at, "inserted_at", loose.insertion)) return false;
    if (!own_events(policy.removal, episode.removed_at, "removed_at", loose.removal)) return false;
    if (!places()) return false;
    drop_after_observed_until();
    in_order();
    if (!span()) return false;
    ages();
    part_names();
    if (!names_of_parts_) number_parts();
    charting_delays();
    return true;
}

// The line's own instant where only an event tells it.
void Finish::instant_of_event(EventKindId kind, std::optional<Instant>& at) {
    if (at) return;
    for (const Event& event : episode_->events) {
        if (event.kind != kind) continue;
        at = event.at;
        return;
    }
}

bool Finish::head() {
    if (!loose_->has_episode)
        return walk_.spoil_at("/episode", "record.episode", 0,
                              "the record has no `episode`, the key of the line's episode");
    return episode_->inserted_at || episode_->observed_from ||
           walk_.spoil_at(
               "/line/inserted_at", "record.instant", 0,
               "the record has neither `line.inserted_at` nor `observed_from`; one of them must say "
               "from when it is known");
}

bool Finish::bounds() {
    const auto before = [](const std::optional<Instant>& a, const std::optional<Instant>& b) {
        return a && b && *a < *b;
    };
    const Episode& e = *episode_;
    if (before(e.removed_at, e.inserted_at))
        return spoil_own(plan_.policy.removal, "removed_at", "record.order",
                         "the line is removed before it is inserted");
    if (before(e.observed_until, e.inserted_at))
        return walk_.spoil_at("/observed_until", "record.order", 0,
                              "the record ends before the line is inserted");
    if (before(e.observed_until, e.observed_from))
        return walk_.spoil_at("/observed_until", "record.order", 0, "the record ends before it begins");
    if (before(e.removed_at, e.observed_from))
        return spoil_own(plan_.policy.removal, "removed_at", "record.order",
                         "the line is removed before the record begins");
    return true;
}

// Asked once the events are in order.
bool Finish::span() {
    const Episode& e = *episode_;
    const Instant begin = e.inserted_at ? *e.inserted_at : *e.observed_from;
    Instant end = begin;
    for (const std::optional<Instant>& bound : {e.removed_at, e.observed_until, latest_dropped_})
        if (bound) end = std::max(end, *bound);
    if (!e.events.empty()) end = std::max(end, e.events.back().at);
    constexpr std::int64_t longest = longest_record_days * microseconds_per_day;
    if (end - begin <= longest) return true;
    const char* reason =
        "more than a century lies between this instant and the record's last one; look at the years of both";
    return e.inserted_at ? spoil_own(plan_.policy.insertion, "inserted_at", "record.span", reason)
                         : walk_.spoil_at("/observed_from", "record.span", 0, reason);
}

// The insertion's or the removal's event: from the record, else made from the line's keys.
bool Finish::own_events(EventKindId kind, const std::optional<Instant>& at, std::string_view key,
                        const std::vector<Value>& from_line) {
    Event* own = nullptr;
    for (Event& event : episode_->events) {
        if (event.kind != kind) continue;
        const std::string& name = plan_.events[kind].kind->name;
        if (own != nullptr)
            return spoil_event(event, "record.order",
                               fmt::format("the line has a second `{}`; it has one", name));
        if (*at != event.at)
            return spoil_event(event, "record.order",
                               fmt::format("the `{}` must be at the instant of `line.{}`", name, key));
        own = &event;
    }
    if (!at)
        unused(kind, key, from_line);
    else if (own != nullptr)
        merge(*own, from_line);
    else
        make(kind, *at, from_line);
    return true;
}

// The line's keys fill what the event leaves out; what the two say differently is set aside.
void Finish::merge(Event& event, const std::vector<Value>& from_line) {
    for (std::size_t slot = 0; slot < from_line.size(); ++slot) {
        Value& value = episode_->values[event.values + slot];
        const Value& other = from_line[slot];
        if (value.state == Known::undocumented) value = other;
        if (value.state != Known::known || other.state != Known::known || value.number == other.number)
            continue;
        const ValuePlan& plan = plan_.events[event.kind].values[slot];
        value.state = Known::set_aside;
        walk_.set_aside_at(
            fmt::format("{}/{}", pointer_of(event), plan.name), "value.twice", offset_of(event),
            fmt::format("`{}` is given here and among the line's keys, with different values", plan.name));
    }
    if (event.step_count == 0 && event.kind == plan_.policy.insertion) {
        event.steps = loose_->steps;
        event.step_count = loose_->step_count;
    }
}

void Finish::make(EventKindId kind, Instant at, const std::vector<Value>& from_line) {
    Event event;
    event.kind = kind;
    event.at = at;
    event.pointer = none;
    event.values = static_cast<std::uint32_t>(episode_->values.size());
    episode_->values.insert(episode_->values.end(), from_line.begin(), from_line.end());
    if (kind == plan_.policy.insertion) {
        event.steps = loose_->steps;
        event.step_count = loose_->step_count;
    }
    // Where it will stand, so that most records need no sorting.
    auto& events = episode_->events;
    events.insert(kind == plan_.policy.insertion ? events.begin() : events.end(), event);
}

// The line says something of an insertion or a removal that has no instant. What is the line's own, too, is
// used.
void Finish::unused(EventKindId kind, std::string_view key, const std::vector<Value>& from_line) {
    const auto say = [&](std::string_view name) {
        walk_.set_aside_at(fmt::format("/line/{}", name), "value.place", 0,
                           fmt::format("`{}` is of the {}, which has no instant; give `line.{}`", name,
                                       plan_.events[kind].kind->name, key));
    };
    for (const LineKey& line_key : plan_.line_key_slots) {
        const std::uint32_t slot = kind == plan_.policy.insertion ? line_key.insertion : line_key.removal;
        if (slot == none || line_key.line != none || from_line[slot].state != Known::known) continue;
        say(plan_.events[kind].values[slot].name);
    }
    if (kind == plan_.policy.insertion && loose_->step_count > 0) say("steps");
}

bool Finish::places() {
    const Episode& e = *episode_;
    for (const Event& event : e.events) {
        if (e.observed_until && event.at > *e.observed_until) continue;  // set aside below
        if (e.inserted_at && event.at < *e.inserted_at)
            return spoil_event(event, "record.order", "the event comes before the line is inserted");
        if (e.removed_at && event.at > *e.removed_at && !plan_.events[event.kind].also_after_removal)
            return spoil_event(
                event, "record.order",
                fmt::format("the event comes after the line is removed, which the vocabulary does not "
                            "allow a `{}`",
                            plan_.events[event.kind].kind->name));
    }
    return true;
}

void Finish::drop_after_observed_until() {
    Episode& e = *episode_;
    latest_dropped_.reset();
    if (!e.observed_until) return;
    const auto drop = [this](Instant at) { latest_dropped_ = std::max(latest_dropped_.value_or(at), at); };
    const auto late = [&](const Event& event) {
        const bool is_late = event.at > *e.observed_until;
        if (is_late) drop(event.at);
        return is_late;
    };
    const auto kept = std::remove_if(e.events.begin(), e.events.end(), late);
    walk_.counts.after_observed_until += static_cast<std::uint64_t>(e.events.end() - kept);
    e.events.erase(kept, e.events.end());
    if (!e.removed_at || *e.removed_at <= *e.observed_until) return;
    drop(*e.removed_at);
    e.removed_at.reset();
}

void Finish::in_order() {
    const Policy& policy = plan_.policy;
    const auto place = [&policy](const Event& event) {
        const int rank = event.kind == policy.insertion ? 0 : event.kind == policy.removal ? 2 : 1;
        return std::tuple(rank, event.pointer);
    };
    const auto earlier = [&place](const Event& a, const Event& b) {
        return a.at != b.at ? a.at < b.at : place(a) < place(b);
    };
    auto& events = episode_->events;
    if (!std::is_sorted(events.begin(), events.end(), earlier))
        std::sort(events.begin(), events.end(), earlier);
}

// ---- the patient's age

bool Finish::age_in_range(const Type& type, CivilDate on) const {
    const Age& age = episode_->age;
    if (age.given == Age::Given::birth_date)
        return add_span(age.birth, type.age_low) <= on && on < end_of_range(age.birth, type.age_high);
    // Some birth date of that age must fit; any date of birth shows it, but for a day where months differ.
    const CivilDate birth{2000, 3, 1};
    const CivilDate youngest = older_by(birth, age.unit, age.completed);
    const CivilDate oldest = add_days(older_by(birth, age.unit, age.completed + 1), -1);
    return add_span(birth, type.age_low) <= oldest && youngest < end_of_range(birth, type.age_high);
}

void Finish::ages() {
    if (plan_.age_slot == none) return;
    Age& age = episode_->age;
    const ValuePlan& plan = plan_.patient[plan_.age_slot];
    const CivilDate on =
        plan_.zone.date_of(episode_->inserted_at ? *episode_->inserted_at : *episode_->observed_from);
    const auto set_aside = [&](std::string_view key, const char* code, std::string_view what) {
        age.given = Age::Given::set_aside;
        walk_.set_aside_at(fmt::format("/patient/{}", key), code, 0, fmt::format("`{}` {}", key, what));
    };
    if (loose_->birth_date_set_aside && age.given == Age::Given::undocumented)
        age.given = Age::Given::set_aside;
    if (loose_->birth_date) {
        const CivilDate birth = *loose_->birth_date;
        const bool agrees =
            age.given != Age::Given::completed || (older_by(birth, age.unit, age.completed) <= on &&
                                                   on < older_by(birth, age.unit, age.completed + 1));
        if (!agrees) return set_aside("birth_date", "value.twice", "and the age given contradict each other");
        age.given = Age::Given::birth_date;
        age.birth = birth;
    }
    if ((age.given == Age::Given::birth_date || age.given == Age::Given::completed) &&
        !age_in_range(*plan.type, on))
        set_aside(loose_->birth_date ? "birth_date" : plan.name, "value.range",
                  "gives an age that is out of range");
}

// ---- names of parts

void Finish::note_parts_begun() {
    begun_.assign(episode_->texts.size(), 0);
    begun_unnamed_ = 0;
    for (const Event& event : episode_->events) {
        const EventPlan& plan = plan_.events[event.kind];
        if (!plan.begins_part) continue;
        if (event.part == none)
            begun_unnamed_ |= bit_of(plan.part);
        else
            begun_[event.part] |= bit_of(plan.part);
    }
}

// Empty where the name may stand.
std::string_view Finish::fault_of_name(PartKindId part, std::uint32_t name) const {
    const PartKind& kind = plan_.policy.part_kinds[part];
    if (kind.count_slot != none) {
        const Value& count = episode_->line[kind.count_slot];
        const std::int64_t most =
            count.state == Known::known ? count.number : plan_.policy.line[kind.count_slot].type.high;
        const auto number = number_named(episode_->texts[name]);
        return number && *number <= most ? "" : "is no number of such a part of this line";
    }
    // A line whose insertion is not known may have parts that were begun before the record.
    const bool begun = !episode_->inserted_at || ((begun_[name] | begun_unnamed_) & bit_of(part)) != 0;
    return begun ? "" : "names a part that no event of the record begins";
}

// A name that nothing bears stays: the event is then nobody's, where one without a name could be anybody's.
void Finish::check_name(const Event& event, PartKindId part, std::uint32_t name) {
    if (part == none || name == none) return;
    const std::string_view fault = fault_of_name(part, name);
    if (fault.empty()) return;
    const std::string& key = plan_.policy.part_kinds[part].name;
    walk_.set_aside_at(fmt::format("{}/{}", pointer_of(event), key), "value.part", offset_of(event),
                       fmt::format("`{}` {}; the event counts for none", key, fault));
}

void Finish::part_names() {
    if (plan_.policy.part_kinds.empty()) return;
    note_parts_begun();
    for (Event& event : episode_->events) {
        const EventPlan& plan = plan_.events[event.kind];
        check_name(event, plan.part, event.part);
        check_name(event, plan.parent, event.parent);
    }
}

void Finish::number_parts() {
    for (Event& event : episode_->events) {
        const EventPlan& plan = plan_.events[event.kind];
        number_part(plan.part, event.part);
        number_part(plan.parent, event.parent);
    }
}

void Finish::number_part(PartKindId part, std::uint32_t& name) {
    if (part == none || name == none || plan_.policy.part_kinds[part].count_slot != none) return;
    std::size_t number = 1;
    for (const Episode::NumberedPart& known : episode_->numbered_parts) {
        if (known.kind != part) continue;
        if (known.name == name) {
            name = known.number;
            return;
        }
        ++number;
    }
    const std::uint32_t numbered = texts_.intern(std::to_string(number));
    episode_->numbered_parts.push_back({part, name, numbered});
    name = numbered;
}

void Finish::charting_delays() {
    for (const Event& event : episode_->events) {
        const std::uint32_t slot = plan_.events[event.kind].charting_slot;
        if (slot == none) continue;
        Value& delay = episode_->values[event.values + slot];
        if (event.recorded_at)
            delay = {*event.recorded_at - event.at, Known::known};
        else
            delay.state = event.recorded_at_set_aside ? Known::set_aside : Known::undocumented;
    }
}

// ---- messages

// At the event that tells of the line's insertion or removal, else at the line's key.
bool Finish::spoil_own(EventKindId kind, std::string_view key, const char* code, std::string reason) {
    for (const Event& event : episode_->events)
        if (event.kind == kind && event.pointer != none) return spoil_event(event, code, std::move(reason));
    return walk_.spoil_at(fmt::format("/line/{}", key), code, 0, std::move(reason));
}

bool Finish::spoil_event(const Event& event, const char* code, std::string reason) {
    return walk_.spoil_at(pointer_of(event), code, offset_of(event), std::move(reason));
}

std::string Finish::pointer_of(const Event& event) const {
    return event.pointer == none ? "/line" : fmt::format("/events/{}", event.pointer);
}
std::uint64_t Finish::offset_of(const Event& event) const {
    return event.pointer == none ? 0 : loose_->event_offsets[event.pointer];
}

}  // namespace linelaw::runtime::records
