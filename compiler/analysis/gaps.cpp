#include "compiler/analysis/gaps.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "runtime/time.hpp"

namespace linelaw::compiler::analysis {

using runtime::ClauseId;
using runtime::EventKindId;
using runtime::none;
using runtime::TriggerKind;
using About = Question::About;

namespace {

constexpr std::size_t boxes_shown = 12;  // of one question; what is more is counted

// Whether the condition looks at this attribute of the event at hand itself, not as a table's input.
bool looks_at(Workspace& work, runtime::ExpressionId condition, runtime::FieldId field) {
    bool found = false;
    std::vector<runtime::ExpressionId> inputs;
    walk(work.policy, condition, none, [&](runtime::ExpressionId id, EventKindId) {
        if (const auto* table = std::get_if<runtime::TableValue>(&work.policy.expressions[id]))
            inputs.insert(inputs.end(), table->inputs.begin(), table->inputs.end());
    });
    walk(work.policy, condition, none, [&](runtime::ExpressionId id, EventKindId) {
        const auto* attribute = std::get_if<runtime::EventAttribute>(&work.policy.expressions[id]);
        if (attribute != nullptr && attribute->field == field &&
            std::find(inputs.begin(), inputs.end(), id) == inputs.end())
            found = true;
    });
    return found;
}

// Undocumented values are no gap of the policy, unless it asks about being documented itself.
Node ordinary(Workspace& work) {
    std::vector<bool> asked(work.situations.variables().size(), false);
    for (runtime::ExpressionId id = 0; id < work.policy.expressions.size(); ++id)
        if (const auto* documented = std::get_if<runtime::Documented>(&work.policy.expressions[id]))
            for (EventKindId kind = 0; kind <= work.policy.event_kinds.size(); ++kind) {
                const EventKindId hand = kind == work.policy.event_kinds.size() ? none : kind;
                const std::uint32_t v = work.situations.variable_of(documented->attribute, hand);
                if (v != none) asked[v] = true;
            }
    asked.flip();
    return work.situations.documented(asked);
}

// No state is unset, but those that the question names with `or unset`.
Node set_but(Workspace& work, const Question& question, EventKindId kind) {
    std::vector<bool> may(work.situations.variables().size(), false);
    std::vector<bool> must_be_known(may.size(), false);
    for (const QuestionAxis& axis : question.every) {
        const std::uint32_t v = work.situations.variable_of(axis.what, kind);
        if (v == none) continue;
        may[v] = axis.or_unset;
        must_be_known[v] = true;
    }
    Node result = always;
    for (std::uint32_t v = 0; v < may.size(); ++v) {
        const Variable& variable = work.situations.variables()[v];
        CellSet cells(variable.cells.size(), true);
        for (std::size_t c = 0; c < cells.size(); ++c) {
            if (variable.cells[c].kind == ValueCell::Kind::unset) cells.put(c, may[v]);
            if (variable.cells[c].kind == ValueCell::Kind::undocumented && must_be_known[v])
                cells.put(c, false);
        }
        result = work.diagrams.both(result, work.diagrams.literal(v, cells));
    }
    return result;
}

Node possible_for(Workspace& work, const Question& question) {
    Node result = work.situations.possible();
    for (const QuestionAxis& axis : question.every)
        if (const auto* part = std::get_if<runtime::PartAttribute>(&work.policy.expressions[axis.what]))
            result = work.diagrams.both(result, work.situations.possible_with(part->part));
    return result;
}

}  // namespace

std::vector<Scope> scopes_of(Workspace& work, const Question& question) {
    std::vector<EventKindId> kinds{none};
    if (question.about == About::attribute_at || question.about == About::response_to)
        kinds = kinds_in(question.events);
    std::vector<Scope> scopes;
    for (const EventKindId kind : kinds) {
        std::vector<Node> parts{possible_for(work, question), ordinary(work), set_but(work, question, kind),
                                work.situations.meaning(question.applies_for, kind).yes};
        if (kind != none) parts.push_back(work.situations.matches(question.events, kind).yes);
        scopes.push_back({work.diagrams.all_of(std::move(parts)), kind});
    }
    return scopes;
}

Node set_aside_where(Workspace& work, const Question& question, EventKindId kind) {
    std::vector<Node> any;
    for (const auto& [condition, because] : question.set_aside)
        any.push_back(work.situations.meaning(condition, kind).yes);
    return work.diagrams.any_of(std::move(any));
}

// Whether some event may be both.
bool can_be_one_of(Workspace& work, const runtime::Events& events, const runtime::Events& others) {
    const std::vector<EventKindId> kinds = kinds_in(events);
    return std::any_of(kinds.begin(), kinds.end(), [&](EventKindId kind) {
        return work.diagrams.all_of({work.situations.possible(), work.situations.matches(events, kind).yes,
                                     work.situations.matches(others, kind).yes}) != never;
    });
}

Meaning answers(Workspace& work, ClauseId id, const Question& question, EventKindId kind) {
    const runtime::Clause& clause = work.clause(id);
    const Meaning nowhere{never, always};
    if (const auto* judgement = std::get_if<runtime::LeavesToJudgement>(&clause.demand))
        return judgement->question == question.id ? work.applies(id, kind) : nowhere;
    switch (question.about) {
        case About::how_often: {
            const bool interval = std::holds_alternative<runtime::AtLeastEvery>(clause.demand) ||
                                  std::holds_alternative<runtime::EachPeriod>(clause.demand);
            return interval && shares_kind(demanded_events(clause.demand), question.events) ? work.applies(id)
                                                                                            : nowhere;
        }
        case About::attribute_at: {
            const auto* holds = std::get_if<runtime::Holds>(&clause.demand);
            const bool at_it =
                clause.trigger.kind == TriggerKind::at && shares_kind(clause.trigger.events, question.events);
            if (holds != nullptr && at_it && looks_at(work, holds->condition, question.field))
                return work.applies(id, kind);
            const auto* forbid = std::get_if<runtime::Forbid>(&clause.demand);
            if (forbid != nullptr)
                for (const runtime::Pattern& p : forbid->events)
                    if (p.event == kind && looks_at(work, p.where, question.field))
                        return work.applies(id, kind);
            return nowhere;
        }
        case About::response_to: {
            if (!shares_kind(clause.trigger.events, question.events)) return nowhere;
            const bool within = std::holds_alternative<runtime::Within>(clause.demand) ||
                                std::holds_alternative<runtime::WithinEitherSide>(clause.demand);
            const bool answers_it =
                question.by.empty()
                    ? within || clause.then_escalate != none || clause.otherwise_escalate != none
                    : within && can_be_one_of(work, demanded_events(clause.demand), question.by);
            return answers_it ? work.applies(id, kind) : nowhere;
        }
        case About::escalation: {
            const bool starts =
                clause.then_escalate == question.ladder || clause.otherwise_escalate == question.ladder;
            return starts ? work.applies(id) : nowhere;
        }
    }
    return nowhere;
}

// The lines of a clause that answers it, for whoever writes one: "`after insertion` and `must
// tip_confirmation within …`".
std::string shape_of_answer(const runtime::Policy& policy, const Question& question) {
    const auto names = [&](const runtime::Events& events) {
        std::string out;
        for (const runtime::Pattern& p : events)
            out += (out.empty() ? "" : " or ") + policy.event_kinds[p.event].name;
        return out.empty() ? std::string("…") : out;
    };
    switch (question.about) {
        case Question::About::how_often:
            return fmt::format("`must {} at least every …`", names(question.events));
        case Question::About::attribute_at:
            return fmt::format("`at {}` and `must {} …`", names(question.events),
                               policy.fields[question.field]);
        case Question::About::response_to:
            return fmt::format("`after {}` and `must {} within …`", names(question.events),
                               names(question.by));
        case Question::About::escalation:
            break;
    }
    return question.ladder == none ? "…" : "`then escalate " + policy.ladders[question.ladder].id + "`";
}

void find_question_gaps(Workspace& work) {
    for (const Question& question : work.compiled.questions)
        for (const Scope& scope : scopes_of(work, question)) {
            std::vector<Node> answered{set_aside_where(work, question, scope.kind)};
            for (ClauseId c = 0; c < work.policy.clauses.size(); ++c)
                answered.push_back(work.diagrams.opposite(answers(work, c, question, scope.kind).no));
            const Node gap = work.diagrams.without(scope.covered, work.diagrams.any_of(std::move(answered)));
            bool cut = false;
            for (const Box& box : work.situations.boxes_within(gap, scope.covered, boxes_shown, cut)) {
                Finding finding;
                finding.code = "gap.question";
                finding.ids = {question.id};
                finding.message = fmt::format("`{}` (\"{}\") has no answer{}", question.id, question.title,
                                              work.situations.where_sentence(box));
                finding.labels.push_back({question.place, "asked here"});
                finding.witness.emplace();
                finding.witness->situation = work.situations.worded(box);
                finding.helps = {
                    fmt::format(
                        "write a clause for this situation ({}), or widen one that answers its neighbours",
                        shape_of_answer(work.policy, question)),
                    fmt::format("or say who decides, in a clause for this situation: after its id, its "
                                "sentence and its "
                                "`for` comes `leaves {} to judgement because \"…\"`",
                                question.id),
                    fmt::format("or, where it need not be asked: `set aside question {} for … because \"…\"`",
                                question.id)};
                work.add(std::move(finding));
            }
            if (cut)
                work.skipped(fmt::format("`{}` has no answer in more situations than the {} shown",
                                         question.id, boxes_shown));
        }
}

// ---- complications
// -----------------------------------------------------------------------------------------------

namespace {

// " where site_condition is drainage": which of these events is the complication; empty: each.
std::string which_of(const runtime::Policy& policy, const runtime::Attribute& attribute) {
    if (attribute.complication) return " where " + attribute.name;
    std::string values;
    for (const runtime::SymbolId value : attribute.complications)
        values += (values.empty() ? "" : ", ") + policy.symbols[value];
    return fmt::format(" where {} is {}{}", attribute.name,
                       attribute.complications.size() > 1 ? "one of " : "", values);
}

void report_response_gap(Workspace& work, EventKindId kind, Node covered, const std::string& what,
                         const std::string& which = "") {
    std::vector<Node> answered;
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c) {
        const runtime::Clause& clause = work.clause(c);
        const bool speaks = clause.trigger.kind == TriggerKind::after ||
                            (clause.trigger.kind == TriggerKind::at && clause.then_escalate != none);
        if (speaks) answered.push_back(work.diagrams.opposite(work.applies(c, kind).no));
    }
    const std::vector<bool> all(work.situations.variables().size(), true);
    const std::vector<Node> parts{covered, work.situations.possible(), ordinary(work),
                                  work.situations.set(all)};
    const Node scope = work.diagrams.all_of(parts);
    const Node gap = work.diagrams.without(scope, work.diagrams.any_of(std::move(answered)));
    bool cut = false;
    for (const Box& box : work.situations.boxes_within(gap, scope, boxes_shown, cut)) {
        Finding finding;
        finding.code = "gap.response";
        finding.ids = {work.policy.event_kinds[kind].name};
        finding.message = fmt::format("{} is a complication, and no clause says what is done after it{}",
                                      what, work.situations.where_sentence(box));
        finding.labels.push_back({work.item_place(work.policy.event_kinds[kind].name), "declared here"});
        finding.witness.emplace();
        finding.witness->situation = work.situations.worded(box);
        finding.helps = {fmt::format("write a clause `after {}{}` that asks for a response or escalates",
                                     work.policy.event_kinds[kind].name, which)};
        work.add(std::move(finding));
    }
    if (cut)
        work.skipped(
            fmt::format("{} has no response in more situations than the {} shown", what, boxes_shown));
}

}  // namespace

