// The head of a policy, its sources, shifts, terms and tables. Of
// rules.hpp.
#pragma once

#include "grammar/rules_vocabulary.hpp"

namespace linelaw::grammar::rules {

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

}  // namespace linelaw::grammar::rules
