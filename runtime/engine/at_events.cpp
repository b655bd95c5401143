// Demands judged at events: what an event must hold, document, follow or have had before it, what may not
// happen, and how often.
#include <algorithm>
#include <span>

#include "runtime/engine/judging.hpp"

namespace linelaw::runtime::engine {

// Whether an event is the subject's at all, whatever its `where` says.
bool Judging::of_subject(EventKindId kind, std::uint32_t event, const Subject& subject) const {
    if (subject.part == none) return true;
    if (plan_.part_of_kind[kind] != history_->parts()[subject.part].kind) return true;
    return history_->part_of(event) == subject.part || history_->may_be_of(event, subject.part);
}

void Judging::at_trigger_events(const Subject& subject) {
    if (subject.brief->demands<WithinEitherSide>()) collect(subject.brief->events, subject.part, false);
    for_events(subject.brief->trigger, subject, false, [&](std::uint32_t event, Truth match) {
        const Truth asked =
            match & applies(subject.id, just_before_event(*history_, event, subject.part), event).truth;
        if (asked == Truth::no) return;
        const Instant t = history_->episode().events[event].at;
        then_escalate(subject, t, event, asked);
        if (subject.brief->demands<NoDemand>()) return;
        if (asked == Truth::yes) return judge_at(subject, event);
        at_this_event(subject, event, Outcome::not_assessable, asked);
    });
}

// An opportunity that opens and closes at one event.
void Judging::at_this_event(const Subject& subject, std::uint32_t event, Outcome outcome, Truth doubt) {
    Opportunity& o = opportunity(subject, outcome);
    o.opened = history_->episode().events[event].at;
    o.closed = o.opened;
    o.opened_by = event;
    o.closed_by = event;
    conclude(subject, o, doubt);
}

void Judging::at_this_event(const Subject& subject, std::uint32_t event, Truth held) {
    at_this_event(subject, event,
                  held == Truth::yes  ? Outcome::met
                  : held == Truth::no ? Outcome::not_met
                                      : Outcome::not_assessable,
                  held);
}

void Judging::judge_at(const Subject& subject, std::uint32_t event) {
    const Place place = at_event(*history_, event, subject.part);
    if (subject.brief->demands<Holds>())
        return at_this_event(subject, event, ask(subject.brief->condition, place).truth);
    const Demand& demand = *subject.demand;
    if (const auto* document = std::get_if<Document>(&demand))
        return at_this_event(subject, event, documents(*document, event));
    if (const auto* follow = std::get_if<FollowSteps>(&demand))
        return at_this_event(subject, event, follows_steps(subject, *follow, event));
    if (const auto* either = std::get_if<WithinEitherSide>(&demand))
        return either_side(subject, *either, event);
    if (std::holds_alternative<HaveHad>(demand)) {
        Asking asking(*history_, place);
        static const WindowPlan ever;
        const WindowId window = subject.plan->window;
        return at_this_event(
            subject, event,
            asking.occurred(subject.brief->events, window == none ? ever : plan_.windows[window], false));
    }
}

Truth Judging::documents(const Document& demand, std::uint32_t index) const {
    const Event& event = history_->episode().events[index];
    Truth all = Truth::yes;
    for (FieldId field : demand.fields) {
        if (field == plan_.policy.charting_delay) {
            all = all &
                  (event.recorded_at_set_aside ? Truth::unknown : from_bool(event.recorded_at.has_value()));
            continue;
        }
        const std::uint32_t slot = plan_.slot(event.kind, field);
        const Known state = slot == none ? Known::undocumented : history_->episode().value(event, slot).state;
        all = all & (state == Known::set_aside ? Truth::unknown : from_bool(state == Known::known));
    }
    return all;
}

namespace {

// Two marks in the order listed: by their times where both have one, else by their place in the record. A
// time set aside may be any.
Truth in_order(const StepMark& first, std::uint32_t first_place, const StepMark& second,
               std::uint32_t second_place) {
    if (first.time_set_aside || second.time_set_aside) return Truth::unknown;
    const auto& a = time_of(first);
    const auto& b = time_of(second);
    return from_bool(a && b ? *a <= *b : first_place < second_place);
}

// A mark for each listed step, all different and each pair in order; `possibly`: a step set aside may be any,
// and an order that is not known may hold.
class PlacedSteps {
  public:
    PlacedSteps(std::span<const StepMark> marks, const std::vector<std::uint32_t>& wanted, bool possibly,
                std::vector<std::uint32_t>& placed)
        : marks_(marks), wanted_(wanted), placed_(placed), possibly_(possibly) {
        for (const StepMark& mark : marks) all_timed_ = all_timed_ && (mark.time_set_aside || time_of(mark));
    }

