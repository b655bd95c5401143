// Ladders and bundles; what one layer or edition says of another. Of rules.hpp.
#pragma once

#include "grammar/rules_clause.hpp"

namespace linelaw::grammar::rules {

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

}  // namespace linelaw::grammar::rules
