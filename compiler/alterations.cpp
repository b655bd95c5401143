#include "compiler/alterations.hpp"

#include <algorithm>
#include <set>

#include "compiler/report.hpp"
#include "compiler/tree_walk.hpp"
#include "grammar/format.hpp"
#include "grammar/to_text.hpp"
#include "grammar/words.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

// The number one step up or down, a step being one of its last written digit.
std::optional<std::string> stepped(const std::string& number, int by) {
    const auto point = number.find('.');
    std::string digits = number;
    if (point != std::string::npos) digits.erase(point, 1);
    if (digits.empty() || digits.size() > 15 ||
        !std::all_of(digits.begin(), digits.end(), [](char c) { return c >= '0' && c <= '9'; }))
        return std::nullopt;
    const auto value = std::stoll(digits) + by;
    if (value < 0) return std::nullopt;
    std::string out = std::to_string(value);
    if (point == std::string::npos) return out;
    const auto decimals = number.size() - point - 1;
    if (out.size() <= decimals) out.insert(0, decimals + 1 - out.size(), '0');
    return out.insert(out.size() - decimals, ".");
}

// What a unit is easily mistaken for. Of a demand, days are counted from an hour or from midnight.
std::string mistaken_unit(const std::string& unit, bool of_demand) {
    static const std::vector<std::pair<std::string, std::string>> pairs = {
        {"s", "min"},      {"min", "h"},        {"h", "min"},      {"week", "days"},    {"weeks", "days"},
        {"month", "week"}, {"months", "weeks"}, {"year", "month"}, {"years", "months"}, {"mm", "cm"},
        {"cm", "mm"},      {"inch", "cm"},      {"mL", "L"},       {"L", "mL"},         {"g", "kg"},
        {"kg", "g"},       {"degC", "degF"},    {"degF", "degC"}};
    if (unit == "day" || unit == "days") return of_demand ? "calendar days" : "weeks";
    if (unit == "calendar day" || unit == "calendar days") return "days";
    for (const auto& [from, to] : pairs)
        if (from == unit) return to;
    return "";
}

std::optional<Comparator> other_strictness(Comparator comparator) {
    switch (comparator) {
        case Comparator::at_least:
            return Comparator::more_than;
        case Comparator::more_than:
            return Comparator::at_least;
        case Comparator::at_most:
            return Comparator::less_than;
        case Comparator::less_than:
            return Comparator::at_most;
        default:
            return std::nullopt;
    }
}

std::string after(const std::string& head, const std::string& words) {
    return head.empty() ? words : head + ' ' + words;
}

// One item's alterations.
class ItemAlterations {
  public:
    ItemAlterations(std::string item, const std::vector<std::string>& roles, std::vector<Alteration>& out)
        : item_(std::move(item)), roles_(roles), out_(out) {}

    void becomes(Place edit, std::string replacement, Place shown, const std::string& from,
                 const std::string& to) {
        add(edit, std::move(replacement), shown, in_ticks(from) + " becomes " + in_ticks(to));
    }
    void left_out(Place edit, std::string replacement, Place shown, const std::string& what) {
        add(edit, std::move(replacement), shown, in_ticks(what) + " is left out");
    }

    // ---- numbers and quantities; `head` are the words before it: "at least", "grace"

    void number(const Number& n, const std::string& head, const std::string& tail = "") {
        for (const int by : {1, -1})
            if (const auto other = stepped(n.text, by))
                becomes(n.place, *other, n.place, after(head, n.text + tail), after(head, *other + tail));
    }
    void quantity(const Quantity& q, const std::string& head, bool of_demand) {
        for (const int by : {1, -1}) {
            Quantity other = q;
            const auto value = stepped(other.terms.back().number.text, by);
            if (!value || (of_demand && *value == "0")) continue;  // no time at all is none to keep
            other.terms.back().number.text = *value;
            becomes(q.place, to_text(other), q.place, after(head, to_text(q)), after(head, to_text(other)));
        }
        if (q.terms.size() != 1) return;
        Quantity other = q;
        other.terms.front().unit.text = mistaken_unit(q.terms.front().unit.text, of_demand);
        if (other.terms.front().unit.text.empty()) return;
        becomes(q.place, to_text(other), q.place, after(head, to_text(q)), after(head, to_text(other)));
    }
    void literal(const Expression& e, const std::string& head) {
        if (const auto* q = std::get_if<Quantity>(&e.node)) quantity(*q, head, false);
        if (const auto* n = std::get_if<Number>(&e.node)) number(*n, head);
    }