    // Whether there are as many marks of each step as are wanted; those set aside stand in.
    bool enough() const {
        std::size_t lacking = 0;
        for (std::size_t i = 0; i < wanted_.size(); ++i) {
            const auto before =
                std::count(wanted_.begin(), wanted_.begin() + static_cast<std::ptrdiff_t>(i), wanted_[i]);
            if (wanted_[i] == none || before >= count_of(wanted_[i])) ++lacking;
        }
        return lacking <= static_cast<std::size_t>(possibly_ ? count_of(none) : 0);
    }

    bool in_their_order(std::size_t listed = 0) {
        if (listed == wanted_.size()) return true;
        for (std::uint32_t i = 0; i < marks_.size(); ++i) {
            if (!fits(listed, i)) continue;
            bool needless = false;
            for (std::uint32_t j = 0; j < marks_.size() && !needless; ++j)
                needless = j != i && fits(listed, j) && as_good(listed, j, i);
            if (needless) continue;
            placed_[listed] = i;
            if (in_their_order(listed + 1)) return true;
        }
        return false;
    }

  private:
    std::ptrdiff_t count_of(std::uint32_t step) const {
        return std::count_if(marks_.begin(), marks_.end(), [&](const StepMark& m) { return m.step == step; });
    }
    bool fits(std::size_t listed, std::uint32_t i) const {
        const StepMark& mark = marks_[i];
        if (mark.step == none ? !possibly_ : mark.step != wanted_[listed]) return false;
        for (std::size_t earlier = 0; earlier < listed; ++earlier) {
            const std::uint32_t j = placed_[earlier];
            if (i == j) return false;
            const Truth order = in_order(marks_[j], j, mark, i);
            if (order != Truth::yes && !(possibly_ && order == Truth::unknown)) return false;
        }
        return true;
    }
    // Whether what could follow `i` here could follow `j` as well, so that `i` need not be tried: a step
    // charted many times would otherwise be tried in all ways. A mark that may be any step, or stand at any
    // time, is kept for where it is needed.
    bool as_good(std::size_t listed, std::uint32_t j, std::uint32_t i) const {
        const StepMark& better = marks_[j];
        const StepMark& mark = marks_[i];
        if (better.step == none && mark.step != none) return false;
        if (better.time_set_aside && !mark.time_set_aside && (better.step == none || wanted_again(listed)))
            return false;
        if (better.step != none && mark.step == none) return same_order(j, i);
        return same_order(j, i) && (j < i || !same_order(i, j));  // of two alike the first
    }
    bool wanted_again(std::size_t listed) const {
        const auto later = wanted_.begin() + static_cast<std::ptrdiff_t>(listed) + 1;
        return std::find(later, wanted_.end(), wanted_[listed]) != wanted_.end();
    }
    bool same_order(std::uint32_t j, std::uint32_t i) const {
        const StepMark& better = marks_[j];
        const StepMark& mark = marks_[i];
        if (better.time_set_aside || mark.time_set_aside) return possibly_ && better.time_set_aside;
        const auto& sooner = time_of(better);
        const auto& later = time_of(mark);
        if (sooner.has_value() != later.has_value()) return false;
        return sooner ? *sooner <= *later && (all_timed_ || j <= i) : j <= i;
    }

