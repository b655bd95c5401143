// Demands and clauses. Of rules.hpp.
#pragma once

#include "grammar/rules_policy.hpp"

namespace linelaw::grammar::rules {

// ---- 3. Demands
// ----------------------------------------------------------------------------------------------

struct unless : seq<word<"unless">, need_condition<"a condition after `unless`">> {
    static constexpr Kind kind = Kind::unless;
};
struct grace : seq<word<"grace">, need_quantity<"a duration such as `12 h` after `grace`">> {
    static constexpr Kind kind = Kind::grace;
};
struct counted_anew
    : seq<word<"counted">, expect<word<"anew">, "`anew` after `counted`", FaultCode::demand>> {
    static constexpr Kind kind = Kind::counted_anew;
};
struct no_more_often
    : seq<word<"no more often">,
          expect<word<"than every">, "`than every` and a duration after `no more often`", FaultCode::demand>,
          need_quantity<"a duration such as `96 h` after `no more often than every`">> {};
struct shortest : seq<no_more_often, opt<unless>> {
    static constexpr Kind kind = Kind::shortest;
};
struct at_least_every
    : seq<sor<seq<word<"at least every">,
                  need_quantity<"a duration such as `7 days` after `at least every`">>,
              seq<word<"every">, need_quantity<"a duration such as `7 days` after `every`">>>,
          star<sor<counted_anew, shortest, grace>>> {
    static constexpr Kind kind = Kind::at_least_every;
};
struct no_more_often_than : seq<no_more_often, opt<unless>> {
    static constexpr Kind kind = Kind::no_more_often;
};
struct period : seq<word<"each">, expect<sor<mark<"calendar day">, mark<"shift">>,
                                         "`calendar day` or `shift` after `each`", FaultCode::demand>> {};
struct demand_times : seq<number, word<"times">> {
    static constexpr Kind kind = Kind::times;
};
struct each_period : seq<opt<seq<word<"at least">, demand_times>>, period> {
    static constexpr Kind kind = Kind::each_period;
};
struct at_most_times
    : seq<word<"at most">, demand_times, word<"in">, need_quantity<"a duration such as `24 h` after `in`">> {
    static constexpr Kind kind = Kind::at_most_times;
};
struct until_shift : sor<mark<"the same shift">, mark<"the next shift">, mark<"the same calendar day">> {
    static constexpr Kind kind = Kind::until_shift;
};
struct either_side : seq<word<"either">, expect<word<"side">, "`side` after `either`", FaultCode::demand>> {
    static constexpr Kind kind = Kind::either_side;
};
struct within : seq<word<"within">,
                    expect<sor<until_shift, quantity>,
                           "a duration such as `2 h`, or `the same shift`, `the next shift` or `the same "
                           "calendar day`, after `within`",
                           FaultCode::quantity>,
                    star<sor<either_side, grace>>> {
    static constexpr Kind kind = Kind::within;
};
struct event_demand
    : seq<events, sor<at_least_every, no_more_often_than, each_period, at_most_times, within>> {};
// A window may follow, so `or` always brings in another event.
struct had_events : seq<inner_event, star<seq<word<"or">, inner_event_needed>>> {
    static constexpr Kind kind = Kind::events;
};
struct have_had
    : seq<word<"have had">, expect<had_events, "an event after `have had`", FaultCode::events>, opt<window>> {
    static constexpr Kind kind = Kind::have_had;
};
struct document : seq<word<"document">, expect<ids, "an attribute after `document`", FaultCode::name>> {
    static constexpr Kind kind = Kind::document;
};
struct in_order : seq<word<"in order">> {
    static constexpr Kind kind = Kind::in_order;
};
struct follow_steps
    : seq<word<"follow">, expect<word<"steps">, "`steps` and their names after `follow`", FaultCode::demand>,
          expect<names, "the steps after `follow steps`", FaultCode::name>, opt<in_order>> {
    static constexpr Kind kind = Kind::follow_steps;
};
// `not E` with nothing after it; whether E is an event or a flag shows when names are known.
struct forbid : seq<word<"not">, events, at<sor<eof, item_ahead, line_ahead>>> {
    static constexpr Kind kind = Kind::forbid;
};
struct holds : seq<any_of> {
    static constexpr Kind kind = Kind::holds;
};
// `must E where …` and nothing that is asked of E.
struct nothing_asked
    : seq<name, inner_where, not_at<window>,
          expect<pegtl::failure,
                 "what is asked of the event, such as `within 2 h` or `at least every 7 days`",
                 FaultCode::demand>> {};
struct demand : sor<have_had, document, follow_steps, event_demand, forbid, nothing_asked, holds> {};
template <Words W>
struct need_demand : expect<demand, W, FaultCode::demand> {};

// ---- 3. Clauses
// ----------------------------------------------------------------------------------------------

struct for_each_line : seq<word<"each">, need_name<"a part such as `infusion` after `for each`">,
                           opt<seq<word<"where">, need_condition<"a condition after `where`">>>> {
    static constexpr Kind kind = Kind::for_each_line;
};
struct clause_for_condition : seq<need_condition<"a condition, or `each` and a part, after `for`">> {
    static constexpr Kind kind = Kind::for_line;
};
struct clause_for_line : seq<head<"for">, sor<for_each_line, clause_for_condition>> {};
struct while_line : seq<head<"while">, need_condition<"a condition after `while`">> {
    static constexpr Kind kind = Kind::while_line;
};
struct even_after_removal : seq<head<"even">, expect<word<"after removal">, "`after removal` after `even`">> {
    static constexpr Kind kind = Kind::even_after_removal;
};
struct once_line : seq<head<"once">, need_condition<"a condition after `once`">> {
    static constexpr Kind kind = Kind::once_line;
};
struct at_line : seq<head<"at">, need_events<"an event after `at`">> {
    static constexpr Kind kind = Kind::at_line;
};
struct after_line : seq<head<"after">, need_events<"an event after `after`">> {
    static constexpr Kind kind = Kind::after_line;
};
struct before_line : seq<head<"before">, need_events<"an event after `before`">> {
    static constexpr Kind kind = Kind::before_line;
};
struct must_line : seq<head<"must">, need_demand<"what must be done after `must`">> {
    static constexpr Kind kind = Kind::must_line;
};
struct should_line : seq<head<"should">, need_demand<"what should be done after `should`">> {
    static constexpr Kind kind = Kind::should_line;
};
struct leaves_line : seq<head<"leaves">, need_id<"a question after `leaves`">,
                         expect<word<"to judgement">, "`to judgement` after the question">, opt<because>> {
    static constexpr Kind kind = Kind::leaves_line;
};
struct except_line : seq<head<"except">, expect<word<"when">, "`when` and a condition after `except`">,
                         need_condition<"a condition after `except when`">, opt<because>> {
    static constexpr Kind kind = Kind::except_line;
};
struct otherwise_line
    : seq<head<"otherwise">, expect<word<"escalate">, "`escalate` and a ladder after `otherwise`">,
          need_id<"the escalation's id after `otherwise escalate`">> {
    static constexpr Kind kind = Kind::otherwise_line;
};
struct then_line : seq<head<"then">, expect<word<"escalate">, "`escalate` and a ladder after `then`">,
                       need_id<"the escalation's id after `then escalate`">> {
    static constexpr Kind kind = Kind::then_line;
};
struct overrides_line
    : seq<head<"overrides">, expect<ids, "the ids of the overridden clauses", FaultCode::name>> {
    static constexpr Kind kind = Kind::overrides_line;
};
struct priority_word : sor<mark<"critical">, mark<"major">, mark<"minor">, mark<"advisory">> {};
struct priority_line
    : seq<head<"priority">,
          expect<priority_word, "a priority (`critical`, `major`, `minor` or `advisory`) after `priority`">> {
    static constexpr Kind kind = Kind::priority_line;
};
struct category : seq<word<"category">, need_string<"the category in quotation marks after `category`">> {
    static constexpr Kind kind = Kind::category;
};
struct source_line : seq<head<"source">, need_id<"a source after `source`">, opt<string>, opt<category>> {
    static constexpr Kind kind = Kind::source_line;
};
struct reason_line : seq<head<"reason">, need_string<"the reason in quotation marks after `reason`">> {
    static constexpr Kind kind = Kind::reason_line;
};
struct advice_line : seq<head<"advice">, need_string<"the advice in quotation marks after `advice`">> {
    static constexpr Kind kind = Kind::advice_line;
};
struct departs_line
    : seq<head<"departs">, expect<word<"from">, "`from` and a source after `departs`">,
          need_id<"a source after `departs from`">, need_because<"`because` and the reason for departing">> {
    static constexpr Kind kind = Kind::departs_line;
};
struct undocumented_line : seq<head<"undocumented">, counts_as> {
    static constexpr Kind kind = Kind::undocumented_line;
};
struct condition_line
    : line<sor<clause_for_line, while_line, once_line>, "conditions are joined by `and` or `or`"> {};
struct moment_line : line<sor<at_line, after_line, before_line, even_after_removal>,
                          "events are joined by `or`, and `where` brings in a condition"> {};
struct demand_line : line<sor<must_line, should_line, leaves_line>, demand_is_complete> {};
struct further_line : line<sor<except_line, otherwise_line, then_line, overrides_line, priority_line,
                               source_line, reason_line, advice_line, departs_line, undocumented_line>,
                           "the line is complete before it"> {};
struct clause_line : sor<condition_line, moment_line, demand_line, further_line> {};
struct clause_sentence : seq<string, line_end<"the sentence is complete before it">> {};
struct clause_head : seq<need_id<"the clause's id, such as `dressing.transparent`, after `clause`">,
                         sor<clause_sentence, line_end<"the clause's sentence stands in quotation marks">>> {
};
struct next_item_ahead : sor<eof, source_item_ahead, seq<not_at<line_ahead>, item_ahead>> {};
struct clause_lines
    : star<seq<not_at<next_item_ahead>, guarded<sor<seq<at<line_ahead>, clause_line>, unknown_line>>>> {};
struct clause_item : seq<head<"clause">, in_block<Block::clause, seq<guarded<clause_head>, clause_lines>>> {
    static constexpr Kind kind = Kind::clause_item;
};

}  // namespace linelaw::grammar::rules