    // ---- conditions

    void comparison(const Comparison& c) {
        literal(*c.right, to_text(c.comparator));
        const auto other = other_strictness(c.comparator);
        if (!other) return;
        Place shown = c.comparator_place;
        shown.end = std::max(shown.end, c.right->place.end);
        becomes(c.comparator_place, to_text(*other), shown, after(to_text(c.comparator), to_text(*c.right)),
                after(to_text(*other), to_text(*c.right)));
    }
    void expression(const Expression& e) {
        if (const auto* c = std::get_if<Comparison>(&e.node)) comparison(*c);
        if (const auto* b = std::get_if<Between>(&e.node)) {
            literal(*b->low, "between");
            literal(*b->high, "and");
        }
        if (const auto* m = std::get_if<Multiple>(&e.node)) number(m->factor, "", " times");
        if (const auto* part = std::get_if<SomePart>(&e.node); part != nullptr && part->where) {
            const std::string bare = (part->negated ? "no " : "any ") + part->part.text;
            left_out(e.place, bare, (*part->where)->place, "where " + to_text(**part->where));
        }
    }
    void pattern(const EventPattern& p) {
        if (p.where) left_out(p.place, p.event.text, (*p.where)->place, "where " + to_text(**p.where));
    }
    void window(const Window& w) {
        if (w.in_the_last) quantity(*w.in_the_last, "in the last", false);
    }
    TreeVisitor visitor() {
        return {[this](const Expression& e) { expression(e); }, [this](const EventPattern& p) { pattern(p); },
                [this](const Window& w) { window(w); }};
    }

    // Each of several conditions that are joined by `and`; answers false where it is one alone.
    bool conjuncts(const Expression& condition) {
        const auto* all = std::get_if<And>(&condition.node);
        if (all == nullptr) return false;
        for (std::size_t i = 0; i < all->operands.size(); ++i) {
            And rest = *all;
            rest.operands.erase(rest.operands.begin() + static_cast<std::ptrdiff_t>(i));
            const Expression other =
                rest.operands.size() == 1 ? rest.operands.front() : Expression{rest, condition.place};
            left_out(condition.place, to_text(other), all->operands[i].place, to_text(all->operands[i]));
        }
        return true;
    }
    void line(const ClauseLine& line, const Expression& condition, const std::string& word) {
        if (!conjuncts(condition)) left_out(line.place, "", line.place, word + ' ' + to_text(condition));
    }

    // ---- clauses

    void clause(const ClauseItem& clause) {
        for (const auto& line : clause.lines) {
            std::visit([&](const auto& node) { take(line, node); }, line.node);
            walk(line, visitor());
        }
    }

    void ladder(const EscalationItem& ladder) {
        for (std::size_t s = 0; s < ladder.steps.size(); ++s) {
            const auto& step = ladder.steps[s];
            const std::string head = s == 0 ? "first notify" : "then notify";
            for (const auto& role : step.roles) another_role(step, role);
            quantity(step.within, "within", true);
            if (step.if_not_acknowledged_within)
                quantity(*step.if_not_acknowledged_within, "if not acknowledged within", true);
            if (s > 0)
                left_out(step.place, "", step.place, head + ' ' + grammar::to_text(step.roles, " or "));
        }
        for (const auto& hold : ladder.holds) {
            left_out(hold.place, "", hold.place, "no new " + to_text(hold.events));
            walk(hold.events, visitor());
            walk(hold.until, visitor());
        }
    }