void find_response_gaps(Workspace& work) {
    for (EventKindId kind = 0; kind < work.policy.event_kinds.size(); ++kind) {
        const runtime::EventKind& event = work.policy.event_kinds[kind];
        if (event.complication) report_response_gap(work, kind, always, "`" + event.name + "`");
        for (const runtime::Attribute& attribute : event.attributes) {
            if (attribute.complications.empty() && !attribute.complication) continue;
            const std::string which = which_of(work.policy, attribute);
            const std::uint32_t v = work.situations.attribute_variable(kind, attribute.field);
            if (v == none) {  // no condition looks at it: one gap for the attribute
                report_response_gap(work, kind, always,
                                    fmt::format("`{}` of `{}`", attribute.name, event.name), which);
                continue;
            }
            const Variable& variable = work.situations.variables()[v];
            CellSet cells(variable.cells.size());
            for (std::size_t c = 0; c < cells.size(); ++c) {
                if (variable.cells[c].kind != ValueCell::Kind::value) continue;
                const auto value = static_cast<runtime::SymbolId>(variable.cells[c].low);
                cells.put(c, attribute.complication
                                 ? variable.cells[c].low != 0
                                 : std::find(attribute.complications.begin(), attribute.complications.end(),
                                             value) != attribute.complications.end());
            }
            report_response_gap(work, kind, work.diagrams.literal(v, cells),
                                fmt::format("`{}` of `{}`", attribute.name, event.name), which);
        }
    }
}

