// Bundles (language.md §4.7): all or none, of what an event asked for or closed, of a period, or of the line.
#include <algorithm>
#include <tuple>

#include "runtime/engine/judging.hpp"

namespace linelaw::runtime::engine {

void Judging::judge_bundles() {
    const std::size_t clauses_end = noted_.size();
    for (std::uint32_t b = 0; b < plan_.policy.bundles.size(); ++b) judge_bundle(b, clauses_end);
}

// When an opportunity counts as closed for a bundle: a period's outcome in the period itself, a pending one
// at the horizon.
Instant Judging::counted_at(const Judged& judged) const {
    const Opportunity& o = judged.opportunity;
    if (!o.closed) return horizon_;
    return judged.of_period && o.closed == o.due ? *o.closed - 1 : *o.closed;
}

void Judging::judge_bundle(std::uint32_t id, std::size_t clauses_end) {
    const Bundle& bundle = plan_.policy.bundles[id];
    bundled_.clear();
    if (bundle.each == BundleEach::event) collect(plan_.bundle_events[id], none, false);
    for (std::size_t i = 0; i < clauses_end; ++i) {
        const Opportunity& o = judged_[i].opportunity;
        if (o.origin != OriginKind::clause ||
            std::find(bundle.of.begin(), bundle.of.end(), o.item) == bundle.of.end())
            continue;
        put_in_bundle(id, static_cast<std::uint32_t>(i));
    }
    std::sort(bundled_.begin(), bundled_.end(), [](const Bundled& a, const Bundled& b) {
        return std::tie(a.opened, a.closed, a.outcome) < std::tie(b.opened, b.closed, b.outcome);
    });
    for (std::size_t i = 0; i < bundled_.size();) {
        std::size_t end = i;
        while (end < bundled_.size() && bundled_[end].opened == bundled_[i].opened &&
               bundled_[end].closed == bundled_[i].closed)
            ++end;
        conclude_bundle(id, i, end);
        i = end;
    }
}

void Judging::put_in_bundle(std::uint32_t id, std::uint32_t place) {
    const Bundle& bundle = plan_.policy.bundles[id];
    const Judged& judged = judged_[place];
    const Opportunity& o = judged.opportunity;
    const Instant when = counted_at(judged);
    if (bundle.each == BundleEach::line) {
        const History& h = *history_;
        const Instant begin = h.insertion_known() ? h.insertion() : h.start();
        const Instant end = h.removal() != none ? h.episode().events[h.removal()].at : horizon_;
        bundled_.push_back({begin, end, none, o.outcome, place});
        return;
    }
    if (bundle.each == BundleEach::event) {
        const auto counted = [&](Instant at) {
            const auto hit = hits_from(at);
            if (hit != hits_.end() && hit->at == at && hit->truth == Truth::yes)
                bundled_.push_back({at, at, hit->event, o.outcome, place});
        };
        bool asked_by_it = false;
        if (at_events(plan_.policy.clauses[o.item].trigger.kind))
            for_matches_at(o.opened, plan_.bundle_events[id], none, [&](std::uint32_t event, Truth match) {
                asked_by_it = asked_by_it || (event == o.opened_by && match == Truth::yes);
            });
        counted(asked_by_it ? o.opened : when);
        return;
    }
    const Period period = bundle.each == BundleEach::shift ? Period::shift : Period::calendar_day;
    if (judged.of_period && o.due &&
        std::get<EachPeriod>(plan_.policy.clauses[o.item].demand).period == period) {
        bundled_.push_back({o.opened, *o.due, none, o.outcome, place});
        return;
    }
    for_periods(period, bundle.edition, when, when, [&](Instant begin, Instant end) {
        if (begin <= when && when < end) bundled_.push_back({begin, end, none, o.outcome, place});
    });
}

void Judging::conclude_bundle(std::uint32_t id, std::size_t from, std::size_t to) {
    const auto has = [&](auto test) {
        return std::any_of(bundled_.begin() + static_cast<std::ptrdiff_t>(from),
                           bundled_.begin() + static_cast<std::ptrdiff_t>(to),
                           [&](const Bundled& b) { return test(b.outcome); });
    };
    Opportunity& o = next_opportunity();
    o.origin = OriginKind::bundle;
    o.item = id;
    o.opened = bundled_[from].opened;
    o.closed = bundled_[from].closed;
    o.opened_by = o.closed_by = bundled_[from].event;
    if (has(counts_against)) {
        o.outcome = Outcome::not_met;
    } else if (has([](Outcome x) { return x == Outcome::not_assessable; })) {
        o.outcome = Outcome::not_assessable;
    } else if (has([](Outcome x) { return x == Outcome::pending; })) {
        o.outcome = Outcome::pending;
        o.closed.reset();
    } else if (has([](Outcome x) { return x == Outcome::met || x == Outcome::excused; })) {
        o.outcome = Outcome::met;
    } else {
        return;
    }
    put(2 * static_cast<std::uint32_t>(plan_.clauses.size()) + id, false, false);
    const std::uint32_t place = noted_.back().place;
    for (std::size_t i = from; i < to; ++i) members_.push_back({place, bundled_[i].place});
}

// Which of the answer's opportunities are whose.
void Judging::put_members(Judgement& out) {
    out.members.clear();
    if (members_.empty()) return;
    turn_of_place_.resize(judged_.size());
    for (std::uint32_t turn = 0; turn < turns_.size(); ++turn) turn_of_place_[turns_[turn].place] = turn;
    for (const Member& member : members_) {
        const Opportunity& bundle = judged_[member.bundle].opportunity;
        out.members.push_back({bundle.item, bundle.opened, turn_of_place_[member.clause]});
    }
    std::sort(out.members.begin(), out.members.end());
}

}  // namespace linelaw::runtime::engine
