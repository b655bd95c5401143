// Which drafted rules can clash at all, and with which others: the rest is left out of every game.
#pragma once

#include <set>

#include "compiler/analysis/timed.hpp"

namespace linelaw::compiler::analysis {

using Drafts = std::vector<std::size_t>;  // by index, rising

// At least every, within, have had, each: something must be done.
bool demands(Draft::Form form);
// Something happens first: within, until, have had, holds.
bool triggered(Draft::Form form);
// The kinds that a draft keeps from happening at will; nothing where it keeps none.
const Track* restricted(const Draft& draft);

// Only what restricts an event that matters can ever clash: one that something demands, that sets something
// off, or that a condition looks back to, or one that a restriction counts together with such an event and
// that may use its interval up. Everything else is left out: an event that nothing restricts and that nothing
// looks back to may be done whenever it is asked for.
class Relevance {
  public:
    Relevance(Workspace& work, const std::vector<Draft>& drafts);

    // Those of some drafts (all that apply in some situations) that may clash with one another there.
    Drafts kept(const Drafts& some) const;
    // Groups that share kinds of event.
    std::vector<Drafts> groups(const Drafts& some) const;
    // Whether when the draft applies hangs on how long ago such an event came.
    bool looks_back_to(std::size_t draft, runtime::EventKindId kind) const {
        return looked_back_[draft].count(kind) != 0;
    }

  private:
    struct Picked {  // attributes of an event that a track or a clock looks at
        runtime::EventKindId kind = runtime::none;
        std::vector<bool> variables;
    };
    Drafts with_entangled_values(const Drafts& some) const;
    bool drop_one_round(Drafts& some) const;
    void note_picked(Workspace& work, const Draft& draft);

    const std::vector<Draft>& drafts_;
    std::vector<std::vector<Picked>> picked_;                  // by draft
    std::vector<std::set<runtime::EventKindId>> looked_back_;  // by draft
};

}  // namespace linelaw::compiler::analysis