// ---- documentation
// -----------------------------------------------------------------------------------------------

namespace {

// Every attribute of the event at hand that the clause's outcome rests on, by kind.
std::set<std::pair<EventKindId, runtime::FieldId>> rests_on(Workspace& work, const runtime::Clause& clause) {
    std::set<std::pair<EventKindId, runtime::FieldId>> found;
    const auto look = [&](runtime::ExpressionId condition, EventKindId at_hand) {
        walk(work.policy, condition, at_hand, [&](runtime::ExpressionId id, EventKindId hand) {
            const runtime::Expression& e = work.policy.expressions[id];
            if (hand == none) return;
            if (const auto* attribute = std::get_if<runtime::EventAttribute>(&e))
                found.emplace(hand, attribute->field);
            if (const auto* change = std::get_if<runtime::Change>(&e)) found.emplace(hand, change->field);
        });
    };
    for (const runtime::Pattern& p : clause.trigger.events) look(p.where, p.event);
    for (const runtime::Pattern& p : demanded_events(clause.demand)) look(p.where, p.event);
    if (const auto* holds = std::get_if<runtime::Holds>(&clause.demand))
        for (const EventKindId kind : kinds_in(clause.trigger.events)) look(holds->condition, kind);
    if (const auto* every = std::get_if<runtime::AtLeastEvery>(&clause.demand))
        for (const EventKindId kind : kinds_in(every->events)) look(every->unless, kind);
    if (const auto* gap = std::get_if<runtime::NoMoreOftenThan>(&clause.demand))
        for (const EventKindId kind : kinds_in(gap->events)) look(gap->unless, kind);
    return found;
}

bool asks_to_document(Workspace& work, const runtime::Clause& clause, EventKindId kind,
                      runtime::FieldId field) {
    if (clause.trigger.kind != TriggerKind::at) return false;
    const std::vector<EventKindId> kinds = kinds_in(clause.trigger.events);
    if (std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) return false;
    if (const auto* document = std::get_if<runtime::Document>(&clause.demand))
        return std::find(document->fields.begin(), document->fields.end(), field) != document->fields.end();
    const auto* holds = std::get_if<runtime::Holds>(&clause.demand);
    return holds != nullptr && clause.undocumented == runtime::UndocumentedCounts::not_met &&
           looks_at(work, holds->condition, field);
}

}  // namespace