    void table(const TableItem& table) {
        for (const auto& row : table.rows) {
            left_out(row.place, "", row.place, "row " + words_of(row));
            for (const auto& cell : row.given) given(cell);
            for (const auto& value : row.gives) literal(value, "");
        }
    }

    void term(const TermItem& term) {
        conjuncts(term.condition);
        walk(term.condition, visitor());
    }

  private:
    void add(Place edit, std::string replacement, Place shown, std::string words) {
        out_.push_back({edit, std::move(replacement), shown, std::move(words), item_});
    }

    void take(const ClauseLine& line, const ForLine& node) { this->line(line, node.condition, "for"); }
    void take(const ClauseLine& line, const WhileLine& node) { this->line(line, node.condition, "while"); }
    void take(const ClauseLine& line, const ExceptLine& node) {
        this->line(line, node.condition, "except when");
    }
    void take(const ClauseLine& line, const ForEachLine& node) {
        if (!node.where || conjuncts(*node.where)) return;
        left_out(line.place, "for each " + node.part.text, node.where->place,
                 "where " + to_text(*node.where));
    }
    void take(const ClauseLine& line, const EvenAfterRemoval& /*node*/) {
        left_out(line.place, "", line.place, "even after removal");
    }
    void take(const ClauseLine& line, const OtherwiseEscalate& node) {
        left_out(line.place, "", line.place, "otherwise escalate " + node.escalation.text);
    }
    void take(const ClauseLine& line, const OverridesLine& node) {
        left_out(line.place, "", line.place, "overrides " + grammar::to_text(node.clauses, ", "));
    }
    void take(const ClauseLine& line, const UndocumentedLine& node) {
        const bool not_met = node.counts == UndocumentedCounts::not_met;
        const std::string head = "undocumented counts as ";
        const std::string now = head + (not_met ? "not met" : "not assessable");
        const std::string then = head + (not_met ? "not assessable" : "not met");
        becomes(line.place, then, line.place, now, then);
    }
    void take(const ClauseLine& /*line*/, const OnceLine& node) { conjuncts(node.condition); }
    void take(const ClauseLine& /*line*/, const Demand& node) {
        std::visit([&](const auto& demand_node) { demand(node, demand_node); }, node.node);
    }
    template <typename Line>
    void take(const ClauseLine& /*line*/, const Line& /*nothing of it alone*/) {}

    // The demand with another node in its place.
    template <typename Node>
    static std::string with(Demand demand, Node node) {
        demand.node = std::move(node);
        return to_text(demand);
    }
    template <typename Node>
    void unless(const Demand& demand, const Node& node) {
        if (!node.unless || conjuncts(**node.unless)) return;
        Node other = node;
        other.unless.reset();
        left_out(demand.place, with(demand, std::move(other)), (*node.unless)->place,
                 "unless " + to_text(**node.unless));
    }
    template <typename Node>
    void grace(const Demand& demand, const Node& node) {
        if (!node.grace) return;
        quantity(*node.grace, "grace", true);
        Node other = node;
        other.grace.reset();
        left_out(demand.place, with(demand, std::move(other)), node.grace->place,
                 "grace " + to_text(*node.grace));
    }
    void demand(const Demand& demand, const AtLeastEvery& node) {
        quantity(node.every, "at least every", true);
        if (node.counted_anew) {
            AtLeastEvery other = node;
            other.counted_anew = false;
            left_out(demand.place, with(demand, std::move(other)), demand.place, "counted anew");
        }
        if (node.shortest) {
            quantity(*node.shortest, "no more often than every", true);
            AtLeastEvery other = node;
            other.shortest.reset();
            other.unless.reset();
            left_out(demand.place, with(demand, std::move(other)), node.shortest->place,
                     "no more often than every " + to_text(*node.shortest));
        }
        unless(demand, node);
        grace(demand, node);
    }
    void demand(const Demand& demand, const NoMoreOftenThan& node) {
        quantity(node.shortest, "no more often than every", true);
        unless(demand, node);
    }
    void demand(const Demand& /*demand*/, const EachPeriod& node) {
        if (node.times) number(*node.times, "at least", " times");
    }
    void demand(const Demand& demand, const Within& node) {
        if (const auto* span = std::get_if<Quantity>(&node.within)) quantity(*span, "within", true);
        grace(demand, node);
    }
    void demand(const Demand& /*demand*/, const WithinEitherSide& node) {
        quantity(node.within, "within", true);
    }
    void demand(const Demand& demand, const HaveHad& node) {
        if (!node.window) return;
        HaveHad other = node;
        other.window.reset();
        left_out(demand.place, with(demand, std::move(other)), node.window->place, to_text(*node.window));
    }
    void demand(const Demand& /*demand*/, const Holds& node) { conjuncts(node.condition); }
    void demand(const Demand& demand, const FollowSteps& node) {
        if (!node.in_order) return;
        FollowSteps other = node;
        other.in_order = false;
        left_out(demand.place, with(demand, std::move(other)), demand.place, "in order");
    }
    void demand(const Demand& /*demand*/, const AtMostTimes& node) {
        number(node.times, "at most", " times");
        quantity(node.in, "in", true);
    }
    template <typename Node>
    void demand(const Demand& /*demand*/, const Node& /*its events alone*/) {}

