#include "compiler/drift.hpp"

#include <algorithm>
#include <set>

#include "compiler/numbers_in_sentence.hpp"
#include "compiler/quantities.hpp"
#include "grammar/to_text.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

// A number of the rule, and whether the sentence must say it.
struct Needed {
    AmountKey key;
    Place place;
    bool must_be_said = false;
    std::optional<Comparator> bound = {};  // what it is compared by
    Place bound_place = {};
    std::optional<Comparator> apart = {};  // of an interval: how far apart
};

// Walks a clause as it was written. Numbers under a grace, an exception, `for`, `while`, a term, a table or a
// ladder may be said; those of the demand and its trigger must.
class Collector {
  public:
    explicit Collector(Work& work) : work_(work) {}

    std::vector<Needed> of(const ClauseItem& clause) {
        for (const auto& line : clause.lines) std::visit(*this, line.node);
        return std::move(found_);
    }

    void operator()(const ForLine& line) { expression(line.condition, false); }
    void operator()(const ForEachLine& line) {
        if (line.where) expression(*line.where, false);
    }
    void operator()(const WhileLine& line) { expression(line.condition, false); }
    void operator()(const AtLine& line) { events(line.events, true); }
    void operator()(const AfterLine& line) { events(line.events, true); }
    void operator()(const BeforeLine& line) { events(line.events, true); }
    void operator()(const OnceLine& line) { expression(line.condition, true); }
    void operator()(const ExceptLine& line) { expression(line.condition, false); }
    void operator()(const OtherwiseEscalate& line) { ladder(line.escalation.text); }
    void operator()(const ThenEscalate& line) { ladder(line.escalation.text); }
    void operator()(const Demand& demand) {
        demand_ = demand.place;
        std::visit(*this, demand.node);
    }

    void operator()(const AtLeastEvery& d) {
        events(d.events, true);
        interval(d.every, Comparator::at_most);
        if (d.shortest) interval(*d.shortest, Comparator::at_least);
        if (d.unless) expression(**d.unless, false);
        if (d.grace) quantity(*d.grace, false);
    }
    void operator()(const NoMoreOftenThan& d) {
        events(d.events, true);
        interval(d.shortest, Comparator::at_least);
        if (d.unless) expression(**d.unless, false);
    }
    void operator()(const EachPeriod& d) {
        events(d.events, true);
        if (d.times) number(*d.times, d.times->text != "1");
        add(d.period == Period::shift ? shift_key() : day_key(), behind(d.events.back().place), true);
    }
    void operator()(const Within& d) {
        events(d.events, true);
        if (const auto* time = std::get_if<Quantity>(&d.within))
            quantity(*time, true);
        else
            add(std::get<Until>(d.within) == Until::same_calendar_day ? day_key() : shift_key(),
                behind(d.events.back().place), false);
        if (d.grace) quantity(*d.grace, false);
    }
    void operator()(const WithinEitherSide& d) {
        events(d.events, true);
        quantity(d.within, true);
    }
    void operator()(const HaveHad& d) {
        events(d.events, true);
        if (d.window) window(*d.window, true);
    }
    void operator()(const Holds& d) { expression(d.condition, true); }
    void operator()(const Forbid& d) { events(d.events, true); }
    void operator()(const AtMostTimes& d) {
        events(d.events, true);
        number(d.times, true);
        quantity(d.in, true);
    }
    void operator()(const FollowSteps& d) { add(count_key(std::to_string(d.steps.size())), {}, false); }

