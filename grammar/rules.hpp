// The language, one rule a construct, in the order of the reference's chapters. What a rule with a `kind`
// matches is kept for the tree; `expect` is a point where the text can go wrong, with the words for what
// should stand there. Only parse.cpp and the grammar's own tests include this: it is costly to compile.
#pragma once

#include "grammar/tokens.hpp"

namespace linelaw::grammar::rules {

using pegtl::at;
using pegtl::eof;
using pegtl::not_at;
using pegtl::opt;
using pegtl::plus;
using pegtl::seq;
using pegtl::sor;
using pegtl::star;

// ---- 1. Words and literals
// -----------------------------------------------------------------------------------

// clang-format off
struct name           : seq<bare_name>       { static constexpr Kind kind = Kind::name; };
struct id             : seq<dotted_name>     { static constexpr Kind kind = Kind::name; };
struct attribute_name : seq<attribute_token> { static constexpr Kind kind = Kind::name; };
struct string         : seq<string_token>    { static constexpr Kind kind = Kind::string; };
struct number         : seq<number_token>    { static constexpr Kind kind = Kind::number; };
struct unit           : seq<unit_token>      { static constexpr Kind kind = Kind::unit; };
struct date           : seq<date_token>      { static constexpr Kind kind = Kind::date; };
struct time_of_day    : seq<time_token>      { static constexpr Kind kind = Kind::time_of_day; };
struct zone           : seq<zone_token>      { static constexpr Kind kind = Kind::zone; };
// A word whose being there is what counts.
template <Words W>
struct mark           : seq<word<W>>         { static constexpr Kind kind = Kind::mark; };
struct comma          : sign<","> {};

struct quantity : seq<number, unit, star<seq<number, unit>>> { static constexpr Kind kind = Kind::quantity; };

template <Words W>
struct need_quantity : expect<quantity, W, FaultCode::quantity> {};
template <Words W>
struct need_name     : expect<name, W, FaultCode::name> {};
template <Words W>
struct need_id       : expect<id, W, FaultCode::name> {};
template <Words W>
struct need_string   : expect<string, W, FaultCode::string> {};
template <Words W>
struct need_date     : expect<date, W, FaultCode::date> {};
template <Words W>
struct need_time     : expect<time_of_day, W, FaultCode::date> {};
// clang-format on

struct names : seq<need_name<"a name">, star<seq<comma, need_name<"another name after the comma">>>> {};
struct ids : seq<need_id<"a name">, star<seq<comma, need_id<"another name after the comma">>>> {};

struct any_of;
struct operand;
struct value;
struct inner_operand;

// ---- 1. Comparisons
// ------------------------------------------------------------------------------------------

// `at least every` and `at least 2 times each` belong to demands.
struct times_of_a_demand : seq<number, word<"times">, sor<word<"each">, word<"in">>> {};
struct not_of_a_demand : not_at<sor<word<"every">, times_of_a_demand>> {};
struct comparator_words
    : sor<seq<word<"at least">, not_of_a_demand>, seq<word<"at most">, not_of_a_demand>, word<"more than">,
          word<"less than">, word<"is not">, word<"is">, sign<">=">, sign<"<=">, sign<">">, sign<"<">,
          sign<"!=">, seq<sign<"=">, not_at<sign<"=">>>> {};
struct comparator : seq<comparator_words> {
    static constexpr Kind kind = Kind::comparator;
};

// ---- 3. Events and windows
// -----------------------------------------------------------------------------------

// What shows that the name before it is no event but begins a condition.
struct goes_on_as_condition
    : sor<word<"is">, word<"between">, word<"and">, word<"of">, word<"in">, word<"since">, comparator> {};
struct event_ahead : seq<name, not_at<goes_on_as_condition>> {};
struct or_event_ahead : at<seq<word<"or">, event_ahead>> {};

// At a line of a clause `where` takes a whole condition; an `or` before an event's name ends it.
struct outer_all_of;
struct outer_any_of
    : seq<outer_all_of,
          star<seq<not_at<or_event_ahead>, word<"or">,
                   expect<seq<outer_all_of>, "a condition after `or`", FaultCode::condition>>>> {
    static constexpr Kind kind = Kind::any_of;
};
struct outer_all_of
    : seq<operand,
          star<seq<word<"and">, expect<seq<operand>, "a condition after `and`", FaultCode::condition>>>> {
    static constexpr Kind kind = Kind::all_of;
};
struct where
    : seq<word<"where">, expect<nested<outer_any_of>, "a condition after `where`", FaultCode::condition>> {};
struct event_pattern : seq<name, opt<where>> {
    static constexpr Kind kind = Kind::event_pattern;
};
struct events : seq<event_pattern, star<seq<or_event_ahead, word<"or">, event_pattern>>> {
    static constexpr Kind kind = Kind::events;
};
template <Words W>
struct need_events : expect<events, W, FaultCode::events> {};

// Inside a condition `where` takes one comparison; more stand in parentheses.
struct inner_where
    : seq<word<"where">, expect<nested<inner_operand>, "a comparison after `where`", FaultCode::condition>> {
};
struct inner_event : seq<name, opt<inner_where>> {
    static constexpr Kind kind = Kind::event_pattern;
};
struct inner_event_needed : expect<inner_event, "an event", FaultCode::events> {};
// After `since`: a name that a comparison or a window follows begins the next condition.
struct since_events : seq<inner_event_needed, star<seq<or_event_ahead, word<"or">, inner_event>>> {
    static constexpr Kind kind = Kind::events;
};
// After `time since`: there a comparison may follow the last event.
struct no_window_ahead : not_at<seq<word<"or">, name, sor<word<"in">, word<"since">>>> {};
struct clock_events : seq<inner_event_needed,
                          star<seq<no_window_ahead, at<seq<word<"or">, name>>, word<"or">, inner_event>>> {
    static constexpr Kind kind = Kind::events;
};
// Where a window must follow.
struct counted_events : seq<inner_event_needed, star<seq<word<"or">, inner_event_needed>>> {
    static constexpr Kind kind = Kind::events;
};
struct listed_events : seq<inner_event_needed, star<seq<comma, inner_event_needed>>> {
    static constexpr Kind kind = Kind::events;
};

struct in_the_last
    : seq<word<"in the last">, need_quantity<"a duration such as `12 h` after `in the last`">> {
    static constexpr Kind kind = Kind::in_the_last;
};
struct since : seq<word<"since">, opt<mark<"last">>, since_events> {
    static constexpr Kind kind = Kind::since;
};
struct window : sor<seq<in_the_last, opt<since>>, seq<since, opt<in_the_last>>> {
    static constexpr Kind kind = Kind::window;
};
// In a value: there a comparison may follow the last event.
struct value_since : seq<word<"since">, opt<mark<"last">>, clock_events> {
    static constexpr Kind kind = Kind::since;
};
struct value_window : sor<seq<in_the_last, opt<value_since>>, seq<value_since, opt<in_the_last>>> {
    static constexpr Kind kind = Kind::window;
};
struct need_value_window
    : expect<value_window, "`in the last` and a duration, or `since` and an event", FaultCode::condition> {};
struct need_window
    : expect<window, "`in the last` and a duration, or `since` and an event", FaultCode::condition> {};

// ---- 3. Expressions
// ------------------------------------------------------------------------------------------

struct dwell : seq<word<"dwell">> {
    static constexpr Kind kind = Kind::dwell;
};
struct time_since : seq<word<"time since">, opt<word<"last">>, clock_events> {
    static constexpr Kind kind = Kind::time_since;
};
struct count_of : seq<word<"count of">, counted_events, need_value_window> {
    static constexpr Kind kind = Kind::count_of;
};
struct sum_of : seq<word<"sum of">, need_id<"an event's attribute such as `flush.volume` after `sum of`">,
                    need_value_window> {
    static constexpr Kind kind = Kind::sum_of;
};
struct difference_of
    : seq<word<"difference of">,
          expect<nested<value>, "an attribute after `difference of`", FaultCode::condition>,
          expect<word<"and">, "`and` and the other attribute of the difference", FaultCode::condition>,
          expect<nested<value>, "the other attribute of the difference after `and`", FaultCode::condition>> {
    static constexpr Kind kind = Kind::difference_of;
};
struct since_insertion : word<"since insertion"> {};
struct since_last : seq<word<"since">, opt<word<"last">>, clock_events> {};
struct change
    : seq<sor<seq<mark<"change">, word<"in">>, seq<mark<"rise">, word<"in">>, seq<mark<"fall">, word<"in">>>,
          need_id<"the attribute that changes, such as `external_length`">,
          expect<sor<since_insertion, since_last>,
                 "`since insertion`, or `since last` and an event, after the attribute",
                 FaultCode::condition>> {
    static constexpr Kind kind = Kind::change;
};
struct step_time : seq<word<"time from">, need_name<"a step after `time from`">,
                       expect<word<"to">, "`to` and the later step", FaultCode::condition>,
                       need_name<"the later step after `to`">> {
    static constexpr Kind kind = Kind::step_time;
};
struct step_in : seq<word<"time in">, need_name<"a step after `time in`">> {
    static constexpr Kind kind = Kind::step_in;
};
struct multiple : seq<number, not_at<seq<word<"times">, sor<word<"each">, word<"in">>>>, word<"times">,
                      expect<nested<value>, "an attribute after `times`", FaultCode::condition>> {
    static constexpr Kind kind = Kind::multiple;
};
struct reference : seq<dotted_name> {
    static constexpr Kind kind = Kind::reference;
};
struct literal : sor<string, date, time_of_day, quantity, number> {};
struct computed
    : sor<multiple, literal, dwell, time_since, count_of, sum_of, difference_of, change, step_time, step_in> {
};
struct value : sor<computed, reference> {};

struct value_list
    : seq<expect<seq<value>, "a value after `one of`", FaultCode::condition>,
          star<seq<comma, expect<seq<value>, "another value after the comma", FaultCode::condition>>>> {};

// ---- 3. Conditions
// -------------------------------------------------------------------------------------------

struct documented : seq<word<"is">, opt<mark<"not">>, word<"documented">> {
    static constexpr Kind kind = Kind::documented;
};
struct one_of : seq<word<"is">, opt<mark<"not">>, word<"one of">, value_list> {
    static constexpr Kind kind = Kind::one_of;
};
struct between : seq<word<"between">, expect<seq<value>, "a value after `between`", FaultCode::condition>,
                     expect<word<"and">, "`and` and the upper value of `between`", FaultCode::condition>,
                     expect<seq<value>, "the upper value of `between` after `and`", FaultCode::condition>> {
    static constexpr Kind kind = Kind::between;
};
// The flag's value; `no` is reserved elsewhere.
struct no_value : seq<word<"no">> {
    static constexpr Kind kind = Kind::reference;
};
struct compare
    : seq<comparator, expect<sor<no_value, value>, "a value to compare with", FaultCode::condition>> {
    static constexpr Kind kind = Kind::compare;
};
struct compared_value : sor<one_of, between, compare> {};
struct compared : sor<documented, compared_value> {};

struct inner_comparison : sor<seq<computed, opt<compared_value>>, seq<reference, opt<compared>>> {
    static constexpr Kind kind = Kind::comparison;
};
struct occurrence : sor<window, seq<inner_where, need_window>> {};
struct comparison : sor<seq<computed, opt<compared_value>>, seq<reference, opt<sor<occurrence, compared>>>> {
    static constexpr Kind kind = Kind::comparison;
};
struct negation : seq<word<"not">, expect<nested<operand>, "a condition after `not`", FaultCode::condition>> {
    static constexpr Kind kind = Kind::negation;
};
struct inner_negation
    : seq<word<"not">, expect<nested<inner_operand>, "a condition after `not`", FaultCode::condition>> {
    static constexpr Kind kind = Kind::negation;
};
struct parenthesised : seq<sign<"(">, expect<nested<any_of>, "a condition after `(`", FaultCode::condition>,
                           expect<sign<")">, "`)`, which closes the parenthesis", FaultCode::condition>> {};
struct any_events : seq<word<"any of">, listed_events, need_window> {
    static constexpr Kind kind = Kind::occurred;
};
struct some_part : seq<word<"any">, need_name<"a part such as `infusion`, or `of` and events, after `any`">,
                       opt<inner_where>> {
    static constexpr Kind kind = Kind::some_part;
};
// `no A or B in the last 24 h`: neither. Without a window `no A` speaks of a part, and `or` joins conditions.
struct or_names_and_window : seq<plus<seq<word<"or">, not_at<word<"time since">>, name>>,
                                 at<sor<word<"in the last">, word<"since">>>> {};
struct no_events
    : sor<seq<word<"no any of">, listed_events, need_window>,
          seq<word<"no">, expect<inner_event, "an event or a part after `no`", FaultCode::events>,
              sor<seq<or_names_and_window, window>, opt<window>>>> {
    static constexpr Kind kind = Kind::no_event;
};
struct operand : sor<negation, parenthesised, any_events, some_part, no_events, comparison> {};
struct inner_operand : sor<inner_negation, parenthesised, inner_comparison> {};
struct all_of
    : seq<operand, star<seq<word<"and">, expect<operand, "a condition after `and`", FaultCode::condition>>>> {
    static constexpr Kind kind = Kind::all_of;
};
struct any_of
    : seq<all_of, star<seq<word<"or">, expect<all_of, "a condition after `or`", FaultCode::condition>>>> {
    static constexpr Kind kind = Kind::any_of;
};
template <Words W>
struct need_condition : expect<any_of, W, FaultCode::condition> {};

// ---- How items and lines end
// ---------------------------------------------------------------------------------

template <Words W>
struct line_end : expect<at<sor<eof, item_ahead, line_ahead>>, W, FaultCode::leftover> {};
template <Words W>
struct item_end : expect<at<sor<eof, item_ahead>>, W, FaultCode::leftover> {};
template <typename Line, Words W>
struct line : seq<Line, line_end<W>> {};
// Where reading goes on after a fault, at a line that the item does not take.
struct unknown_line : expect<pegtl::failure, "", FaultCode::line> {};
// Lines one after the other, each read on its own.
template <typename Line>
struct lines
    : star<seq<not_at<sor<eof, item_ahead>>, guarded<sor<seq<at<line_ahead>, Line>, unknown_line>>>> {};

struct because : seq<word<"because">, need_string<"the reason in quotation marks after `because`">> {
    static constexpr Kind kind = Kind::because;
};
template <Words W>
struct need_because : expect<because, W> {};
struct counts_as : seq<expect<word<"counts as">, "`counts as` after `undocumented`">,
                       expect<sor<mark<"not met">, mark<"not assessable">>,
                              "`not met` or `not assessable` after `counts as`">> {};

// ---- 2. Vocabulary
// -------------------------------------------------------------------------------------------

struct edition_line : seq<head<"edition">, expect<number, "the edition's number after `edition`">> {
    static constexpr Kind kind = Kind::edition_line;
};
struct extends_line
    : seq<head<"extends">, need_string<"the file of the vocabulary in quotation marks after `extends`">> {
    static constexpr Kind kind = Kind::extends_line;
};
struct vocabulary_line : line<sor<edition_line, extends_line>, "the line is complete before it"> {};
struct vocabulary_head : seq<need_name<"the vocabulary's name after `vocabulary`">,
                             line_end<"the vocabulary's name is complete before it">> {};
struct vocabulary_header
    : seq<head<"vocabulary">,
          in_block<Block::vocabulary_header, seq<guarded<vocabulary_head>, lines<vocabulary_line>>>> {
    static constexpr Kind kind = Kind::vocabulary_header;
};

struct range
    : seq<expect<sor<quantity, number>, "the lower end of the range, such as `0 cm`", FaultCode::type>,
          expect<sign<"..">, "`..` and the upper end of the range", FaultCode::type>,
          expect<sor<quantity, number>, "the upper end of the range after `..`", FaultCode::type>> {
    static constexpr Kind kind = Kind::range;
};
struct values : seq<names> {
    static constexpr Kind kind = Kind::values;
};
struct type_unit
    : seq<word<"in">, expect<unit, "the unit of bare numbers in records, such as `cm`, after `in`",
                             FaultCode::quantity>> {
    static constexpr Kind kind = Kind::type_unit;
};
struct range_type
    : sor<mark<"count">, mark<"number">, mark<"percent">, mark<"age">, mark<"length">, mark<"duration">,
          mark<"volume">, mark<"rate">, mark<"mass">, mark<"temperature">, mark<"concentration">> {};
struct type : sor<seq<mark<"one of">, values>, mark<"flag">, mark<"time">, mark<"text">, mark<"key">,
                  seq<range_type, range, opt<type_unit>>> {
    static constexpr Kind kind = Kind::type;
};
struct comparable : seq<word<"comparable">, expect<word<"by">, "`by` and an attribute after `comparable`">,
                        need_name<"the attribute after `comparable by`">> {
    static constexpr Kind kind = Kind::comparable;
};
struct complication
    : seq<word<"complication">,
          opt<seq<not_at<sor<certain_item_ahead, seq<attribute_name, sign<":">>>>, at<name>, names>>> {
    static constexpr Kind kind = Kind::complication;
};
struct attribute
    : seq<attribute_name, sign<":">,
          expect<type, "the attribute's type, such as `flag`, `one of …` or `length 0 cm .. 60 cm in cm`",
                 FaultCode::type>,
          star<sor<comparable, complication>>> {
    static constexpr Kind kind = Kind::attribute;
};
struct steps : seq<word<"steps">, sign<":">,
                   expect<names, "the steps in their usual order after `steps :`", FaultCode::name>> {
    static constexpr Kind kind = Kind::steps;
};
struct attribute_line : line<sor<steps, attribute>, "an attribute is a name, a colon and a type"> {};
struct attributes_head : line_end<"an attribute is a name, a colon and a type"> {};

struct patient_block
    : seq<head<"patient">,
          in_block<Block::attributes, seq<guarded<attributes_head>, lines<attribute_line>>>> {
    static constexpr Kind kind = Kind::patient_block;
};
struct line_block
    : seq<head<"line">, in_block<Block::attributes, seq<guarded<attributes_head>, lines<attribute_line>>>> {
    static constexpr Kind kind = Kind::line_block;
};

struct of_part : seq<word<"of">, need_name<"a part after `of`">> {
    static constexpr Kind kind = Kind::of_part;
};
struct part_count : seq<id, expect<word<"of them">, "`of them` after the number of parts">> {
    static constexpr Kind kind = Kind::part_count;
};
struct part_life : seq<word<"from">, need_events<"the event that begins the part's life after `from`">,
                       expect<word<"until">, "`until` and the event that ends the part's life">,
                       need_events<"the event that ends the part's life after `until`">> {
    static constexpr Kind kind = Kind::part_life;
};
struct part_head : seq<need_name<"the part's name after `part`">,
                       need_string<"the part's title in quotation marks">, opt<of_part>,
                       expect<sor<part_life, part_count>,
                              "how long the part lives (`from` an event `until` an event), or how many there "
                              "are (`line.lumens of them`)">,
                       line_end<"an attribute is a name, a colon and a type">> {};
struct part_item
    : seq<head<"part">, in_block<Block::attributes, seq<guarded<part_head>, lines<attribute_line>>>> {
    static constexpr Kind kind = Kind::part_item;
};

struct after_removal : seq<word<"also">, expect<word<"after removal">, "`after removal` after `also`">> {
    static constexpr Kind kind = Kind::after_removal;
};
struct event_complication : seq<word<"complication">> {
    static constexpr Kind kind = Kind::complication;
};
struct event_head
    : seq<need_name<"the event's name after `event`">, opt<of_part>,
          need_string<"the event's title in quotation marks">, star<sor<after_removal, event_complication>>,
          line_end<"an attribute is a name, a colon and a type">> {};
struct event_item
    : seq<head<"event">, in_block<Block::event, seq<guarded<event_head>, lines<attribute_line>>>> {
    static constexpr Kind kind = Kind::event_item;
};

struct source_id : seq<dotted_name> {
    static constexpr Kind kind = Kind::name;
};
struct state_sources
    : seq<not_at<name>, source_id, star<seq<comma, need_id<"another `event.attribute` after the comma">>>> {
    static constexpr Kind kind = Kind::state_sources;
};
struct initially
    : seq<word<"initially">, need_id<"the attribute that the state starts with after `initially`">> {
    static constexpr Kind kind = Kind::initially;
};
struct state_body
    : seq<need_name<"the state's name after `state`">, expect<word<"from">, "`from` and what sets the state">,
          expect<sor<seq<state_sources, opt<initially>>,
                     seq<events, expect<word<"until">, "`until` and the event that ends the state">,
                         need_events<"the event that ends the state after `until`">>>,
                 "what sets the state: attributes of events such as `insertion.dressing`, or an event",
                 FaultCode::events>,
          item_end<"the state is complete before it">> {};
struct state_item : seq<head<"state">, in_block<Block::state, guarded<state_body>>> {
    static constexpr Kind kind = Kind::state_item;
};
struct role_item
    : seq<head<"role">, guarded<seq<expect<names, "the roles, joined by commas", FaultCode::name>,
                                    item_end<"roles are joined by commas">>>> {
    static constexpr Kind kind = Kind::role_item;
};
struct never_item
    : seq<head<"never">, guarded<seq<need_condition<"the condition that cannot be after `never`">,
                                     opt<because>, item_end<"conditions are joined by `and` or `or`">>>> {
    static constexpr Kind kind = Kind::never_item;
};

struct how_often : seq<events, word<"how often">> {
    static constexpr Kind kind = Kind::how_often;
};
struct attribute_at : seq<id, word<"at">, need_name<"the event after `at`">> {
    static constexpr Kind kind = Kind::attribute_at;
};
struct response_to
    : seq<word<"response to">, need_events<"the event that asks for a response after `response to`">> {
    static constexpr Kind kind = Kind::response_to;
};
struct escalation_of : seq<word<"escalation">, need_id<"the escalation's id after `escalation`">> {
    static constexpr Kind kind = Kind::escalation_of;
};
struct about_line
    : seq<head<"about">, expect<sor<response_to, escalation_of, attribute_at, how_often>,
                                "what the question is about: an event `how often`, an attribute `at` an "
                                "event, `response to` an event, or `escalation` and its id">> {};
struct axis : seq<id, opt<mark<"or unset">>> {
    static constexpr Kind kind = Kind::axis;
};
struct need_axis : expect<axis, "an attribute or a state", FaultCode::name> {};
struct axes : seq<word<"every combination of">, need_axis, star<seq<comma, need_axis>>> {
    static constexpr Kind kind = Kind::axes;
};
struct for_condition : seq<need_condition<"`every combination of`, or a condition, after `for`">> {
    static constexpr Kind kind = Kind::for_line;
};
struct question_for_line : seq<head<"for">, sor<axes, for_condition>> {};
struct question_line : line<sor<about_line, question_for_line>, "the line is complete before it"> {};
struct question_head : seq<need_id<"the question's name after `question`">,
                           need_string<"the question itself in quotation marks">,
                           line_end<"the question itself is complete before it">> {};
struct question_item
    : seq<head<"question">, in_block<Block::question, seq<guarded<question_head>, lines<question_line>>>> {
    static constexpr Kind kind = Kind::question_item;
};

// ---- 3. Policy
// -----------------------------------------------------------------------------------------------

struct in_force_until : seq<word<"until">, need_date<"a date such as `2027-02-28` after `until`">> {
    static constexpr Kind kind = Kind::in_force_until;
};
struct in_force : seq<word<"in">, expect<word<"force from">, "`force from` and a date after `in`">,
                      need_date<"a date such as `2026-03-01` after `in force from`">, opt<in_force_until>> {
    static constexpr Kind kind = Kind::in_force;
};
struct review : seq<head<"review">, expect<word<"by">, "`by` and a date after `review`">,
                    need_date<"a date such as `2027-01-15` after `review by`">> {
    static constexpr Kind kind = Kind::review;
};
struct owner : seq<head<"owner">, need_string<"the owner in quotation marks after `owner`">> {
    static constexpr Kind kind = Kind::owner;
};
struct governs : seq<head<"governs">, need_condition<"a condition after `governs`">> {
    static constexpr Kind kind = Kind::governs;
};
struct time_zone : seq<head<"time">, expect<word<"zone">, "`zone` and a time zone after `time`">,
                       expect<zone, "a time zone such as `America/Halifax` after `time zone`">> {
    static constexpr Kind kind = Kind::time_zone;
};
struct uses : seq<head<"uses">, expect<word<"vocabulary">, "`vocabulary` and its file after `uses`">,
                  need_string<"the vocabulary's file in quotation marks after `uses vocabulary`">> {
    static constexpr Kind kind = Kind::uses;
};
struct builds_on : seq<head<"builds">, expect<word<"on">, "`on` and a policy's file after `builds`">,
                       need_string<"the policy's file in quotation marks after `builds on`">> {
    static constexpr Kind kind = Kind::builds_on;
};
struct measured
    : seq<head<"measured">, expect<word<"against">, "`against` and a policy's file after `measured`">,
          need_string<"the policy's file in quotation marks after `measured against`">> {
    static constexpr Kind kind = Kind::measured;
};
struct undocumented : seq<head<"undocumented">, counts_as> {
    static constexpr Kind kind = Kind::undocumented;
};
struct policy_line : line<sor<edition_line, in_force, review, owner, governs, time_zone, uses, builds_on,
                              measured, undocumented>,
                          "the line is complete before it"> {};
struct policy_head : seq<need_string<"the policy's title in quotation marks after `policy`">,
                         line_end<"the policy's title is complete before it">> {};
struct policy_header
    : seq<head<"policy">, in_block<Block::policy_header, seq<guarded<policy_head>, lines<policy_line>>>> {
    static constexpr Kind kind = Kind::policy_header;
};

struct source_by : seq<word<"by">, need_string<"who published it, in quotation marks, after `by`">> {
    static constexpr Kind kind = Kind::source_by;
};
struct source_year : seq<head<"year">, expect<number, "the year of publication after `year`">> {
    static constexpr Kind kind = Kind::source_year;
};
struct source_body
    : seq<need_id<"the source's name after `source`">, need_string<"the source's title in quotation marks">,
          star<sor<source_by, source_year>>, item_end<"the source is complete before it">> {};
struct source_item : seq<head<"source">, in_block<Block::source, guarded<source_body>>> {
    static constexpr Kind kind = Kind::source_item;
};
// Tells a source that is declared from a clause's own `source` line.
struct source_item_ahead : at<seq<word<"source">, id, closed_string, word<"by">>> {};

struct shift_item : seq<head<"shift">, guarded<seq<need_name<"the shift's name after `shift`">,
                                                   expect<word<"from">, "`from` and a time of day">,
                                                   need_time<"a time of day such as `07:00` after `from`">,
                                                   expect<word<"to">, "`to` and a time of day">,
                                                   need_time<"a time of day such as `19:30` after `to`">,
                                                   item_end<"the line is complete before it">>>> {
    static constexpr Kind kind = Kind::shift_item;
};
struct term_item
    : seq<head<"term">, guarded<seq<need_name<"the term's name after `term`">,
                                    expect<word<"means">, "`means` and a condition after the term's name">,
                                    need_condition<"a condition after `means`">,
                                    item_end<"conditions are joined by `and` or `or`">>>> {
    static constexpr Kind kind = Kind::term_item;
};

struct first_row_wins : seq<head<"first">, expect<word<"row wins">, "`row wins` after `first`">> {
    static constexpr Kind kind = Kind::first_row_wins;
};
struct bar : sign<"|"> {};
struct table_gives : seq<need_name<"the name of what the table gives">,
                         star<seq<bar, need_name<"another name after `|`">>>> {
    static constexpr Kind kind = Kind::table_gives;
};
struct table_given
    : seq<head<"given">, need_id<"an attribute or a state after `given`">,
          star<seq<bar, need_id<"an attribute or a state after `|`">>>,
          expect<word<"gives">, "`gives` and the names of what the table gives">, table_gives> {
    static constexpr Kind kind = Kind::table_given;
};
struct any_cell : seq<word<"any">> {
    static constexpr Kind kind = Kind::any_cell;
};
struct range_cell
    : seq<sor<quantity, number>, at<sign<"..">>, sign<"..">,
          expect<sor<quantity, number>, "the upper end of the range after `..`", FaultCode::quantity>> {
    static constexpr Kind kind = Kind::range;
};
struct one_of_cell : seq<word<"one of">, value_list> {
    static constexpr Kind kind = Kind::one_of;
};
struct cell : sor<any_cell, range_cell, one_of_cell, compare, no_value, value> {
    static constexpr Kind kind = Kind::cell;
};
struct need_cell : expect<cell, "a value, a comparison, a range, `one of …` or `any`"> {};
struct row_gives : seq<expect<sor<no_value, value>, "what the row gives after `gives`">,
                       star<seq<bar, expect<sor<no_value, value>, "another value after `|`">>>> {
    static constexpr Kind kind = Kind::row_gives;
};
struct table_row
    : seq<head<"row">, need_cell, star<seq<bar, need_cell>>,
          expect<word<"gives">, "`gives` and what the row gives, or `|` and another cell">, row_gives> {
    static constexpr Kind kind = Kind::table_row;
};
struct table_line : line<sor<first_row_wins, table_given, table_row>, "cells are parted by `|`"> {};
struct table_head : seq<need_name<"the table's name after `table`">, opt<first_row_wins>,
                        line_end<"the table's name is complete before it">> {};
struct table_item : seq<head<"table">, in_block<Block::table, seq<guarded<table_head>, lines<table_line>>>> {
    static constexpr Kind kind = Kind::table_item;
};

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

// ---- 3. Ladders and bundles
// ----------------------------------------------------------------------------------

struct if_not_acknowledged
    : seq<word<"if">, expect<word<"not acknowledged">, "`not acknowledged within` and a duration after `if`">,
          expect<word<"within">, "`within` and a duration after `acknowledged`">,
          need_quantity<"a duration such as `30 min` after `if not acknowledged within`">> {
    static constexpr Kind kind = Kind::if_not_acknowledged;
};
struct ladder_step
    : seq<sor<head<"first">, head<"then">>, expect<word<"notify">, "`notify` and a role">,
          need_name<"a role after `notify`">, star<seq<word<"or">, need_name<"another role after `or`">>>,
          expect<word<"within">, "`within` and the time in which the role is notified">,
          need_quantity<"a duration such as `30 min` after `within`">, opt<if_not_acknowledged>> {
    static constexpr Kind kind = Kind::ladder_step;
};
struct ladder_hold : seq<word<"no">, expect<word<"new">, "`new` and an event after `no`">,
                         need_events<"the event that is held back after `no new`">,
                         expect<word<"until">, "`until` and the event that ends the hold">,
                         need_events<"the event that ends the hold after `until`">> {
    static constexpr Kind kind = Kind::ladder_hold;
};
struct escalation_line : line<sor<ladder_step, ladder_hold>, "the line is complete before it"> {};
struct escalation_head : seq<need_id<"the escalation's id after `escalation`">,
                             need_string<"the sentence of the escalation in quotation marks">,
                             line_end<"the sentence is complete before it">> {};
struct escalation_item
    : seq<head<"escalation">,
          in_block<Block::escalation, seq<guarded<escalation_head>, lines<escalation_line>>>> {
    static constexpr Kind kind = Kind::escalation_item;
};

struct bundle_of
    : seq<head<"of">, expect<ids, "the ids of the bundle's clauses after `of`", FaultCode::name>> {};
struct bundle_each
    : seq<head<"each">,
          expect<sor<mark<"calendar day">, mark<"shift">, mark<"line">, seq<not_at<word<"day">>, events>>,
                 "`calendar day`, `shift`, `line`, or an event after `each`", FaultCode::events>> {
    static constexpr Kind kind = Kind::bundle_each;
};
struct bundle_line : sor<line<bundle_of, "clauses are joined by commas">,
                         line<bundle_each, "the line is complete before it">> {};
struct bundle_head
    : seq<need_id<"the bundle's id after `bundle`">, need_string<"the bundle's title in quotation marks">,
          line_end<"the title is complete before it">> {};
struct bundle_item
    : seq<head<"bundle">, in_block<Block::bundle, seq<guarded<bundle_head>, lines<bundle_line>>>> {
    static constexpr Kind kind = Kind::bundle_item;
};

// ---- 3. Layers and editions
// ----------------------------------------------------------------------------------

struct aside_for : seq<word<"for">, need_condition<"a condition after `for`">> {};
struct set_aside : seq<word<"set aside">,
                       guarded<seq<expect<word<"question">, "`question` and its name after `set aside`">,
                                   need_id<"the question's name after `set aside question`">, opt<aside_for>,
                                   need_because<"`because` and the reason why the question is set aside">,
                                   item_end<"the line is complete before it">>>> {
    static constexpr Kind kind = Kind::set_aside;
};
struct accept_item
    : seq<head<"accept">,
          guarded<seq<need_id<"the code of a finding, such as `gap.question`, after `accept`">,
                      opt<seq<word<"for">,
                              expect<ids, "the ids that the finding is about after `for`", FaultCode::name>>>,
                      need_because<"`because` and the reason why the finding may stand">,
                      item_end<"the line is complete before it">>>> {
    static constexpr Kind kind = Kind::accept_item;
};
struct drop_item
    : seq<head<"drop">, guarded<seq<expect<word<"clause">, "`clause` and its id after `drop`">,
                                    need_id<"the clause's id after `drop clause`">,
                                    need_because<"`because` and the reason why the clause is dropped">,
                                    item_end<"the line is complete before it">>>> {
    static constexpr Kind kind = Kind::drop_item;
};
struct replaceable : sor<clause_item, table_item, term_item, escalation_item, question_item> {};
struct replace_item
    : seq<head<"replace">,
          guarded<
              expect<replaceable, "`clause`, `table`, `term`, `escalation` or `question` after `replace`">>> {
    static constexpr Kind kind = Kind::replace_item;
};

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

// ---- A text
// --------------------------------------------------------------------------------------------------

struct item
    : sor<vocabulary_header, policy_header, patient_block, line_block, part_item, event_item, state_item,
          role_item, never_item, question_item, source_item, shift_item, term_item, table_item, clause_item,
          escalation_item, bundle_item, set_aside, accept_item, drop_item, replace_item, example_item> {};
struct no_item : expect<pegtl::failure, "an item, such as `clause`, `table` or `event`", FaultCode::item> {};
struct text : seq<blanks, star<seq<not_at<eof>, guarded<sor<item, no_item>>>>, eof> {};

}  // namespace linelaw::grammar::rules
