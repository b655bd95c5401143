#include "compiler/analysis/strictness.hpp"

#include <algorithm>

#include "compiler/analysis/variables.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;

Strictness opposite(Strictness s) {
    return s == Strictness::stricter ? Strictness::looser
           : s == Strictness::looser ? Strictness::stricter
                                     : s;
}

namespace {

Strictness by(bool first_implies, bool second_implies) {
    if (first_implies && second_implies) return Strictness::same;
    if (first_implies) return Strictness::stricter;
    return second_implies ? Strictness::looser : Strictness::incomparable;
}

// Both aspects together: stricter in one and looser in another is neither.
Strictness joined(Strictness a, Strictness b) {
    if (a == Strictness::same) return b;
    if (b == Strictness::same || a == b) return a;
    return Strictness::incomparable;
}

// How long after its start a limit may lie.
struct Reach {
    std::int64_t earliest = 0;
    std::int64_t latest = 0;
};
constexpr std::int64_t hour = runtime::microseconds_per_hour;
constexpr std::int64_t day = runtime::microseconds_per_day;

// Counted alike, so that of two from one start the shorter one is never later.
bool counted_alike(const runtime::Span& a, const runtime::Span& b) {
    return a.calendar == b.calendar && a.civil() == b.civil() && (a.months == 0) == (b.months == 0);
}

bool is_at_hand(const runtime::Clause& clause, EventKindId kind) {
    return std::any_of(clause.trigger.events.begin(), clause.trigger.events.end(),
                       [&](const runtime::Pattern& p) { return p.event == kind; });
}

class Demands {
  public:
    Demands(Workspace& work, const runtime::Clause& first, const runtime::Clause& second, EventKindId kind,
            Node where = always)
        : work_(work), first_(first), second_(second), kind_(kind), where_(where) {}

    Strictness compare(const runtime::Demand& first, const runtime::Demand& second) {
        return std::visit([&](const auto& a, const auto& b) { return of(a, b); }, first, second);
    }

  private:
    Workspace& work_;
    const runtime::Clause& first_;
    const runtime::Clause& second_;
    EventKindId kind_;
    Node where_;

    // Whether every event of `few` is one of `many`; asked for, the few are stricter; forbidden, the many.
    bool within(const runtime::Events& few, const runtime::Events& many) {
        for (const EventKindId kind : kinds_in(few)) {
            const Node a = work_.situations.matches(few, kind).yes;
            const Node b = work_.situations.matches(many, kind).yes;
            if (!work_.diagrams.implies(work_.diagrams.both(a, work_.situations.possible()), b)) return false;
        }
        return true;
    }
    bool share(const runtime::Events& a, const runtime::Events& b) {
        for (const EventKindId kind : kinds_in(a)) {
            const Node both = work_.diagrams.both(work_.situations.matches(a, kind).yes,
                                                  work_.situations.matches(b, kind).yes);
            if (work_.diagrams.both(both, work_.situations.possible()) != never) return true;
        }
        return false;
    }
    // The fewer early ones an `unless` lets pass, the stricter.
    Strictness by_unless(runtime::ExpressionId a, runtime::ExpressionId b, const runtime::Events& events) {
        bool first = true;
        bool second = true;
        for (const EventKindId kind : kinds_in(events)) {
            const auto passes = [&](runtime::ExpressionId unless) {
                return unless == none ? never
                                      : work_.diagrams.both(work_.situations.meaning(unless, kind).yes,
                                                            work_.situations.possible());
            };
            first = first && work_.diagrams.implies(passes(a), passes(b));
            second = second && work_.diagrams.implies(passes(b), passes(a));
        }
        return by(first, second);
    }
    // Over a change of the clocks a day is an hour shorter or longer.
    std::int64_t slack() const { return work_.to_the_letter ? hour : 0; }
    Reach reach_of(const runtime::Span& span, const runtime::Span& grace) const {
        Reach reach{shortest(span) + shortest(grace), longest(span) + longest(grace)};
        if (span.calendar) reach.latest += day;  // to the midnight that ends the day
        if (span.civil() || grace.civil()) reach.earliest -= slack(), reach.latest += slack();
        return reach;
    }
    // Whether of two limits from one start the first is never the later one.
    bool never_later(const runtime::Span& a, const runtime::Span& grace_a, const runtime::Span& b,
                     const runtime::Span& grace_b) const {
        const bool elapsed = !a.civil() && !b.civil() && !grace_a.civil() && !grace_b.civil();
        if (elapsed) return longest(a) + longest(grace_a) <= longest(b) + longest(grace_b);
        if (counted_alike(a, b) && counted_alike(grace_a, grace_b) && longest(a) <= longest(b) &&
            longest(grace_a) <= longest(grace_b))
            return true;
        return reach_of(a, grace_a).latest <= reach_of(b, grace_b).earliest;
    }
    Strictness by_limit(const runtime::Span& a, const runtime::Span& grace_a, const runtime::Span& b,
                        const runtime::Span& grace_b) const {
        return by(never_later(a, grace_a, b, grace_b), never_later(b, grace_b, a, grace_a));
    }
    bool never_longer(const runtime::Span& a, const runtime::Span& b) const {
        return never_later(a, {}, b, {});
    }
    // The shorter window is the stricter one of what must have come, and the longer of what may not come
    // again.
    Strictness by_window(const runtime::Span& a, const runtime::Span& b) const {
        return by(never_longer(a, b), never_longer(b, a));
    }
    static bool as_strict(Strictness s) { return s == Strictness::same || s == Strictness::stricter; }
    Strictness asked(const runtime::Events& a, const runtime::Events& b) {
        return by(within(a, b), within(b, a));
    }

