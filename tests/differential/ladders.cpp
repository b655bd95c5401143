#include "tests/differential/ladders.hpp"

#include <algorithm>
#include <limits>
#include <tuple>

namespace linelaw::literal {

using namespace grammar;

namespace {

class Run {
  public:
    Run(const Book& book, const Record& record, const EscalationItem& ladder, const Start& start)
        : book_(book), record_(record), ladder_(ladder), start_(start) {
        begin_steps();
        end_ = begins_.back() == record.horizon + 1 ? start.at
                                                    : std::max(awaited_, limit_of(begins_.size() - 1));
        for (std::size_t i = 0; i < ladder.holds.size(); ++i)
            end_ = std::max(end_, hold_end(i).value_or(far_future));
    }

    // "A run is open until its last step's limit or the first F of its hold, whichever is later".
    Instant end() const { return end_; }

    void report(std::vector<Row>& out) const {
        for (std::size_t k = 0; k < begins_.size(); ++k) out.push_back(step(k));
        for (std::size_t i = 0; i < ladder_.holds.size(); ++i) hold(i, out);
    }

  private:
    struct Call {
        Instant at = 0;
        Truth truth = Truth::no;
    };

    Instant limit_of(std::size_t k) const {
        return book_.zone.add(begins_[k], span_of(ladder_.steps[k].within));
    }

    bool named_before(std::size_t k, const std::string& role) const {
        for (std::size_t i = 0; i < k; ++i)
            for (const Name& other : ladder_.steps[i].roles)
                if (other.text == role) return true;
        return false;
    }

    // "A notification of a role from the ladder's start on meets that role's step; of a role that an earlier
    // step names too, from its own step's start on."
    std::vector<Call> calls(std::size_t k) const {
        std::vector<Call> out;
        for (const Event& e : record_.events) {
            if (e.kind->name != "notification" || e.position.t < start_.at) continue;
            const Value role = attribute_of(e, "notified");
            Truth match = Truth::no;
            for (const Name& wanted : ladder_.steps[k].roles) {
                if (e.position.t < begins_[k] && named_before(k, wanted.text)) continue;
                if (role.kind == Value::Kind::missing) match = Truth::missing;
                if (role.kind == Value::Kind::hidden) match = Truth::unknown;
                if (role.kind == Value::Kind::word && role.word == wanted.text) match = Truth::yes;
            }
            if (match != Truth::no) out.push_back({e.position.t, match});
        }
        return out;
    }

    bool acknowledged(Instant from, Instant to) const {
        return std::any_of(record_.events.begin(), record_.events.end(), [&](const Event& e) {
            return e.kind->name == "acknowledgement" && e.position.t >= from && e.position.t <= to;
        });
    }

    // "If nobody acknowledged from the step's start until A after the notification (of the step's limit,
    // where it came later or not at all), the next step starts at that moment."
    void begin_steps() {
        begins_.push_back(start_.at);
        while (begins_.size() < ladder_.steps.size()) {
            const std::size_t k = begins_.size() - 1;
            Instant from = limit_of(k);
            for (const Call& c : calls(k))
                if (c.truth == Truth::yes) {
                    from = std::min(from, std::max(c.at, begins_[k]));
                    break;
                }
            const Instant next =
                book_.zone.add(from, span_of(*ladder_.steps[k + 1].if_not_acknowledged_within));
            if (acknowledged(begins_[k], next)) return;
            if (next > record_.horizon) {  // the run is not at its last step
                awaited_ = next;
                return;
            }
            begins_.push_back(next);
        }
    }

    Row row(std::size_t step, Instant opened, std::string outcome, std::optional<Instant> closed) const {
        Row r;
        r.id = ladder_.id.text;
        r.step = static_cast<int>(step);
        if (start_.part != nullptr) r.part = start_.part->name;
        r.opened = opened;
        r.outcome = std::move(outcome);
        r.closed = closed;
        return r;
    }

    bool missing_counts() const {
        return book_.clauses[static_cast<std::size_t>(start_.clause)].missing_counts;
    }
    std::string unknown(Truth why) const {
        return why == Truth::missing && missing_counts() ? "not_met" : "not_assessable";
    }