    // Conditions and values, of which only some hold numbers.
    void operator()(const And& e) { all(e.operands); }
    void operator()(const Or& e) { all(e.operands); }
    void operator()(const Not& e) {
        const bool before = std::exchange(turned_, !turned_);
        expression(*e.operand, must_);
        turned_ = before;
    }
    void operator()(const Comparison& e) {
        expression(*e.left, must_);
        const std::size_t first = found_.size();
        expression(*e.right, must_);
        const bool one = found_.size() == first + 1 && (std::holds_alternative<Quantity>(e.right->node) ||
                                                        std::holds_alternative<Number>(e.right->node));
        if (!one || turned_) return;
        found_.back().bound = e.comparator;
        found_.back().bound_place = e.comparator_place;
    }
    void operator()(const OneOf& e) {
        expression(*e.left, must_);
        all(e.values);
    }
    void operator()(const Between& e) {
        expression(*e.left, must_);
        expression(*e.low, must_);
        expression(*e.high, must_);
    }
    void operator()(const Occurred& e) {
        events(e.events, must_);
        window(e.window, must_);
    }
    void operator()(const SomePart& e) {
        if (e.where) expression(**e.where, must_);
    }
    void operator()(const Reference& e) { reference(e.name.text); }
    void operator()(const TimeSince& e) { events(e.events, must_); }
    void operator()(const CountOf& e) {
        events(e.events, must_);
        window(e.window, must_);
    }
    void operator()(const SumOf& e) { window(e.window, must_); }
    void operator()(const DifferenceOf& e) {
        expression(*e.left, must_);
        expression(*e.right, must_);
    }
    void operator()(const Multiple& e) {
        number(e.factor, must_);
        expression(*e.operand, must_);
    }
    void operator()(const Quantity& e) { quantity(e, must_); }
    void operator()(const Number& e) { number(e, must_); }
    template <typename Other>
    void operator()(const Other& /*other*/) {}

  private:
    // What the demand says behind its events.
    Place behind(Place events) const {
        Place rest{demand_.text, events.end, demand_.end};
        while (rest.begin < rest.end && work_.sources.slice({rest.text, rest.begin, rest.begin + 1}) <= " ")
            ++rest.begin;
        return rest.begin < rest.end ? rest : events;
    }
    void add(AmountKey key, Place place, bool must) { found_.push_back({std::move(key), place, must}); }
    void number(const Number& n, bool must) { add(count_key(n.text), n.place, must && n.text != "0"); }
    void quantity(const Quantity& q, bool must) {
        const auto amount = read_amount(q, work_.report);
        if (!amount) return;
        if (!amount->time) {
            add(physical_key(static_cast<int>(amount->dimension), amount->grains), q.place, must);
            return;
        }
        constexpr std::int64_t day = 24 * runtime::microseconds_per_hour;
        add(time_key(amount->span.elapsed + amount->span.days * day, amount->span.months), q.place, must);
    }
    void interval(const Quantity& q, Comparator apart) {
        const std::size_t first = found_.size();
        quantity(q, true);
        if (found_.size() > first) found_.back().apart = apart;
    }
    void window(const Window& w, bool must) {
        if (w.in_the_last) quantity(*w.in_the_last, must);
        if (w.since) events(*w.since, must);
    }
    void events(const Events& all, bool must) {
        for (const auto& pattern : all)
            if (pattern.where) expression(**pattern.where, must);
    }
    void expression(const Expression& e, bool must) {
        const bool before = std::exchange(must_, must);
        std::visit(*this, e.node);
        must_ = before;
    }
    void all(const std::vector<Expression>& operands) {
        for (const auto& operand : operands) expression(operand, must_);
    }
    // What stands behind a name may be said.
    void reference(const std::string& name) {
        if (!followed_.insert(name).second) return;
        const bool before = std::exchange(must_, false);
        if (const auto* term = work_.names.terms.find(name)) {
            expression(work_.names.term_items[term->id]->condition, false);
        } else if (const auto* table = work_.names.tables.find(name.substr(0, name.find('.')))) {
            for (const auto* item : work_.layers.items)
                if (const auto* t = std::get_if<TableItem>(&item->node);
                    t != nullptr && t->name.place.begin == table->place.begin)
                    rows(*t);
        }
        must_ = before;
    }
    void rows(const TableItem& table) {
        for (const auto& row : table.rows) {
            for (const auto& cell : row.given) {
                if (const auto* compare = std::get_if<CompareCell>(&cell.node))
                    expression(*compare->value, false);
                if (const auto* range = std::get_if<RangeCell>(&cell.node)) {
                    expression(range->range.low, false);
                    expression(range->range.high, false);
                }
                if (const auto* one_of = std::get_if<OneOfCell>(&cell.node))
                    for (const auto& value : one_of->values) expression(value, false);
            }
            for (const auto& answer : row.gives) expression(answer, false);
        }
    }
    void ladder(const std::string& id) {
        for (const auto* item : work_.layers.items)
            if (const auto* escalation = std::get_if<EscalationItem>(&item->node);
                escalation != nullptr && escalation->id.text == id)
                for (const auto& step : escalation->steps) {
                    quantity(step.within, false);
                    if (step.if_not_acknowledged_within) quantity(*step.if_not_acknowledged_within, false);
                }
    }

