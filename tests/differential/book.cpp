#include "tests/differential/book.hpp"

#include <algorithm>
#include <cassert>
#include <set>

namespace linelaw::literal {

using namespace grammar;

int EventKind::slot(std::string_view attribute) const {
    for (std::size_t i = 0; i < attributes.size(); ++i)
        if (attributes[i]->name.text == attribute) return static_cast<int>(i);
    return -1;
}

const Attribute* find_attribute(const std::vector<const Attribute*>& list, std::string_view name) {
    for (const Attribute* a : list)
        if (a->name.text == name) return a;
    return nullptr;
}

namespace {
enum class Civil { none, day, calendar_day, week, month, year };
Civil civil_unit(std::string_view unit) {
    if (unit == "day" || unit == "days") return Civil::day;
    if (unit == "calendar day" || unit == "calendar days") return Civil::calendar_day;
    if (unit == "week" || unit == "weeks") return Civil::week;
    if (unit == "month" || unit == "months") return Civil::month;
    if (unit == "year" || unit == "years") return Civil::year;
    return Civil::none;
}
}  // namespace

bool is_civil(const Quantity& quantity) {
    return civil_unit(quantity.terms.front().unit.text) != Civil::none;
}

Span span_of(const Quantity& quantity) {
    Span out;
    for (const QuantityTerm& term : quantity.terms) {
        const Civil civil = civil_unit(term.unit.text);
        const Ratio number = *read_decimal(term.number.text);
        if (civil == Civil::none) {
            const Ratio micro = number * scale_of(term.unit.text)->times * Ratio{one_second, 1};
            out.elapsed += static_cast<Instant>(micro.over / micro.under);
            continue;
        }
        const int whole = static_cast<int>(number.over);
        if (civil == Civil::year) out.months += 12 * whole;
        if (civil == Civil::month) out.months += whole;
        if (civil == Civil::week) out.days += 7 * whole;
        if (civil == Civil::day || civil == Civil::calendar_day) out.days += whole;
        if (civil == Civil::calendar_day) out.calendar = true;
    }
    return out;
}

Ratio number_of(const Quantity& quantity) {
    Ratio out;
    for (const QuantityTerm& term : quantity.terms) {
        const Scale scale = *scale_of(term.unit.text);
        out = out + *read_decimal(term.number.text) * scale.times + scale.plus;
    }
    return out;
}

namespace {

// Every duration in a condition, for the candidate moments at which it may change.
struct Spans {
    const Book& book;
    std::vector<Span>& out;
    std::set<std::string> terms_seen;

