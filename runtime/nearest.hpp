// What would have met an opportunity that counts against, or will meet one that is pending: the nearest
// change to the record (one event moved, added, left out, or with other values; of a bundle, one for each of
// its clauses that was not kept) under which the same engine judges that occasion met. Never a second
// evaluation: each candidate is a record, and the engine judges it. Says nothing of what else the change
// would have brought about.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"

namespace linelaw::runtime {

enum class NearestKind : std::uint8_t { move, add, record, leave_out };
constexpr std::string_view nearest_kind_names[] = {"move", "add", "record", "leave out"};
struct Nearest {
    NearestKind kind = NearestKind::add;
    EventKindId event = none;
    std::uint32_t index = none;  // of the event that is moved, recorded otherwise or left out
    Instant at = 0;              // where it stands then
    std::uint32_t times = 1;     // how many are added
    std::string said;            // "a dressing change by 14:10 would have met it"
};

// One a thread; not thread-safe. The policy must outlive it. An answer costs some tens of judgements of the
// episode.
class NearestFinder {
  public:
    explicit NearestFinder(const Policy& policy, std::optional<Instant> as_of = {});
    ~NearestFinder();
    NearestFinder(NearestFinder&&) noexcept;
    NearestFinder& operator=(NearestFinder&&) noexcept;

    // Nothing where no single change meets it, or it is met, excused or no longer due. Of a bundle, the first
    // change of those that are said.
    std::optional<Nearest> find(const Episode& episode, const Opportunity& opportunity);

  private:
    struct Implementation;
    std::unique_ptr<Implementation> implementation_;
};

}  // namespace linelaw::runtime
