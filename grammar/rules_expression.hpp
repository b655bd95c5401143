// Names, quantities, events, windows, expressions and conditions, and how lines and items end. Of rules.hpp.
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

}  // namespace linelaw::grammar::rules