void find_documentation_gaps(Workspace& work) {
    struct Rest {
        std::vector<ClauseId> clauses;
        Node uncovered = never;
    };
    std::map<std::pair<EventKindId, runtime::FieldId>, Rest> rests;
    std::map<EventKindId, std::vector<ClauseId>> at_kind;
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c)
        if (work.clause(c).trigger.kind == TriggerKind::at)
            for (const EventKindId kind : kinds_in(work.clause(c).trigger.events)) at_kind[kind].push_back(c);
    std::map<std::pair<EventKindId, runtime::FieldId>, Node> asked;  // where some clause does
    const auto asked_for = [&](EventKindId kind, runtime::FieldId field) {
        const auto [place, fresh] = asked.try_emplace({kind, field}, never);
        if (!fresh) return place->second;
        std::vector<Node> where;
        for (const ClauseId d : at_kind[kind])
            if (asks_to_document(work, work.clause(d), kind, field)) where.push_back(work.applies(d).yes);
        return place->second = work.diagrams.any_of(std::move(where));
    };
    for (ClauseId c = 0; c < work.policy.clauses.size(); ++c)
        for (const auto& [kind, field] : rests_on(work, work.clause(c))) {
            const runtime::EventKind& event = work.policy.event_kinds[kind];
            const bool recorded = field < event.slot_of_field.size() && event.slot_of_field[field] != none;
            if (!recorded || field == work.policy.charting_delay) continue;  // never charted by hand
            if (kind == work.policy.notification || kind == work.policy.acknowledgement) continue;
            const Node uncovered = work.diagrams.without(
                work.diagrams.both(work.applies(c).yes, work.possible(c)), asked_for(kind, field));
            if (uncovered == never) continue;
            Rest& rest = rests[{kind, field}];
            rest.clauses.push_back(c);
            rest.uncovered = work.diagrams.either(rest.uncovered, uncovered);
        }
    for (const auto& [what, rest] : rests) {
        const auto& [kind, field] = what;
        Finding finding;
        finding.code = "gap.documentation";
        const std::string name = work.policy.fields[field];
        const std::string event = work.policy.event_kinds[kind].name;
        const Box box = work.situations.smallest(rest.uncovered);
        finding.message = fmt::format("{} {} on `{}` of `{}`, and no clause asks for it to be documented{}",
                                      work.quoted(rest.clauses), rest.clauses.size() == 1 ? "rests" : "rest",
                                      name, event, work.situations.where_sentence(box));
        for (const ClauseId c : rest.clauses) {
            finding.ids.push_back(work.clause(c).id);
            finding.labels.push_back(work.label(c));
        }
        finding.witness.emplace();
        finding.witness->situation = work.situations.worded(box);
        finding.helps = {fmt::format("write a clause `at {}` with `must document {}`", event, name)};
        // Only of the clause that demands the value, not of one that speaks where it has been charted.
        for (const ClauseId c : rest.clauses) {
            const auto* holds = std::get_if<runtime::Holds>(&work.clause(c).demand);
            if (holds != nullptr && looks_at(work, holds->condition, field))
                finding.helps.push_back(
                    fmt::format("or let {} say `undocumented counts as not met`", work.quoted(c)));
        }
        work.add(std::move(finding));
    }
}

