// The fields of every struct of the compiled policy, each listed once under the name that the JSON gives it,
// for writing and reading alike. Internal to policy_json.cpp.
//
// Every function first takes its struct apart whole, so that a field added to policy.hpp and forgotten here
// does not compile; what joined.hpp sets in memory, and no compiled policy holds, is named and passed over.
// An `Io` offers
//     must(key, value)          always there
//     may(key, value)           left out where it is empty, false or absent
//     id(key, id, table)        an index into a table
//     id_or_none(key, id, table)
//     ids(key, list, table)     left out where empty
//     word(key, value, words)   an enumeration by the word of the same place
#pragma once

#include <array>
#include <string_view>
#include <type_traits>

#include "runtime/policy.hpp"

namespace linelaw::runtime::policy_fields {

enum class Table : std::uint8_t {
    symbols,
    fields,
    patient,
    line,
    event_kinds,
    part_kinds,
    states,
    roles,
    shifts,
    tables,
    expressions,
    clauses,
    ladders,
};
constexpr std::array<const char*, 13> table_names = {
    "symbols", "fields", "patient", "line",        "event_kinds", "part_kinds", "states",
    "roles",   "shifts", "tables",  "expressions", "clauses",     "ladders"};

template <std::size_t N>
using Words = std::array<std::string_view, N>;

constexpr Words<16> type_words = {"flag",          "one_of",   "count",  "number", "percent", "age",
                                  "length",        "duration", "volume", "rate",   "mass",    "temperature",
                                  "concentration", "time",     "text",   "key"};
constexpr Words<6> comparator_words = {"at_least", "at_most", "more_than", "less_than", "is", "is_not"};
constexpr Words<3> initially_words = {"unset", "patient", "line"};
constexpr Words<4> age_unit_words = {"days", "weeks", "months", "years"};
constexpr Words<3> change_words = {"change", "rise", "fall"};
constexpr Words<4> cell_words = {"any", "compare", "range", "one_of"};
constexpr Words<2> undocumented_words = {"not_met", "not_assessable"};
constexpr Words<2> period_words = {"calendar_day", "shift"};
constexpr Words<3> until_words = {"same_shift", "next_shift", "same_calendar_day"};
constexpr Words<5> trigger_words = {"stretch", "at", "after", "before", "once"};
constexpr Words<4> bundle_words = {"calendar_day", "shift", "line", "event"};
// In the order of the variants' alternatives.
constexpr Words<std::variant_size_v<Expression>> expression_words = {"constant",
                                                                     "text",
                                                                     "span",
                                                                     "age",
                                                                     "unset",
                                                                     "event_attribute",
                                                                     "part_attribute",
                                                                     "line_attribute",
                                                                     "patient_attribute",
                                                                     "state",
                                                                     "facility",
                                                                     "care_unit",
                                                                     "dwell",
                                                                     "time_since",
                                                                     "count",
                                                                     "sum",
                                                                     "difference",
                                                                     "change",
                                                                     "time_between_steps",
                                                                     "time_in_step",
                                                                     "multiple",
                                                                     "table",
                                                                     "and",
                                                                     "or",
                                                                     "not",
                                                                     "compare",
                                                                     "one_of",
                                                                     "documented",
                                                                     "occurred",
                                                                     "any_part",
                                                                     "always"};
constexpr Words<std::variant_size_v<Demand>> demand_words = {"none",
                                                             "at_least_every",
                                                             "no_more_often_than",
                                                             "each_period",
                                                             "within",
                                                             "within_either_side",
                                                             "have_had",
                                                             "holds",
                                                             "document",
                                                             "follow_steps",
                                                             "forbid",
                                                             "at_most_times",
                                                             "leaves_to_judgement"};

struct Fields {
    // A struct as the Io sees it: to be filled by a reader, untouched by a writer.
    template <class Io, class T>
    using Seen = std::conditional_t<Io::reading, T, const T>;