    Place demand_;
    Work& work_;
    bool must_ = false;
    bool turned_ = false;  // under a `not`, which turns bounds round
    std::vector<Needed> found_;
    std::set<std::string> followed_;
};

// Where the words stand in the sentence; the whole sentence where a line break parts them.
Place within(const Work& work, Place sentence, const std::string& words) {
    const auto at = work.sources.slice(sentence).find(words);
    if (at == std::string_view::npos) return sentence;
    const auto begin = sentence.begin + static_cast<std::uint32_t>(at);
    return {sentence.text, begin, begin + static_cast<std::uint32_t>(words.size())};
}

bool reads_as(const Said& said, const AmountKey& key) {
    return std::find(said.readings.begin(), said.readings.end(), key) != said.readings.end();
}

// What the rule says there, for a message.
std::string in_the_rule(const Work& work, const Needed& need) {
    if (need.key == day_key()) return "`each calendar day`";
    if (need.key == shift_key()) return "`each shift`";
    return work.report.quote(need.place);
}

struct Drift {
    std::vector<Needed> unsaid;   // of the rule, not in the sentence
    std::vector<Said> not_asked;  // of the sentence, not in the rule
};

Drift drift_of(const std::vector<Needed>& needed, const std::vector<Said>& said) {
    Drift drift;
    for (const auto& need : needed)
        if (need.must_be_said &&
            std::none_of(said.begin(), said.end(), [&](const Said& s) { return reads_as(s, need.key); }))
            drift.unsaid.push_back(need);
    for (const auto& one : said)
        if (one.checked && !one.readings.empty() &&
            std::none_of(needed.begin(), needed.end(), [&](const Needed& n) { return reads_as(one, n.key); }))
            drift.not_asked.push_back(one);
    return drift;
}

char kind_of(const Needed& need) {
    return need.key.front();
}
char kind_of(const Said& said) {
    return said.readings.front().front();
}

// "at least" and `more than` differ by their bound alone, "at least" and `at most` by all but their bound.
// "not … more than" and `at most` are two ways to say the same.
bool differ(Comparator a, Comparator b) {
    using C = Comparator;
    const auto are = [&](C x, C y) { return (a == x && b == y) || (a == y && b == x); };
    return are(C::at_least, C::more_than) || are(C::at_most, C::less_than) || are(C::at_least, C::at_most) ||
           are(C::more_than, C::less_than);
}

// One interval in both, for the one the longest and for the other the shortest.
void compare_intervals(Work& work, const ClauseItem& clause, const std::vector<Needed>& needed,
                       const std::vector<Said>& said) {
    for (const Said& one : said) {
        if (!one.apart) continue;
        const Needed* differs = nullptr;
        bool agrees = false;
        for (const Needed& need : needed) {
            if (!need.apart || !reads_as(one, need.key)) continue;
            if (need.apart == one.apart)
                agrees = true;
            else
                differs = &need;
        }
        if (differs == nullptr || agrees) continue;
        const auto often = [](std::optional<Comparator> apart, std::string_view interval) {
            const bool says_every = interval.substr(0, 5) == "every";
            return in_ticks((apart == Comparator::at_most ? "at least " : "no more often than ") +
                            std::string(says_every ? "" : "every ") + std::string(interval));
        };
        auto& d = work.report.add("drift.sentence",
                                  "the sentence of " + in_ticks(clause.id.text) + " says " +
                                      often(one.apart, one.words) + ", and its rule " +
                                      often(differs->apart, work.sources.slice(differs->place)),
                                  differs->place, "the rule");
        d.labels.push_back(
            {within(work, clause.sentence->place, one.words), "the sentence that the committee approves"});
    }
}