// ---- shifts
// ------------------------------------------------------------------------------------------------------

namespace {

constexpr std::int64_t day = 24 * runtime::microseconds_per_hour;

struct Hours {  // after midnight; `to` is at or before `from` where they go on past midnight
    std::int64_t from = 0;
    std::int64_t to = 0;
};

std::vector<Hours> hours_in_no_shift(const std::vector<runtime::Shift>& shifts) {
    std::vector<Hours> covered;
    for (const runtime::Shift& shift : shifts) {
        if (shift.to > shift.from) {
            covered.push_back({shift.from, shift.to});
        } else {
            covered.push_back({shift.from, day});
            covered.push_back({0, shift.to});
        }
    }
    std::sort(covered.begin(), covered.end(), [](const Hours& a, const Hours& b) { return a.from < b.from; });
    std::vector<Hours> gaps;
    std::int64_t reached = 0;
    for (const auto& [from, to] : covered) {
        if (from > reached) gaps.push_back({reached, from});
        reached = std::max(reached, to);
    }
    if (reached < day) gaps.push_back({reached, day});
    if (gaps.size() > 1 && gaps.front().from == 0 && gaps.back().to == day) {  // one gap over midnight
        gaps.front().from = gaps.back().from;
        gaps.pop_back();
    }
    for (Hours& gap : gaps) gap.to %= day;
    return gaps;
}

}  // namespace

void find_shift_gaps(Workspace& work) {
    if (work.policy.shifts.empty()) return;
    for (const auto& [from, to] : hours_in_no_shift(work.policy.shifts)) {
        Finding finding;
        finding.code = "gap.shift";
        const std::string begin = runtime::write_time_of_day(from);
        const std::string end = runtime::write_time_of_day(to);
        finding.message = fmt::format("the hours from {} to {} are in no shift", begin, end);
        const auto mark = [&](const runtime::Shift& shift, const std::string& what) {
            finding.labels.push_back({work.item_place(shift.name), what});
        };
        for (const runtime::Shift& shift : work.policy.shifts) {
            finding.ids.push_back(shift.name);
            if (shift.to % day == from) mark(shift, "ends at " + begin);
            if (shift.from == to) mark(shift, "begins at " + end);
        }
        finding.helps = {"let one shift reach the next"};
        work.add(std::move(finding));
    }
}

}  // namespace linelaw::compiler::analysis
