// One record as the literal evaluator holds it: the whole timeline in memory, values typed by the vocabulary,
// and the lives of the parts. Reads the record's JSON by itself; shares nothing with runtime/records.
#pragma once

#include <deque>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "tests/differential/book.hpp"
#include "tests/differential/truth.hpp"

namespace linelaw::literal {

// A place on the time line. Within the instant t: 0 the insertion, 1 just after it, 2 the events of t, 4 the
// removal, 5 after them all while clocks still stand at t (the horizon), 6 just after t. (language.md §4.1:
// "Insertion is first, removal last"; what an event changes holds from just after it.)
struct Position {
    Instant t = 0;
    int sub = 2;
    auto operator<=>(const Position&) const = default;
    Instant clock() const { return sub == 6 ? t + 1 : t; }
};

struct Value {
    enum class Kind { missing, hidden, unset, number, word, range, clock, age } kind = Kind::missing;
    Ratio number;                  // number; lower end of a range
    Ratio high;                    // of a range
    bool open_above = false;       // a range without an upper end
    std::string_view word;         // of `one of`, texts and keys; a flag is `yes` or `no`
    std::vector<Instant> anchors;  // of a clock: it counts from one of these …
    bool any_before = false;       // … or from any time before the first
    Truth why = Truth::unknown;    // why a range or a clock is not certain
    date::local_days born_first;   // of an age: born between these two
    date::local_days born_last;
    bool born_any_before = false;  // or at any time before
};

struct Mark {               // a recorded step
    std::string_view step;  // empty: set aside
    int place = 0;
    std::optional<Instant> at, from, to;
    bool time_hidden = false;
};

struct Life;
struct Event {
    const EventKind* kind = nullptr;
    Position position;
    int order = 0;              // in the record
    std::vector<Value> values;  // by slot of the kind
    std::vector<Mark> marks;
    std::string part;                               // name given; empty: none
    std::string parent;                             // of the part that it begins
    std::vector<std::pair<const Life*, Truth>> of;  // the lives that it is, or may be, an event of
};

struct Life {
    const PartKind* kind = nullptr;
    std::string name;
    const Event* begin = nullptr;  // none: counted
    Position from;
    Position until;                          // the far future where it does not end
    std::optional<Position> doubtful_after;  // an unnamed end, where several were alive
    const Life* parent = nullptr;
};

struct Record {
    std::vector<Value> patient;
    std::vector<Value> line;
    std::optional<Instant> inserted;
    std::optional<Instant> removed;
    std::optional<Instant> left_edge;  // only where it lies after the insertion
    Instant horizon = 0;
    std::deque<Event> events;  // by position, then in the record's order
    std::deque<Life> lives;
    bool lumens_unknown_hidden = false;
    std::vector<std::pair<const PartKind*, Truth>> uncounted;  // `COUNT of them` not known
    std::deque<std::string> texts;

    // Where the line's time begins, for us: insertion, or the left edge.
    Position start() const { return left_edge ? Position{*left_edge, 2} : Position{*inserted, 1}; }
};

constexpr Instant far_future = std::int64_t{1} << 60;

Instant read_instant(const std::string& text, const Zone& zone);
// Throws std::runtime_error on what would quarantine the record: such records are not compared.
void read_record(const Book& book, const nlohmann::json& json, Record& out);

}  // namespace linelaw::literal
