// One episode while it is written: the line, its events, and what the writer knows of every opportunity in
// it. The scripts (scripts.hpp) add events and account for them; nothing here knows a policy text or the
// engine.
#pragma once

#include <initializer_list>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "policies/demo/generator/clock.hpp"
#include "policies/demo/generator/random.hpp"

namespace linelaw::demo {

// A value as it stands in the record (JSON text).
using Values = std::vector<std::pair<std::string, std::string>>;
std::string quoted(const std::string& text);
std::string tenths(std::int64_t number);  // 134 is 13.4

struct Step {
    std::string name;
    std::optional<Time> at;
};

struct Event {
    std::string type;
    Time at = 0;
    Values values;
    std::vector<Step> steps;
    std::optional<Time> recorded_at;
};

struct Change {  // a dressing put on; the insertion's is the first
    Time at = 0;
    std::string dressing;  // empty: nobody can tell from the record
};

// One opportunity with its outcome, as the writer planned and reckoned it.
struct Planted {
    std::string item;  // a clause, a ladder or a bundle
    int step = 0;      // of a ladder, from 1; its hold comes after its last step
    std::string part;  // "i1", "2", or empty
    Time opened = 0;
    std::string outcome;
};

// What this episode must show at least once; drawn in turn, so that every outcome of every clause has its
// number.
struct Focus {
    std::string item;
    int step = 0;
    std::string outcome;
};

// By which of the demo's policies the records are judged: the facility's two editions, and the two units that
// build on the later one.
enum class Policy { edition_4, edition_5, neonatal, home_infusion };
constexpr int year_of(Policy policy) {  // in force from its first of March, for a year
    return policy == Policy::edition_4 ? 2026 : 2027;
}

enum class AgeGroup { neonate, young_infant, child, adult, unknown };

struct Stay {
    Random random{0};
    Policy policy = Policy::edition_5;
    Focus focus;
    bool focus_done = false;

    std::string key;
    std::string unit;
    std::string kind;
    AgeGroup age_group = AgeGroup::adult;
    std::optional<Time> birth;              // midnight of the date
    std::optional<bool> sensitive = false;  // nothing: not documented
    std::optional<int> lumens = 1;
    std::optional<std::int64_t> baseline;  // external length at insertion, tenths of a centimetre
    std::optional<bool> emergency;
    std::string inserted_length;  // JSON
    std::string arm_place;
    std::optional<std::int64_t> arm;  // its circumference at insertion, tenths of a centimetre
    std::optional<bool> preterm;
    std::string weight;       // JSON
    std::string patient_age;  // JSON, where there is no birth date
    double lapse = 1;         // how often this unit, in this month, falls short: 1 is usual

    Time inserted = 0;
    std::optional<Time> removed;  // at or before the horizon
    Time horizon = 0;
    bool says_horizon = true;                           // the record has observed_until
    std::vector<std::pair<Time, std::string>> setting;  // from when, which; empty text: not documented

    std::vector<Event> events;
    std::vector<Change> dressings;  // in order
    std::optional<Time> swollen;    // when the arm was found so
    std::vector<Time> moved;        // changes that found the line more than 2 cm from where it was
    std::vector<Planted> planted;
    std::map<std::string, int> set_aside;  // values that cannot be read, by what is wrong with them
    std::map<std::string, int> counted;    // what a reader passes over and counts, by what it is
    std::set<Time> taken;                  // instants already used by an event

    bool aims(const std::string& item, const std::string& outcome, int step = 0) const {
        return !focus_done && focus.item == item && focus.outcome == outcome && focus.step == step;
    }
    bool about(const std::string& item) const { return !focus_done && focus.item == item; }
    // The same, once: who asks writes it now.
    bool take(const std::string& item, const std::string& outcome, int step = 0) {
        const bool mine = aims(item, outcome, step);
        if (mine) focus_done = true;
        return mine;
    }
    Time end() const { return removed ? *removed : horizon; }
    bool lapses(double probability) { return random.chance(probability * lapse); }

    Event& add(const std::string& type, Time at, Values values = {});
    void plant(const std::string& item, Time opened, const std::string& outcome, const std::string& part = "",
               int step = 0);
    // An instant in [low, high] at which nothing happens yet, by day if it can be; it is taken from then on.
    std::optional<Time> moment(Time low, Time high);
    std::optional<Time> exactly(Time at);  // that one, where it is free

    bool fifth() const { return policy != Policy::edition_4; }  // edition 5, or a unit that builds on it
    bool adult() const { return age_group == AgeGroup::adult; }
    bool newborn(Time at) const;
    std::string setting_at(Time at) const;  // just before that instant
    bool central() const;
    bool measurable() const;
    bool neonate_until(Time& until) const;  // `until`: the first instant of the 29th day of life
    std::optional<bool> young_infant(
        Time at) const;  // under 2 months; nothing where the age is not documented
};

// What becomes of a demand that opened with this limit: answered, or the line is removed, or the record ends.
std::string settle(const Stay& stay, Time limit, std::optional<Time> answer, std::optional<Time> stretch_end);
// Every opportunity of an `at least every` over a stretch that begins at `begin` and ends at `end` (nothing:
// with the record): `limit` says until when what opens at an instant is in time.
void account_every(Stay& stay, const std::string& clause, const std::string& part, Time begin,
                   std::optional<Time> end, const std::vector<Time>& answers, Time (*limit)(Time));
// The first of these instants that is at or after `from`.
std::optional<Time> first_from(const std::vector<Time>& instants, Time from);
std::string value_of(const Event& event, const std::string& name);  // without quotation marks; empty: none
std::vector<Time> instants_of(const Stay& stay, const std::string& type);
// How a value is charted: so that it can be read, not at all, or so that a reader must set it aside.
enum class Charted { yes, no, spoiled };
const char* documented(std::initializer_list<Charted> values);  // what `document A, B` comes to

}  // namespace linelaw::demo
