// language.md §4.3 `at least every`.
#include <algorithm>

#include "tests/differential/answers.hpp"

namespace linelaw::literal {

using namespace grammar;

namespace {

struct Open {
    Instant a = 0;
    Truth a_is_event = Truth::no;  // yes, no, or why that is uncertain
    bool at_edge = false;
};

class Interval {
  public:
    Interval(const Judging& j, const AtLeastEvery& demand, std::vector<Opening>& out)
        : j_(j),
          demand_(demand),
          every_(span_of(demand.every)),
          answers_(answers(j, demand.events)),
          out_(out) {}

    void judge(const Stretch& s) {
        open_ = start(s);
        for (const Answer& answer : answers_) {
            const bool inside = s.begin <= answer.position && answer.position < s.end;
            if (!inside || (answer.position.t == s.begin.t && !s.at_edge)) continue;
            if (!passed_over(answer, s)) take(answer, s);
        }
        end(s);
    }

  private:
    // "At the start of a stretch one opens at a: the newest matching event at or before the start, if its
    // limit lies after the start; else the start. (`counted anew` makes it the start always.)"
    Open start(const Stretch& s) const {
        Open open{s.begin.t, Truth::no, s.at_edge};
        if (s.at_edge) return open;
        const Answer* newest = nullptr;
        for (const Answer& a : answers_)
            if (a.position.t <= s.begin.t) newest = &a;
        if (newest == nullptr) {
            open.at_edge = unseen_lives_on(s);
            return open;
        }
        const Instant t = newest->position.t;
        const bool lives_on = limit_from(j_.book.zone, t, every_, demand_.grace).limit > s.begin.t;
        if (t == s.begin.t || (lives_on && !demand_.counted_anew)) return {t, newest->truth, false};
        return open;
    }

    // §4.8 "so does a stretch … while one at F itself would still have its limit after the start".
    bool unseen_lives_on(const Stretch& s) const {
        if (!j_.record.left_edge || demand_.counted_anew) return false;
        const Instant edge = *j_.record.left_edge;
        return may_have_been_before_view(demand_.events, at_moment(j_.book, j_.record, s.begin, j_.part)) &&
               limit_from(j_.book.zone, edge, every_, demand_.grace).limit > s.begin.t;
    }

    Limit limit() const { return limit_from(j_.book.zone, open_->a, every_, demand_.grace); }

    // What a certain match at the answer's instant would give: met, late, early; nothing where nobody knows.
    std::optional<std::string> outcome_of(const Answer& answer, Truth& why) const {
        const Instant t = answer.position.t;
        if (demand_.shortest && open_->a_is_event != Truth::no &&
            t < j_.book.zone.add(open_->a, span_of(*demand_.shortest))) {
            const Truth early = both(open_->a_is_event, negate(unless_of(j_, demand_.unless, answer)));
            if (early == Truth::yes) return "early";
            if (early != Truth::no) {
                why = early;
                return std::nullopt;
            }
        }
        return limit().past(t) ? "late" : "met";
    }

    // §4.2 "unless a certain match by the limit gives the same outcome in every case".
    bool passed_over(const Answer& answer, const Stretch& s) const {
        if (answer.truth == Truth::yes || open_->at_edge || limit().past(answer.position.t)) return false;
        Truth why = Truth::missing;
        const auto mine = outcome_of(answer, why);
        for (const Answer& later : answers_) {
            if (later.position <= answer.position || later.truth != Truth::yes) continue;
            if (!(later.position < s.end) || limit().past(later.position.t)) return false;
            return mine && mine == outcome_of(later, why);
        }
        return false;
    }

    void close(std::string outcome, Instant at, Truth why, const Event* event) {
        Opening o = opening(j_, open_->a, std::move(outcome), at);
        o.why = why;
        o.event = event;
        if (!open_->at_edge) with_limit(o, limit());
        out_.push_back(o);
    }

    void take(const Answer& answer, const Stretch& s) {
        const Instant t = answer.position.t;
        Truth why = answer.truth;
        if (open_->at_edge) {
            close("not_assessable", t, Truth::unknown, nullptr);
        } else if (answer.truth == Truth::yes) {
            const auto outcome = outcome_of(answer, why);
            close(outcome.value_or("not_assessable"), t, why, answer.event);
        } else {
            close(limit().past(t) ? "missed" : "not_assessable", t, why, answer.event);
        }
        // "an event with which the stretch ends opens none".
        const bool ends_here = s.ended && s.end.t == t;
        open_ = Open{t, answer.truth, false};
        if (ends_here) open_.reset();
    }

    void end(const Stretch& s) {
        if (!open_) return;
        const Instant x = s.ended ? s.end.t : j_.record.horizon;
        if (open_->at_edge && x == open_->a) return;  // known for no time at all
        if (open_->at_edge) return close("not_assessable", x, Truth::unknown, nullptr);
        if (limit().past(x)) return close("missed", x, Truth::no, nullptr);
        if (s.ended && !is_known(s.then)) return close("not_assessable", x, s.then, nullptr);
        close(s.ended ? "no_longer_due" : "pending", x, Truth::no, nullptr);
        if (!s.ended) out_.back().row.closed.reset();
    }

    const Judging& j_;
    const AtLeastEvery& demand_;
    Span every_;
    std::vector<Answer> answers_;
    std::vector<Opening>& out_;
    std::optional<Open> open_;
};

}  // namespace

// §4.2 "A stretch over which `for` or `while` is unknown gives one opportunity".
void judge(const Judging& j, const AtLeastEvery& demand, std::vector<Opening>& out) {
    Interval interval(j, demand, out);
    for (const Stretch& s : stretches(j.book, j.clause, j.record, j.part)) {
        if (s.truth == Truth::yes)
            interval.judge(s);
        else
            out.push_back(unknown_opening(j, s.begin.t, s.begin.t, s.truth));
    }
}

}  // namespace linelaw::literal