    // "A step is met by a notification of its role from its start to its limit, late after, missed or pending
    // without"; "an acknowledgement after that, but before the next step's notification, ends the next step".
    Row step(std::size_t k) const {
        const Instant begin = begins_[k];
        const Instant limit = limit_of(k);
        const Instant h = record_.horizon;
        Row r = row(k, begin, "pending", std::nullopt);
        r.due = r.limit = limit;
        const auto close = [&r](std::string outcome, Instant at) {
            r.outcome = std::move(outcome);
            r.closed = at;
            return r;
        };
        std::optional<Instant> ended;
        if (k > 0)
            for (const Event& e : record_.events)
                if (!ended && e.kind->name == "acknowledgement" && e.position.t > begin &&
                    e.position.t <= end_)
                    ended = e.position.t;
        const auto list = calls(k);
        for (const Call& c : list) {
            if (c.at > end_ || (ended && c.at > *ended)) break;
            const Instant at = std::max(c.at, begin);
            const bool certain = std::any_of(list.begin(), list.end(), [&](const Call& other) {
                return other.truth == Truth::yes && other.at == c.at;
            });
            if (certain) return close(at > limit ? "late" : "met", at);
            if (at > limit) return close("missed", at);
            const bool settled = std::any_of(list.begin(), list.end(), [&](const Call& other) {
                return other.truth == Truth::yes && other.at > c.at && std::max(other.at, begin) <= limit &&
                       (!ended || other.at <= *ended);
            });
            if (!settled) return close(unknown(c.truth), at);
        }
        if (ended) return close(*ended <= limit ? "no_longer_due" : "missed", *ended);
        return h > limit ? close("missed", h) : r;
    }

    // A hold ends with the first F from T on, or with the line.
    std::optional<Instant> hold_end(std::size_t i) const {
        std::optional<Instant> out;
        if (record_.removed) out = std::max(*record_.removed, start_.at);
        for (const Event& e : record_.events)
            if (e.position.t >= start_.at &&
                matches(ladder_.holds[i].until, e, book_, record_, nullptr) == Truth::yes)
                return out ? std::min(*out, e.position.t) : e.position.t;
        return out;
    }

    // "`no new E until F`: each E from T to the first F is not met; with none, one met at F or at the line's
    // end, or pending at the horizon".
    void hold(std::size_t i, std::vector<Row>& out) const {
        const std::size_t number = ladder_.steps.size() + i;
        const std::optional<Instant> end = hold_end(i);
        const bool by_line = end && record_.removed && *end == std::max(*record_.removed, start_.at);
        bool any = false;
        for (const Event& e : record_.events) {
            if (&e == start_.event || e.position.t < start_.at) continue;
            if (end && (by_line ? e.position.t > *end : e.position.t >= *end)) continue;
            const Truth match = matches(ladder_.holds[i].events, e, book_, record_, nullptr);
            if (match == Truth::no) continue;
            any = true;
            out.push_back(
                row(number, e.position.t, match == Truth::yes ? "not_met" : unknown(match), e.position.t));
        }
        if (!any) out.push_back(row(number, start_.at, end ? "met" : "pending", end));
    }

    const Book& book_;
    const Record& record_;
    const EscalationItem& ladder_;
    Start start_;
    std::vector<Instant> begins_;
    Instant awaited_ = std::numeric_limits<Instant>::min();  // a next step, beyond the horizon
    Instant end_ = 0;
};

}  // namespace

std::vector<Row> climb(const Book& book, const Record& record, const EscalationItem& ladder,
                       std::vector<Start> starts) {
    const auto place = [&record](const Life* part) {
        return std::find_if(record.lives.begin(), record.lives.end(),
                            [part](const Life& life) { return &life == part; }) -
               record.lives.begin();
    };
    std::stable_sort(starts.begin(), starts.end(), [&place](const Start& a, const Start& b) {
        if (a.at != b.at) return a.at < b.at;
        if (a.clause != b.clause) return a.clause < b.clause;
        if (a.part != b.part) return place(a.part) < place(b.part);
        // "its first event in the record's": one that an event started comes before one that a limit did.
        if (a.event == nullptr || b.event == nullptr) return a.event != nullptr && b.event == nullptr;
        return std::tie(a.event->position, a.event->order) < std::tie(b.event->position, b.event->order);
    });
    std::vector<Row> out;
    std::optional<Instant> open_until;
    for (const Start& s : starts) {
        // "started again while a run is open, it joins that run".
        if (open_until && s.at <= *open_until) continue;
        if (s.truth == Truth::yes) {
            const Run run(book, record, ladder, s);
            run.report(out);
            open_until = run.end();
            continue;
        }
        // §4.8 "an unknown trigger gives one finding of the ladder, step 1, not assessable".
        const bool starts_here = std::any_of(starts.begin(), starts.end(), [&](const Start& other) {
            return other.at == s.at && other.truth == Truth::yes;
        });
        if (starts_here) continue;
        Row r;
        r.id = ladder.id.text;
        r.step = 0;
        if (s.part != nullptr) r.part = s.part->name;
        const bool counts = book.clauses[static_cast<std::size_t>(s.clause)].missing_counts;
        r.outcome = s.truth == Truth::missing && counts ? "not_met" : "not_assessable";
        r.opened = s.at;
        r.closed = s.at;
        out.push_back(r);
    }
    return out;
}

// ---- bundles

namespace {

bool against(const std::string& outcome) {
    return outcome == "late" || outcome == "missed" || outcome == "early" || outcome == "not_met";
}

// "not met if one counts against; else not assessable if one is; else pending if one is; else met if at least
// one is met or excused; with none there is no opportunity."
std::optional<std::string> all_or_none(const std::vector<const Opening*>& of) {
    const auto any = [&of](const auto& test) {
        return std::any_of(of.begin(), of.end(), [&](const Opening* o) { return test(o->row.outcome); });
    };
    if (any(against)) return "not_met";
    if (any([](const std::string& o) { return o == "not_assessable"; })) return "not_assessable";
    if (any([](const std::string& o) { return o == "pending"; })) return "pending";
    if (any([](const std::string& o) { return o == "met" || o == "excused"; })) return "met";
    return std::nullopt;
}

struct Occasion {
    Instant from = 0;
    Instant until = 0;  // [from, until); an event or the whole line where both are 0
    std::optional<Instant> opened;
    std::optional<Instant> closed;
};

class Bundle {
  public:
    Bundle(const Book& book, const Record& record, const BundleItem& item,
           const std::vector<Opening>& openings)
        : book_(book), record_(record), item_(item) {
        for (const Opening& o : openings)
            for (const Name& id : item.of)
                if (id.text == o.row.id) members_.push_back(&o);
    }