    void another_role(const LadderStep& step, const Name& role) {
        const auto at = std::find(roles_.begin(), roles_.end(), role.text);
        for (std::size_t i = 1; i < roles_.size(); ++i) {
            const auto& other = roles_[(static_cast<std::size_t>(at - roles_.begin()) + i) % roles_.size()];
            const auto taken = [&](const Name& name) { return name.text == other; };
            if (std::any_of(step.roles.begin(), step.roles.end(), taken)) continue;
            becomes(role.place, other, role.place, "notify " + role.text, "notify " + other);
            return;
        }
    }

    static std::string words_of(const Cell& cell) {
        if (const auto* compare = std::get_if<CompareCell>(&cell.node))
            return compare->comparator == Comparator::is
                       ? to_text(*compare->value)
                       : grammar::to_text(compare->comparator) + ' ' + to_text(*compare->value);
        if (const auto* range = std::get_if<RangeCell>(&cell.node)) return to_text(range->range);
        if (const auto* list = std::get_if<OneOfCell>(&cell.node)) {
            std::string words;
            for (const auto& value : list->values) words += (words.empty() ? "" : ", ") + to_text(value);
            return "one of " + words;
        }
        return "any";
    }
    static std::string words_of(const TableRow& row) {
        std::string words;
        for (const auto& cell : row.given) words += (words.empty() ? "" : " | ") + words_of(cell);
        return words;
    }
    void given(const Cell& cell) {
        if (std::holds_alternative<AnyCell>(cell.node)) return;
        becomes(cell.place, "any", cell.place, words_of(cell), "any");
        if (const auto* range = std::get_if<RangeCell>(&cell.node)) {
            literal(range->range.low, "from");
            literal(range->range.high, "to");
        }
        const auto* compare = std::get_if<CompareCell>(&cell.node);
        if (compare == nullptr || compare->comparator == Comparator::is) return;
        literal(*compare->value, to_text(compare->comparator));
        if (const auto other = other_strictness(compare->comparator)) {
            const std::string then = to_text(*other) + ' ' + to_text(*compare->value);
            becomes(cell.place, then, cell.place, words_of(cell), then);
        }
    }

    std::string item_;
    const std::vector<std::string>& roles_;
    std::vector<Alteration>& out_;
};

// Such a clause opens no opportunity: no example can speak of it.
bool leaves_to_judgement(const ClauseItem& clause) {
    return std::any_of(clause.lines.begin(), clause.lines.end(), [](const ClauseLine& line) {
        const auto* demand = std::get_if<Demand>(&line.node);
        return demand != nullptr && std::holds_alternative<LeavesToJudgement>(demand->node);
    });
}

