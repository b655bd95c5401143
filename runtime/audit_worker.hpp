// One thread's part of an audit: a chunk of lines in, what is said about them out. Keeps its reader, engine
// and buffers from chunk to chunk.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/audit.hpp"
#include "runtime/engine.hpp"
#include "runtime/findings.hpp"
#include "runtime/input.hpp"
#include "runtime/records.hpp"
#include "runtime/reviewer.hpp"

namespace linelaw::runtime {

struct Judged {
    std::string findings;
    std::string quarantine;
    std::string set_aside;
    std::uint64_t records = 0;
    void clear();
};

class AuditWorker {
  public:
    AuditWorker(const Policy& policy, const Items& items, const AuditOptions& options,
                const std::vector<Grouping>& groupings, const std::vector<std::string>& files);

    void judge(const Chunk& chunk, Judged& judged);
    // When there are no more chunks: what can be done beside the other workers.
    void finish() { tallier_.put_in_order(); }
    // What the worker has counted since it was last asked, with what its reader saw and did not use.
    Tally take();

  private:
    struct Place {
        std::uint32_t file = 0;
        std::uint64_t line = 0;
        std::uint64_t offset = 0;
    };
    void record(std::string_view text, const Place& place, Judged& judged);
    void write_spoiled(std::string& out, const Place& place, const Spoiled& spoiled,
                       std::string_view record) const;

    const Policy& policy_;
    const AuditOptions& options_;
    const std::vector<std::string>& files_;
    RecordReader reader_;
    Engine engine_;
    FindingWriter writer_;
    Tallier tallier_;
    Reviewer reviewer_;
    Episode episode_;
    std::vector<Spoiled> set_aside_;
};

}  // namespace linelaw::runtime
