// Clauses: their lines gathered, each read in the context that it sees, and what may override what.
#include <algorithm>

#include "compiler/lower.hpp"
#include "compiler/tree_walk.hpp"

namespace linelaw::compiler {

using namespace grammar;

namespace {

runtime::UndocumentedCounts counts(grammar::UndocumentedCounts written) {
    return static_cast<runtime::UndocumentedCounts>(written);
}

// The lines of one clause, sorted by what they are.
struct Lines {
    std::vector<const ForLine*> applies_for;
    std::vector<const WhileLine*> applies_while;
    std::vector<const ExceptLine*> exceptions;
    const ForEachLine* for_each = nullptr;
    const ClauseLine* trigger = nullptr;
    const Demand* demand = nullptr;
};

class ClauseReader {
  public:
    ClauseReader(Work& work, const ClauseItem& item, runtime::Clause& clause)
        : work_(work), item_(item), clause_(clause) {}

    void read() {
        clause_.id = item_.id.text;
        clause_.place = text_place(work_, item_.id.place);
        clause_.undocumented =
            counts(work_.layers.header.undocumented.value_or(grammar::UndocumentedCounts::not_assessable));
        if (item_.sentence)
            clause_.sentence = item_.sentence->text;
        else
            missing_sentence();
        for (const auto& line : item_.lines) gather(line);
        const Context outside = read_part();
        const bool trigger_good = read_trigger(outside);
        read_demand(outside, trigger_good);
        read_applies(outside);
        read_exceptions(outside, trigger_good);
    }

  private:
    void missing_sentence() {
        auto& d = work_.report.add(
            "missing.sentence",
            "the clause " + in_ticks(item_.id.text) + " has no sentence for people to approve",
            item_.id.place, "no sentence follows");
        advise(d, "write what the clause asks, in one sentence between quotation marks, after its id");
    }

    void twice(const ClauseLine& line, Place first, std::string_view what) {
        auto& d = work_.report.add("type.demand", "a clause has one " + std::string(what), line.place,
                                   "another one");
        d.labels.push_back({first, "the first"});
        advise(d, "write two clauses");
    }

    void gather(const ClauseLine& line) {
        std::visit([&](const auto& node) { take(line, node); }, line.node);
    }
    void take(const ClauseLine& /*line*/, const ForLine& node) { lines_.applies_for.push_back(&node); }
    void take(const ClauseLine& /*line*/, const WhileLine& node) { lines_.applies_while.push_back(&node); }
    void take(const ClauseLine& /*line*/, const ExceptLine& node) { lines_.exceptions.push_back(&node); }
    void take(const ClauseLine& line, const ForEachLine& node) {
        if (lines_.for_each != nullptr) twice(line, lines_.for_each->part.place, "`for each` line");
        lines_.for_each = &node;
    }
    void take(const ClauseLine& /*line*/, const EvenAfterRemoval& /*node*/) {
        clause_.even_after_removal = true;
    }
    void take(const ClauseLine& line, const AtLine& /*node*/) { take_trigger(line); }
    void take(const ClauseLine& line, const AfterLine& /*node*/) { take_trigger(line); }
    void take(const ClauseLine& line, const BeforeLine& /*node*/) { take_trigger(line); }
    void take(const ClauseLine& line, const OnceLine& /*node*/) { take_trigger(line); }
    void take_trigger(const ClauseLine& line) {
        if (lines_.trigger != nullptr)
            twice(line, lines_.trigger->place, "line of `at`, `after`, `before` or `once`");
        else
            lines_.trigger = &line;
    }
    void take(const ClauseLine& line, const Demand& node) {
        if (lines_.demand != nullptr)
            twice(line, lines_.demand->place, "demand");
        else
            lines_.demand = &node;
    }
    void take(const ClauseLine& /*line*/, const OtherwiseEscalate& node) {
        clause_.otherwise_escalate = use_name(work_, work_.names.escalations, "escalation", node.escalation);
        otherwise_ = &node.escalation;
    }
    void take(const ClauseLine& /*line*/, const ThenEscalate& node) {
        clause_.then_escalate = use_name(work_, work_.names.escalations, "escalation", node.escalation);
        then_ = &node.escalation;
    }
    void take(const ClauseLine& /*line*/, const OverridesLine& node) {
        for (const auto& name : node.clauses) {
            const auto id = use_name(work_, work_.names.clauses, "clause", name);
            if (id != runtime::none) clause_.overrides.push_back(id);
        }
    }
    void take(const ClauseLine& /*line*/, const PriorityLine& node) {
        static const std::vector<std::string> names = {"critical", "major", "minor", "advisory"};
        const auto it = std::find(names.begin(), names.end(), node.priority.text);
        if (it == names.end()) {
            auto& d = work_.report.add("name.unknown", "there is no priority " + in_ticks(node.priority.text),
                                       node.priority.place, "not a priority");
            d.notes.push_back("the priorities are " + in_ticks(names, "and"));
            offer_near(d, node.priority.text, node.priority.place, names, Offered::value);
            return;
        }
        clause_.priority = static_cast<runtime::Priority>(it - names.begin());
        priority_written_ = true;
    }
    void take(const ClauseLine& /*line*/, const SourceLine& node) {
        if (use_name(work_, work_.names.sources, "source", node.source) == runtime::none) return;
        clause_.sources.push_back(
            {node.source.text, node.where ? node.where->text : "", node.category ? node.category->text : ""});
    }
    void take(const ClauseLine& /*line*/, const ReasonLine& node) { clause_.reason = node.text.text; }
    void take(const ClauseLine& /*line*/, const AdviceLine& node) { clause_.advice = node.text.text; }
    void take(const ClauseLine& /*line*/, const DepartsLine& node) {
        if (use_name(work_, work_.names.sources, "source", node.source) != runtime::none)
            clause_.departures.push_back({node.source.text, node.because.text});
    }
    void take(const ClauseLine& /*line*/, const UndocumentedLine& node) {
        clause_.undocumented = counts(node.counts);
    }

