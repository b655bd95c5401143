// A batch of records judged: read in chunks, judged by several threads, given out in the input's order, byte
// for byte the same for any number of threads. Knows nothing of command lines, tables or pages.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/policy.hpp"
#include "runtime/result.hpp"
#include "runtime/review_tally.hpp"
#include "runtime/shard.hpp"
#include "runtime/tally.hpp"

namespace linelaw::runtime {

enum class FindingsWanted : std::uint8_t { nothing, against, all };

struct AuditOptions {
    std::vector<std::string> inputs;        // files, folders, "-"
    unsigned jobs = 0;                      // worker threads; 0: as many as the machine has cores
    bool strict = false;                    // a value set aside quarantines its record
    std::size_t record_limit = 16U << 20U;  // bytes
    FindingsWanted findings = FindingsWanted::against;
    bool keys = true;  // false: no pseudonymous key in any output
    ReviewOptions review;
    bool csv = false;  // findings as CSV rows (without the header) in place of NDJSON
    TallyOptions tally;
    Shard shard;
};

struct Progress {
    std::uint64_t records = 0;
    std::uint64_t bytes_read = 0;
    std::uint64_t bytes_total = 0;  // 0: not known
};

// Where an audit can go on: what was given out until then came from the records before `position`, and is
// what `tally` counts.
struct Checkpoint {
    Position position;
    Tally tally;
};

// What takes the output, each empty where it is not wanted. Called in the input's order, by one thread at a
// time; an error ends the audit.
using Sink = std::function<Result<void>(std::string_view)>;
struct AuditSinks {
    Sink findings;                                  // lines
    Sink quarantine;                                // NDJSON, one object a record
    Sink set_aside;                                 // NDJSON, one object a value
    std::function<void(const Progress&)> progress;  // now and then
    // Once for each file that does not begin as records do, with what it is; by the thread that reads.
    std::function<void(const std::string& file, std::string_view look)> look;
    // Asked after each chunk that was read; where it says yes, all that was read is judged and given out, and
    // `checkpoint` is called. Both empty: no checkpoints.
    std::function<bool()> checkpoint_due;
    std::function<Result<void>(Checkpoint&)> checkpoint;  // lent, and given back as it was
};

// The tally of all records. An error where an input cannot be read whole or a sink fails; what the sinks got
// by then is not an audit.
// With a checkpoint it goes on from there, and the tally is of all records nevertheless; inputs, policy and
// options are those of before (but for `jobs`), and the earlier run's notes have been taken over.
Result<Tally> audit(const Policy& policy, const AuditOptions& options, const AuditSinks& sinks,
                    const Checkpoint* from = nullptr);

}  // namespace linelaw::runtime