    template <typename A, typename B>
    Strictness of(const A&, const B&) {
        return Strictness::unrelated;
    }

    Strictness of(const runtime::AtLeastEvery& a, const runtime::AtLeastEvery& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        const Strictness limit = by(due_as_soon(first_, a, second_, b), due_as_soon(second_, b, first_, a));
        Strictness gap =
            opposite(by_window(a.shortest.value_or(runtime::Span{}), b.shortest.value_or(runtime::Span{})));
        if (a.shortest && b.shortest) gap = joined(gap, by_unless(a.unless, b.unless, b.events));
        return joined(joined(limit, gap), asked(a.events, b.events));
    }
    // Whether the one never falls due later. Where a stretch begins, what was done before counts as long as
    // its limit has not passed, and so for longer of the one that asks less often; counted anew it does not.
    bool due_as_soon(const runtime::Clause& clause, const runtime::AtLeastEvery& a,
                     const runtime::Clause& other, const runtime::AtLeastEvery& b) const {
        if (!never_later(a.every, a.grace, b.every, b.grace)) return false;
        if (b.counted_anew) return true;
        const bool alike = !a.counted_anew && never_later(b.every, b.grace, a.every, a.grace);
        const bool from_insertion = clause.applies_while == none && other.applies_while == none;
        return alike || (work_.to_the_letter ? from_insertion : !a.counted_anew);
    }
    Strictness of(const runtime::AtLeastEvery& a, const runtime::NoMoreOftenThan& b) {
        if (!a.shortest || !share(a.events, b.events)) return Strictness::unrelated;
        const bool implies = never_longer(b.shortest, *a.shortest) && within(b.events, a.events) &&
                             as_strict(by_unless(a.unless, b.unless, b.events));
        return implies ? Strictness::stricter : Strictness::unrelated;
    }
    Strictness of(const runtime::NoMoreOftenThan& a, const runtime::AtLeastEvery& b) {
        return Demands(work_, second_, first_, kind_).of(b, a) == Strictness::stricter
                   ? Strictness::looser
                   : Strictness::unrelated;
    }
    Strictness of(const runtime::NoMoreOftenThan& a, const runtime::NoMoreOftenThan& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        return joined(
            joined(opposite(by_window(a.shortest, b.shortest)), by_unless(a.unless, b.unless, b.events)),
            by(within(b.events, a.events), within(a.events, b.events)));
    }
    Strictness of(const runtime::EachPeriod& a, const runtime::EachPeriod& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        const bool of_shifts = a.period == runtime::Period::shift || b.period == runtime::Period::shift;
        if (of_shifts && work_.shifts_differ) return Strictness::incomparable;
        const bool same = a.period == b.period;
        const bool first =
            a.times >= b.times && (same || (lies_within_a_day(a.period) && within(a.events, b.events)));
        const bool second =
            b.times >= a.times && (same || (lies_within_a_day(b.period) && within(b.events, a.events)));
        return same ? joined(by(first, second), asked(a.events, b.events)) : by(first, second);
    }
    // Who keeps it in every shift keeps it on every calendar day, where some shift begins and ends on one.
    bool lies_within_a_day(runtime::Period period) const {
        return period == runtime::Period::shift &&
               std::any_of(work_.policy.shifts.begin(), work_.policy.shifts.end(),
                           [](const runtime::Shift& shift) { return shift.from < shift.to; });
    }
    // Once in every calendar day is once in two days at the most between two of them, and by the end of the
    // next. Often enough in any time at all is often enough in each period, which is asked of whole ones.
    Strictness of(const runtime::EachPeriod& a, const runtime::AtLeastEvery& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        const bool daily = a.period == runtime::Period::calendar_day && within(a.events, b.events);
        const bool implies =
            daily && !b.shortest && !b.counted_anew &&
            (b.every.calendar ? b.every.days >= 1 : reach_of(b.every, b.grace).earliest >= 2 * day + slack());
        const bool implied = within(b.events, a.events) &&
                             a.times * reach_of(b.every, b.grace).latest < shortest_period(a.period);
        return implies || implied ? by(implies, implied) : Strictness::incomparable;
    }
    std::int64_t shortest_period(runtime::Period period) const {
        std::int64_t length = day;
        if (period == runtime::Period::shift && work_.shifts_differ) return 0;
        if (period == runtime::Period::shift)
            for (const runtime::Shift& shift : work_.policy.shifts)
                length = std::min(
                    length, shift.to > shift.from ? shift.to - shift.from : shift.to + day - shift.from);
        return length - slack();
    }
    Strictness of(const runtime::AtLeastEvery& a, const runtime::EachPeriod& b) {
        return opposite(Demands(work_, second_, first_, kind_).of(b, a));
    }
    Strictness of(const runtime::Within& a, const runtime::Within& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        return joined(by_end(a, b), asked(a.events, b.events));
    }
    Strictness by_end(const runtime::Within& a, const runtime::Within& b) const {
        const auto* x = std::get_if<runtime::Span>(&a.within);
        const auto* y = std::get_if<runtime::Span>(&b.within);
        if (x != nullptr && y != nullptr) return by_limit(*x, a.grace, *y, b.grace);
        const auto of_shifts = [](const runtime::Within& one) {
            const auto* until = std::get_if<runtime::Until>(&one.within);
            return until != nullptr && *until != runtime::Until::same_calendar_day;
        };
        if ((of_shifts(a) || of_shifts(b)) && work_.shifts_differ) return Strictness::incomparable;
        if (a.within == b.within) return Strictness::same;
        // The shift at hand ends before the next, and the day at hand before any other that is counted.
        const auto ends_first = [this](const runtime::Within& one, const runtime::Within& other) {
            const auto* until = std::get_if<runtime::Until>(&one.within);
            const auto* later = std::get_if<runtime::Until>(&other.within);
            const auto* days = std::get_if<runtime::Span>(&other.within);
            if (until == nullptr) return false;
            if (*until == runtime::Until::same_shift)
                return later != nullptr && *later == runtime::Until::next_shift && !shifts_overlap();
            return *until == runtime::Until::same_calendar_day && days != nullptr && days->calendar;
        };
        if (ends_first(a, b)) return Strictness::stricter;
        if (ends_first(b, a)) return Strictness::looser;
        const Reach first = reach_of_end(a);
        const Reach second = reach_of_end(b);
        return by(first.latest <= second.earliest, second.latest <= first.earliest);
    }
    // The next shift is the first to begin, and may end before the one at hand.
    bool shifts_overlap() const {
        std::int64_t hours = 0;
        for (const runtime::Shift& shift : work_.policy.shifts)
            hours += shift.to > shift.from ? shift.to - shift.from : shift.to + day - shift.from;
        return hours > day;
    }
    Reach reach_of_end(const runtime::Within& demand) const {
        if (const auto* span = std::get_if<runtime::Span>(&demand.within))
            return reach_of(*span, demand.grace);
        const runtime::Until until = std::get<runtime::Until>(demand.within);
        if (until == runtime::Until::same_calendar_day) return {0, day + slack()};
        std::int64_t longest_shift = 0;
        for (const runtime::Shift& shift : work_.policy.shifts)
            longest_shift = std::max(
                longest_shift, shift.to > shift.from ? shift.to - shift.from : shift.to + day - shift.from);
        if (until == runtime::Until::same_shift) return {0, longest_shift + slack()};
        return {0, 2 * day + slack()};  // of the next one, which may begin a day later
    }
    Strictness of(const runtime::WithinEitherSide& a, const runtime::WithinEitherSide& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        return joined(by_window(a.within, b.within), asked(a.events, b.events));
    }
    // An answer after the event is one on either side of it.
    Strictness of(const runtime::Within& a, const runtime::WithinEitherSide& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        const auto* span = std::get_if<runtime::Span>(&a.within);
        const bool implies = span != nullptr && !span->calendar && within(a.events, b.events) &&
                             never_later(*span, a.grace, b.within, {});
        return implies ? Strictness::stricter : Strictness::incomparable;
    }
    Strictness of(const runtime::WithinEitherSide& a, const runtime::Within& b) {
        return opposite(Demands(work_, second_, first_, kind_).of(b, a));
    }
    Strictness of(const runtime::HaveHad& a, const runtime::HaveHad& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        const bool same = work_.situations.key(a.window.since) == work_.situations.key(b.window.since);
        const Strictness since = by(same || b.window.since.empty(), same || a.window.since.empty());
        const bool shorter =
            !b.window.in_last || (a.window.in_last && never_longer(*a.window.in_last, *b.window.in_last));
        const bool longer =
            !a.window.in_last || (b.window.in_last && never_longer(*b.window.in_last, *a.window.in_last));
        return joined(joined(by(shorter, longer), since), asked(a.events, b.events));
    }
    Strictness of(const runtime::Holds& a, const runtime::Holds& b) {
        if (!is_at_hand(first_, kind_) || !is_at_hand(second_, kind_)) return Strictness::unrelated;
        const Meaning x = work_.situations.meaning(a.condition, kind_);
        const Meaning y = work_.situations.meaning(b.condition, kind_);
        const std::vector<bool>& left = work_.diagrams.support(x.yes);
        const std::vector<bool>& right = work_.diagrams.support(y.yes);
        bool same_thing = false;
        for (std::size_t v = 0; v < left.size(); ++v) same_thing = same_thing || (left[v] && right[v]);
        if (!same_thing) return Strictness::unrelated;
        const Node possible = work_.diagrams.both(work_.situations.possible(), where_);
        return by(work_.diagrams.implies(work_.diagrams.both(x.yes, possible), y.yes),
                  work_.diagrams.implies(work_.diagrams.both(y.yes, possible), x.yes));
    }
    Strictness of(const runtime::Document& a, const runtime::Document& b) {
        const auto has_all = [](const runtime::Document& all, const runtime::Document& some) {
            return std::all_of(some.fields.begin(), some.fields.end(), [&](runtime::FieldId f) {
                return std::find(all.fields.begin(), all.fields.end(), f) != all.fields.end();
            });
        };
        const bool first = has_all(a, b);
        const bool second = has_all(b, a);
        const bool share_some = std::any_of(a.fields.begin(), a.fields.end(), [&](runtime::FieldId f) {
            return std::find(b.fields.begin(), b.fields.end(), f) != b.fields.end();
        });
        return first || second || share_some ? by(first, second) : Strictness::unrelated;
    }
    static bool follows(const runtime::FollowSteps& longer, const runtime::FollowSteps& shorter) {
        if (shorter.in_order && !longer.in_order) return false;
        if (!shorter.in_order)
            return std::all_of(shorter.steps.begin(), shorter.steps.end(), [&](const std::string& s) {
                return std::count(longer.steps.begin(), longer.steps.end(), s) >=
                       std::count(shorter.steps.begin(), shorter.steps.end(), s);
            });
        std::size_t next = 0;
        for (const std::string& step : longer.steps)
            if (next < shorter.steps.size() && step == shorter.steps[next]) ++next;
        return next == shorter.steps.size();
    }
    Strictness of(const runtime::FollowSteps& a, const runtime::FollowSteps& b) {
        return by(follows(a, b), follows(b, a));
    }
    Strictness of(const runtime::Forbid& a, const runtime::Forbid& b) {
        return share(a.events, b.events) ? by(within(b.events, a.events), within(a.events, b.events))
                                         : Strictness::unrelated;
    }
    // What may not come at all comes neither too soon nor too often.
    template <typename Limited>
    Strictness forbids_all(const runtime::Forbid& a, const Limited& b) {
        return share(a.events, b.events) && within(b.events, a.events) ? Strictness::stricter
                                                                       : Strictness::unrelated;
    }
    Strictness of(const runtime::Forbid& a, const runtime::NoMoreOftenThan& b) { return forbids_all(a, b); }
    Strictness of(const runtime::Forbid& a, const runtime::AtMostTimes& b) { return forbids_all(a, b); }
    Strictness of(const runtime::NoMoreOftenThan& a, const runtime::Forbid& b) {
        return opposite(forbids_all(b, a));
    }
    Strictness of(const runtime::AtMostTimes& a, const runtime::Forbid& b) {
        return opposite(forbids_all(b, a));
    }
    // In how many stretches of the one the other lies.
    std::int64_t stretches(const runtime::Span& one, const runtime::Span& other) const {
        if (never_longer(other, one)) return 1;
        const std::int64_t length = reach_of(one, {}).earliest;
        return length <= 0 ? highest : (reach_of(other, {}).latest + length - 1) / length;
    }
    Strictness of(const runtime::AtMostTimes& a, const runtime::AtMostTimes& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        const auto seldom_enough = [this](const runtime::AtMostTimes& one,
                                          const runtime::AtMostTimes& other) {
            return stretches(one.in, other.in) <= std::int64_t{other.times} / std::max(1U, one.times);
        };
        return joined(by(seldom_enough(a, b), seldom_enough(b, a)),
                      by(within(b.events, a.events), within(a.events, b.events)));
    }
    // So far from one to the next, at both ends of a stretch as well; and where no two may be so near, none
    // is too soon.
    Strictness of(const runtime::NoMoreOftenThan& a, const runtime::AtMostTimes& b) {
        if (!share(a.events, b.events)) return Strictness::unrelated;
        const std::int64_t apart = reach_of(a.shortest, {}).earliest;
        // Of two of a pair both lie in the clause's stretch; a window reaches back before it.
        const bool from_insertion = first_.applies_while == none && second_.applies_while == none;
        const bool implies = from_insertion && a.unless == runtime::none && apart > 0 &&
                             within(b.events, a.events) &&
                             reach_of(b.in, {}).latest / apart + 1 <= std::int64_t{b.times};
        const bool implied = b.times == 1 && never_longer(a.shortest, b.in) && within(a.events, b.events);
        return implies || implied ? by(implies, implied) : Strictness::unrelated;
    }
    Strictness of(const runtime::AtMostTimes& a, const runtime::NoMoreOftenThan& b) {
        return opposite(Demands(work_, second_, first_, kind_).of(b, a));
    }
    Strictness of(const runtime::LeavesToJudgement& a, const runtime::LeavesToJudgement& b) {
        return a.question == b.question ? Strictness::same : Strictness::unrelated;
    }
};

}  // namespace

