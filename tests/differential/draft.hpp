// Policies and records on their way to the meeting: made of pieces that can be taken away again.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "tests/differential/literal.hpp"

namespace linelaw::literal {

struct ClauseDraft {
    std::string id;
    std::vector<std::string> lines;  // each an item of the clause's body
    std::string demand;              // its kind, for the counts: "within", "each day" …
};

struct ItemDraft {  // an escalation, bundle, term, table or shift
    std::string id;
    std::string text;
};

struct PolicyDraft {
    std::string vocabulary;  // text
    std::vector<std::string> header;
    std::vector<ItemDraft> before;
    std::vector<ClauseDraft> clauses;
    std::vector<ItemDraft> after;
    std::string text() const;
};

// Numbers that are the same everywhere for one seed.
class Dice {
  public:
    explicit Dice(std::uint64_t seed) : state_(seed) {}
    std::uint64_t next();
    int below(int n) { return static_cast<int>(next() % static_cast<std::uint64_t>(n)); }
    int between(int low, int high) { return low + below(high - low + 1); }
    bool chance(int percent) { return below(100) < percent; }
    template <typename List>
    const auto& one_of(const List& list) {
        return list[static_cast<std::size_t>(below(static_cast<int>(list.size())))];
    }
    std::string pick(std::initializer_list<const char*> list) {
        return *(list.begin() + below(static_cast<int>(list.size())));
    }

  private:
    std::uint64_t state_;
};

std::string utc_text(Instant t);

// ---- all of a small world

// Every clause form of the small world, in policies of at most `in_one` (they do not touch one another), and
// every pair of which one overrides the other.
std::vector<PolicyDraft> small_policies(std::size_t in_one);
std::vector<PolicyDraft> small_pairs(std::size_t in_one);
// Which forms these are, for people.
std::string small_forms();
// Calls `take` with every record of up to `most` events at six instants, around the clock change that
// `autumn` says, the endings taken in turn; with values left out, where `missing`.
template <typename Take>
void small_records(int most, bool autumn, bool missing, const Take& take);

// ---- at random

// What a policy and its records lean towards, so that rare outcomes come often enough.
enum class Theme {
    mixed,
    plain,         // nothing speaks of what is documented: documenting may not turn a verdict
    pairs,         // no more often than
    calls,         // ladders, with many notifications and acknowledgements
    steps,         // follow steps
    either,        // within D either side, and other demands with few outcomes
    undocumented,  // what is missing counts as not met, and much is missing
};
PolicyDraft random_policy(Dice& dice, const std::string& vocabulary, bool well_typed, Theme theme);
nlohmann::json random_record(Dice& dice, Theme theme);

// ---- implementation of the template

struct SmallWorld {
    std::vector<nlohmann::json> points;  // an event at an instant
    nlohmann::json base;
    std::vector<std::pair<std::string, std::string>>
        endings;  // removed_at, observed_until; either may be empty
};
SmallWorld small_world(bool autumn, bool missing);
nlohmann::json small_record(const SmallWorld& world, const std::vector<std::size_t>& chosen,
                            std::size_t ending);

template <typename Take>
void small_records(int most, bool autumn, bool missing, const Take& take) {
    const SmallWorld world = small_world(autumn, missing);
    std::vector<std::size_t> chosen;
    std::size_t turn = 0;
    const auto choose = [&](const auto& self, std::size_t from) -> bool {
        if (!take(small_record(world, chosen, turn++ % world.endings.size()))) return false;
        if (static_cast<int>(chosen.size()) == most) return true;
        for (std::size_t i = from; i < world.points.size(); ++i) {
            chosen.push_back(i);
            if (!self(self, i + 1)) return false;
            chosen.pop_back();
        }
        return true;
    };
    choose(choose, 0);
}

}  // namespace linelaw::literal