    // The part at hand for the rest of the clause.
    Context read_part() {
        Context outside = outside_events("a clause");
        if (lines_.for_each == nullptr) return outside;
        const auto part = use_name(work_, work_.names.parts, "part", lines_.for_each->part);
        clause_.for_each = part;
        outside.part = part;
        part_good_ = part != runtime::none;
        if (lines_.for_each->where && part_good_)
            if (const auto where = lower_condition(work_, *lines_.for_each->where, in(outside, "`for each`")))
                clause_.for_each_where = *where;
        return outside;
    }
    static Context in(Context context, std::string_view line) {
        context.where = std::string(line);
        return context;
    }

    bool read_trigger(const Context& outside) {
        if (lines_.trigger == nullptr) return true;
        auto& trigger = clause_.trigger;
        const auto events = [&](const Events& written, runtime::TriggerKind kind) {
            trigger.kind = kind;
            auto lowered = lower_events(work_, written, outside);
            if (lowered) {
                trigger.events = std::move(*lowered);
                return true;
            }
            // The demand is read all the same, where it is known what is at hand.
            for (const auto& pattern : written) {
                const auto* event = work_.names.events.find(pattern.event.text);
                if (event == nullptr) return false;
                trigger.events.push_back({event->id, runtime::none});
            }
            return true;
        };
        if (const auto* at = std::get_if<AtLine>(&lines_.trigger->node))
            return events(at->events, runtime::TriggerKind::at);
        if (const auto* after = std::get_if<AfterLine>(&lines_.trigger->node))
            return events(after->events, runtime::TriggerKind::after);
        if (const auto* before = std::get_if<BeforeLine>(&lines_.trigger->node))
            return events(before->events, runtime::TriggerKind::before);
        trigger.kind = runtime::TriggerKind::once;
        const auto condition = lower_condition(work_, std::get<OnceLine>(lines_.trigger->node).condition,
                                               in(outside, "a `once` line"));
        if (condition) trigger.once = *condition;
        return true;
    }

    void read_demand(const Context& outside, bool trigger_good) {
        if (lines_.demand == nullptr) {
            read_no_demand();
            return;
        }
        clause_.should = lines_.demand->should;
        if (clause_.should && !priority_written_) clause_.priority = runtime::Priority::advisory;
        if (!trigger_good || (lines_.for_each != nullptr && !part_good_)) return;
        const auto kinds = kinds_of(clause_.trigger.events);
        const Context at =
            kinds.empty() ? in(outside, "this demand") : at_events(work_, kinds, "this demand", outside);
        if (auto demand = lower_demand(work_, *lines_.demand, clause_.trigger, at))
            clause_.demand = std::move(*demand);
    }
    void read_no_demand() {
        if (then_ != nullptr && lines_.trigger != nullptr) {
            if (otherwise_ != nullptr)
                work_.report.add("type.demand",
                                 "`otherwise escalate` waits for a demand that is not kept, and this "
                                 "clause demands nothing",
                                 otherwise_->place, "nothing to be otherwise");
            return;
        }
        auto& d = work_.report.add(
            "type.demand",
            then_ != nullptr ? "the clause " + in_ticks(item_.id.text) + " does not say when it escalates"
                             : "the clause " + in_ticks(item_.id.text) + " demands nothing",
            item_.id.place, "no demand");
        advise(d, then_ != nullptr ? "write `at`, `after` or `once` and what starts it"
                                   : "write `must` or `should` and what is asked, or `then escalate`");
    }

    std::optional<runtime::ExpressionId> joined(std::vector<runtime::ExpressionId> ids, Place place) {
        if (ids.empty()) return std::nullopt;
        if (ids.size() == 1) return ids.front();
        return intern(work_, runtime::And{std::move(ids)}, place);
    }
    void read_applies(const Context& outside) {
        std::vector<runtime::ExpressionId> all;
        for (const auto* line : lines_.applies_for)
            if (const auto id = lower_condition(work_, line->condition, in(outside, "a `for` line")))
                all.push_back(*id);
        if (const auto id = joined(std::exchange(all, {}), item_.place)) clause_.applies_for = *id;
        for (const auto* line : lines_.applies_while)
            if (const auto id = lower_condition(work_, line->condition, in(outside, "a `while` line")))
                all.push_back(*id);
        if (const auto id = joined(std::move(all), item_.place)) clause_.applies_while = *id;
    }