// One number in both, with bounds that do not say the same.
void compare_bounds(Work& work, const ClauseItem& clause, const std::vector<Needed>& needed,
                    const std::vector<Said>& said) {
    for (const Said& one : said) {
        if (!one.bound) continue;
        const Needed* differs = nullptr;
        bool agrees = false;
        for (const Needed& need : needed) {
            if (!reads_as(one, need.key)) continue;
            if (need.bound && differ(*one.bound, *need.bound))
                differs = &need;
            else
                agrees = true;
        }
        if (differs == nullptr || agrees) continue;
        auto& d = work.report.add("drift.sentence",
                                  "the sentence of " + in_ticks(clause.id.text) + " says " +
                                      in_ticks(to_text(*one.bound)) + " of " + in_ticks(one.words) +
                                      ", and its rule " + work.report.quote(differs->bound_place),
                                  differs->bound_place, "the rule");
        d.labels.push_back(
            {within(work, clause.sentence->place, one.words), "the sentence that the committee approves"});
    }
}

// The only one of its kind (a time, a length …), if there is just one.
template <typename One>
const One* only_one(const std::vector<One>& all, char kind) {
    const auto of_kind = [kind](const One& one) { return kind_of(one) == kind; };
    if (std::count_if(all.begin(), all.end(), of_kind) != 1) return nullptr;
    return &*std::find_if(all.begin(), all.end(), of_kind);
}

void compare(Work& work, const ClauseItem& clause) {
    if (!clause.sentence) return;
    const Place sentence = clause.sentence->place;
    const auto add = [&](const std::string& message, Place place, const std::string& label,
                         grammar::Label beside) {
        work.report.add("drift.sentence", message, place, label).labels.push_back(std::move(beside));
    };
    const std::string the_sentence = "the sentence of " + in_ticks(clause.id.text) + " says ";
    const auto needed = Collector(work).of(clause);
    const auto all_said = numbers_in(clause.sentence->text);
    compare_bounds(work, clause, needed, all_said);
    compare_intervals(work, clause, needed, all_said);
    const Drift drift = drift_of(needed, all_said);
    for (const auto& need : drift.unsaid) {
        const bool alone = only_one(drift.unsaid, kind_of(need)) != nullptr;
        const Said* twin = alone ? only_one(drift.not_asked, kind_of(need)) : nullptr;
        if (twin != nullptr)  // two words for one thing
            add(the_sentence + in_ticks(twin->words) + ", and its rule says " + in_the_rule(work, need),
                need.place, "the rule",
                {within(work, sentence, twin->words), "the sentence that the committee approves"});
        else
            add("the rule of " + in_ticks(clause.id.text) + " says " + in_the_rule(work, need) +
                    ", and its sentence does not",
                need.place, "not in the sentence", {sentence, "the sentence that the committee approves"});
    }
    for (const auto& said : drift.not_asked) {
        const bool told = only_one(drift.not_asked, kind_of(said)) != nullptr &&
                          only_one(drift.unsaid, kind_of(said)) != nullptr;
        if (!told)
            add(the_sentence + in_ticks(said.words) + ", and its rule does not",
                within(work, sentence, said.words), "the rule does not say this",
                {clause.id.place, "the rule"});
    }
}

}  // namespace

void check_drift(Work& work) {
    for (const auto& clause : work.out.clauses) compare(work, clause);
}

}  // namespace linelaw::compiler
