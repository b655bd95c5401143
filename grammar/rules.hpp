// The language, one rule a construct, in the order of the reference's chapters. What a rule with a `kind`
// matches is kept for the tree; `expect` is a point where the text can go wrong, with the words for what
// should stand there. Only parse.cpp and the grammar's own tests include this: it is costly to compile.
#pragma once

#include "grammar/rules_example.hpp"
#include "grammar/rules_layer.hpp"

namespace linelaw::grammar::rules {

struct item
    : sor<vocabulary_header, policy_header, patient_block, line_block, part_item, event_item, state_item,
          role_item, never_item, question_item, source_item, shift_item, term_item, table_item, clause_item,
          escalation_item, bundle_item, set_aside, accept_item, drop_item, replace_item, example_item> {};
struct no_item : expect<pegtl::failure, "an item, such as `clause`, `table` or `event`", FaultCode::item> {};
struct text : seq<blanks, star<seq<not_at<eof>, guarded<sor<item, no_item>>>>, eof> {};

}  // namespace linelaw::grammar::rules
