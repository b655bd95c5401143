// What an audit adds up: whole numbers and fixed bins only, so that the sum of any parts, in any order, is
// the sum of the whole, to the byte. Rates and intervals are made from it by summary.hpp. No attribute's
// value is kept but those that the caller asked to group by.
#pragma once

#include <array>
#include <compare>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/engine.hpp"
#include "runtime/episode.hpp"
#include "runtime/episode_keys.hpp"
#include "runtime/findings.hpp"
#include "runtime/keyed_hash.hpp"
#include "runtime/nearest.hpp"
#include "runtime/outcome.hpp"
#include "runtime/policy.hpp"
#include "runtime/records.hpp"
#include "runtime/result.hpp"
#include "runtime/review_tally.hpp"
#include "runtime/tally_days.hpp"

namespace linelaw::runtime {

// What outcomes are counted for: each clause, then each step and hold of each ladder, then each bundle, in
// the order of the policy.
struct Item {
    OriginKind origin = OriginKind::clause;
    std::uint32_t item = none;
    std::uint32_t step = none;  // of a ladder; a hold is steps.size() + its index
};
class Items {
  public:
    explicit Items(const Policy& policy);
    std::size_t size() const { return items_.size(); }
    const Item& operator[](std::size_t index) const { return items_[index]; }
    std::size_t of(const Opportunity& opportunity) const;

  private:
    std::vector<Item> items_;
    std::vector<std::size_t> first_of_ladder_;
    std::size_t first_bundle_ = 0;
};
// "dressing.gauze", "catheter_migration step 2", "catheter_migration step 3 (hold)" (holds follow the steps,
// as in findings), "insertion_practices"; with its edition where several editions have one of that id:
// "dressing.gauze (edition 5)".
std::string item_name(const Policy& policy, const Item& item);

// How late `late` ones came, in fixed bins: bin i holds lateness in (bounds[i-1], bounds[i]] seconds, the
// last what is beyond.
constexpr std::array<std::int64_t, 27> lateness_bounds_s = {
    300,    600,    900,    1800,   2700,    3600,    5400,    7200,    10800,
    14400,  21600,  28800,  43200,  64800,   86400,   129600,  172800,  259200,
    345600, 432000, 604800, 864000, 1209600, 1814400, 2592000, 5184000, 7776000};
constexpr std::size_t lateness_bin_count = lateness_bounds_s.size() + 1;

struct Counts {
    std::array<std::uint64_t, outcome_count> outcomes{};
    std::array<std::uint64_t, lateness_bin_count> lateness{};  // of `late`
    std::uint64_t applied_s = 0;  // seconds over which the clause applied; of clauses over stretches of time
    std::uint64_t overdue_s = 0;  // of those, seconds in which an opportunity was past its limit
    // Of the lines with any counted: what is of one line goes together. Not told by month.
    std::uint64_t lines = 0;
    std::uint64_t met_squared = 0;
    std::uint64_t met_counted = 0;  // the products
    std::uint64_t counted_squared = 0;
    void add(const Counts& other);
    bool operator==(const Counts&) const = default;
};

// One care unit, one month, one value of an attribute, or everything.
struct Group {
    std::vector<Counts> counts;  // by index into Items
    std::uint64_t episodes = 0;
    std::uint64_t line_days = 0;  // calendar days on which a line was in place, each line for itself
    void add(const Group& other);
    bool operator==(const Group&) const = default;
};

// A finding that may be among the worst, with what the report shows of it.
struct Bar {  // one opportunity of the episode
    std::uint32_t item = none;
    std::string part;
    Outcome outcome = Outcome::pending;
    Instant opened = 0;
    std::optional<Instant> due;
    std::optional<Instant> limit;
    std::optional<Instant> closed;
    bool operator==(const Bar&) const = default;
};
// Of all but bundles, whose opportunities are made of others.
std::vector<Bar> bars_of(const Policy& policy, const Items& items, const Episode& episode,
                         const std::vector<Opportunity>& opportunities);
struct WorstFinding {
    Priority priority = Priority::advisory;
    std::int64_t lateness = 0;  // microseconds; zero where it has none
    std::string episode;
    std::string id;
    std::string care_unit;
    std::uint32_t item = none;
    Outcome outcome = Outcome::missed;
    Instant opened = 0;
    std::string said;
    std::string nearest;  // what would have met it, in words; empty: nothing was found
    Instant begin = 0;    // of what is known of the episode
    Instant end = 0;
    std::vector<Bar> bars;
    bool operator==(const WorstFinding&) const = default;
};
bool worse(const WorstFinding& a, const WorstFinding& b);  // a total order: priority, lateness, key
void put_worst(std::vector<WorstFinding>& kept, std::size_t most, const WorstFinding& finding);
constexpr std::size_t worst_kept = 10;      // of all
constexpr std::size_t worst_kept_each = 3;  // of each clause and step

// How much an edition judged, of several; or how much nobody did, or more than one would have.
struct Covered {
    std::uint64_t episodes = 0;
    std::uint64_t line_days = 0;  // a day on which two judged counts for both
    bool operator==(const Covered&) const = default;
};
struct Coverage {
    std::vector<Covered> editions;  // by Policy::editions; empty where one policy judges all
    Covered no_edition;             // a policy governs, but none of its editions is in force
    Covered not_governed;           // no policy is known to govern
    Covered several;                // more than one policy governs; the one given first judged
    void add(const Coverage& other);
    bool operator==(const Coverage&) const = default;
};

struct TallyOptions {
    std::vector<std::string> by;  // "line.kind", "patient.setting", "facility"
    std::int64_t count_at =
        7 * microseconds_per_hour;  // time of day of the daily count of patients with a line
    std::optional<Instant> as_of;
    bool nearest = false;  // say of the worst findings what would have met them
    std::optional<HashKey> patient_key =
        std::nullopt;  // under which a partial summary hashes the keys of patients and episodes
};

// Which value of an attribute an episode has. Refuses what it cannot group by.
struct Grouping {
    enum class Owner : std::uint8_t { facility, patient, line } owner = Owner::facility;
    std::uint32_t slot = none;
    std::string name;
};
Result<Grouping> grouping(const Policy& policy, const std::string& attribute);
std::string group_value(const Policy& policy, const Grouping& grouping, const Episode& episode);

struct Tally {
    std::uint64_t read = 0;  // = judged + quarantined, always
    std::uint64_t judged = 0;
    std::uint64_t quarantined = 0;
    std::uint64_t without_patient_key = 0;
    std::map<std::string, std::uint64_t> quarantined_by;  // "code pointer", indexes in the pointer as *
    std::map<std::string, std::uint64_t> set_aside_by;
    ReadCounts seen;
    std::optional<Instant> first;  // the first and the last moment that any judged record knows of
    std::optional<Instant> last;
    Group all;
    std::map<std::string, Group> by_care_unit;
    std::map<std::int32_t, Group>
        by_month;  // year * 12 + month - 1, of due, or of closing where that came first
    std::map<std::string, std::map<std::string, Group>> by;
    std::map<std::string, PatientDays> patient_days;  // by care unit
    EpisodeKeys episodes;
    std::vector<WorstFinding> worst;                              // the worst ones, worst first
    std::map<std::uint32_t, std::vector<WorstFinding>> worst_of;  // of each item, worst first
    ReviewTally review;
    Coverage coverage;

