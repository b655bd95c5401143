// Examples. Of rules.hpp.
#pragma once

#include "grammar/rules_expression.hpp"

namespace linelaw::grammar::rules {

// ---- 3. Examples
// ---------------------------------------------------------------------------------------------

struct step_at : seq<word<"at">, need_time<"a time of day such as `08:00` after `at`">> {
    static constexpr Kind kind = Kind::step_at;
};
struct step_from_to : seq<word<"from">, need_time<"a time of day such as `08:00` after `from`">,
                          expect<word<"to">, "`to` and a time of day">,
                          need_time<"a time of day such as `08:05` after `to`">> {
    static constexpr Kind kind = Kind::step_from_to;
};
struct example_step : seq<name, opt<sor<step_at, step_from_to>>> {
    static constexpr Kind kind = Kind::example_step;
};
struct need_step : expect<example_step, "a step", FaultCode::name> {};
struct example_steps : seq<word<"steps">, expect<sign<"(">, "the steps in parentheses after `steps`">,
                           opt<seq<at<name>, need_step, star<seq<comma, need_step>>>>,
                           expect<sign<")">, "`)`, which closes the steps">> {
    static constexpr Kind kind = Kind::steps;
};
struct yes_or_no : sor<mark<"yes">, mark<"no">> {};
struct assignment
    : seq<name,
          opt<sor<yes_or_no, literal, seq<not_at<sor<certain_line_ahead, certain_item_ahead>>, reference>>>> {
    static constexpr Kind kind = Kind::assignment;
};
struct given_attribute : sor<example_steps, assignment> {};
struct need_attribute
    : expect<given_attribute, "an attribute and its value after the comma", FaultCode::name> {};
struct assignments : seq<given_attribute, star<seq<comma, need_attribute>>> {};
struct moment : seq<word<"day">, expect<number, "the number of the day after `day`", FaultCode::date>,
                    need_time<"a time of day such as `08:00` after the day">> {
    static constexpr Kind kind = Kind::moment;
};
struct on_line : seq<word<"on">, need_date<"a date such as `2026-03-01` after `on`">> {
    static constexpr Kind kind = Kind::on_line;
};
struct example_line
    : seq<head<"line">,
          expect<assignments, "an attribute of the line and its value after `line`", FaultCode::name>> {
    static constexpr Kind kind = Kind::example_line;
};
struct example_patient
    : seq<head<"patient">,
          expect<assignments, "an attribute of the patient and its value after `patient`", FaultCode::name>> {
    static constexpr Kind kind = Kind::example_patient;
};
struct example_event : seq<moment, need_name<"an event after the time of day">,
                           opt<seq<not_at<sor<certain_line_ahead, certain_item_ahead>>, assignments>>> {
    static constexpr Kind kind = Kind::example_event;
};
struct need_moment
    : expect<moment, "`day`, its number and a time of day, such as `day 3 09:00`", FaultCode::date> {};
struct observed_from
    : seq<head<"observed">, expect<word<"from">, "`from` and a moment after `observed`">, need_moment> {
    static constexpr Kind kind = Kind::observed_from;
};
struct observed_until : seq<head<"until">, need_moment> {
    static constexpr Kind kind = Kind::observed_until;
};
struct expectation_step : seq<word<"step">, expect<number, "the number of the ladder's step after `step`">> {
    static constexpr Kind kind = Kind::expectation_step;
};
struct outcome : sor<word<"met">, word<"late">, word<"missed">, word<"early">, word<"not met">,
                     word<"excused">, word<"no longer due">, word<"pending">, word<"not assessable">> {
    static constexpr Kind kind = Kind::outcome;
};
struct expected_times : seq<number, expect<word<"times">, "`times` after the number">> {
    static constexpr Kind kind = Kind::times;
};
struct expectation
    : seq<head<"expect">, need_id<"a clause, a bundle or an escalation after `expect`">,
          opt<expectation_step>, expect<outcome, "an outcome such as `met`, `late` or `not met`">,
          opt<expected_times>> {
    static constexpr Kind kind = Kind::expectation;
};
struct given_line : line<sor<seq<not_at<item_ahead>, sor<example_line, example_patient>>, example_event>,
                         "attributes are joined by commas"> {};
struct example_body_line
    : sor<given_line,
          line<sor<on_line, observed_from, observed_until, expectation>, "the line is complete before it">> {
};
struct example_head : seq<need_string<"the example's title in quotation marks after `example`">, opt<on_line>,
                          line_end<"the title is complete before it">> {};
struct example_item
    : seq<head<"example">, in_block<Block::example, seq<guarded<example_head>, lines<example_body_line>>>> {
    static constexpr Kind kind = Kind::example_item;
};

}  // namespace linelaw::grammar::rules