std::vector<std::string> roles_of(const Layers& layers) {
    std::vector<std::string> roles;
    for (const auto* item : layers.items)
        if (const auto* role = std::get_if<RoleItem>(&item->node))
            for (const auto& name : role->names) roles.push_back(name.text);
    return roles;
}

// The names that the conditions of an item refer to: of `antiseptic_use.dry_time` the table.
template <typename Walk>
std::set<std::string> names_in(const Walk& walk_it) {
    std::set<std::string> names;
    TreeVisitor visitor{[&](const Expression& e) {
                            const auto* reference = std::get_if<Reference>(&e.node);
                            if (reference == nullptr) return;
                            names.insert(reference->name.text);
                            names.insert(reference->name.text.substr(0, reference->name.text.find('.')));
                        },
                        [](const EventPattern&) {}, [](const Window&) {}};
    walk_it(visitor);
    return names;
}

std::set<std::string> names_in(const ClauseItem& clause) {
    std::set<std::string> names = names_in([&](const TreeVisitor& visitor) {
        for (const auto& line : clause.lines) walk(line, visitor);
    });
    for (const auto& line : clause.lines) {
        if (const auto* ladder = std::get_if<ThenEscalate>(&line.node)) names.insert(ladder->escalation.text);
        if (const auto* ladder = std::get_if<OtherwiseEscalate>(&line.node))
            names.insert(ladder->escalation.text);
    }
    return names;
}

}  // namespace

std::vector<Alteration> alterations_of(const Layers& layers) {
    const auto roles = roles_of(layers);
    std::vector<Alteration> out;
    for (const auto* item : layers.items) {
        const Name* name = name_of(*item);
        if (name == nullptr || name->place.text != 0) continue;
        ItemAlterations one(name->text, roles, out);
        const auto* clause = std::get_if<ClauseItem>(&item->node);
        if (clause != nullptr && !leaves_to_judgement(*clause)) one.clause(*clause);
        if (const auto* term = std::get_if<TermItem>(&item->node)) one.term(*term);
        if (const auto* table = std::get_if<TableItem>(&item->node)) one.table(*table);
        if (const auto* ladder = std::get_if<EscalationItem>(&item->node)) one.ladder(*ladder);
    }
    std::stable_sort(out.begin(), out.end(),
                     [](const Alteration& a, const Alteration& b) { return a.shown.begin < b.shown.begin; });
    return out;
}

std::string altered(const std::string& content, const Alteration& alteration) {
    std::string out = content;
    return out.replace(alteration.edit.begin, alteration.edit.end - alteration.edit.begin,
                       alteration.replacement);
}

std::vector<std::string> clauses_resting_on(const Layers& layers, const std::string& item) {
    std::set<std::string> moved = {item};
    for (bool more = true; more;) {  // terms that rest on it, and terms that rest on those
        more = false;
        for (const auto* other : layers.items) {
            const auto* term = std::get_if<TermItem>(&other->node);
            if (term == nullptr || moved.count(term->name.text) != 0) continue;
            const auto names = names_in([&](const TreeVisitor& visitor) { walk(term->condition, visitor); });
            const auto rests = [&](const std::string& name) { return moved.count(name) != 0; };
            if (!std::any_of(names.begin(), names.end(), rests)) continue;
            moved.insert(term->name.text);
            more = true;
        }
    }
    std::vector<std::string> clauses;
    for (const auto* other : layers.items) {
        const auto* clause = std::get_if<ClauseItem>(&other->node);
        if (clause == nullptr) continue;
        const auto names = names_in(*clause);
        const auto rests = [&](const std::string& name) { return moved.count(name) != 0; };
        if (clause->id.text == item || std::any_of(names.begin(), names.end(), rests))
            clauses.push_back(clause->id.text);
    }
    return clauses;
}

}  // namespace linelaw::compiler