    void of(const Events& events) {
        for (const EventPattern& p : events)
            if (p.where) of(**p.where);
    }
    void of(const Window& window) {
        if (window.in_the_last) out.push_back(span_of(*window.in_the_last));
        if (window.since) of(*window.since);
    }
    void of(const Expression& e) {
        std::visit([this](const auto& node) { of(node); }, e.node);
    }
    void of(const Box<Expression>& e) { of(*e); }
    void of(const Reference& r) {
        const auto term = book.terms.find(r.name.text);
        if (term != book.terms.end() && terms_seen.insert(r.name.text).second) of(*term->second);
        const auto dot = r.name.text.find('.');
        const auto table = book.tables.find(r.name.text.substr(0, dot));
        if (dot == std::string::npos || table == book.tables.end()) return;
        for (const TableRow& row : table->second->rows)
            for (const Cell& cell : row.given)
                if (const auto* compare = std::get_if<CompareCell>(&cell.node)) of(*compare->value);
    }
    void of(const Quantity& q) {
        if (is_civil(q) || scale_of(q.terms.front().unit.text)->what == "duration") out.push_back(span_of(q));
    }
    void of(const And& x) {
        for (const auto& o : x.operands) of(o);
    }
    void of(const Or& x) {
        for (const auto& o : x.operands) of(o);
    }
    void of(const Not& x) { of(x.operand); }
    void of(const Comparison& x) {
        of(x.left);
        of(x.right);
    }
    void of(const OneOf& x) {
        of(x.left);
        for (const auto& v : x.values) of(v);
    }
    void of(const Between& x) {
        of(x.left);
        of(x.low);
        of(x.high);
    }
    void of(const Occurred& x) {
        of(x.events);
        of(x.window);
    }
    void of(const SomePart& x) {
        if (x.where) of(*x.where);
    }
    void of(const TimeSince& x) { of(x.events); }
    void of(const CountOf& x) {
        of(x.events);
        of(x.window);
    }
    void of(const SumOf& x) { of(x.window); }
    void of(const DifferenceOf& x) {
        of(x.left);
        of(x.right);
    }
    void of(const Multiple& x) { of(x.operand); }
    template <typename Other>
    void of(const Other&) {}
};

EventKind& kind(Book& book, const std::string& name) {
    EventKind& k = book.kinds[name];
    k.name = name;
    return k;
}

// §2 "Built-in events: insertion and removal, notification, acknowledgement. Every event has charting_delay".
void add_built_in(Book& book) {
    for (const char* name : {"insertion", "removal"}) kind(book, name);
    book.role.name.text = "notified";
    book.role.type.kind = TypeKind::one_of;
    for (const Item& item : book.vocabulary.items)
        if (const auto* roles = std::get_if<RoleItem>(&item.node))
            for (const Name& n : roles->names) book.role.type.values.push_back(n);
    book.acknowledged_by = book.role;
    book.acknowledged_by.name.text = "acknowledged_by";
    kind(book, "notification").attributes.push_back(&book.role);
    kind(book, "acknowledgement").attributes.push_back(&book.acknowledged_by);
    for (const char* name : {"notification", "acknowledgement"}) kind(book, name).after_removal = true;
    book.charting_delay.name.text = "charting_delay";
    book.charting_delay.type.kind = TypeKind::duration;
}

void add_event(Book& book, const EventItem& item) {
    EventKind& k = kind(book, item.name.text);
    if (item.of) k.of = item.of->text;
    k.after_removal = k.after_removal || item.also_after_removal;
    for (const Attribute& a : item.attributes) k.attributes.push_back(&a);
    for (const Name& s : item.steps) k.steps.push_back(s.text);
}

void add_part(Book& book, const PartItem& item) {
    PartKind& p = book.parts[item.name.text];
    p.name = item.name.text;
    if (item.of) p.of = item.of->text;
    if (item.count) p.count = item.count->text.substr(item.count->text.find('.') + 1);
    for (const Attribute& a : item.attributes) p.attributes.push_back(&a);
    for (const EventPattern& from : item.from) kind(book, from.event.text).begins = p.name;
    for (const EventPattern& until : item.until) kind(book, until.event.text).ends = p.name;
}

std::string part_of(const EventKind& k) {
    return !k.of.empty() ? k.of : !k.begins.empty() ? k.begins : k.ends;
}

void add_state(Book& book, const StateItem& item) {
    State s;
    s.item = &item;
    for (const Name& source : item.sources) {
        const auto dot = source.text.find('.');
        s.sources.emplace_back(source.text.substr(0, dot), source.text.substr(dot + 1));
        const EventKind& k = book.kinds.at(s.sources.back().first);
        s.type = &k.attributes[static_cast<std::size_t>(k.slot(s.sources.back().second))]->type;
        s.of = part_of(k);
    }
    if (!item.from.empty()) s.of = part_of(book.kinds.at(item.from.front().event.text));
    book.states[item.name.text] = s;
}

void read_line(Clause& c, const ClauseLine& line) {
    using Trigger = Clause::Trigger;
    const auto events = [&c](Trigger trigger, const Events& list) {
        c.trigger = trigger;
        c.events = &list;
    };
    if (const auto* x = std::get_if<ForLine>(&line.node)) c.conditions.push_back(&x->condition);
    if (const auto* x = std::get_if<WhileLine>(&line.node)) c.conditions.push_back(&x->condition);
    if (const auto* x = std::get_if<ForEachLine>(&line.node)) c.each = x;
    if (std::holds_alternative<EvenAfterRemoval>(line.node)) c.even_after_removal = true;
    if (const auto* x = std::get_if<AtLine>(&line.node)) events(Trigger::at, x->events);
    if (const auto* x = std::get_if<AfterLine>(&line.node)) events(Trigger::after, x->events);
    if (const auto* x = std::get_if<BeforeLine>(&line.node)) events(Trigger::before, x->events);
    if (const auto* x = std::get_if<OnceLine>(&line.node)) {
        c.trigger = Trigger::once;
        c.once = &x->condition;
    }
    if (const auto* x = std::get_if<Demand>(&line.node)) c.demand = x;
    if (const auto* x = std::get_if<ExceptLine>(&line.node)) c.exceptions.push_back(&x->condition);
    if (const auto* x = std::get_if<OtherwiseEscalate>(&line.node)) c.otherwise_escalate = x->escalation.text;
    if (const auto* x = std::get_if<ThenEscalate>(&line.node)) c.then_escalate = x->escalation.text;
    if (const auto* x = std::get_if<UndocumentedLine>(&line.node))
        c.missing_counts = x->counts == UndocumentedCounts::not_met;
}

// `must not NAME` where NAME is no event is the condition `not NAME`.
void read_must_not(const Book& book, Clause& c) {
    if (c.demand == nullptr) return;
    const auto* forbid = std::get_if<Forbid>(&c.demand->node);
    if (forbid == nullptr || forbid->events.size() != 1 || forbid->events.front().where) return;
    const Name& name = forbid->events.front().event;
    if (book.kinds.count(name.text) != 0) return;
    c.must_not = Expression{Not{Expression{Reference{name}, name.place}}, name.place};
}

void link_overrides(Book& book) {
    for (std::size_t i = 0; i < book.clauses.size(); ++i)
        for (const ClauseLine& line : book.clauses[i].item->lines)
            if (const auto* x = std::get_if<OverridesLine>(&line.node))
                for (const Name& id : x->clauses)
                    for (Clause& other : book.clauses)
                        if (other.id == id.text) other.overridden_by.push_back(static_cast<int>(i));
}

void collect_spans(Book& book, Clause& c, const Clause& from) {
    Spans spans{book, c.spans, {}};
    for (const Expression* e : from.conditions) spans.of(*e);
    for (const Expression* e : from.exceptions) spans.of(*e);
    if (from.once != nullptr) spans.of(*from.once);
    if (from.each != nullptr && from.each->where) spans.of(*from.each->where);
    for (const int over : from.overridden_by)
        collect_spans(book, c, book.clauses[static_cast<std::size_t>(over)]);
}

void add_vocabulary(Book& book) {
    for (const Item& item : book.vocabulary.items) {
        if (const auto* x = std::get_if<PatientBlock>(&item.node))
            for (const Attribute& a : x->attributes) book.patient.push_back(&a);
        if (const auto* x = std::get_if<LineBlock>(&item.node))
            for (const Attribute& a : x->attributes) book.line.push_back(&a);
        if (const auto* x = std::get_if<EventItem>(&item.node)) add_event(book, *x);
        if (const auto* x = std::get_if<PartItem>(&item.node)) add_part(book, *x);
    }
    for (auto& [name, k] : book.kinds)
        if (!k.begins.empty())
            for (const Attribute* a : book.parts.at(k.begins).attributes)
                if (k.slot(a->name.text) < 0) k.attributes.push_back(a);
    for (auto& [name, k] : book.kinds) k.attributes.push_back(&book.charting_delay);
    for (const Item& item : book.vocabulary.items)
        if (const auto* x = std::get_if<StateItem>(&item.node)) add_state(book, *x);
}

void add_policy(Book& book) {
    const auto& header = std::get<PolicyHeader>(book.policy.header);
    if (header.time_zone) book.zone = Zone(header.time_zone->text);
    for (const Item& item : book.policy.items) {
        if (const auto* x = std::get_if<ShiftItem>(&item.node)) book.shifts.push_back(x);
        if (const auto* x = std::get_if<TermItem>(&item.node)) book.terms[x->name.text] = &x->condition;
        if (const auto* x = std::get_if<TableItem>(&item.node)) book.tables[x->name.text] = x;
        if (const auto* x = std::get_if<EscalationItem>(&item.node)) book.ladders.push_back(x);
        if (const auto* x = std::get_if<BundleItem>(&item.node)) book.bundles.push_back(x);
        if (const auto* x = std::get_if<ClauseItem>(&item.node)) {
            Clause c;
            c.item = x;
            c.id = x->id.text;
            c.missing_counts = header.undocumented == UndocumentedCounts::not_met;
            for (const ClauseLine& line : x->lines) read_line(c, line);
            read_must_not(book, c);
            book.clauses.push_back(std::move(c));
        }
    }
    link_overrides(book);
    for (Clause& c : book.clauses) collect_spans(book, c, c);
}

}  // namespace

std::unique_ptr<Book> open_book(Tree policy, Tree vocabulary) {
    auto book = std::make_unique<Book>();
    book->policy = std::move(policy);
    book->vocabulary = std::move(vocabulary);
    add_built_in(*book);
    add_vocabulary(*book);
    add_policy(*book);
    return book;
}

}  // namespace linelaw::literal