    std::span<const StepMark> marks_;
    const std::vector<std::uint32_t>& wanted_;
    std::vector<std::uint32_t>& placed_;
    bool possibly_;
    bool all_timed_ = true;  // then their places decide nothing
};

}  // namespace

Truth Judging::follows_steps(const Subject& subject, const FollowSteps& demand, std::uint32_t index) {
    const Event& event = history_->episode().events[index];
    if (event.step_count == 0) return Truth::undocumented;
    wanted_.clear();
    for (const std::uint32_t step : subject.plan->steps)
        wanted_.push_back(plan_.step_numbers[event.kind][step]);
    placed_.resize(wanted_.size());
    const std::span marks(history_->episode().steps.data() + event.steps, event.step_count);
    const auto placed = [&](bool possibly) {
        PlacedSteps steps(marks, wanted_, possibly, placed_);
        return steps.enough() && (!demand.in_order || steps.in_their_order());
    };
    return placed(false) ? Truth::yes : placed(true) ? Truth::unknown : Truth::no;
}

void Judging::either_side(const Subject& subject, const WithinEitherSide& demand, std::uint32_t event) {
    const History& h = *history_;
    const Instant t = h.episode().events[event].at;
    const Limit limit = limit_of(t, demand.within, {});
    const Hit* certain = nullptr;
    Truth doubt = Truth::no;
    Hit own;
    for (auto next = hits_from(t - longest(demand.within)); next != hits_.end(); ++next) {
        const Hit* one = &*next;
        if (one->at == t) {
            own = without(*one, subject.brief->events, subject.part, event);
            if (own.truth == Truth::no) continue;
            one = &own;
        }
        if (one->at < t && limit_of(one->at, demand.within, {}).past(t)) continue;
        if (limit.past(one->at)) break;
        if (one->truth == Truth::yes) {
            certain = one;
            break;
        }
        doubt = doubt | one->truth;
    }
    Opportunity& o = opportunity(subject, Outcome::met);
    o.opened = t;
    o.opened_by = event;
    const bool unseen = before_view(subject, t, demand.within);
    const std::optional<Instant> end = response_end(subject);
    const bool ended = end && *end <= horizon_ && !limit.past(*end);
    if (certain != nullptr) {
        o.closed = std::max(t, certain->at);
        o.closed_by = certain->event;
    } else if (doubt != Truth::no) {
        if (unseen) doubt = Truth::unknown;
        o.outcome = Outcome::not_assessable;
        o.closed = std::min(limit.limit, horizon_);
    } else if (!ended && limit.limit >= horizon_) {
        o.outcome = Outcome::pending;
    } else if (unseen) {
        o.outcome = Outcome::not_assessable;
        doubt = Truth::unknown;
        o.closed = ended ? std::max(*end, t) : limit.limit;
    } else {
        o.outcome = ended ? Outcome::no_longer_due : Outcome::not_met;
        o.closed = ended ? std::max(*end, t) : limit.limit;
    }
    conclude(subject, o, doubt, &limit, o.outcome == Outcome::pending);
}

void Judging::forbid(const Subject& subject) {
    for_events(subject.brief->events, subject, true, [&](std::uint32_t event, Truth match) {
        const Truth asked =
            applies(subject.id, just_before_event(*history_, event, subject.part), event).truth;
        if (asked == Truth::no) return;
        if (match != Truth::no) return at_this_event(subject, event, !(asked & match));
        // Not the forbidden event; `met`, if the clause applies and the event is the part's for certain.
        const bool may_be_anothers = subject.part != none && history_->part_of(event) == ambiguous;
        const Truth doubt = asked & (may_be_anothers ? Truth::unknown : Truth::yes);
        at_this_event(subject, event, doubt == Truth::yes ? Outcome::met : Outcome::not_assessable, doubt);
    });
}

// The applies of the demands that look back from an event at the events before it.
Truth Judging::applies_before(const Subject& subject, const Hit& hit, Terms terms) const {
    const Place place = just_before_event(*history_, hit.first, subject.part);
    return applies(subject.id, place, hit.first, terms).truth;
}

// Each event with those of the time up to it. Those that surely lie in it are counted as they come and go, so
// that a long time costs no more than a short one; only near its far end is each one asked.
void Judging::at_most_times(const Subject& subject, const AtMostTimes& demand) {
    collect(subject.brief->events, subject.part);
    Tally surely;          // before the event
    std::size_t from = 0;  // the first of those
    for (std::size_t i = 0; i < hits_.size(); ++i) {
        const Hit& hit = hits_[i];
        for (; from < i && hit.at - hits_[from].at >= shortest(demand.in); ++from)
            --surely.of(hits_[from].truth);
        Tally before = surely;
        ++surely.of(hit.truth);
        if (!subject.life.reaches(hit.event)) continue;
        const Truth asked = applies_before(subject, hit);
        if (asked == Truth::no) continue;
        for (std::size_t j = from; j-- > 0 && hit.at - hits_[j].at <= longest(demand.in);)
            if (!limit_of(hits_[j].at, demand.in, {}).past(hit.at)) ++before.of(hits_[j].truth);
        judge_times(subject, demand, hit, asked & hit.truth, before);
    }
}

void Judging::judge_times(const Subject& subject, const AtMostTimes& demand, const Hit& hit, Truth asked,
                          const Tally& before) {
    const std::uint32_t uncertain = before.undocumented + before.unknown;
    const bool out_of_view = before_view(subject, hit.at, demand.in);
    Outcome outcome = Outcome::not_assessable;
    if (asked == Truth::yes) {
        if (before.certain + 1 > demand.times)
            outcome = Outcome::not_met;
        else if (before.certain + uncertain + 1 <= demand.times && !out_of_view)
            outcome = Outcome::met;
    }
    Truth doubt = asked;
    if (before.undocumented != 0) doubt = doubt & Truth::undocumented;
    if (before.unknown != 0 || out_of_view) doubt = doubt & Truth::unknown;
    at_this_event(subject, hit.event, outcome, doubt);
}

void Judging::no_more_often(const Subject& subject, const NoMoreOftenThan& demand) {
    collect(subject.brief->events, subject.part);
    for (std::size_t i = 1; i < hits_.size(); ++i) {
        const Hit& first = hits_[i - 1];
        const Hit& second = hits_[i];
        if (just_after(first.at) < subject.life.start.moment || !subject.life.reaches(second.event)) continue;
        const Terms terms = subject.brief->carried_on ? Terms::carried_on : Terms::in_force;
        Truth asked = applies_before(subject, second, terms);
        if (asked == Truth::no) continue;
        const Place after = place_at(*history_, just_after(first.at), subject.part);
        asked = asked & applies(subject.id, after, none).truth;
        if (asked == Truth::no) continue;
        asked = asked & first.truth & second.truth;
        const Limit shortest = limit_of(first.at, demand.shortest, {});
        Opportunity& o = opportunity(subject, Outcome::met);
        o.opened = first.at;
        o.opened_by = first.event;
        o.closed = second.at;
        o.closed_by = second.event;
        o.due = shortest.due;
        const Truth early = second.at < shortest.due ? !unless(subject, second) : Truth::no;
        if (asked != Truth::yes || !known(early)) {
            o.outcome = Outcome::not_assessable;
            asked = asked == Truth::yes ? early : known(early) ? asked : unknown_of(asked, early);
        } else if (early == Truth::yes) {
            o.outcome = Outcome::early;
        }
        conclude(subject, o, asked);
    }
}

}  // namespace linelaw::runtime::engine