Strictness compare_demands(Workspace& work, ClauseId first, ClauseId second, EventKindId kind, Node where) {
    return compare_demands(work, first, second, work.clause(second).demand, kind, where);
}

Strictness compare_demands(Workspace& work, ClauseId first, ClauseId second, const runtime::Demand& part,
                           EventKindId kind, Node where) {
    const runtime::Clause& a = work.clause(first);
    return Demands(work, a, work.clause(second), kind, where).compare(a.demand, part);
}

namespace {

// Attributes of the event at hand: those that a condition asks about itself, and those that it asks a table
// by.
struct Attributes {
    std::vector<bool> asked;
    std::vector<bool> given;
};

void note_attributes(const Workspace& work, runtime::ExpressionId id, EventKindId kind, bool of_table,
                     Attributes& found) {
    if (id == none) return;
    const auto note = [&](runtime::ExpressionId part) { note_attributes(work, part, kind, of_table, found); };
    const runtime::Expression& e = work.policy.expressions[id];
    if (const auto* attribute = std::get_if<runtime::EventAttribute>(&e)) {
        const std::uint32_t v = work.situations.attribute_variable(kind, attribute->field);
        if (v != none) (of_table ? found.given : found.asked)[v] = true;
    } else if (const auto* table = std::get_if<runtime::TableValue>(&e)) {
        for (const runtime::ExpressionId part : table->inputs) note_attributes(work, part, kind, true, found);
    } else if (const auto* all = std::get_if<runtime::And>(&e)) {
        for (const runtime::ExpressionId part : all->operands) note(part);
    } else if (const auto* any = std::get_if<runtime::Or>(&e)) {
        for (const runtime::ExpressionId part : any->operands) note(part);
    } else if (const auto* negation = std::get_if<runtime::Not>(&e)) {
        note(negation->operand);
    } else if (const auto* compare = std::get_if<runtime::Compare>(&e)) {
        note(compare->left);
        note(compare->right);
    } else if (const auto* one_of = std::get_if<runtime::OneOf>(&e)) {
        note(one_of->operand);
    } else if (const auto* multiple = std::get_if<runtime::Multiple>(&e)) {
        note(multiple->operand);
    } else if (const auto* difference = std::get_if<runtime::DifferenceOf>(&e)) {
        note(difference->left);
        note(difference->right);
    }
}

}  // namespace