    // The event that an exception is asked at: the one that is judged, where there is one (§4.6).
    runtime::Events judged() const {
        if (clause_.trigger.kind == runtime::TriggerKind::at ||
            clause_.trigger.kind == runtime::TriggerKind::before)
            return clause_.trigger.events;
        const bool at_event = std::holds_alternative<runtime::NoMoreOftenThan>(clause_.demand) ||
                              std::holds_alternative<runtime::Forbid>(clause_.demand) ||
                              std::holds_alternative<runtime::AtMostTimes>(clause_.demand);
        return at_event ? *demanded_events(clause_.demand) : runtime::Events{};
    }
    void read_exceptions(const Context& outside, bool trigger_good) {
        if (!trigger_good) return;
        Context context = in(outside, "`except when`");
        const auto kinds = kinds_of(judged());
        if (!kinds.empty()) context = at_events(work_, kinds, "`except when`", outside);
        context.bare_sees_event = false;
        for (const auto* line : lines_.exceptions)
            if (const auto id = lower_condition(work_, line->condition, context))
                clause_.exceptions.push_back({*id, line->because ? line->because->text : ""});
    }

    Work& work_;
    const ClauseItem& item_;
    runtime::Clause& clause_;
    Lines lines_;
    const Name* then_ = nullptr;
    const Name* otherwise_ = nullptr;
    bool priority_written_ = false;
    bool part_good_ = false;
};

// A clause judged at events has no stretches to take another's away from (§4.8).
void check_override_pairs(Work& work) {
    const auto& clauses = work.policy().clauses;
    for (std::size_t c = 0; c < clauses.size(); ++c)
        for (const auto other : clauses[c].overrides) {
            if (!runtime::at_events(clauses[c].trigger.kind) ||
                runtime::at_events(clauses[other].trigger.kind))
                continue;
            const Name* name = overridden_name(work.out.clauses[c], clauses[other].id);
            auto& d = work.report.add("type.overrides",
                                      in_ticks(clauses[c].id) + " is judged at events and cannot override " +
                                          in_ticks(clauses[other].id) + ", which is judged over time",
                                      name != nullptr ? name->place : work.out.clauses[c].id.place,
                                      "judged over time");
            d.labels.push_back({work.out.clauses[c].id.place, "judged at events"});
            d.labels.push_back({work.out.clauses[other].id.place, "declared here"});
            advise(d, "take this `overrides` out, and let " + in_ticks(clauses[other].id) +
                          " leave these cases out itself, with `for`, `while` or `unless`");
        }
}

void check_override_circles(Work& work) {
    const auto& clauses = work.policy().clauses;
    enum class Mark { fresh, open, done };
    std::vector<Mark> marks(clauses.size(), Mark::fresh);
    std::vector<std::uint32_t> path;
    const auto circle = [&](std::uint32_t back) {
        const auto from = std::find(path.begin(), path.end(), back);
        std::vector<std::string> ids;
        for (auto it = from; it != path.end(); ++it) ids.push_back(clauses[*it].id);
        const Name* name = overridden_name(work.out.clauses[path.back()], clauses[back].id);
        auto& d = work.report.add(
            "type.overrides",
            ids.size() == 1 ? in_ticks(ids.front()) + " overrides itself"
                            : in_ticks(ids, "and") + " override one another in a circle",
            name != nullptr ? name->place : work.out.clauses[path.back()].id.place, "closes the circle");
        for (auto it = from; it != path.end(); ++it)
            if (const Name* next = overridden_name(
                    work.out.clauses[*it], it + 1 == path.end() ? clauses[back].id : clauses[*(it + 1)].id);
                next != name && next != nullptr)
                d.labels.push_back({next->place, "overridden here"});
    };
    const auto walk = [&](auto&& self, std::uint32_t clause) -> void {
        marks[clause] = Mark::open;
        path.push_back(clause);
        for (const auto other : clauses[clause].overrides) {
            if (marks[other] == Mark::open) circle(other);
            if (marks[other] == Mark::fresh) self(self, other);
        }
        path.pop_back();
        marks[clause] = Mark::done;
    };
    for (std::uint32_t c = 0; c < clauses.size(); ++c)
        if (marks[c] == Mark::fresh) walk(walk, c);
}

}  // namespace

void lower_clauses(Work& work) {
    for (const auto* item : work.layers.items) {
        const auto* clause = std::get_if<ClauseItem>(&item->node);
        if (clause == nullptr) continue;
        const auto* declared = work.names.clauses.find(clause->id.text);
        if (declared == nullptr || declared->id != work.policy().clauses.size()) continue;  // declared twice
        work.out.clauses.push_back(*clause);
        ClauseReader(work, *clause, work.policy().clauses.emplace_back()).read();
    }
    check_override_pairs(work);
    check_override_circles(work);
}

}  // namespace linelaw::compiler
