// The items of a vocabulary. Of rules.hpp.
#pragma once

#include "grammar/rules_expression.hpp"

namespace linelaw::grammar::rules {

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
struct answered_by : seq<word<"by">, need_events<"the events that answer it after `by`">> {
    static constexpr Kind kind = Kind::answered_by;
};
struct response_to
    : seq<word<"response to">, need_events<"the event that asks for a response after `response to`">,
          opt<answered_by>> {
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

}  // namespace linelaw::grammar::rules