    std::vector<Row> rows() const {
        std::vector<Row> out;
        if (const auto* each = std::get_if<EachEvent>(&item_.each)) at_events(*each, out);
        if (std::holds_alternative<EachLine>(item_.each)) whole_line(out);
        if (std::holds_alternative<EachCalendarDay>(item_.each))
            in_periods(grammar::Period::calendar_day, out);
        if (std::holds_alternative<EachShift>(item_.each)) in_periods(grammar::Period::shift, out);
        return out;
    }

  private:
    Instant closing(const Opening& o) const { return o.row.closed.value_or(record_.horizon); }

    // "that the event itself asked for, or that closed at it".
    Instant counted_at(const Opening& o, const EachEvent& each) const {
        const bool asked =
            o.asked_by != nullptr && matches(each.events, *o.asked_by, book_, record_, nullptr) == Truth::yes;
        if (asked) return o.row.opened;
        return closing(o);
    }

    void add(const std::vector<const Opening*>& of, Instant opened, Instant closed,
             std::vector<Row>& out) const {
        const auto outcome = all_or_none(of);
        if (!outcome) return;
        Row r;
        r.id = item_.id.text;
        r.outcome = *outcome;
        r.opened = opened;
        if (*outcome != "pending") r.closed = closed;
        out.push_back(r);
    }

    void at_events(const EachEvent& each, std::vector<Row>& out) const {
        std::optional<Instant> last;
        for (const Event& e : record_.events) {
            if (last == e.position.t || matches(each.events, e, book_, record_, nullptr) != Truth::yes)
                continue;
            last = e.position.t;
            std::vector<const Opening*> of;
            // What a period's end closed is the period's, not the event's.
            for (const Opening* o : members_)
                if (counted_at(*o, each) == e.position.t && !(o->period && o->row.closed == o->row.due))
                    of.push_back(o);
            add(of, e.position.t, e.position.t, out);
        }
    }

    void whole_line(std::vector<Row>& out) const {
        const Instant end = record_.removed.value_or(record_.horizon);
        add(members_, record_.inserted.value_or(record_.start().t), end, out);
    }

    // §4.8 "a bundle counts that period's outcome in the period itself".
    bool of_period(const Opening& o, grammar::Period kind, const Period& p) const {
        const Clause& c = book_.clauses[static_cast<std::size_t>(o.clause)];
        const auto* each = c.demand == nullptr ? nullptr : std::get_if<EachPeriod>(&c.demand->node);
        if (each != nullptr && each->period == kind && o.period)
            return o.row.opened == p.start && o.row.due == p.end;
        Instant at = closing(o);
        if (o.period && o.row.closed == o.row.due) --at;
        return p.start <= at && at < p.end;
    }

    void in_periods(grammar::Period kind, std::vector<Row>& out) const {
        const Instant from = record_.inserted ? *record_.inserted : *record_.left_edge;
        for (const Period& p : periods(book_, kind, from, record_.horizon + 1)) {
            std::vector<const Opening*> of;
            for (const Opening* o : members_)
                if (of_period(*o, kind, p)) of.push_back(o);
            add(of, p.start, p.end, out);
        }
    }

    const Book& book_;
    const Record& record_;
    const BundleItem& item_;
    std::vector<const Opening*> members_;
};

}  // namespace

std::vector<Row> bundle(const Book& book, const Record& record, const BundleItem& item,
                        const std::vector<Opening>& openings) {
    return Bundle(book, record, item, openings).rows();
}

}  // namespace linelaw::literal
