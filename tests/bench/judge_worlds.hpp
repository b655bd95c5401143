// The worlds that bench_judge measures in: policies as texts, and episodes in memory. Every figure of chance
// comes from a seeded generator of bits alone, so that a world is the same wherever it is made.
#pragma once

#include <string>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/policy.hpp"

namespace linelaw::bench {

struct World {
    std::string name;
    runtime::Policy policy;
    std::vector<runtime::Episode> episodes;
};

// 100 clauses of every form, with intervals of so many hours and the other limits in proportion. The record's
// events lie `spread` times as far apart as five hours. Periods are not stretched: a longer record has more.
World every_form(int hours, int spread);

// 100 clauses, each a response due within 400 days; an answer to all of them after every so many triggers.
// Four opportunities a trigger, 500,000 in all; `alive`: how many of them are open at once.
World open_at_once(int alive);

// So many clauses, ten of them for each kind of event, and events of any kind.
World ten_an_event(int clauses);

}  // namespace linelaw::bench
