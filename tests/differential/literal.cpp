#include "tests/differential/literal.hpp"

#include <algorithm>

#include "tests/differential/ladders.hpp"

namespace linelaw::literal {

namespace {

using Starts = std::vector<std::pair<std::string, Start>>;  // by ladder

// §3 "`then escalate`: the moment itself starts the ladder"; §4.8 of a clause with only that, an exception
// that holds keeps it from starting, and an unknown trigger gives one finding.
void add_moments(const Judging& j, Starts& out) {
    if (j.clause.then_escalate.empty()) return;
    for (const Trigger& t : triggers(j)) {
        if (j.record.left_edge && t.at < *j.record.left_edge) continue;
        Truth starts = t.truth;
        if (j.clause.demand == nullptr) {
            Ask ask{&j.book, &j.record, t.event != nullptr ? t.event->position : Position{t.at, 2},
                    true,    t.event,   false,
                    j.part};
            for (const grammar::Expression* e : j.clause.exceptions)
                starts = both(starts, negate(holds(*e, ask)));
        }
        if (starts != Truth::no)
            out.push_back({j.clause.then_escalate, {t.at, starts, j.index, j.part, t.event}});
    }
}

// §4.7 `otherwise escalate`: at the limit for late and missed, at the event for not met and early.
void add_outcome(const Judging& j, const Opening& o, Starts& out) {
    const std::string& outcome = o.row.outcome;
    if (j.clause.otherwise_escalate.empty()) return;
    Start start{0, Truth::yes, j.index, j.part, nullptr};
    if (outcome == "late" || outcome == "missed")
        start.at = *o.row.limit;
    else if (outcome == "not_met" || outcome == "early")
        start.at = *o.row.closed;
    else
        return;
    if (j.record.left_edge && start.at < *j.record.left_edge) return;  // not in view
    if (outcome == "not_met" || outcome == "early") start.event = o.event;
    out.push_back({j.clause.otherwise_escalate, start});
}

void judge_clause(const Judging& j, std::vector<Opening>& openings, Starts& starts) {
    for (Opening& o : open_all(j)) {
        add_outcome(j, o, starts);
        openings.push_back(o);
    }
    add_moments(j, starts);
}

// §2 "`COUNT of them` undocumented: one not assessable".
void judge_uncounted(const Judging& j, Truth why, std::vector<Opening>& out, Starts& starts) {
    Opening o;
    o.clause = j.index;
    o.why = why;
    o.row.id = j.clause.id;
    o.row.outcome = "not_assessable";
    o.row.opened = j.record.start().t;
    o.row.closed = o.row.opened;
    settle(j, o);
    add_outcome(j, o, starts);
    out.push_back(o);
}

}  // namespace

std::vector<Row> judge(const Book& book, const nlohmann::json& json) {
    Record record;
    read_record(book, json, record);
    std::vector<Opening> openings;
    Starts starts;
    for (std::size_t i = 0; i < book.clauses.size(); ++i) {
        const Clause& clause = book.clauses[i];
        const int index = static_cast<int>(i);
        if (clause.each == nullptr) {
            judge_clause({book, record, clause, index, nullptr}, openings, starts);
            continue;
        }
        for (const Life& life : record.lives)
            if (life.kind->name == clause.each->part.text)
                judge_clause({book, record, clause, index, &life}, openings, starts);
        for (const auto& [kind, why] : record.uncounted)
            if (kind->name == clause.each->part.text)
                judge_uncounted({book, record, clause, index, nullptr}, why, openings, starts);
    }
    std::vector<Row> out;
    for (const Opening& o : openings) out.push_back(o.row);
    for (const grammar::EscalationItem* ladder : book.ladders) {
        std::vector<Start> mine;
        for (const auto& [id, start] : starts)
            if (id == ladder->id.text) mine.push_back(start);
        for (Row& r : climb(book, record, *ladder, mine)) out.push_back(std::move(r));
    }
    for (const grammar::BundleItem* item : book.bundles)
        for (Row& r : bundle(book, record, *item, openings)) out.push_back(std::move(r));
    return out;
}

}  // namespace linelaw::literal