    void add(const Tally& other);
    void put_in_order();                                 // so that adding and asking later take less
    bool would_keep(const WorstFinding& finding) const;  // among the worst
    void keep(const WorstFinding& finding);
};

// Adds episodes to a tally. One a thread; the policy must outlive it.
class Tallier {
  public:
    Tallier(const Policy& policy, const Items& items, TallyOptions options, std::vector<Grouping> groupings);

    void judged(const Episode& episode, const Judgement& judgement, const std::vector<Stretch>& stretches,
                const std::vector<Governed>& governed = {});
    void quarantined(const Spoiled& spoiled);
    void set_aside(const Spoiled& spoiled);
    const Tally& tally() const { return tally_; }
    void put_in_order() { tally_.put_in_order(); }
    Tally take();  // what was added since it was last asked

  private:
    Tally fresh() const;
    struct Month {
        Instant begin = 0;
        Instant end = 0;
        Group* group = nullptr;  // in the tally
    };
    const Month& month_at(Instant t);
    template <typename F>
    void for_each_month(Instant from, Instant until, F&& piece);
    std::vector<Group*> groups_of(const Episode& episode);
    bool due_as_a_period_ends(const Opportunity& o) const;
    void add_opportunities(const Judgement& judgement, const std::vector<Group*>& groups);
    void add_lines(const std::vector<Group*>& groups);
    void add_times(const std::vector<Stretch>& stretches, const std::vector<Group*>& groups);
    void add_worst(const Episode& episode, const Judgement& judgement, Instant from, Instant until);
    void add_days(const Episode& episode, const std::vector<Group*>& groups, Instant from, Instant until);
    void add_coverage(const std::vector<Governed>& governed, Instant from, Instant until);
    std::uint64_t hash_of_key(const std::string& text) const;
    Group& ready(Group& group) const;

    struct OfLine {
        std::uint64_t met = 0;
        std::uint64_t counted = 0;
    };
    std::vector<OfLine> of_line_;             // by item, of the line at hand
    std::vector<std::size_t> counted_items_;  // with any

    const Policy& policy_;
    const Items& items_;
    TallyOptions options_;
    std::vector<Grouping> groupings_;
    Zone zone_;
    FindingWriter writer_;
    std::optional<NearestFinder> nearest_;
    Tally tally_;
    Month month_;
};

}  // namespace linelaw::runtime