Node kept_and_not_kept(Workspace& work, const std::vector<ClauseId>& kept,
                       const std::vector<ClauseId>& not_kept, EventKindId kind) {
    const std::vector<Variable>& variables = work.situations.variables();
    Attributes found{std::vector<bool>(variables.size()), std::vector<bool>(variables.size())};
    const auto all = [&](const std::vector<ClauseId>& clauses) {
        Node held = always;
        for (const ClauseId c : clauses) {
            const auto* holds = std::get_if<runtime::Holds>(&work.clause(c).demand);
            if (holds == nullptr || !is_at_hand(work.clause(c), kind)) continue;
            note_attributes(work, holds->condition, kind, false, found);
            held = work.diagrams.both(held, work.situations.meaning(holds->condition, kind).yes);
        }
        return held;
    };
    const Node differ = work.diagrams.without(all(kept), all(not_kept));
    std::vector<bool> asked = work.diagrams.support(differ);
    for (std::uint32_t v = 0; v < asked.size(); ++v)
        asked[v] = asked[v] && variables[v].of_an_event() && (found.asked[v] || !found.given[v]);
    return work.diagrams.forget(work.diagrams.both(work.situations.possible(), differ), asked);
}

std::vector<runtime::Demand> parts_of(const runtime::Demand& demand) {
    const auto* every = std::get_if<runtime::AtLeastEvery>(&demand);
    if (every == nullptr || !every->shortest) return {demand};
    runtime::AtLeastEvery limit = *every;
    limit.shortest.reset();
    limit.unless = none;
    return {limit, runtime::NoMoreOftenThan{every->events, *every->shortest, every->unless}};
}

}  // namespace linelaw::compiler::analysis
