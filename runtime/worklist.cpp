#include "runtime/worklist.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "runtime/findings.hpp"
#include "runtime/overloaded.hpp"
#include "runtime/summary.hpp"

namespace linelaw::runtime {

namespace {

// Whether a limit is already past at its own instant: due at a calendar day's or a period's end, without
// other grace.
bool past_at_limit(const Policy& policy, const Opportunity& o) {
    if (o.origin != OriginKind::clause) return false;
    const auto calendar = [](const Span& span, const Span& grace) {
        return span.calendar && (grace == Span{} || grace.calendar);
    };
    return std::visit(overloaded{
                          [&](const AtLeastEvery& d) { return calendar(d.every, d.grace); },
                          [](const EachPeriod&) { return true; },
                          [&](const Within& d) {
                              const auto* span = std::get_if<Span>(&d.within);
                              return span == nullptr ? d.grace == Span{} : calendar(*span, d.grace);
                          },
                          [](const auto&) { return false; },
                      },
                      policy.clauses[o.item].demand);
}

}  // namespace

void Worklist::add(const Episode& whole) {
    if (!care_unit_.empty() && whole.care_unit != care_unit_) return;
    const Episode episode = known_by_then(whole);
    if (episode.events.empty() && !episode.observed_from) return;
    if (episode.inserted_at && *episode.inserted_at > as_of_) return;
    // The list is of this moment: what the record does not know of the time up to it, nothing is said to have
    // been done.
    Episode open = episode;
    open.observed_until.reset();
    engine_.begin(open);
    engine_.feed(open);
    engine_.advance(open, as_of_);
    for (const Due& due : engine_.due(open)) {
        const Opportunity& o = due.opportunity;
        if (!o.due || (within_ && *o.due > as_of_ + *within_)) continue;
        tasks_.push_back(task(episode, o));
    }
}

std::vector<Task> Worklist::take() {
    std::sort(tasks_.begin(), tasks_.end(),
              [](const Task& a, const Task& b) { return a.order() < b.order(); });
    return std::move(tasks_);
}

// The record as it stood then: nothing that came later.
Episode Worklist::known_by_then(const Episode& whole) const {
    Episode episode = whole;
    episode.events.erase(std::remove_if(episode.events.begin(), episode.events.end(),
                                        [&](const Event& e) { return e.at > as_of_; }),
                         episode.events.end());
    if (episode.removed_at && *episode.removed_at > as_of_) episode.removed_at.reset();
    if (episode.observed_until && *episode.observed_until > as_of_) episode.observed_until.reset();
    return episode;
}

Task Worklist::task(const Episode& episode, const Opportunity& o) const {
    Task task;
    task.care_unit = episode.care_unit;
    task.episode = episode.key;
    task.what = asked_for(o);
    if (o.part_kind != none) task.what += " of " + words_.part(o.part_kind, o.part, episode);
    task.item = item_name(policy_, items_[items_.of(o)]);
    task.sentence =
        o.origin == OriginKind::ladder ? policy_.ladders[o.item].sentence : policy_.clauses[o.item].sentence;
    task.priority = priority_of(policy_, o);
    task.opened = o.opened;
    task.due = *o.due;
    task.limit = o.limit.value_or(*o.due);
    task.past_at_limit = past_at_limit(policy_, o);
    if (episode.observed_until && *episode.observed_until < as_of_) task.known_until = episode.observed_until;
    return task;
}

std::string Worklist::asked_for(const Opportunity& o) const {
    if (o.origin == OriginKind::ladder) {
        const Ladder& ladder = policy_.ladders[o.item];
        if (o.step >= ladder.steps.size())
            return "hold until " + words_.events(ladder.holds[o.step - ladder.steps.size()].until);
        std::string roles;
        for (const RoleId role : ladder.steps[o.step].roles) {
            roles += (roles.empty() ? "" : " or ") + Words::name(policy_.roles[role]);
        }
        return "notify the " + roles;
    }
    return std::visit(overloaded{
                          [&](const AtLeastEvery& d) { return words_.events(d.events); },
                          [&](const EachPeriod& d) { return words_.events(d.events); },
                          [&](const Within& d) { return words_.events(d.events); },
                          [&](const WithinEitherSide& d) { return words_.events(d.events); },
                          [&](const auto&) { return policy_.clauses[o.item].sentence; },
                      },
                      policy_.clauses[o.item].demand);
}

std::string_view state_of(const Task& task, Instant as_of) {
    return task.overdue(as_of) ? "overdue" : task.due < as_of ? "in grace" : "due";
}

nlohmann::ordered_json task_json(const Task& task, Instant as_of) {
    nlohmann::ordered_json entry;
    if (!task.care_unit.empty()) entry["care_unit"] = task.care_unit;
    entry["episode"] = task.episode;
    entry["state"] = state_of(task, as_of);
    entry["what"] = task.what;
    entry["item"] = task.item;
    entry["sentence"] = task.sentence;
    entry["priority"] = priority_name(task.priority);
    entry["opened"] = write_instant(task.opened);
    entry["due"] = write_instant(task.due);
    entry["limit"] = write_instant(task.limit);
    entry["overdue_s"] = (as_of - task.limit) / microseconds_per_second;
    if (task.known_until) entry["known_until"] = write_instant(*task.known_until);
    return entry;
}

}  // namespace linelaw::runtime
