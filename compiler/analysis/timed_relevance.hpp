// Which drafted rules can clash at all, and with which others: the rest is left out of every game.
#pragma once

#include "compiler/analysis/timed.hpp"

namespace linelaw::compiler::analysis {

using Drafts = std::vector<std::size_t>;  // by index, rising

// At least every, within, have had, each: something must be done.
bool demands(Draft::Form form);
// Something happens first: within, until, have had, holds.
bool triggered(Draft::Form form);
// The kinds that a draft keeps from happening at will; nothing where it keeps none.
const Track* restricted(const Draft& draft);

// Only what restricts an event that something demands or that sets something off can ever clash. Everything
// else is left out: an event that nothing restricts may be done whenever it is asked for.
class Relevance {
  public:
    Relevance(Workspace& work, const std::vector<Draft>& drafts);

    // Those of some drafts (all that apply in some situations) that may clash with one another there.
    Drafts kept(const Drafts& some) const;
    // Groups that share kinds of event.
    std::vector<Drafts> groups(const Drafts& some) const;

  private:
    struct Picked {  // attributes of an event that a track looks at
        runtime::EventKindId kind = runtime::none;
        std::vector<bool> variables;
    };
    Drafts with_entangled_values(const Drafts& some) const;
    bool drop_one_round(Drafts& some) const;

    const std::vector<Draft>& drafts_;
    std::vector<std::vector<Picked>> picked_;  // by draft
};

}  // namespace linelaw::compiler::analysis
