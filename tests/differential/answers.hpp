// Answers, limits and openings: what every demand shares. And the demands that have a file of their own.
#pragma once

#include "tests/differential/demands.hpp"

namespace linelaw::literal {

Opening opening(const Judging& j, Instant opened, std::string outcome, std::optional<Instant> closed);
Opening unknown_opening(const Judging& j, Instant opened, std::optional<Instant> closed, Truth why);
void with_limit(Opening& o, const Limit& limit);

// The matching events of one instant, taken together (§4.8 "Matching events of one instant are one answer").
struct Answer {
    Position position;        // of the first of them
    Truth truth = Truth::no;  // yes where one of them is certain
    std::vector<const Event*> events;
    const Event* event = nullptr;  // the first certain one, else the first
};
void put(Answer& a, const Event& e, Truth match);
std::vector<Answer> answers(const Judging& j, const grammar::Events& events);

// Whether the time D before t reaches into what is not in view.
bool reaches_before_view(const Judging& j, const grammar::Events& events, Instant t, const Span& span);
// `unless` of the matching events of an instant, joined by or.
Truth unless_of(const Judging& j, const std::optional<grammar::Box<grammar::Expression>>& unless,
                const Answer& answer);

Limit limit_of(const Zone& zone, Instant due, bool calendar, const std::optional<grammar::Quantity>& grace);
Limit limit_from(const Zone& zone, Instant start, const Span& span,
                 const std::optional<grammar::Quantity>& grace);
// Where an open response ends without an answer: with the line, with the part, or nowhere.
std::optional<Instant> end_of_waiting(const Judging& j, const grammar::Events& events);

void judge(const Judging& j, const grammar::AtLeastEvery& demand, std::vector<Opening>& out);
void judge(const Judging& j, const grammar::Within& demand, std::vector<Opening>& out);

}  // namespace linelaw::literal