    template <class Io>
    static void of(Io& io, Seen<Io, Pattern>& x) {
        auto& [event, where] = x;
        io.id("event", event, Table::event_kinds);
        io.id_or_none("where", where, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Span>& x) {
        auto& [months, days, calendar, elapsed] = x;
        io.may("months", months);
        io.may("days", days);
        io.may("calendar", calendar);
        io.may("microseconds", elapsed);
    }

    // ---- vocabulary
    template <class Io>
    static void of(Io& io, Seen<Io, Type>& x) {
        auto& [kind, values, low, high, age_low, age_high, unit] = x;
        io.word("kind", kind, type_words);
        io.ids("values", values, Table::symbols);
        io.may("low", low);
        io.may("high", high);
        io.may("age_low", age_low);
        io.may("age_high", age_high);
        io.may("unit", unit);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Attribute>& x) {
        auto& [name, type, field, comparable_by, complications, complication] = x;
        io.must("name", name);
        io.must("type", type);
        io.id_or_none("field", field, Table::fields);
        io.id_or_none("comparable_by", comparable_by, Table::fields);
        io.ids("complications", complications, Table::symbols);
        io.may("complication", complication);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, EventKind>& x) {
        auto& [name, title, part, also_after_removal, complication, attributes, steps, slot_of_field] = x;
        static_cast<void>(slot_of_field);  // follows from the attributes
        io.must("name", name);
        io.may("title", title);
        io.id_or_none("of", part, Table::part_kinds);
        io.may("also_after_removal", also_after_removal);
        io.may("complication", complication);
        io.may("attributes", attributes);
        io.may("steps", steps);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, PartKind>& x) {
        auto& [name, title, parent, count_slot, from, until, attributes] = x;
        io.must("name", name);
        io.may("title", title);
        io.id_or_none("of", parent, Table::part_kinds);
        io.id_or_none("count", count_slot, Table::line);
        io.ids("from", from, Table::event_kinds);
        io.ids("until", until, Table::event_kinds);
        io.may("attributes", attributes);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, StateSource>& x) {
        auto& [event, field] = x;
        io.id("event", event, Table::event_kinds);
        io.id("field", field, Table::fields);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, State>& x) {
        auto& [name, type, part, sources, from, until, initially, initial_slot] = x;
        io.must("name", name);
        io.must("type", type);
        io.id_or_none("of", part, Table::part_kinds);
        io.may("sources", sources);
        io.may("from", from);
        io.may("until", until);
        io.word("initially", initially, initially_words);
        if (initially != Initially::unset)
            io.id("initial", initial_slot, initially == Initially::line ? Table::line : Table::patient);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Shift>& x) {
        auto& [name, from, to, edition] = x;
        static_cast<void>(edition);
        io.must("name", name);
        io.must("from", from);
        io.must("to", to);
    }

    // ---- expressions
    template <class Io>
    static void of(Io& io, Seen<Io, Window>& x) {
        auto& [in_last, since] = x;
        io.may("in_last", in_last);
        io.may("since", since);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Constant>& x) {
        auto& [value] = x;
        io.must("value", value);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, TextConstant>& x) {
        auto& [text] = x;
        io.must("text", text);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, SpanConstant>& x) {
        auto& [span] = x;
        io.must("span", span);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, AgeConstant>& x) {
        auto& [count, unit] = x;
        io.must("count", count);
        io.word("unit", unit, age_unit_words);
    }
    template <class Io>
    static void of(Io&, Seen<Io, Unset>&) {}
    template <class Io>
    static void of(Io& io, Seen<Io, EventAttribute>& x) {
        auto& [field] = x;
        io.id("field", field, Table::fields);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, PartAttribute>& x) {
        auto& [part, slot] = x;
        io.id("part", part, Table::part_kinds);
        io.must("slot", slot);  // in range of that part: policy_check
    }
    template <class Io>
    static void of(Io& io, Seen<Io, LineAttribute>& x) {
        auto& [slot] = x;
        io.id("slot", slot, Table::line);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, PatientAttribute>& x) {
        auto& [slot] = x;
        io.id("slot", slot, Table::patient);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, StateValue>& x) {
        auto& [state] = x;
        io.id("state", state, Table::states);
    }
    template <class Io>
    static void of(Io&, Seen<Io, Facility>&) {}
    template <class Io>
    static void of(Io&, Seen<Io, CareUnit>&) {}
    template <class Io>
    static void of(Io&, Seen<Io, Dwell>&) {}
    template <class Io>
    static void of(Io& io, Seen<Io, TimeSince>& x) {
        auto& [events] = x;
        io.must("events", events);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, CountOf>& x) {
        auto& [events, window] = x;
        io.must("events", events);
        io.must("window", window);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, SumOf>& x) {
        auto& [event, field, window] = x;
        io.id("event", event, Table::event_kinds);
        io.id("field", field, Table::fields);
        io.must("window", window);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, DifferenceOf>& x) {
        auto& [left, right] = x;
        io.id("left", left, Table::expressions);
        io.id("right", right, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Change>& x) {
        auto& [change, field, since_last, line_slot] = x;
        io.word("change", change, change_words);
        io.id("field", field, Table::fields);
        io.may("since_last", since_last);
        io.id_or_none("line", line_slot, Table::line);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, StepTime>& x) {
        auto& [from, to] = x;
        io.must("from", from);
        io.must("to", to);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, StepIn>& x) {
        auto& [step] = x;
        io.must("step", step);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Multiple>& x) {
        auto& [numerator, denominator, operand] = x;
        io.must("numerator", numerator);
        io.must("denominator", denominator);
        io.id("operand", operand, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, TableValue>& x) {
        auto& [table, column, inputs] = x;
        io.id("table", table, Table::tables);
        io.must("column", column);  // in range of that table: policy_check
        io.ids("inputs", inputs, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, And>& x) {
        auto& [operands] = x;
        io.ids("operands", operands, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Or>& x) {
        auto& [operands] = x;
        io.ids("operands", operands, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Not>& x) {
        auto& [operand] = x;
        io.id("operand", operand, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Compare>& x) {
        auto& [comparator, left, right] = x;
        io.word("comparator", comparator, comparator_words);
        io.id("left", left, Table::expressions);
        io.id("right", right, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, OneOf>& x) {
        auto& [operand, values] = x;
        io.id("operand", operand, Table::expressions);
        io.ids("values", values, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Documented>& x) {
        auto& [attribute] = x;
        io.id("attribute", attribute, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Occurred>& x) {
        auto& [events, window, negated] = x;
        io.must("events", events);
        io.must("window", window);
        io.may("negated", negated);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, SomePart>& x) {
        auto& [part, where] = x;
        io.id("part", part, Table::part_kinds);
        io.id_or_none("where", where, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Always>& x) {
        auto& [value] = x;
        io.must("value", value);
    }

    // ---- tables
    template <class Io>
    static void of(Io& io, Seen<Io, Cell>& x) {
        auto& [kind, comparator, values] = x;
        io.word("kind", kind, cell_words);
        if (kind == Cell::Kind::compare) io.word("comparator", comparator, comparator_words);
        io.ids("values", values, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Row>& x) {
        auto& [given, gives] = x;
        io.must("given", given);
        io.ids("gives", gives, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, runtime::Table>& x) {
        auto& [name, inputs, columns, rows, first_row_wins] = x;
        io.must("name", name);
        io.must("inputs", inputs);
        io.must("columns", columns);
        io.must("rows", rows);
        io.may("first_row_wins", first_row_wins);
    }

    // ---- demands
    template <class Io>
    static void of(Io&, Seen<Io, NoDemand>&) {}
    template <class Io>
    static void of(Io& io, Seen<Io, AtLeastEvery>& x) {
        auto& [events, every, counted_anew, shortest, unless, grace] = x;
        io.must("events", events);
        io.must("every", every);
        io.may("counted_anew", counted_anew);
        io.may("shortest", shortest);
        io.id_or_none("unless", unless, Table::expressions);
        io.may("grace", grace);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, NoMoreOftenThan>& x) {
        auto& [events, shortest, unless] = x;
        io.must("events", events);
        io.must("shortest", shortest);
        io.id_or_none("unless", unless, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, EachPeriod>& x) {
        auto& [events, times, period] = x;
        io.must("events", events);
        io.must("times", times);
        io.word("period", period, period_words);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Within>& x) {
        auto& [events, within, grace] = x;
        io.must("events", events);
        io.span_or_word("within", within, until_words);
        io.may("grace", grace);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, WithinEitherSide>& x) {
        auto& [events, within] = x;
        io.must("events", events);
        io.must("within", within);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, HaveHad>& x) {
        auto& [events, window, anywhen] = x;
        io.must("events", events);
        io.may("window", window);
        io.must("anywhen", anywhen);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Holds>& x) {
        auto& [condition] = x;
        io.id("condition", condition, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Document>& x) {
        auto& [fields] = x;
        io.ids("fields", fields, Table::fields);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, FollowSteps>& x) {
        auto& [steps, in_order] = x;
        io.must("steps", steps);
        io.may("in_order", in_order);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Forbid>& x) {
        auto& [events] = x;
        io.must("events", events);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, AtMostTimes>& x) {
        auto& [events, times, in] = x;
        io.must("events", events);
        io.must("times", times);
        io.must("in", in);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, LeavesToJudgement>& x) {
        auto& [question] = x;
        io.must("question", question);
    }

    // ---- clauses, ladders, bundles
    template <class Io>
    static void of(Io& io, Seen<Io, Trigger>& x) {
        auto& [kind, events, once] = x;
        io.word("kind", kind, trigger_words);
        io.may("events", events);
        io.id_or_none("once", once, Table::expressions);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Exception>& x) {
        auto& [condition, because] = x;
        io.id("condition", condition, Table::expressions);
        io.may("because", because);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, SourceRef>& x) {
        auto& [source, where, category] = x;
        io.must("source", source);
        io.may("where", where);
        io.may("category", category);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Departure>& x) {
        auto& [source, because] = x;
        io.must("source", source);
        io.may("because", because);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, TextPlace>& x) {
        auto& [file, line, column] = x;
        io.may("file", file);
        io.may("line", line);
        io.may("column", column);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Clause>& x) {
        auto& [id, sentence, should, priority, for_each, for_each_where, applies_for, applies_while,
               even_after_removal, trigger, demand, exceptions, otherwise_escalate, then_escalate, overrides,
               undocumented, sources, departures, reason, advice, place, edition] = x;
        static_cast<void>(edition);
        io.must("id", id);
        io.may("sentence", sentence);
        io.may("should", should);
        io.word("priority", priority, priority_names);
        io.id_or_none("for_each", for_each, Table::part_kinds);
        io.id_or_none("for_each_where", for_each_where, Table::expressions);
        io.id_or_none("for", applies_for, Table::expressions);
        io.id_or_none("while", applies_while, Table::expressions);
        io.may("even_after_removal", even_after_removal);
        io.must("trigger", trigger);
        io.must("demand", demand);
        io.may("except_when", exceptions);
        io.id_or_none("otherwise_escalate", otherwise_escalate, Table::ladders);
        io.id_or_none("then_escalate", then_escalate, Table::ladders);
        io.ids("overrides", overrides, Table::clauses);
        io.word("undocumented_counts_as", undocumented, undocumented_words);
        io.may("sources", sources);
        io.may("departs_from", departures);
        io.may("reason", reason);
        io.may("advice", advice);
        io.may("place", place);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, LadderStep>& x) {
        auto& [roles, within, if_not_acknowledged_within] = x;
        io.ids("roles", roles, Table::roles);
        io.must("within", within);
        io.may("if_not_acknowledged_within", if_not_acknowledged_within);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, LadderHold>& x) {
        auto& [events, until] = x;
        io.must("events", events);
        io.must("until", until);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Ladder>& x) {
        auto& [id, sentence, steps, holds, place, edition] = x;
        static_cast<void>(edition);
        io.must("id", id);
        io.may("sentence", sentence);
        io.must("steps", steps);
        io.may("holds", holds);
        io.may("place", place);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Bundle>& x) {
        auto& [id, title, clauses, each, events, place, edition] = x;
        static_cast<void>(edition);
        io.must("id", id);
        io.may("title", title);
        io.ids("of", clauses, Table::clauses);
        io.word("each", each, bundle_words);
        io.may("events", events);
        io.may("place", place);
    }
    template <class Io>
    static void of(Io& io, Seen<Io, Source>& x) {
        auto& [name, title, by, year, edition] = x;
        static_cast<void>(edition);
        io.must("name", name);
        io.may("title", title);
        io.may("by", by);
        io.may("year", year);
    }

    template <class Io>
    static void of(Io& io, Seen<Io, Policy>& x) {
        auto& [title, edition, in_force_from, in_force_until, review_by, owner, time_zone, governs,
               vocabulary, vocabulary_edition, content_hash, symbols, fields, patient, line, event_kinds,
               part_kinds, states, roles, shifts, tables, expressions, sources, clauses, ladders, bundles,
               editions, insertion, removal, notification, acknowledgement, notified, acknowledged_by,
               charting_delay] = x;
        static_cast<void>(content_hash);  // of all the rest
        static_cast<void>(editions);
        io.must("title", title);
        io.may("edition", edition);
        io.may("in_force_from", in_force_from);
        io.may("in_force_until", in_force_until);
        io.may("review_by", review_by);
        io.may("owner", owner);
        io.must("time_zone", time_zone);
        io.id_or_none("governs", governs, Table::expressions);
        io.may("vocabulary", vocabulary);
        io.may("vocabulary_edition", vocabulary_edition);
        io.may("symbols", symbols);
        io.may("fields", fields);
        io.may("patient", patient);
        io.may("line", line);
        io.must("event_kinds", event_kinds);
        io.may("part_kinds", part_kinds);
        io.may("states", states);
        io.may("roles", roles);
        io.may("shifts", shifts);
        io.may("tables", tables);
        io.may("expressions", expressions);
        io.may("sources", sources);
        io.may("clauses", clauses);
        io.may("ladders", ladders);
        io.may("bundles", bundles);
        io.id("insertion", insertion, Table::event_kinds);
        io.id("removal", removal, Table::event_kinds);
        io.id("notification", notification, Table::event_kinds);
        io.id("acknowledgement", acknowledgement, Table::event_kinds);
        io.id("notified", notified, Table::fields);
        io.id("acknowledged_by", acknowledged_by, Table::fields);
        io.id("charting_delay", charting_delay, Table::fields);
    }
};

}  // namespace linelaw::runtime::policy_fields
