// A timed problem made smaller, with the same answer: without rules that another of its rules implies, and
// without those that cannot clash because of the letters that they speak of.
#pragma once

#include "compiler/analysis/timed_game.hpp"

namespace linelaw::compiler::analysis {

// The letters that a rule keeps from happening at will, those that set it off, and those that it asks for or
// waits for.
Letters held_back_by(const Rule& rule);
Letters set_off_by(const Rule& rule);
Letters asked_for_by(const Rule& rule);
Letters spoken_of_by(const Rule& rule);  // all that it has to do with

// Of several that say the same the first stays.
void drop_implied(TimedProblem& problem);

// Demands that some letter answers which nothing holds back, which sets nothing off, which no condition looks
// back to and which no hold on what may happen by itself ends with: it may be done whenever it is asked for.
// Not where the demand, while it is open, lets care do something else. And restrictions of letters that
// nobody asks for and that set nothing off.
void drop_free(TimedProblem& problem);

// Counts its times in the largest unit that divides them all, of what is left; answers how many old units it
// is.
std::uint32_t coarsen(TimedProblem& problem);

// The limits and intervals of all rules, in units.
std::uint64_t all_times(const TimedProblem& problem);

// Everything that the answer depends on, as text: equal for equal problems.
std::string content_of(const TimedProblem& problem);

}  // namespace linelaw::compiler::analysis
