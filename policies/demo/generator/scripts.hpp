// The scripts of an episode: each writes the events of one part of care, good and bad, and accounts for every
// opportunity of the clauses that look at that part. What a clause of the demo's policy asks is written here
// a second time, as plain arithmetic over the script's own events; the policy text is not read.
#pragma once

#include "policies/demo/generator/stay.hpp"

namespace linelaw::demo {

// Who, which line, where, how long: everything that is settled before the first event.
Stay begin_stay(Policy policy, std::uint64_t seed, int index);

// By which lumen an event is done, where it must be said.
Values name_lumen(Stay& stay);

// First every script writes, then each accounts: an answer to one part of care may come from another.
void write_dressings(Stay& stay);
void write_infusions(Stay& stay);
void write_connectors(Stay& stay);
void write_responses(Stay& stay);  // tip, fever, drainage, blood draws, port needles
void write_hubs(Stay& stay);
void write_ladders(Stay& stay);
void write_reviews(Stay& stay);  // looks at the site, each shift or each week; the daily question

// What the later edition, and the units that build on it, ask besides. Phlebitis and leaving add to what the
// others wrote.
void write_skin(Stay& stay);
void write_idle(Stay& stay);
void write_phlebitis(Stay& stay);
void write_leaving(Stay& stay);  // whether the line is needed, its removal, going home

void account_dressings(Stay& stay);
void account_responses(Stay& stay);
void account_ladders(Stay& stay);
void account_reviews(Stay& stay);
void account_skin(Stay& stay);
void account_idle(Stay& stay);
void account_phlebitis(Stay& stay);
void account_leaving(Stay& stay);

}  // namespace linelaw::demo
