// Records to episodes. Structure spoils a record (it is quarantined whole), a value spoils itself (it is set
// aside and counts as undocumented); nothing is lost without being counted. Shapes and rules:
// docs/records.md.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "runtime/episode.hpp"
#include "runtime/policy.hpp"

namespace linelaw::runtime {

// Why a record, or a value, is not used. `reason` is a sentence that names where, what and how to mend it,
// and never repeats the value.
struct Spoiled {
    std::string code;          // "record.json", "record.instant", "value.range" …; see docs/records.md
    std::string pointer;       // JSON pointer into the record
    std::uint64_t offset = 0;  // bytes from the start of the record's line
    std::string reason;
};

struct ReadCounts {  // what was seen and not used, added up over records
    std::uint64_t identical_repeats =
        0;  // events dropped because the same id came again with the same content
    std::uint64_t after_observed_until = 0;  // events set aside
    using Names = std::map<std::string, std::uint64_t>;
    Names unknown_keys;  // "line.lumen" → times
    Names unknown_events;
    // A name seen so many times. Of noise, whose names would fill the memory, the first thousand in their
    // order are told apart and the others counted as one: so it is the same names however records are dealt.
    static void count(Names& names, const std::string& name, std::uint64_t times);
    void add(const ReadCounts& other);
};

struct ReaderOptions {
    bool strict = false;                    // a value set aside quarantines its record
    std::size_t record_limit = 16U << 20U;  // bytes
    // Whether the names that a record gives to parts are kept; else they are 1, 2, … within a kind of part,
    // in the order in which the events of the episode name them.
    bool names_of_parts = true;
};

// Not thread-safe; one reader a thread. The policy must outlive it.
class RecordReader {
  public:
    explicit RecordReader(const Policy& policy, ReaderOptions options = {});
    ~RecordReader();
    RecordReader(RecordReader&&) noexcept;
    RecordReader& operator=(RecordReader&&) noexcept;

    // Reads one record (a JSON object; no line end) into `episode`, whose storage is reused. Answers nothing,
    // or why the record is spoiled; `set_aside` then holds the values set aside (cleared first either way).
    // The record need not be padded.
    std::unique_ptr<Spoiled> read(std::string_view record, Episode& episode, std::vector<Spoiled>& set_aside);

    const ReadCounts& counts() const;
    ReadCounts take_counts();  // what was seen since they were last taken

  private:
    struct Implementation;
    std::unique_ptr<Implementation> implementation_;
};

}  // namespace linelaw::runtime
